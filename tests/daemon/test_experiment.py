"""A test is a hold: every interlock stays above it, its ceilings and longest time count, and it ends by itself."""

import msgspec
import pytest

from holdctl.control.findings import EVENT, Setup
from holdctl.daemon.experiment import Plan, Wanted, plan
from holdctl.errors import ConfigError
from holdctl.events import NoticeKind, Phase, ProbeFault, RequestKind, Silence, State
from holdctl.settings import Place, Probe
from holdsim import PRESETS
from tests.closed_loop import HOUR, Loop, told
from tests.hold.bench import Bench


def laid(preset: str = "lamp-box", **wanted) -> Plan:
    return plan(told(preset), Wanted(**wanted))


class TestBench(Bench):
    """A bench with a relay test on the wall of the lamp box: paste probe 1, wall probe 2."""

    __test__ = False

    def __init__(self, **wanted) -> None:
        super().__init__(told("lamp-box"))
        self.plan = laid(**wanted)
        self.hold = self.plan.hold(self.plan.settings, ())


def test_a_relay_test_on_the_simulated_wall_swings_ends_and_leaves_the_relay_off():
    made = laid()
    night = Loop(made.hold(made.settings, ()), PRESETS["lamp-box"].build(seed=1, start_c=66.0), every_s=1)
    while night.hold.state not in (State.COMPLETE, State.STOPPED) and night.t_s < 3 * HOUR:
        night.second()
    assert night.hold.state is State.COMPLETE
    assert made.guarded.good
    assert night.trips() == []
    walls = [row.truth.probes[1] for row in night.rows[300:]]
    assert min(walls) > 64.0
    assert max(walls) < 66.5
    assert max(row.truth.hottest_c for row in night.rows) <= 66.5
    assert night.second().lease_ms == 0
    assert all(row.decision.phase in (Phase.PROMPT, Phase.NONE) for row in night.rows)


def test_how_the_test_was_made_stands_in_the_first_decision():
    bench = TestBench()
    first = bench.read(64.0, 64.0)
    said = next(notice for notice in first.notices if notice.name == EVENT)
    assert "probe 2 (wall)" in said.text
    assert msgspec.convert(dict(said.detail), Setup) == bench.plan.setup
    assert EVENT not in [notice.name for notice in bench.read(64.0, 64.0).notices]


def test_below_the_setpoint_it_heats_at_full_power_and_above_not_at_all():
    bench = TestBench()
    assert bench.reads(5, 64.0, 64.0).duty == 1.0
    assert bench.seen[-1].lease_ms > 0
    decision = bench.reads(5, 64.0, 66.0)
    assert (decision.duty, decision.lease_ms) == (0.0, 0)


def test_a_high_limit_takes_the_relay_off_latches_and_ends_the_test():
    bench = TestBench()
    bench.reads(30, 64.0, 64.0)
    last = bench.reads(3, 79.0, 64.0)  # a jump waits for its second reading
    assert "high-limit" in bench.names(NoticeKind.TRIP)
    assert last.lease_ms == 0
    bench.reads(3, 79.0, 64.0)
    assert bench.hold.state is State.STOPPED
    assert not bench.plan.guarded.good


@pytest.mark.parametrize("fault", [ProbeFault.OPEN, ProbeFault.SHORT, ProbeFault.RANGE])
@pytest.mark.parametrize("channel", [1, 2])
def test_a_faulty_probe_takes_the_relay_off(channel, fault):
    bench = TestBench()
    bench.reads(5, 64.0, 64.0)
    temps = (fault, 64.0) if channel == 1 else (64.0, fault)
    assert bench.read(*temps).lease_ms == 0
    assert "probe-fault" in bench.names(NoticeKind.TRIP)


def test_silence_takes_the_relay_off():
    bench = TestBench()
    bench.reads(5, 64.0, 64.0)
    assert bench.event(Silence(), 3000).lease_ms == 0
    assert "no-reading" in bench.names(NoticeKind.TRIP)


def test_the_nodes_own_cutout_takes_the_relay_off():
    bench = TestBench()
    bench.reads(5, 64.0, 64.0)
    assert bench.read(64.0, 64.0, cut=True).lease_ms == 0
    assert "node-cutout" in bench.names(NoticeKind.TRIP)


@pytest.mark.parametrize("temps", [(64.0, ProbeFault.OPEN), (ProbeFault.OPEN, 64.0)])
def test_a_trip_that_does_not_go_away_ends_the_test(temps):
    bench = TestBench()
    bench.reads(5, 64.0, 64.0)
    bench.reads(70, *temps)
    assert bench.hold.state is State.STOPPED
    assert all(decision.lease_ms == 0 for decision in bench.seen[5:])


