"""Whether an interrupted hold goes on: the rule of docs/restart.md, case by case."""

from functools import cache

import msgspec
import pytest

from holdctl.control.cooling import unattended
from holdctl.events import (
    ClockJump,
    Late,
    NoticeKind,
    ProbeFault,
    Reading,
    RequestKind,
    Restart,
    Silence,
    State,
)
from holdctl.hold.resume import HARMLESS, changes, spoken
from holdctl.settings import Limits, Port, RestartRule, Settings, Step
from tests.closed_loop import Loop, loop
from tests.hold import bench as plain
from tests.hold.bench import LONG, stirred

MINUTE = 60_000


class Bench(plain.Bench):
    """A node that acknowledges every command, as one does that is there."""

    def _step(self, event):
        if isinstance(event, Reading):
            event = msgspec.structs.replace(event, ack=self.n)
        return super()._step(event)


def interrupted(bench: Bench, gap_ms: int | None, clock: str = "boot", **what):
    """A restart after `gap_ms`, as the daemon tells it: the hold's clock has gone on by then."""
    return bench.event(Restart(gap_ms, clock, **what), after_ms=gap_ms or 0)


def running(**rule) -> Bench:
    bench = Bench(stirred(LONG, restart=RestartRule(**rule)))
    bench.reads(120, 64.8, 65.0)
    return bench


def heats(bench: Bench) -> bool:
    """Whether the relay is leased within a minute of slightly cool paste."""
    return any(bench.read(64.6, 64.6).lease_ms for _ in range(60))


def the_interruption(bench: Bench):
    (notice,) = [n for n in bench.notices(NoticeKind.INFO) if n.name == "interruption"]
    return notice


def test_a_short_gap_with_warm_paste_goes_on_by_itself_with_the_credit_earned_before():
    bench = running()
    before = bench.seen[-1].credit_ms
    assert before > 0
    interrupted(bench, 3 * MINUTE)
    first = bench.read(64.7, 64.8)
    assert (first.state, first.setpoint_c, first.credit_ms) == (State.RUNNING, 65.0, before)
    assert the_interruption(bench).detail["goes_on"] is True
    assert bench.reads(10, 64.8, 65.0).credit_ms == before + 10_000
    assert heats(bench)


@pytest.mark.parametrize("gap_ms", [0, 500, 2_000, 2_999])
def test_not_even_a_gap_shorter_than_a_silence_earns_credit(gap_ms):
    bench = running()
    before = bench.seen[-1].credit_ms
    interrupted(bench, gap_ms)
    assert bench.read(64.8, 65.0, after_ms=0).credit_ms == before


CASES = {
    "gap longer than the rule": ({}, 15 * MINUTE + 1, {}, (64.8, 64.8), "was away for 15 min"),
    "gap of unknown length": ({}, None, {"clock": "wall"}, (64.8, 64.8), "nobody knows"),
    "the rule says never": ({"goes_on_within": "never"}, 1000, {}, (64.8, 64.8), "the settings say to wait"),
    "another limit": ({}, MINUTE, {"changed": ("limits",)}, (64.8, 64.8), "not as it was"),
    "paste below the code's limit": ({}, 10 * MINUTE, {}, (57.3, 57.3), "57 °C is asked for"),
    "paste below the baker's limit": ({"coldest_c": 63.0}, MINUTE, {}, (63.4, 63.4), "63 °C is asked for"),
    "colder than the gap explains": ({}, 10_000, {}, (60.0, 60.0), "colder than so short a gap explains"),
}


@pytest.mark.parametrize(("rule", "gap_ms", "what", "temps", "why"), CASES.values(), ids=CASES)
def test_anything_else_waits_with_the_relay_off_until_somebody_decides(rule, gap_ms, what, temps, why):
    bench = running(**rule)
    before = bench.seen[-1].credit_ms
    interrupted(bench, gap_ms, **what)
    first = bench.read(*temps)
    assert first.state is State.HELD
    trip = bench.notices(NoticeKind.TRIP)[-1]
    assert trip.name == "restart-wait"
    assert why in trip.text
    assert the_interruption(bench).detail["goes_on"] is False
    later = bench.reads(600, 64.8, 65.0)
    assert (later.state, later.lease_ms, later.credit_ms) == (State.HELD, 0, before)
    assert not any(d.lease_ms for d in bench.seen[-600:])


