"""What one step passes on, and its borders: the gap that earns nothing, the heat that was delivered, who says no."""

from types import SimpleNamespace

import pytest

from holdctl.control.learning import as_event
from holdctl.events import (
    ClockJump,
    Condition,
    Estimate,
    Forecast,
    Identified,
    Instant,
    Late,
    LinkChange,
    Notice,
    NoticeKind,
    Phase,
    ProbeFault,
    Reading,
    RequestKind,
    Restart,
    Silence,
    State,
)
from holdctl.hold import Hold
from holdctl.settings import Step
from tests.closed_loop import instant, reading
from tests.hold.bench import HOLD, LONG, Bench, stirred

ESTIMATE = Estimate(65.0, 65.0, 65.0, 65.0, 65.0)


# The step ---------------------------------------------------------------------------------------------------------


def test_the_first_event_starts_the_hold_and_says_so():
    bench = Bench()
    first = bench.read()
    assert first.state is State.RUNNING
    state = next(n for n in first.notices if n.kind is NoticeKind.STATE)
    assert (state.name, state.text) == ("running", "running")
    assert state.detail == {"was": "idle", "cause": "start"}
    assert bench.names(NoticeKind.STEP)


def test_of_a_hold_whose_programme_nobody_told_no_step_is_said():
    bench = Bench(stirred(LONG, untold=("programme",)))
    assert [n.kind for n in bench.read().notices if n.kind is NoticeKind.STEP] == []


def test_a_trip_of_an_earlier_hold_is_said_at_the_start_and_interrupts():
    bench = Bench(latched=("high-limit", "other-host"))
    first = bench.read()
    trips = [n for n in first.notices if n.kind is NoticeKind.TRIP]
    assert [n.name for n in trips] == ["high-limit", "other-host"]
    assert trips[0].text.startswith(
        "high-limit is still latched from an earlier hold: `holdctl reset high-limit`"
    )
    assert (trips[0].detail["latched"], trips[0].detail["restored"]) == (True, True)
    states = [n for n in first.notices if n.kind is NoticeKind.STATE]
    assert states[-1].text.endswith(": a trip is still latched")
    assert states[-1].detail["cause"] == "interrupt"
    assert (first.state, first.lease_ms) == (State.HELD, 0)


def test_a_hold_that_is_broken_off_says_why_twice_and_never_leases_again():
    bench = Bench()
    bench.reads(3)
    last = bench.hold.abort("the port is gone")
    states = [n for n in last.notices if n.kind is NoticeKind.STATE]
    assert [n.name for n in states] == ["aborting", "aborted"]
    assert all(n.text.endswith(": the port is gone") for n in states)
    assert [n.detail["cause"] for n in states] == ["abort", "abort-done"]
    assert (last.lease_ms, last.state, len(last.notices)) == (0, State.ABORTED, 2)
    assert bench.read(60.0, 60.0).lease_ms == 0


def test_a_pair_of_state_and_cause_that_is_not_in_the_table_changes_nothing():
    from holdctl.hold.states import Cause

    hold = Bench().hold
    assert hold.change(Cause.RESUME) is False
    assert hold.state is State.IDLE
    assert hold.change(Cause.START) is True


def test_an_ended_hold_takes_no_alarm_any_more():
    bench = Bench()
    bench.reads(3)
    bench.hold.abort("x")
    bench.hold.condition("relay-welded", True, "x")
    assert not bench.hold.alarms.active("relay-welded")
    assert bench.read().notices == ()


@pytest.mark.parametrize(("event", "text"), [
    (Late(4_000), "this program stood still for 4.0 s"),
    (Late(150_000), "this program stood still for 2 min"),
])  # fmt: skip
def test_standing_still_is_a_trip_that_says_for_how_long(event, text):
    bench = Bench()
    bench.reads(3)
    bench.event(event)
    trip = bench.notices(NoticeKind.TRIP)[-1]
    assert trip.name == "daemon-late"
    assert trip.text.startswith(text)
    assert (bench.hold.drive.lease_ms, bench.hold.drive.duty) == (0, 0.0)


def test_a_jump_of_the_wall_clock_interrupts_nothing():
    bench = Bench()
    bench.reads(3, 60.0, 60.0)
    before = bench.hold.drive.lease_ms
    bench.event(ClockJump(5_000))
    assert bench.hold.drive.lease_ms == before > 0
    assert not bench.hold.interruptions.pending
    assert bench.notices(NoticeKind.ALARM)[-1].text.startswith(
        "the computer's wall clock was set forward by 5.0 s"
    )
    warm = Bench()
    warm.reads(3)
    before_ms = warm.seen[-1].credit_ms
    warm.event(ClockJump(5_000))
    assert warm.read().credit_ms == before_ms + 1000