def test_a_line_that_stays_silent_ends_the_test():
    bench = TestBench()
    bench.reads(5, 64.0, 64.0)
    for _ in range(4):
        bench.event(Silence(), 30_000)
    assert bench.hold.state is State.STOPPED


def test_a_trip_that_goes_away_lets_the_test_go_on():
    bench = TestBench()
    bench.reads(5, 64.0, 64.0)
    bench.reads(3, 64.0, ProbeFault.OPEN)
    assert bench.reads(100, 64.0, 64.0).duty == 1.0
    assert bench.hold.state is State.RUNNING


def test_a_ceiling_under_the_high_limit_ends_the_test_without_a_trip():
    bench = TestBench()
    for wall in range(60, 86):
        bench.reads(3, 64.0, float(wall))
    assert bench.names(NoticeKind.TRIP) == []
    assert bench.hold.state is State.COMPLETE
    assert bench.plan.guarded.words == "probe 2 came to 78.0 °C, over the test's ceiling of 77 °C"
    assert bench.read(64.0, 64.0).lease_ms == 0


def test_a_wild_reading_gives_no_heat_that_was_not_given_before():
    bench = TestBench()
    bench.reads(60, 64.0, 66.0)
    decision = bench.read(64.0, 40.0)
    assert decision.duty == 0.0
    assert decision.lease_ms == 0


def test_the_longest_time_ends_the_test():
    bench = TestBench(longest="10 min")
    last = bench.reads(605, 64.0, 64.0)
    assert bench.hold.state is State.COMPLETE
    assert last.lease_ms == 0
    assert "did not come up to" in bench.plan.guarded.words


def test_the_programme_ends_the_heat_should_the_test_not_end_itself():
    bench = TestBench(longest="10 min")
    bench.plan.guarded.test.longest_s = 1e9
    bench.reads(1205, 64.0, 64.0)
    assert bench.names(NoticeKind.TRIP) == ["unanswered"]
    assert bench.hold.state is State.STOPPED
    assert all(decision.lease_ms == 0 for decision in bench.seen[1202:])


@pytest.mark.parametrize(
    ("kind", "end"), [(RequestKind.STOP, State.STOPPED), (RequestKind.NEXT, State.COMPLETE)]
)
def test_a_person_can_end_it(kind, end):
    bench = TestBench()
    bench.reads(5, 64.0, 64.0)
    bench.ask(kind)
    assert bench.reads(2, 64.0, 64.0).lease_ms == 0
    assert bench.hold.state is end


def test_a_trip_that_is_still_latched_lets_no_test_heat():
    made = laid()
    bench = Bench(made.settings)
    bench.hold = made.hold(made.settings, ("high-limit",))
    bench.reads(5, 64.0, 64.0)
    assert all(decision.lease_ms in (0, None) for decision in bench.seen)
    assert bench.hold.state is State.STOPPED


# Laying it out -----------------------------------------------------------------------------------------------------


def test_the_wall_is_tested_where_there_is_a_probe_and_else_the_paste():
    assert laid().setup.channel == 2
    one = msgspec.structs.replace(
        told("stirred-kettle"), probe=(Probe(channel=1, place=Place.MID, error_k=0.5),)
    )
    assert plan(one, Wanted()).setup.channel == 1


def test_ceilings_lie_under_the_high_limits():
    made = laid(setpoint_c=70.0)
    limits = told("lamp-box").limits
    assert made.guarded.ceilings_c[1] < limits.paste_high_c
    assert made.guarded.ceilings_c[2] < limits.wall_high_c


@pytest.mark.parametrize(
    ("wanted", "words"),
    [
        ({"channel": 3}, "there are 1 .mid., 2 .wall."),
        ({"setpoint_c": 80.0}, "another --setpoint"),
        ({"setpoint_c": 22.0}, "another --setpoint"),
        ({"longest": "soon"}, "not a duration"),
    ],
)
def test_what_cannot_be_tested_is_said_in_a_sentence(wanted, words):
    with pytest.raises(ConfigError, match=words):
        laid(**wanted)


def test_a_step_is_laid_out_from_what_is_told():
    made = laid(method="step")
    assert 0 < made.guarded.test.base < made.guarded.test.raised <= 1
    assert made.guarded.test.block_s % told("lamp-box").warmer.cycle_s == 0
    bench = Bench(made.settings)
    bench.hold = made.hold(made.settings, ())
    assert bench.reads(5, 64.0, 64.0).duty == pytest.approx(made.guarded.test.base, abs=1e-3)