def test_a_reset_lets_it_go_on_with_its_credit_and_a_stop_ends_it():
    bench = running()
    before = bench.seen[-1].credit_ms
    interrupted(bench, 40 * MINUTE)
    bench.reads(30, 63.0, 63.0)
    assert bench.ask(RequestKind.RESET, "restart-wait").state is State.RUNNING
    assert heats(bench)
    assert bench.seen[-1].credit_ms >= before

    other = running()
    interrupted(other, 40 * MINUTE)
    other.read(63.0, 63.0)
    assert other.ask(RequestKind.STOP).state is State.STOPPING


def test_a_hold_that_waits_still_waits_after_the_next_restart():
    bench = running()
    interrupted(bench, 40 * MINUTE)
    bench.read(64.0, 64.0)
    interrupted(bench, 10_000)
    assert bench.read(64.0, 64.0).state is State.HELD
    assert "restart-wait" in bench.hold.standing


def test_the_first_valid_reading_judges_and_until_then_there_is_no_heat():
    bench = running()
    interrupted(bench, MINUTE)
    assert bench.read(ProbeFault.OPEN, 65.0).lease_ms == 0
    assert bench.event(Silence(), after_ms=3000).lease_ms == 0
    assert bench.read(64.8, 65.0).setpoint_c == 65.0
    assert heats(bench)


def test_waiting_for_a_first_valid_reading_counts_as_part_of_the_gap():
    bench = running()
    interrupted(bench, 10 * MINUTE)
    for _ in range(400):
        bench.read(ProbeFault.OPEN, 64.0)
    assert bench.read(64.0, 64.0).state is State.HELD


def test_paste_on_its_way_up_is_not_asked_to_be_hot_already():
    bench = Bench(stirred(LONG))
    bench.reads(120, 30.0, 40.0)
    interrupted(bench, 2 * MINUTE)
    assert bench.read(30.0, 34.0).state is State.RUNNING
    interrupted(bench, 10 * MINUTE)
    assert bench.read(26.5, 26.5).state is State.HELD


def test_paste_that_is_meant_to_fall_may_have_fallen():
    bench = Bench(stirred(Step(fall_to=30.0), LONG))
    bench.reads(60, 60.0, 60.0)
    interrupted(bench, 10 * MINUTE)
    assert bench.read(50.0, 50.0).state is State.RUNNING


def test_an_acknowledged_trip_and_a_latched_one_stand_after_a_restart():
    bench = running()
    bench.reads(5, 80.0, 80.0)
    bench.reads(60, 65.0, 65.0)
    bench.ask(RequestKind.ACKNOWLEDGE, "high-limit")
    interrupted(bench, 5_000, latched=("relay-welded",))
    first = bench.read(65.0, 65.0)
    assert first.state is State.HELD
    assert {"high-limit", "relay-welded"} <= set(bench.hold.standing)
    assert bench.hold.alarms["high-limit"] is True


def test_a_trip_that_came_back_from_beside_the_record_can_be_reset():
    bench = running()
    interrupted(bench, 5_000, latched=("other-host",))
    assert bench.reads(3, 64.8, 65.0).state is State.HELD
    assert bench.ask(RequestKind.RESET, "other-host").state is State.RUNNING


def test_the_wall_clock_as_the_only_witness_is_said():
    bench = running()
    interrupted(bench, MINUTE, "wall")
    bench.read(64.7, 64.8)
    assert "which nobody vouches for" in the_interruption(bench).text


# Standing still -------------------------------------------------------------------------------------------------


def test_readings_that_waited_are_answered_with_lease_0_and_heat_comes_back_after_ten_seconds_in_time():
    bench = running()
    assert bench.event(Late(10_000), after_ms=10_000).lease_ms == 0
    acknowledged = bench.n
    piled = []
    for _ in range(10):
        bench.n = acknowledged  # nothing was sent while it stood still
        piled.append(bench.read(64.8, 65.0, after_ms=0))
    assert not any(d.lease_ms for d in piled)
    assert bench.names(NoticeKind.TRIP) == ["daemon-late"]
    assert not any(bench.read(64.8, 65.0).lease_ms for _ in range(9))
    assert "daemon-late" in bench.hold.standing
    assert bench.read(64.8, 65.0).setpoint_c == 65.0
    assert "daemon-late" in bench.names(NoticeKind.TRIP_CLEARED)
    assert heats(bench)


