"""Who says no within one step: what stands higher lets nothing below it through, and each is told at its own time."""

from types import SimpleNamespace

import pytest

from holdctl.events import (
    Condition,
    Instant,
    LinkChange,
    NodeBoot,
    Notice,
    NoticeKind,
    RequestKind,
    Restart,
    State,
)
from holdctl.safety.interlocks import of
from holdctl.settings import Step
from tests.closed_loop import instant, reading
from tests.hold.bench import HOLD, Bench, stirred


def waiting(*trips: str) -> Bench:
    bench = Bench(latched=trips)
    bench.reads(2)
    return bench


def test_a_hold_waits_until_the_last_latched_trip_is_reset():
    bench = waiting("high-limit", "other-host")
    bench.ask(RequestKind.RESET, "high-limit")
    assert bench.read(60.0, 60.0).state is State.HELD
    assert bench.seen[-1].lease_ms == 0
    bench.ask(RequestKind.RESET, "other-host")
    assert bench.read(60.0, 60.0).state is State.RUNNING


def test_a_trip_that_goes_by_itself_does_not_let_a_waiting_hold_go_on():
    bench = waiting("high-limit")
    bench.event(LinkChange(False, "unplugged"))
    assert "link-down" in bench.hold.standing
    bench.event(LinkChange(True, "back"))
    assert "link-down" not in bench.hold.standing
    assert bench.read(60.0, 60.0).state is State.HELD


def test_what_interrupts_a_hold_is_named_in_its_change_of_state():
    bench = Bench()
    bench.reads(3)
    bench.reads(3, 85.0, 95.0)
    held = next(n for n in bench.notices(NoticeKind.STATE) if n.name == "held")
    assert held.text.endswith(": high-limit")
    assert held.detail == {"was": "running", "cause": "interrupt"}


def test_one_wild_value_takes_the_relay_off_for_its_second_though_nothing_trips():
    bench = Bench()
    bench.reads(20, 60.0, 60.0)
    assert bench.hold.drive.lease_ms > 0
    wild = bench.read(60.0, 95.0)
    assert not bench.hold.standing
    assert wild.state is State.RUNNING
    assert (wild.lease_ms, bench.hold.drive.lease_ms, bench.hold.drive.duty) == (0, 0, 0.0)


def test_a_reading_that_is_blocked_leases_nothing_whatever_the_programme_wants(monkeypatch):
    bench = Bench()
    bench.reads(20, 60.0, 60.0)
    monkeypatch.setattr(bench.hold.interlocked, "look", lambda *_what: True)
    decision = bench.hold._reading(reading(21, 60.0, 60.0), instant(21_000))
    assert decision == 0
    assert bench.hold.drive.lease_ms == 0


@pytest.mark.parametrize("after_ms", [1_000, 2_500])
def test_probes_are_told_of_seconds_and_the_loops_of_no_less_than_a_millisecond(after_ms, monkeypatch):
    bench = Bench()
    bench.reads(3, 60.0, 60.0)
    told, passed = [], []
    probes, control = bench.hold.probes, bench.hold._control
    spy = SimpleNamespace(take=lambda read, dt_s: told.append(dt_s) or probes.take(read, dt_s))
    monkeypatch.setattr(bench.hold, "probes", spy)
    monkeypatch.setattr(
        bench.hold, "_control", lambda want, values, dt_s: passed.append(dt_s) or control(want, values, dt_s)
    )
    bench.read(60.0, 60.0, after_ms=after_ms)
    assert (told, passed) == ([after_ms / 1000], [after_ms / 1000])
    bench.read(60.0, 60.0, after_ms=0)
    assert (told[-1], passed[-1]) == (0.0, 0.001)


def test_two_readings_of_one_moment_are_no_gap(monkeypatch):
    bench, gaps = Bench(), []
    bench.reads(3)
    monkeypatch.setattr(bench.hold.vigil, "gap", lambda: gaps.append(1))
    bench.read(after_ms=0)
    assert gaps == []


def test_the_estimate_passes_no_time_between_two_readings_of_one_moment(monkeypatch):
    bench, steps = Bench(), []
    bench.reads(3)
    follow = bench.hold.drive.follow
    monkeypatch.setattr(bench.hold.drive, "follow", lambda used, ms: steps.append(ms) or follow(used, ms))
    bench.read(after_ms=0)
    early = Instant(bench.ms - 500, bench.ms, 0)
    bench.hold.step(reading(9, 65.0, 65.2), early)
    assert steps == [0, 0]


def test_the_first_reading_passes_no_time(monkeypatch):
    bench, steps = Bench(), []
    follow = bench.hold.drive.follow
    monkeypatch.setattr(bench.hold.drive, "follow", lambda used, ms: steps.append(ms) or follow(used, ms))
    bench.read(after_ms=90_000)
    assert steps == [0]


# At its own time --------------------------------------------------------------------------------------------------


def since(bench: Bench, name: str) -> int:
    return bench.hold.alarms.entries[name].since_ms


def test_each_alarm_stands_since_the_moment_of_its_event():
    bench = Bench()
    bench.reads(3)
    bench.event(LinkChange(False, "unplugged"), after_ms=250)
    assert since(bench, "link-down") == 3_250
    bench.event(Condition("record-failing", True, "the disk is full"), after_ms=250)
    assert since(bench, "record-failing") == 3_500
    bench.hold.say(Notice(NoticeKind.ALARM, "spool", "a request can't be read"))
    assert since(bench, "spool") == 3_500
    bench.event(NodeBoot("x-1", 2, 1_400, (None, 105.0), "power"), after_ms=500)
    assert since(bench, "short-lease") == 4_000


