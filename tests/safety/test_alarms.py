"""The book of alarms: states and transitions of ISA-18.2, delays, latches.

The nine states and their transitions: ISA-18.2 / IEC 62682 as described in secondary sources; seven of them also
stand in OPC UA Part 9 (alarms and conditions).
"""

import pytest

from holdctl.events import Notice, NoticeKind
from holdctl.safety import INTERLOCKS, AlarmBook, Priority
from holdctl.safety.alarm_states import (
    ALARM_TRANSITIONS,
    AlarmState,
    Move,
    follow_alarm,
)

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
    assert INTERLOCKS["probes-disagree"].on_delay_s == 60
    for second in range(60):
        assert book.condition("probes-disagree", True, 1000 * second) == ()
    assert "probes-disagree" not in book
    (notice,) = book.condition("probes-disagree", True, 60_000, "they differ by 2 K")
    assert (notice.kind, notice.detail["priority"]) == (NoticeKind.ALARM, "medium")
    assert notice.text.startswith("they differ by 2 K: the estimate is a compromise")


def test_a_condition_that_is_gone_before_its_delay_is_over_starts_anew():
    book = AlarmBook()
    for second in range(59):
        book.condition("probes-disagree", True, 1000 * second)
    book.condition("probes-disagree", False, 59_000)
    for second in range(60, 120):
        assert book.condition("probes-disagree", True, 1000 * second) == ()
    assert book.condition("probes-disagree", True, 120_000)


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