def test_a_long_sleep_is_judged_like_a_restart_and_by_a_fresh_reading():
    bench = running()
    before = bench.seen[-1].credit_ms
    bench.event(Late(20 * MINUTE), after_ms=20 * MINUTE)
    for _ in range(10):
        bench.read(64.8, 65.0, after_ms=0)  # read before it slept
    assert "restart-wait" not in bench.hold.standing
    woken = bench.read(58.0, 58.0)
    assert woken.state is State.HELD
    assert woken.credit_ms == before
    assert "Awake again after 20 min" in the_interruption(bench).text


def test_a_short_stumble_is_late_and_no_interruption():
    bench = running()
    bench.event(Late(1_600), after_ms=1_600)
    bench.reads(12, 64.8, 65.0)
    assert "interruption" not in bench.names(NoticeKind.INFO)
    assert heats(bench)


# The wall clock -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("jump_ms", [-3_600_000, 3_600_000, 10 * 365 * 86_400_000, -1])
def test_a_jump_of_the_wall_clock_is_an_alarm_and_changes_no_decision(jump_ms):
    one, other = running(), running()
    one.event(ClockJump(jump_ms))
    for _ in range(700):
        a, b = one.read(64.8, 65.0), other.read(64.8, 65.0)
        assert msgspec.structs.replace(a, notices=()) == msgspec.structs.replace(b, notices=())
    assert one.names(NoticeKind.ALARM) == ["clock-jumped"]
    assert one.names(NoticeKind.ALARM_CLEARED) == ["clock-jumped"]


# What the gap is taken to have been -----------------------------------------------------------------------------


@cache
def hot_night(preset: str) -> Loop:
    """Return 42 min of a night, played once: whoever looks ahead from it leaves its hold as it was."""
    return loop(preset, start_c=66.0, vessel_c=60.0).run(2520)


@pytest.mark.parametrize("preset", ["mat-box", "jacket", "small-pot"])
def test_the_true_paste_of_a_simulated_blackout_stays_within_the_credible_bounds(preset):
    """The plants are the simulator's, whose physics and discretisation are not the model's."""
    night = hot_night(preset)
    ends = {s: unattended(night.hold.drive.controller.estimator, s) for s in (60, 600, 1800)}
    coldest, hottest = 100.0, 0.0
    for second in range(1, 1801):
        night.plant.step(0.0)
        if second % 30 == 0:
            truth = night.plant.truth()
            coldest, hottest = min(coldest, truth.coldest_c), max(hottest, truth.hottest_c)
        if second in ends:
            bounds = ends[second]
            print(preset, second, bounds, coldest, hottest)
            assert bounds.coldest_c <= coldest
            assert hottest <= bounds.hottest_c
            assert bounds.coldest_c > 30.0, "a bound that says nothing"
            assert bounds.hottest_c < night.hold.settings.limits.paste_high_c + 5.0


def test_a_longer_gap_is_never_credited_with_warmer_paste():
    estimator = hot_night("mat-box").hold.drive.controller.estimator
    coldest = [unattended(estimator, gap).coldest_c for gap in (0, 10, 60, 600, 3600, 20_000)]
    assert coldest == sorted(coldest, reverse=True)


def test_looking_ahead_leaves_the_estimate_as_it_was():
    night = hot_night("mat-box")
    filter_ = night.hold.drive.controller.estimator.filter
    x, p = filter_.x.copy(), filter_.p.copy()
    unattended(night.hold.drive.controller.estimator, 3600)
    assert (filter_.x == x).all()
    assert (filter_.p == p).all()


# What counts as changed -----------------------------------------------------------------------------------------


def test_another_port_or_unit_is_no_change_but_any_other_table_is():
    old = stirred(LONG)
    assert changes(old, msgspec.structs.replace(old, port=Port("/dev/ttyACM1"), units="F")) == ()
    assert changes(old, msgspec.structs.replace(old, limits=Limits(paste_high_c=77.0))) == ("limits",)
    names = {field.name for field in msgspec.structs.fields(Settings)}
    assert names >= HARMLESS


@pytest.mark.parametrize(
    ("ms", "text"),
    [(900, "0.9 s"), (45_000, "45 s"), (200_000, "3 min"), (7_260_000, "2 h 01 min"), (5e8, "5 days")],
)
def test_lengths_of_time_are_said_in_their_own_unit(ms, text):
    assert spoken(ms) == text