def test_what_a_condition_shows_is_told_by_its_words_and_its_end_by_its_own():
    bench = Bench()
    bench.reads(3)
    bench.event(Condition("record-failing", True, "the disk is full"))
    told = bench.notices(NoticeKind.ALARM)[-1]
    assert told.name == "record-failing"
    assert told.text.startswith("the disk is full")
    bench.event(LinkChange(False, "unplugged"))
    bench.event(LinkChange(True, "back"))
    assert bench.notices(NoticeKind.TRIP_CLEARED)[-1].text == "the line is back"
    assert "short-lease" not in bench.hold.alarms


def test_what_clears_without_words_is_said_to_be_gone():
    bench = Bench()
    bench.reads(3)
    bench.event(Condition("record-failing", True, "the disk is full"))
    bench.hold.clear("record-failing")
    gone = bench.notices(NoticeKind.ALARM_CLEARED) + [
        n for n in bench.hold._notices if n.kind is NoticeKind.ALARM_CLEARED
    ]
    assert [n.text for n in gone] == ["record-failing: gone"]


def test_a_prompt_that_nobody_answers_trips_with_the_rows_own_words():
    ask = Step(prompt="stir", wait="1 min", unanswered="stop", to=65.0)
    bench = Bench(stirred(ask, HOLD))
    bench.reads(65)
    assert "unanswered" in bench.hold.standing
    trip = next(n for n in bench.notices(NoticeKind.TRIP) if n.name == "unanswered")
    assert trip.text.startswith(of("unanswered").cause + ": ")
    assert bench.seen[-1].lease_ms == 0


def test_a_trip_that_stands_keeps_the_relay_off_in_every_decision_until_it_has_gone():
    bench = Bench()
    bench.reads(3, 60.0, 60.0)
    bench.event(LinkChange(False, "unplugged"))
    off = [bench.event(Condition("record-failing", True, "x")).lease_ms, bench.read(60.0, 60.0).lease_ms]
    assert off == [0, 0]
    bench.event(LinkChange(True, "back"))
    assert any(bench.read(60.0, 60.0).lease_ms for _ in range(60))


# What each room is told -------------------------------------------------------------------------------------------


def test_what_the_vigil_sees_is_an_alarm_with_its_words_from_the_first_look_and_ends_with_the_last(
    monkeypatch,
):
    bench = Bench()
    bench.reads(3)
    seen = Condition("node-clock", True, "the node's clock is 5.0 % fast")
    monkeypatch.setattr(bench.hold.vigil, "wiring", lambda *_what: iter([seen]))
    bench.read()
    told = bench.notices(NoticeKind.ALARM)[-1]
    assert told.name == "node-clock"
    assert told.text.startswith("the node's clock is 5.0 % fast: ")
    monkeypatch.setattr(bench.hold.vigil, "wiring", lambda *_what: iter([Condition("node-clock", False)]))
    bench.reads(2)
    bench.read(after_ms=600_000)
    assert not bench.hold.alarms.active("node-clock")


def test_what_is_not_there_and_never_was_opens_no_page_in_the_book_of_alarms(monkeypatch):
    bench = Bench()
    bench.reads(3)
    monkeypatch.setattr(bench.hold.vigil, "wiring", lambda *_what: iter([Condition("node-clock", False)]))
    bench.read()
    assert "node-clock" not in bench.hold.alarms.known


def test_the_vigil_is_told_the_lease_that_answered_the_reading_before_and_seconds(monkeypatch):
    bench, wired, pasted = Bench(), [], []
    bench.reads(20, 60.0, 60.0)
    leased = bench.hold.drive.lease_ms
    assert leased > 0
    monkeypatch.setattr(bench.hold.vigil, "wiring", lambda *what: wired.append(what) or iter(()))
    monkeypatch.setattr(bench.hold.vigil, "paste", lambda *what: pasted.append(what) or iter(()))
    bench.read(60.0, 60.0, after_ms=2_500)
    ((read, lease_ms, now),) = wired
    assert (read.temps, lease_ms, now.hold_ms) == ((60.0, 60.0), leased, 22_500)
    ((values, estimate, now, dt_s),) = pasted
    assert (values.used_c, now.hold_ms, dt_s) == ({1: 60.0, 2: 60.0}, 22_500, 2.5)
    assert estimate is bench.hold.drive.estimate


def test_an_interruption_is_judged_from_the_last_valid_reading_and_a_cooling_from_the_estimate(monkeypatch):
    bench, began, seen = Bench(), [], []
    bench.reads(3)
    estimate = bench.hold.drive.estimate
    monkeypatch.setattr(bench.hold.unheated, "seen", lambda *what: seen.append(what))
    bench.read()
    ((values, now, told),) = seen
    assert (values.used_c, now, told) == ({1: 65.0, 2: 65.2}, instant(4_000), estimate)
    monkeypatch.setattr(bench.hold.interruptions, "began", lambda *what: began.append(what))
    bench.event(Restart(60_000, "boot"), after_ms=60_000)
    ((event, now, last, hold),) = began
    assert (event, now, last, hold) == (Restart(60_000, "boot"), instant(64_000), instant(4_000), bench.hold)


def test_a_cause_is_over_at_the_moment_of_the_event_that_says_so():
    bench = Bench()
    bench.reads(3)
    bench.event(LinkChange(False, "unplugged"))
    bench.event(LinkChange(True, "back"), after_ms=750)
    assert bench.hold.alarms.entries["link-down"].over_ms == 3_750
