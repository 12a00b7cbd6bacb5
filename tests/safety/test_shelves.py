"""Alarms put aside for a time: who may, how long, and what comes back (ISA-18.2: shelved, by a person, for a time)."""

import pytest

from holdctl.events import NoticeKind
from holdctl.safety import INTERLOCKS, AlarmBook, Priority
from holdctl.safety.alarm_states import (
    LONGEST_SHELVE_MS,
    AlarmState,
    Move,
)
from holdctl.safety.alarms import told

S, M = AlarmState, Move
MINUTE = 60_000


def _kinds(notices):
    return [(n.kind.value, n.name) for n in notices]


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


# At one moment ----------------------------------------------------------------------------------------------------


def test_all_that_ends_or_begins_at_one_moment_is_told():
    book = AlarmBook()
    for name in ("over-ceiling", "probes-disagree"):
        assert book.condition(name, True, 0) == ()
    told = book.tick(60_000)
    assert [n.name for n in told] == ["over-ceiling", "probes-disagree"]
    for name in ("spool", "disk-full"):
        book.shelve(name, "a baker", 60_000, 70_000)
    assert [n.name for n in book.tick(130_000)] == ["spool", "disk-full"]


def test_what_is_there_already_is_not_raised_again():
    book = AlarmBook()
    assert [n.name for n in book.raise_now("spool", "a file can't be read", 0)] == ["spool"]
    assert book.raise_now("spool", "another file can't be read", 1_000) == ()
    assert book.entries["spool"].since_ms == 0
    book.clear_now("spool", "", 2_000)
    assert [n.name for n in book.raise_now("spool", "a third one", 3_000)] == ["spool"]
