"""The high limit: when it arms, when it trips, when its cause is gone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.safety import HighLimit
from holdctl.safety.limits import ARM_BELOW_K

LIMITS = {1: 78.0, 2: 90.0}
TEMPS = st.fixed_dictionaries({1: st.floats(-20.0, 150.0), 2: st.floats(-20.0, 150.0)})


def _limit():
    return HighLimit(dict(LIMITS))


def test_a_hot_start_is_not_armed_and_names_the_probes_that_are_over():
    limit = _limit()
    assert limit.over({1: 88.0, 2: 85.0}) == [1]
    assert not limit.armed


def test_it_arms_only_once_every_probe_has_been_two_kelvin_below():
    limit = _limit()
    limit.over({1: 88.0, 2: 85.0})
    limit.over({1: 76.01, 2: 20.0})
    assert not limit.armed, "probe 1 has not been 2 K below its limit yet"
    limit.over({1: 76.0, 2: 20.0})
    assert limit.armed


def test_the_probes_may_have_been_below_at_different_times():
    limit = _limit()
    limit.over({1: 70.0, 2: 95.0})
    limit.over({1: 77.5, 2: 60.0})
    assert limit.armed


def test_once_armed_it_stays_armed():
    limit = _limit()
    limit.over({1: 65.0, 2: 66.0})
    assert limit.over({1: 99.0, 2: 99.0}) == [1, 2]
    assert limit.armed


@pytest.mark.parametrize(("temp", "over"), [(78.0, []), (78.01, [1])])
def test_at_the_limit_is_not_above_it(temp, over):
    assert _limit().over({1: temp, 2: 60.0}) == over


def test_the_cause_is_gone_only_when_every_probe_is_two_kelvin_below():
    limit = _limit()
    assert limit.warm({1: 65.0, 2: 88.5}) == {2: 88.0}
    assert limit.warm({1: 76.5, 2: 60.0}) == {1: 76.0}
    assert limit.warm({1: 76.0, 2: 88.0}) == {}


@given(st.lists(TEMPS, max_size=30))
def test_armed_means_that_each_probe_has_been_below_in_the_past(seen):
    limit = _limit()
    for temps in seen:
        over = limit.over(temps)
        assert over == [key for key in LIMITS if temps[key] > LIMITS[key]]
    below = [any(temps[key] <= LIMITS[key] - ARM_BELOW_K for temps in seen) for key in LIMITS]
    assert limit.armed == all(below)