@pytest.mark.parametrize(("gap_ms", "credited"), [(3_000, 3_000), (3_001, 0)])
def test_a_gap_of_more_than_three_seconds_earns_nothing_and_begins_the_loops_anew(
    gap_ms, credited, monkeypatch
):
    bench = Bench()
    bench.reads(5)
    before, rested = bench.seen[-1].credit_ms, []
    monkeypatch.setattr(bench.hold.vigil, "gap", lambda: rested.append(1))
    assert bench.read(after_ms=gap_ms).credit_ms == before + credited
    assert bool(rested) is not bool(credited)


@pytest.mark.parametrize(("hold_ms", "host_ms"), [(1_000, 3_001), (3_001, 1_000), (-1, 1_000)])
def test_whichever_clock_shows_the_gap_it_counts_and_one_that_runs_back_is_one(hold_ms, host_ms):
    hold = Hold(stirred())
    for k in range(1, 6):
        decision = hold.step(reading(k, 65.0, 65.0), instant(1000 * k))
    at = Instant(5_000 + hold_ms, 5_000 + host_ms, 0)
    assert hold.step(reading(6, 65.0, 65.0), at).credit_ms == decision.credit_ms


def test_each_interruption_lets_the_time_until_the_next_reading_earn_nothing():
    for event in (Late(500), Restart(500, "boot")):
        bench = Bench()
        bench.reads(5)
        before = bench.seen[-1].credit_ms
        bench.event(event)
        assert bench.read().credit_ms == before
        assert bench.read().credit_ms == before + 1000


def test_an_event_of_its_own_asks_for_no_lease():
    bench = Bench()
    bench.reads(3, 60.0, 60.0)
    assert bench.seen[-1].lease_ms > 0
    for event in (LinkChange(True, "back"), Condition("probes-disagree", True, "x")):
        assert bench.event(event).lease_ms is None
    assert bench.ask(RequestKind.NOTE, "smells of honey").lease_ms is None
    assert bench.event(Silence(), after_ms=3_000).lease_ms == 0, "a trip stands"
    assert bench.names(NoticeKind.ALARM) or bench.names(NoticeKind.TRIP)


def test_a_condition_is_told_with_its_words():
    bench = Bench()
    bench.reads(3)
    bench.event(Condition("record", True, "the disk is full"))
    assert bench.hold.alarms.active("record")
    bench.event(Condition("record", False))
    assert not bench.hold.alarms.active("record")


def test_what_was_identified_goes_to_the_controller(monkeypatch):
    bench, taken = Bench(), []
    monkeypatch.setattr(bench.hold.drive.controller, "identified", taken.append)
    learning = bench.hold.drive.controller.estimator.learning
    found = as_event(learning.belief, 0.05, 1000)
    assert isinstance(found, Identified)
    bench.event(found)
    assert taken == [found]


def test_paste_that_cools_without_heat_is_neither_identified_nor_foretold():
    bench = Bench()
    bench.reads(160)
    hold, now = bench.hold, instant(10_000_000)
    assert hold.foretell(now) is not None
    told = Forecast((0, 0, 0), None, 60.0, 66.0, 0, 0.0)
    assert [n.name for n in hold.foretold(told, now)] == ["forecast"]
    bench.ask(RequestKind.COOL)
    hold.drive.controller.due = lambda: "a task"
    hold.drive.counsel = SimpleNamespace(task=lambda *_what: "a task", told=lambda *_what: ["a word"])
    assert (hold.due(), hold.foretell(now), hold.foretold(told, now)) == (None, None, [])


def test_a_forecast_is_asked_for_and_told_at_the_holds_time():
    hold = Bench().hold
    hold.state = State.RUNNING
    asked = []
    hold.drive.counsel = SimpleNamespace(
        task=lambda *what: asked.append(what), told=lambda *what: asked.append(what)
    )
    now, told = Instant(7, 8, 9), Forecast((0, 0, 0), None, 60.0, 66.0, 0, 0.0)
    hold.foretell(now)
    hold.foretold(told, now)
    assert asked == [(7, hold.progress), (told, 7)]


def test_a_cooling_leases_nothing_and_its_valid_readings_are_the_last_ones():
    bench = Bench()
    bench.reads(3)
    bench.ask(RequestKind.COOL)
    assert bench.read(64.0, 64.0).lease_ms == 0
    assert bench.hold.last_valid == instant(4_000)
    bench.read(ProbeFault.OPEN, 64.0)
    assert bench.hold.last_valid == instant(4_000)
    bench.ask(RequestKind.STOP)
    bench.read(63.0, 63.0)
    assert bench.hold.last_valid == instant(4_000)


