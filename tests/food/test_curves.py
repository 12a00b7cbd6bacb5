"""Curves cut into segments: closed forms against quadrature, parts against the whole."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from holdctl.food.curves import segments, since, tenfold_minutes, time_above_s, time_within_s


def test_an_end_without_a_value_or_a_long_step_is_a_gap():
    found = segments([0, 5, 20, 25, 30], [60, 61, 62, math.nan, 63], 10)
    assert found.known.tolist() == [True, False, False, False]
    assert found.unknown_s == 25


def test_curves_that_are_none_are_refused():
    with pytest.raises(ValueError, match="belong"):
        segments([0, 1], [60.0])
    with pytest.raises(ValueError, match="ascend"):
        segments([0, 2, 1], [60.0] * 3)
    with pytest.raises(ValueError, match="ascend"):
        segments([0, math.nan], [60.0] * 2)
    assert segments([], []).unknown_s == 0
    assert segments([1], [60]).unknown_s == 0


@given(st.floats(-5, 100), st.floats(-5, 100), st.floats(4, 20), st.floats(1, 20_000))
@settings(max_examples=100, deadline=None)
def test_a_rate_tenfold_every_z_is_summed_exactly(start, end, z, length):
    by_quadrature, _ = quad(
        lambda x: 10 ** ((start + x * (end - start) - 65) / z), 0, 1, epsabs=0, epsrel=1e-10
    )
    found = tenfold_minutes(segments([0, length], [start, end]), 65, z)
    assert found[0] == pytest.approx(by_quadrature * length / 60, rel=1e-7)


def test_time_above_a_limit_is_that_of_the_straight_line():
    found = segments([0, 100, 200, 300], [60, 80, 80, math.nan])
    assert time_above_s(found, 70) == pytest.approx(150)
    assert time_above_s(found, 60) == 200
    assert time_above_s(found, 80) == 0
    assert time_within_s(found, 65, 75) == pytest.approx(50)


@given(st.lists(st.floats(0, 100), min_size=2, max_size=8), st.floats(0, 100))
@settings(deadline=None)
def test_time_above_falls_with_the_limit_and_never_exceeds_the_whole(temps, limit):
    found = segments(np.arange(len(temps)) * 60.0, temps)
    assert 0 <= time_above_s(found, limit + 5) <= time_above_s(found, limit) <= 60 * (len(temps) - 1) + 1e-9


def test_what_comes_after_a_moment_begins_on_the_straight_line():
    t, temp = since([0, 10, 20], [60.0, 70.0, 80.0], 4.0)
    assert (t.tolist(), temp.tolist()) == ([4, 10, 20], [64, 70, 80])
    assert since([0, 10], [60.0, 70.0], -5.0)[0].tolist() == [0, 10]
    assert since([0, 10], [60.0, 70.0], 10.0)[0].tolist() == []
