"""The book of alarms: states and transitions of ISA-18.2, delays, latches, shelves, first-out, flood, chatter.

The nine states and their transitions: ISA-18.2 / IEC 62682 as described in secondary sources; seven of them also
stand in OPC UA Part 9 (alarms and conditions). Flood: begins above 10 in 10 min, ends below 5 (ISA-18.2); chattering:
three or more in a minute (ISA-18.2).
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.events import Notice, NoticeKind
from holdctl.safety import INTERLOCKS, AlarmBook, Effect, Priority
from holdctl.safety.alarm_states import (
    ALARM_TRANSITIONS,
    LONGEST_SHELVE_MS,
    NEVER_HELD_BACK,
    AlarmState,
    Move,
    follow_alarm,
)
from holdctl.safety.alarms import told

S, M = AlarmState, Move
MINUTE = 60_000


def _kinds(notices):
    return [(n.kind.value, n.name) for n in notices]


# The table ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "move", "after"),
    [
        (S.NORMAL, M.RAISE, S.UNACKNOWLEDGED),
        (S.UNACKNOWLEDGED, M.ACKNOWLEDGE, S.ACKNOWLEDGED),
        (S.UNACKNOWLEDGED, M.RETURN, S.RETURNED),
        (S.ACKNOWLEDGED, M.RETURN, S.NORMAL),
        (S.RETURNED, M.ACKNOWLEDGE, S.NORMAL),
        (S.RETURNED, M.RAISE, S.UNACKNOWLEDGED),
        (S.LATCHED_ACKNOWLEDGED, M.RESET, S.NORMAL),
    ],
)
def test_the_transitions_are_those_of_isa_18_2(state, move, after):
    assert follow_alarm(state, move) is after


def test_a_latch_is_reset_only_once_its_cause_is_gone_and_somebody_has_seen_it_or_put_it_aside():
    resettable = {s for s, exits in ALARM_TRANSITIONS.items() if M.RESET in exits}
    assert resettable == {S.LATCHED_ACKNOWLEDGED, S.SHELVED}


def test_every_state_is_in_the_table_can_be_reached_and_can_be_left():
    assert set(ALARM_TRANSITIONS) == set(S)
    reached = {after for exits in ALARM_TRANSITIONS.values() for after in exits.values()}
    assert reached == set(S)
    assert all(ALARM_TRANSITIONS.values())


def test_a_pair_that_is_not_listed_changes_nothing():
    book = AlarmBook()
    book.raise_now("no-heat", "", 0)
    book.acknowledge("no-heat", "A")
    assert follow_alarm(S.ACKNOWLEDGED, M.ACKNOWLEDGE) is None
    assert book.acknowledge("no-heat", "A") == ()
    assert book.state("no-heat") is S.ACKNOWLEDGED


# Delays ------------------------------------------------------------------------------------------------------------


def test_a_condition_is_an_alarm_only_once_it_has_lasted_its_on_delay():
    book = AlarmBook()
    assert INTERLOCKS["heat-missing"].on_delay_s == 90
    for second in range(90):
        assert book.condition("heat-missing", True, 1000 * second) == ()
    assert "heat-missing" not in book
    (notice,) = book.condition("heat-missing", True, 90_000, "the paste falls short of its forecast")
    assert (notice.kind, notice.detail["priority"]) == (NoticeKind.ALARM, "medium")
    assert notice.text.startswith("the paste falls short of its forecast: power is raised")


def test_a_condition_that_is_gone_before_its_delay_is_over_starts_anew():
    book = AlarmBook()
    for second in range(89):
        book.condition("heat-missing", True, 1000 * second)
    book.condition("heat-missing", False, 89_000)
    for second in range(90, 180):
        assert book.condition("heat-missing", True, 1000 * second) == ()
    assert book.condition("heat-missing", True, 180_000)


def test_it_clears_only_once_it_has_been_gone_for_its_off_delay():
    book = AlarmBook()
    book.raise_now("heat-missing", "", 0)
    assert INTERLOCKS["heat-missing"].off_delay_s == 120
    assert book.condition("heat-missing", False, 10_000) == ()
    book.condition("heat-missing", True, 100_000)
    assert book.condition("heat-missing", False, 110_000) == ()
    assert book.condition("heat-missing", False, 229_999) == ()
    assert _kinds(book.condition("heat-missing", False, 230_000)) == [("alarm-cleared", "heat-missing")]


def test_a_condition_told_once_completes_its_delay_as_time_passes():
    book = AlarmBook()
    book.condition("over-ceiling", True, 0)
    assert book.tick(59_999) == ()
    assert _kinds(book.tick(60_000)) == [("alarm", "over-ceiling")]
    assert book.tick(70_000) == ()


def test_a_row_without_delays_comes_and_goes_with_its_condition():
    book = AlarmBook()
    assert _kinds(book.condition("probe-frozen", True, 5)) == [("trip", "probe-frozen")]
    assert book.condition("probe-frozen", True, 6) == ()
    assert _kinds(book.condition("probe-frozen", False, 7)) == [("trip-cleared", "probe-frozen")]


def test_a_raise_now_waits_for_no_delay():
    book = AlarmBook()
    assert _kinds(book.raise_now("heat-missing", "", 0)) == [("alarm", "heat-missing")]
    assert _kinds(book.clear_now("heat-missing", "", 1)) == [("alarm-cleared", "heat-missing")]
    assert book.clear_now("heat-missing", "", 2) == ()


# Who has seen it ---------------------------------------------------------------------------------------------------


def test_an_alarm_that_is_over_before_anybody_saw_it_stays_until_somebody_does():
    book = AlarmBook()
    book.raise_now("no-reading", "", 0)
    (gone,) = book.clear_now("no-reading", "", 5000)
    assert gone.detail["state"] == "returned-unacknowledged"
    assert dict(book) == {"no-reading": False}
    assert not book.active("no-reading")
    (seen,) = book.acknowledge("", "Anna")
    assert (seen.kind, seen.detail["state"], seen.detail["by"]) == (NoticeKind.ACKNOWLEDGED, "normal", "Anna")
    assert dict(book) == {}


def test_an_alarm_that_was_seen_is_gone_with_its_cause():
    book = AlarmBook()
    book.raise_now("no-reading", "", 0)
    book.acknowledge("no-reading", "Anna")
    assert dict(book) == {"no-reading": True}
    (gone,) = book.clear_now("no-reading", "", 5000)
    assert gone.detail["state"] == "normal"
    assert dict(book) == {}


def test_one_that_comes_again_asks_anew():
    book = AlarmBook()
    book.raise_now("no-reading", "", 0)
    book.acknowledge("no-reading", "Anna")
    book.clear_now("no-reading", "", 5000)
    book.raise_now("no-reading", "", 400_000)
    assert dict(book) == {"no-reading": False}


def test_an_alarm_that_somebody_else_says_anew_has_come_anew():
    """Two prompts that nobody answered are two alarms, though nothing says that the first is over."""
    book = AlarmBook()
    prompt = Notice(NoticeKind.ALARM, "prompt-unanswered", "nobody answered")
    assert _kinds(book.take(prompt, 0)) == [("alarm", "prompt-unanswered")]
    book.acknowledge("", "Anna")
    (again,) = book.take(prompt, 600_000)
    assert (again.text, again.detail["state"]) == ("nobody answered", "unacknowledged")
    assert dict(book) == {"prompt-unanswered": False}
    over = Notice(NoticeKind.ALARM_CLEARED, "prompt-unanswered", "answered")
    assert _kinds(book.take(over, 700_000)) == [("alarm-cleared", "prompt-unanswered")]
    note = Notice(NoticeKind.NOTE, "note", "smells sweet")
    assert book.take(note, 700_000) == (note,)


def test_alarms_stand_in_the_order_in_which_they_came_last():
    book = AlarmBook()
    for at, name in enumerate(("no-heat", "spool", "no-heat")):
        book.clear_now(name, "", 100_000 * at)
        book.raise_now(name, "", 100_000 * at)
    assert list(book) == ["spool", "no-heat"]


# Latches -----------------------------------------------------------------------------------------------------------


def test_a_latched_trip_stays_when_its_cause_is_gone_and_says_how_to_reset_it():
    book = AlarmBook()
    (trip,) = book.raise_now("high-limit", "probe 1 at 79 °C", 0)
    assert trip.detail["latched"] is True
    (gone,) = book.clear_now("high-limit", "it has fallen", 60_000)
    assert gone.kind is NoticeKind.RETURNED
    assert "holdctl reset high-limit" in gone.text
    assert book.state("high-limit") is S.LATCHED_UNACKNOWLEDGED
    book.acknowledge("high-limit", "Anna")
    assert dict(book) == {"high-limit": True}
    assert _kinds(book.reset("high-limit", "Anna")) == [("reset", "high-limit")]
    assert dict(book) == {}


def test_a_latched_trip_is_not_reset_while_its_cause_is_there():
    book = AlarmBook()
    book.condition("relay-welded", True, 0)
    assert "its cause is still there" in book.why_not_reset("relay-welded")
    assert book.reset("relay-welded", "Anna") == ()
    assert dict(book) == {"relay-welded": False}


def test_of_a_latched_trip_that_nothing_watches_whoever_resets_it_has_to_know():
    book = AlarmBook()
    book.raise_now("other-host", "", 0)
    assert _kinds(book.reset("other-host", "Anna")) == [("reset", "other-host")]
    assert book.state("other-host") is S.NORMAL
    assert dict(book) == {}


def test_the_book_lists_what_stands_or_is_put_aside_for_whoever_shows_or_sends_it():
    book = AlarmBook()
    book.raise_now("no-heat", "the wall falls at full duty", 1000)
    book.shelve("spool", "Anna", MINUTE, 2000)
    entries = book.entries
    assert list(entries) == ["no-heat", "spool"]
    heat = entries["no-heat"]
    assert (heat.row.priority, heat.text, heat.unacknowledged, heat.shelved, heat.since_ms) == (
        Priority.HIGH, "the wall falls at full duty", True, False, 1000,
    )  # fmt: skip
    assert (entries["spool"].shelved, entries["spool"].stands) == (True, False)
    with pytest.raises(KeyError):
        book["spool"]


def test_whoever_resets_by_name_has_seen_it():
    book = AlarmBook()
    book.raise_now("other-host", "", 0, over=True)
    assert book.state("other-host") is S.LATCHED_UNACKNOWLEDGED
    (notice,) = book.reset("other-host", "Anna")
    assert (notice.detail["by"], notice.detail["state"]) == ("Anna", "normal")
    assert dict(book) == {}


def test_a_latched_trip_whose_cause_comes_back_is_told_anew():
    book = AlarmBook()
    book.raise_now("high-limit", "", 0)
    book.acknowledge("high-limit", "Anna")
    book.clear_now("high-limit", "", 60_000)
    assert _kinds(book.raise_now("high-limit", "", 200_000)) == [("trip", "high-limit")]
    assert dict(book) == {"high-limit": False}


def test_a_trip_that_waits_for_a_person_is_reset_with_its_cause():
    book = AlarmBook()
    book.raise_now("restart-wait", "", 0)
    assert _kinds(book.reset("restart-wait", "Anna")) == [("reset", "restart-wait")]
    assert dict(book) == {}


# Shelves -----------------------------------------------------------------------------------------------------------


def test_a_shelved_alarm_is_not_told_until_its_time_is_over_and_then_is_told_if_its_cause_is_there():
    book = AlarmBook()
    book.raise_now("probes-disagree", "", 0)
    (aside,) = book.shelve("probes-disagree", "Anna", 30 * MINUTE, 0)
    assert (aside.kind, aside.detail["by"], aside.detail["state"]) == (NoticeKind.SHELVED, "Anna", "shelved")
    assert dict(book) == {"probes-disagree": True}
    assert book.tick(30 * MINUTE - 1) == ()
    (back,) = book.tick(30 * MINUTE)
    assert (back.kind, back.detail["state"]) == (NoticeKind.UNSHELVED, "unacknowledged")
    assert dict(book) == {"probes-disagree": False}


def test_a_shelved_trip_still_takes_the_relay_off_its_notice_is_only_held_back():
    book = AlarmBook()
    book.shelve("probe-fault", "Anna", 10 * MINUTE, 0)
    (trip,) = book.raise_now("probe-fault", "", 1000)
    assert trip.kind is NoticeKind.TRIP
    assert trip.detail["held_back"] == "shelved"
    assert told([trip]) == []
    (gone,) = book.clear_now("probe-fault", "", 2000)
    assert gone.kind is NoticeKind.TRIP_CLEARED
    (back,) = book.unshelve("probe-fault", "Anna")
    assert back.detail["state"] == "normal"
    assert dict(book) == {}


def test_a_shelved_latch_can_be_reset_and_else_comes_back_with_its_latch():
    book = AlarmBook()
    book.raise_now("high-limit", "", 0)
    book.shelve("high-limit", "Anna", 10 * MINUTE, 0)
    book.clear_now("high-limit", "", 1000)
    assert book.state("high-limit") is S.SHELVED
    book.unshelve("high-limit", "Anna")
    assert book.state("high-limit") is S.LATCHED_UNACKNOWLEDGED
    book.shelve("high-limit", "Anna", 10 * MINUTE, 2000)
    assert _kinds(book.reset("high-limit", "Anna")) == [("reset", "high-limit")]
    assert book.state("high-limit") is S.NORMAL


@pytest.mark.parametrize("name", ["probe-fault", "over-ceiling", "clock-jumped"])
def test_each_priority_has_a_longest_time_aside(name):
    longest = LONGEST_SHELVE_MS[INTERLOCKS[name].priority]
    book = AlarmBook()
    assert book.shelve(name, "A", longest + 1, 0) == ()
    assert "min at most" in book.why_not_shelved(name, longest + 1)
    assert book.shelve(name, "A", 0, 0) == ()
    assert book.shelve(name, "A", longest, 0) != ()


def test_the_more_urgent_the_shorter_it_may_be_put_aside():
    assert (
        LONGEST_SHELVE_MS[Priority.HIGH]
        < LONGEST_SHELVE_MS[Priority.MEDIUM]
        < LONGEST_SHELVE_MS[Priority.LOW]
    )


@pytest.mark.parametrize("name", ["relay-welded", "alarm-flood", "ghost"])
def test_some_are_never_put_aside(name):
    assert AlarmBook().why_not_shelved(name, 1000)
    assert AlarmBook().shelve(name, "A", 1000, 0) == ()


# Which came first, and how many ------------------------------------------------------------------------------------


def test_the_first_alarm_since_all_was_seen_is_marked_as_first_out():
    book = AlarmBook()
    (first,) = book.raise_now("link-down", "", 0)
    (second,) = book.raise_now("no-reading", "", 3000)
    assert first.detail["first_out"] is True
    assert "first_out" not in second.detail
    book.acknowledge("link-down", "A")
    assert book.first_out == "link-down", "one still waits to be seen"
    book.acknowledge("", "A")
    assert book.first_out == ""
    assert len(book) == 2
    (third,) = book.raise_now("spool", "", 9000)
    assert third.detail["first_out"] is True


NAMES = [n for n in INTERLOCKS if n not in NEVER_HELD_BACK]


def _storm(book, count, each_ms, start_ms=0):
    """Raise and clear `count` alarms, one each `each_ms`; return all notices."""
    notices = []
    for k in range(count):
        name, at = NAMES[k % len(NAMES)], start_ms + k * each_ms
        notices += book.tick(at)
        notices += book.raise_now(name, "", at)
        notices += book.clear_now(name, "", at + 1)
    return notices


def test_ten_alarms_in_ten_minutes_are_no_flood_the_eleventh_is():
    book = AlarmBook()
    ten = _storm(book, 10, 50_000)
    assert not book.flood
    assert told(ten) == ten
    (_, flood) = book.raise_now("hot-holding-long", "", 599_999)
    assert (flood.name, flood.kind) == ("alarm-flood", NoticeKind.ALARM)
    assert NAMES[0] in flood.text


def test_eleven_alarms_in_more_than_ten_minutes_are_no_flood():
    book = AlarmBook()
    _storm(book, 11, 60_000)
    assert not book.flood


def test_a_hundred_alarms_in_ten_minutes_are_one_flood_and_few_messages():
    """Each urgent alarm is told once in it, nothing else is, and every single one comes back as a notice."""
    book = AlarmBook()
    notices = _storm(book, 100, 5_990)
    raised = [n for n in notices if n.kind in (NoticeKind.ALARM, NoticeKind.TRIP)]
    assert len([n for n in raised if n.name != "alarm-flood"]) == 100
    assert [n.name for n in raised].count("alarm-flood") == 1
    urgent = sum(INTERLOCKS[name].priority is Priority.HIGH for name in NAMES)
    assert len(told(raised)) <= 11 + 1 + urgent
    assert told(raised[40:]) == [], "once each urgent one was told there is silence"


def test_a_flood_is_over_once_fewer_than_five_came_in_ten_minutes():
    book = AlarmBook()
    _storm(book, 11, 1000)
    assert book.flood
    assert book.tick(605_999) == (), "five are still within ten minutes"
    assert _kinds(book.tick(606_000)) == [("alarm-cleared", "alarm-flood")]
    assert not book.flood


def test_an_urgent_alarm_is_told_once_in_a_flood_and_a_welded_relay_always():
    book = AlarmBook()
    _storm(book, 14, 40_000)
    assert book.flood
    at = 14 * 40_000
    rest = [n for n in NAMES[14:] if INTERLOCKS[n].priority is Priority.HIGH]
    assert rest
    assert told(book.raise_now(rest[0], "", at))
    book.clear_now(rest[0], "", at + 1)
    assert not told(book.raise_now(rest[0], "", at + 2))
    for k in range(5):
        assert told(book.raise_now("relay-welded", "", at + 10 + 2 * k))[0].name == "relay-welded"
        book.clear_now("relay-welded", "", at + 11 + 2 * k)


def test_three_times_within_a_minute_chatters_is_said_once_and_told_no_more():
    book = AlarmBook()
    kinds = []
    for k in range(6):
        kinds += _kinds(told(book.raise_now("probe-fault", "", 10_000 * k)))
        book.clear_now("probe-fault", "", 10_000 * k + 5000)
    assert kinds == [("trip", "probe-fault")] * 2 + [("chattering", "probe-fault")]


def test_a_minute_of_quiet_ends_the_chattering():
    book = AlarmBook()
    for k in range(3):
        book.raise_now("probe-fault", "", 10_000 * k)
        book.clear_now("probe-fault", "", 10_000 * k + 1)
    assert told(book.raise_now("probe-fault", "", 20_000 + MINUTE))


def test_twice_a_minute_is_no_chattering():
    book = AlarmBook()
    for k in range(8):
        assert told(book.raise_now("probe-fault", "", 31_000 * k))
        book.clear_now("probe-fault", "", 31_000 * k + 1)


# Whatever comes ----------------------------------------------------------------------------------------------------

STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            ("raise", "clear", "true", "false", "acknowledge", "shelve", "unshelve", "reset", "tick")
        ),
        st.sampled_from(("high-limit", "no-reading", "heat-missing", "relay-welded", "spool", "ghost")),
        st.integers(0, 700_000),
    ),
    max_size=60,
)


def _do(book, what, name, now):
    match what:
        case "raise":
            return book.raise_now(name, "", now)
        case "clear":
            return book.clear_now(name, "", now)
        case "true" | "false":
            return book.condition(name, what == "true", now)
        case "acknowledge":
            return book.acknowledge(name, "A")
        case "shelve":
            return book.shelve(name, "A", 60_000, now)
        case "unshelve":
            return book.unshelve(name, "A")
        case "reset":
            return book.reset(name, "A")
    return book.tick(now)


BACK = (M.UNSHELVE, M.UNSHELVE_ACTIVE, M.UNSHELVE_LATCHED)
PASSING = (M.RAISE, M.RETURN, M.LATCH)
MOVES = {
    "raise": (M.RAISE,), "clear": (M.RETURN, M.LATCH), "true": (M.RAISE,), "false": (M.RETURN, M.LATCH),
    "acknowledge": (M.ACKNOWLEDGE,), "shelve": (M.SHELVE,), "unshelve": BACK,
    "reset": (M.RESET, M.RETURN), "tick": (*PASSING, *BACK),
}  # fmt: skip
"""What each of them may do to the alarm it names; a reset has been seen as well."""


@given(steps=STEPS)
def test_no_order_of_events_leaves_the_table_or_loses_an_alarm(steps):
    """Each change of state is one that the table has for it; an active alarm stands; a notice says its new state."""
    book, now = AlarmBook(), 0
    for what, name, later in steps:
        now += later
        before = {n: book.state(n) for n in (*INTERLOCKS, "ghost")}
        notices = _do(book, what, name, now)
        for one, was in before.items():
            starts = {was, follow_alarm(was, M.ACKNOWLEDGE)} if what == "reset" else {was}
            moves = MOVES[what] if one == name or what == "tick" else PASSING if one == "alarm-flood" else ()
            allowed = {ALARM_TRANSITIONS[s].get(m) for s in starts if s for m in moves} | {was}
            assert book.state(one) in allowed, (what, one, was, book.state(one))
        for one in (*INTERLOCKS, "ghost"):
            assert not book.active(one) or one in book
        for n in notices:
            if n.kind in (NoticeKind.TRIP, NoticeKind.TRIP_CLEARED):
                assert (INTERLOCKS[n.name].effect if n.name in INTERLOCKS else Effect.TRIP) is Effect.TRIP
            if n.kind is not NoticeKind.CHATTERING and what != "tick":
                assert n.detail["state"] == book.state(n.name).value