def test_a_hold_that_waits_is_not_foretold_but_still_identified():
    bench = Bench()
    bench.reads(160)
    bench.reads(3, 85.0, 95.0)
    assert bench.hold.state is State.HELD
    bench.hold.drive.controller.due = lambda: "a task"
    bench.hold.drive.counsel = SimpleNamespace(task=lambda *_what: "a task")
    assert bench.hold.due() == "a task"
    assert bench.hold.foretell(instant(10_000_000)) is None


def test_the_phase_is_the_programmes_while_it_runs_and_cooling_while_it_cools():
    bench = Bench(stirred(HOLD))
    assert bench.read().phase is Phase.HOLD
    bench.reads(3, 85.0, 95.0)
    assert (bench.seen[-1].state, bench.seen[-1].phase) == (State.HELD, Phase.NONE)
    bench.ask(RequestKind.COOL)
    assert bench.read(60.0, 60.0).phase is Phase.COOLING
    bench.ask(RequestKind.SOUR)
    assert bench.read(40.0, 40.0).phase is Phase.NONE
    other = Bench()
    other.read()
    other.ask(RequestKind.COOL)
    other.ask(RequestKind.STOP)
    assert other.read(60.0, 60.0).phase is Phase.NONE


def test_a_decision_tells_what_the_drive_asks_and_the_programme_has_earned():
    bench = Bench()
    bench.reads(30, 64.0, 64.0)
    last, drive = bench.seen[-1], bench.hold.drive
    assert (last.setpoint_c, last.wall_setpoint_c, last.duty) == (65.0, drive.asked_wall_c, drive.duty)
    assert last.duty > 0
    assert last.estimate is drive.estimate
    assert last.step == 0
    assert last.credit_ms == bench.hold.progress.credit_ms > 0


def test_the_estimate_crosses_a_fault_in_one_step_of_its_whole_length(monkeypatch):
    bench, steps = Bench(), []
    bench.reads(3)
    monkeypatch.setattr(
        bench.hold.drive, "follow", lambda used, passed_ms: steps.append((dict(used), passed_ms)) or ESTIMATE
    )
    bench.read(66.0, 66.5)
    bench.read(66.0, 66.5, after_ms=2_500)
    assert steps == [({1: 66.0, 2: 66.5}, 1_000), ({1: 66.0, 2: 66.5}, 2_500)]


def test_the_paste_above_its_ceiling_limits_the_power():
    bench, limits = Bench(), []
    bench.reads(3)
    real = bench.hold.drive.lease

    def lease(want, values, dt_s, now_ms, *, limited):
        limits.append((limited, dt_s, now_ms))
        return real(want, values, dt_s, now_ms, limited=limited)

    bench.hold.drive.lease = lease
    bench.read()
    bench.hold.alarms.raise_now("over-ceiling", "x", bench.ms)
    bench.read()
    assert limits == [(False, 1.0, 4_000), (True, 1.0, 5_000)]


def test_the_vigil_is_told_each_lease(monkeypatch):
    bench, told = Bench(), []
    monkeypatch.setattr(
        bench.hold.vigil, "leased", lambda lease_ms, now: told.append((lease_ms, now.hold_ms))
    )
    last = bench.read(60.0, 60.0)
    assert told == [(last.lease_ms, 1_000)]
    assert last.lease_ms > 0


def test_while_hands_are_wanted_at_a_prompt_nothing_is_learnt(monkeypatch):
    bench, paused = Bench(stirred(Step(prompt="malt in", to=66.0), HOLD)), []
    monkeypatch.setattr(bench.hold.drive.controller.estimator, "pause", paused.append)
    bench.reads(2)
    bench.ask(RequestKind.NEXT)
    bench.reads(65)
    assert paused[1] is True
    assert paused[-1] is False


def test_a_notice_that_is_no_alarm_passes_as_it_is():
    hold = Hold(stirred())
    note = Notice(NoticeKind.INFO, "x", "y", {"z": 1})
    hold.say(note, note)
    assert hold._notices == [note, note]


def test_a_reading_without_a_value_is_no_valid_reading():
    bench = Bench()
    bench.reads(3)
    before = bench.hold.last_valid
    bench.hold.step(Reading(4, 4000, (), 250, False, 0, 4, 0, False), instant(4_000))
    assert bench.hold.last_valid == before
