"""The two loops: bounded whatever comes in, and free of simple-pid's traps."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.control import Cascade
from holdctl.control.cascade import Flow
from holdctl.control.tuning import Gains

FLOOR, CEILING = 62.5, 66.5
OUTER, INNER = Gains(2.0, 4000.0), Gains(0.05, 400.0)
FLOW = Flow(free_c=(5.0 * 65.0 + 0.5 * 20.0) / 5.5, gain_k=600.0 / 5.5)
FINITE = st.floats(allow_nan=False, allow_infinity=False)
KITCHEN = st.floats(-40.0, 250.0)
ODD = (math.nan, math.inf, -math.inf)


def _cascade():
    return Cascade(OUTER, INNER, FLOOR, CEILING)


def _step(cascade, paste_c=65.0, wall_c=65.5, setpoint_c=65.0, wall_feed_c=65.5, dt_s=1.0, flow=FLOW):
    return cascade.update(
        setpoint_c=setpoint_c, paste_c=paste_c, wall_c=wall_c, wall_feed_c=wall_feed_c, flow=flow, dt_s=dt_s
    )


@given(st.lists(st.tuples(KITCHEN, KITCHEN, st.floats(1e-3, 1e4)), min_size=1, max_size=60))
def test_no_sequence_of_temperatures_gives_a_duty_or_a_wall_outside_its_bounds(steps):
    cascade = _cascade()
    for paste_c, wall_c, dt_s in steps:
        asked = _step(cascade, paste_c, wall_c, dt_s=dt_s)
        assert 0.0 <= asked.duty <= 1.0
        assert FLOOR <= asked.wall_c <= CEILING


@given(paste_c=FINITE, wall_c=FINITE, setpoint_c=FINITE, feed_c=FINITE, dt_s=st.floats(1e-6, 1e9))
def test_no_finite_input_at_all_gets_outside_the_bounds(paste_c, wall_c, setpoint_c, feed_c, dt_s):
    asked = _step(_cascade(), paste_c, wall_c, setpoint_c, feed_c, dt_s)
    assert 0.0 <= asked.duty <= 1.0
    assert FLOOR <= asked.wall_c <= CEILING


@pytest.mark.parametrize("odd", ODD)
@pytest.mark.parametrize("name", ["paste_c", "wall_c", "setpoint_c", "wall_feed_c", "dt_s"])
def test_what_is_not_a_finite_number_is_refused_and_never_poisons_the_next_step(name, odd):
    one, other = _cascade(), _cascade()
    _step(one), _step(other)
    with pytest.raises(ValueError, match="finite"):
        _step(one, **{name: odd})
    assert _step(one, 64.8, 65.2) == _step(other, 64.8, 65.2)


@pytest.mark.parametrize("dt_s", [0.0, -1.0])
def test_a_step_back_in_time_is_refused(dt_s):
    with pytest.raises(ValueError, match="positive time step"):
        _step(_cascade(), dt_s=dt_s)


@pytest.mark.parametrize("start_c", [40.0, 64.0, 66.0, 85.0])
def test_hours_at_a_limit_wind_up_nothing(start_c):
    """Ten hours of saturation leave the loops as the first hour of it has left them."""
    short, long = _cascade(), _cascade()
    for cascade, seconds in ((short, 3600), (long, 36_000)):
        for _ in range(seconds):
            asked = _step(cascade, start_c, start_c)
        assert asked.duty in (0.0, 1.0)
    assert _step(long) == _step(short)


def test_the_integral_stops_where_the_output_meets_its_limit():
    """Near enough to integrate, at full duty: the gain's part, 0.05 · 2.5, is never added to a full integral."""
    cascade = _cascade()
    for _ in range(7200):
        asked = _step(cascade, 64.0, 64.0)
    assert (asked.wall_c, asked.duty) == (CEILING, 1.0)
    assert _step(cascade, 64.0, 66.4).duty == pytest.approx(1.0 - 0.05 * 2.4, abs=0.005)


def test_a_far_start_leaves_no_integral_at_all():
    """Heating from cold is the feed-forward's and the gain's work: the integral waits until it is near."""
    used = _cascade()
    for _ in range(36_000):
        _step(used, 40.0, 45.0)
    assert _step(used) == _step(_cascade())


@pytest.mark.parametrize("gap_s", [10.0, 600.0, 21_600.0])
def test_a_long_step_counts_as_five_seconds_at_most(gap_s):
    one, other = _cascade(), _cascade()
    assert _step(one, 64.9, 65.0, dt_s=gap_s) == _step(other, 64.9, 65.0, dt_s=5.0)


def test_a_reset_forgets_both_integrals():
    used = _cascade()
    for _ in range(3000):
        _step(used, 64.9, 65.3)
    assert _step(used) != _step(_cascade())
    used.reset()
    assert _step(used) == _step(_cascade())


def test_the_integral_removes_a_lasting_deviation_that_feed_forward_leaves():
    """A wall that loses twice what it is told to, at the feed-forward's duty alone, would stay cold."""
    cascade, wall, power, capacity, loss = _cascade(), 65.0, 600.0, 7500.0, 1.0
    for _ in range(4 * 3600):
        asked = _step(cascade, 65.0, wall)
        wall += (asked.duty * power - loss * (wall - 20.0) - 5.0 * (wall - 65.0)) / capacity
    assert wall == pytest.approx(asked.wall_c, abs=0.01)


def test_noise_on_the_reading_does_not_move_the_mean_duty():
    """simple-pid with D on a noisy reading rectifies at its clamp and shifts the mean: here there is no D."""
    rng, cascade = random.Random(5), _cascade()
    quiet = _step(_cascade()).duty
    duties = [_step(cascade, 65.0 + rng.gauss(0, 0.03), 65.5 + rng.gauss(0, 0.03)).duty for _ in range(4000)]
    assert sum(duties) / len(duties) == pytest.approx(quiet, abs=0.003)


@given(wall_c=st.floats(-1e6, 1e6))
def test_the_feed_forward_duty_is_the_balance_of_the_wall_cut_to_0_and_1(wall_c):
    duty = FLOW.duty(wall_c)
    lost = 5.0 * (wall_c - 65.0) + 0.5 * (wall_c - 20.0)
    assert 0.0 <= duty <= 1.0
    if 0.0 < duty < 1.0:
        assert duty * 600.0 == pytest.approx(lost)
