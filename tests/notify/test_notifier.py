"""What is told and when, on a clock that the test turns."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.safety.interlocks import Priority
from holdctl.safety.notification import AGAIN_MS, MOST, MOST_MS, REPEAT_MS, Notifier, Seen, Telling

MIN = 60_000
HIGH, MEDIUM, LOW = Priority.HIGH, Priority.MEDIUM, Priority.LOW


def alarm(name="no-heat", priority=HIGH, **more):
    return Seen(name, priority, f"{name} stands", **more)


def told(notifier, alarms, minutes, from_ms=0, step_ms=1000):
    """Every message over a time in which the same alarms stand, with its minute."""
    found = []
    for now in range(from_ms, from_ms + minutes * MIN, step_ms):
        found += [(now / MIN, m.why.value, m.escalated) for m in notifier.look(alarms, now)]
    return found


@pytest.mark.parametrize(("priority", "every"), [(HIGH, 5), (MEDIUM, 15), (LOW, 60)])
def test_an_alarm_is_told_at_once_and_again_by_priority_until_somebody_answers(priority, every):
    notifier = Notifier()
    assert told(notifier, [alarm(priority=priority)], 3 * every) == [
        (0, "new", False),
        (every, "repeat", False),
        (2 * every, "repeat", True),
    ]
    answered = [alarm(priority=priority, unacknowledged=False)]
    assert told(notifier, answered, 300, 3 * every * MIN) == [(3 * every, "over", True)]


def test_a_shelved_alarm_is_not_told_and_comes_back_as_new():
    notifier = Notifier()
    assert told(notifier, [alarm(shelved=True)], 60) == []
    assert told(notifier, [alarm()], 2, 60 * MIN) == [(60, "new", False)]


def test_second_recipients_are_told_only_after_the_repeats_that_the_settings_say():
    notifier = Notifier(escalate_after=3)
    found = told(notifier, [alarm()], 16)
    assert [escalated for _, _, escalated in found] == [False, False, False, True]


def test_an_alarm_that_flaps_is_not_told_each_time():
    notifier, found = Notifier(), []
    for second in range(240):
        stands = [alarm()] if second % 10 < 5 else []
        found += [m.why for m in notifier.look(stands, second * 1000)]
    assert found == [Telling.NEW, Telling.OVER]


def test_what_comes_again_after_its_acknowledgement_is_new_but_not_within_a_minute():
    notifier = Notifier()
    notifier.look([alarm()], 0)
    notifier.look([alarm(unacknowledged=False)], 5_000)
    notifier.look([], 6_000)
    assert notifier.look([alarm()], 10_000) == []
    assert [m.why for m in notifier.look([alarm()], AGAIN_MS)] == [Telling.NEW]


def test_what_was_over_for_longer_than_its_repeat_is_new():
    notifier = Notifier()
    notifier.look([alarm()], 0)
    assert [m.why for m in notifier.look([], MIN)] == [Telling.OVER]
    notifier.look([], REPEAT_MS[HIGH])
    assert [m.why for m in notifier.look([alarm()], REPEAT_MS[HIGH] + 1)] == [Telling.NEW]


def test_alarms_that_come_together_are_one_message_the_most_urgent_first():
    message = Notifier().look([alarm("spool", MEDIUM), alarm("no-heat"), alarm("clock-jumped", LOW)], 0)
    assert len(message) == 1
    assert message[0].priority is HIGH
    assert message[0].names == ("no-heat", "spool", "clock-jumped")


def test_a_message_names_what_else_waits():
    notifier = Notifier()
    notifier.look([alarm("spool", MEDIUM)], 0)
    (message,) = notifier.look([alarm("spool", MEDIUM), alarm()], 1000)
    assert message.names == ("no-heat",)
    assert "Not acknowledged either: spool." in message.text


def test_a_hundred_alarms_in_ten_minutes_are_few_messages_and_one_of_them_says_why():
    notifier, found, standing = Notifier(), [], []
    for second in range(600):
        if second % 6 == 0:
            standing.append(alarm(f"a{second}"))
        found += notifier.look(standing, second * 1000)
    assert len(found) == MOST
    assert [m.why for m in found].count(Telling.FLOOD) == 1
    assert "held back for 10 min" in found[-1].text
    later = notifier.look(standing, 600_000 + MOST_MS)
    assert len(later) == 1
    assert len(later[0].names) == 100


def test_a_flood_of_small_things_does_not_hold_back_a_great_one():
    notifier, standing = Notifier(), []
    for n in range(10):
        standing.append(alarm(f"a{n}", LOW))
        notifier.look(standing, n * 1000)
    assert notifier.look(standing, 10_000) == []
    assert [m.priority for m in notifier.look([*standing, alarm("high-limit")], 11_000)] == [HIGH]


def test_a_welded_relay_is_told_in_any_flood():
    notifier, standing = Notifier(), []
    for n in range(10):
        standing.append(alarm(f"a{n}"))
        notifier.look(standing, n * 1000)
    (message,) = notifier.look([*standing, alarm("relay-welded")], 10_000)
    assert "relay-welded" in message.names


def test_the_end_of_a_flood_is_told_once_it_has_passed():
    notifier, standing = Notifier(), []
    for n in range(10):
        standing.append(alarm(f"a{n}"))
        notifier.look(standing, n * 1000)
    found = told(notifier, [], 20, 10_000)
    assert [why for _, why, _ in found] == ["over"]
    assert found[0][0] >= 10


def test_who_is_told_follows_priority_and_order():
    notifier = Notifier()
    (first,) = notifier.look([alarm("spool", MEDIUM)], 0)
    assert first.reaches(MEDIUM)
    assert not first.reaches(HIGH)
    assert not first.reaches(LOW, second=True)
    notifier.look([alarm("spool", MEDIUM)], 15 * MIN)
    (third,) = notifier.look([alarm("spool", MEDIUM)], 30 * MIN)
    assert third.reaches(LOW, second=True)
    (over,) = notifier.look([], 31 * MIN)
    assert over.reaches(HIGH, second=True)
    notifier.look([], 50 * MIN)
    notifier.look([alarm("spool", MEDIUM)], 60 * MIN)
    (again,) = notifier.look([], 61 * MIN)
    assert again.reaches(HIGH)
    assert not again.reaches(LOW, second=True)


names = st.sampled_from(["a", "b", "c", "d", "e", "f", "g"])
one = st.builds(Seen, names, st.sampled_from(list(Priority)), st.just("x"), st.booleans(), st.booleans())


@given(st.lists(st.tuples(st.lists(one, max_size=7), st.integers(1, 400_000)), max_size=60))
def test_whatever_stands_no_more_than_the_most_is_told_of_one_priority_in_ten_minutes(turns):
    notifier, now, sent = Notifier(), 0, []
    for alarms, passed in turns:
        now += passed
        for message in notifier.look(alarms, now):
            sent.append((now, message.priority))
            waiting = {a.name for a in alarms if a.waits}
            assert set(message.names) <= waiting
    for at, _ in sent:
        for priority in Priority:
            assert sum(1 for t, p in sent if p is priority and at <= t < at + MOST_MS) <= MOST


# Words, and borders ---------------------------------------------------------------------------------------------


def test_a_message_has_a_line_for_each_alarm_and_one_for_what_waits_beside_them():
    notifier = Notifier()
    notifier.look([alarm("a", LOW), alarm("b", LOW)], 0)
    later = [alarm("a", LOW), alarm("b", LOW), alarm("c", MEDIUM), alarm("d", HIGH)]
    (message,) = notifier.look(later, 1000)
    assert message.names == ("d", "c")
    assert message.text == "high: d stands\nmedium: c stands\nNot acknowledged either: a, b."


def test_that_it_is_over_has_its_own_words_and_reaches_whoever_was_told():
    notifier = Notifier()
    notifier.look([alarm()], 0)
    (message,) = notifier.look([], 1000)
    assert (
        message.text == "Nothing waits for you any more: every alarm that was told is over or acknowledged."
    )
    assert (message.why, message.priority, message.names) == (Telling.OVER, LOW, ())
    assert message.reaches(HIGH)
    assert not message.reaches(HIGH, second=True)


@pytest.mark.parametrize("begun", [0, 7 * MOST_MS])
def test_messages_of_ten_minutes_ago_leave_room_whenever_it_began(begun):
    notifier, why = Notifier(), []
    for k in range(MOST):
        why += [m.why for m in notifier.look([alarm(f"a{k}")], begun + k)]
    assert why == [Telling.NEW] * (MOST - 1) + [Telling.FLOOD]
    held_back = begun + MOST - 1 + MOST_MS
    assert notifier.look([alarm("b")], held_back - 1) == []
    assert [m.why for m in notifier.look([alarm("b")], held_back)] == [Telling.NEW]


def test_that_it_is_over_waits_for_room_and_leaves_some_for_alarms():
    notifier = Notifier()
    for k in range(MOST - 1):
        notifier.look([alarm(f"a{k}", LOW)], k)
    assert notifier.look([], 1000) == [], "the last room is for alarms"
    assert [m.why for m in notifier.look([], MOST_MS)] == [Telling.OVER]
    notifier = Notifier()
    for k in range(MOST - 2):
        notifier.look([alarm(f"a{k}", LOW)], k)
    assert [m.why for m in notifier.look([], 1000)] == [Telling.OVER]
    # It is no more urgent than the least: a medium alarm has all its room still.
    assert [m.why for m in notifier.look([alarm("m", MEDIUM)], 2000)] == [Telling.NEW]


def test_what_went_away_long_after_the_clock_began_is_remembered_until_its_repeat():
    notifier = Notifier()
    notifier.look([alarm()], 50 * MIN)
    notifier.look([], 50 * MIN + 1000)
    assert notifier.look([alarm()], 52 * MIN) == []
    assert "no-heat" in notifier._told
