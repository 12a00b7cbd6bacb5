"""What may be wrong: a jump needs a second reading before it may heat more, and across a gap the loops start anew."""

import pytest

from holdctl.hold import Hold
from tests.closed_loop import instant, reading
from tests.hold.bench import Bench

COLD = (60.0, 60.0)
"""Five kelvin under the setpoint: full duty, so that a lease of 0 is never control's own wish."""


def _warm() -> Bench:
    """A hold that heats."""
    bench = Bench()
    assert bench.reads(5, *COLD).lease_ms > 0
    return bench


def test_a_jump_needs_a_second_reading_before_it_may_raise_the_duty():
    """The paste seems to fall by ten kelvin: the duty may not follow before the next reading says so too."""
    bench = Bench()
    bench.reads(300, 66.0, 66.0)
    before = bench.seen[-1].duty
    first = bench.read(56.0, 66.0)
    assert first.duty <= before
    assert first.estimate.paste_c == 66.0, "control goes on with the last confirmed value"
    assert bench.read(56.0, 66.0).duty > before


def test_while_one_probe_is_in_doubt_no_other_one_may_raise_the_duty():
    bench = Bench()
    bench.reads(300, 65.0, 65.4)
    before = bench.seen[-1].duty
    assert 0.0 < before < 0.9
    assert bench.read(50.0, 63.9).duty <= before
    other = Bench()
    other.reads(300, 65.0, 65.4)
    assert other.read(65.0, 63.9).duty > before, "the wall alone would have raised it"


def test_a_jump_of_the_wall_needs_a_second_reading_too():
    bench = Bench()
    bench.reads(300, 65.0, 66.0)
    before = bench.seen[-1].duty
    assert bench.read(65.0, 40.0).duty <= before
    assert bench.read(65.0, 40.0).duty > before


def test_a_jump_that_was_wrong_leaves_no_trace():
    one, other = Bench(), Bench()
    one.reads(100, 65.0, 65.2)
    other.reads(100, 65.0, 65.2)
    one.read(25.0, 65.2)
    other.read(65.0, 65.2)
    assert one.reads(30).duty == pytest.approx(other.reads(30).duty, abs=1e-3)


def test_a_jump_that_lets_the_duty_fall_is_confirmed_at_the_second_reading():
    bench = _warm()
    bench.reads(2, 70.0, 60.0)
    assert bench.seen[-1].estimate.paste_c == 70.0


@pytest.mark.parametrize("gap_ms", [3001, 60_000, 3_600_000])
def test_across_a_gap_the_loops_start_anew(gap_ms):
    bench = Bench()
    bench.reads(2000, 64.9, 65.2)
    inner = bench.hold.drive.controller._cascade._inner
    wound = inner._pid.components[1]
    bench.read(64.9, 65.2, after_ms=gap_ms)
    one_step = abs(inner._ki * (inner._pid.setpoint - 65.2)) * 5.0
    assert abs(inner._pid.components[1]) <= one_step + 1e-9
    assert abs(wound) > 10 * one_step


def test_a_gap_of_either_clock_is_a_gap():
    """Paced by the node, the hold's clock may stand while the host's goes on, and the other way round."""
    for hold_ms, host_ms in ((10_000, 2000), (2000, 10_000)):
        hold = Hold(Bench().hold.settings)
        hold.step(reading(1, 65.0, 65.0), instant(1000))
        at = instant(2000)
        moved = type(at)(hold_ms, host_ms, at.utc_ms)
        assert hold.step(reading(2, 65.0, 65.0), moved).credit_ms == 0
