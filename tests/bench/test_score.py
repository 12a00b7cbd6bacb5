"""Scores on hand-made curves."""

import numpy as np
import pytest

from holdctl.settings import Place
from holdsim.bench.score import Yardstick, first_for_good, overshoot, score
from holdsim.bench.tables import spread_of, three
from holdsim.bench.trace import Trace

YARD = Yardstick(Place.MID, "cold", 70.0, 0.5, coldest_c=64.0, spread_k=1.5, limit_s=400.0, hold_s=500.0)


def trace(mid: np.ndarray, coldest: np.ndarray, hottest: np.ndarray) -> Trace:
    times = np.arange(0.0, 10.0 * len(mid), 10.0)
    places = np.column_stack([mid, mid, mid])
    return Trace(times, coldest, hottest, hottest, places, np.array([0.0, 850.0, 900.0]))


def ramp(top: float = 65.0) -> np.ndarray:
    """From 20 °C in a straight line to `top` at 500 s, then level to 1200 s."""
    return np.interp(np.arange(0.0, 1210.0, 10.0), [0.0, 500.0, 1200.0], [20.0, top, top])


def test_come_up_ends_when_place_and_coldest_are_in_band_for_good() -> None:
    mid = ramp()
    # The place is in band from 64.5 °C on, at 500 · 44.5/45 s; the coldest one (63.5) lags by 1 K all the way.
    got = score(trace(mid, mid - 1.0, mid + 0.5), YARD)
    assert got.come_up_s == pytest.approx(500.0)
    assert got.ratio == pytest.approx(500.0 / 400.0)
    late = np.where(np.arange(len(mid)) == 80, 66.0, mid)
    assert score(trace(late, mid - 1.0, mid + 0.5), YARD).come_up_s == pytest.approx(810.0)


def test_a_coldest_paste_half_a_kelvin_low_is_never_there() -> None:
    mid = ramp()
    got = score(trace(mid, mid - 1.6, mid), YARD)
    assert got.come_up_s is None
    assert got.ratio is None


def test_a_run_outside_its_ceiling_is_a_failure_and_no_ratio() -> None:
    mid = ramp()
    hottest = mid + 0.5
    hottest[45] = 70.6
    got = score(trace(mid, mid, hottest), YARD)
    assert got.failed
    assert got.ratio is None
    assert got.come_up_s is not None
    hottest[45] = 70.4
    assert not score(trace(mid, mid, hottest), YARD).failed


def test_hold_figures_count_from_the_limit_on() -> None:
    mid = ramp()
    mid[60] = 65.3
    mid[90] = 64.8
    got = score(trace(mid, mid - 1.0, mid + 1.0), YARD)
    assert got.dev_max_k == pytest.approx(0.3)
    assert got.late_max_k == pytest.approx(0.2)
    assert got.late_rms_k == pytest.approx(0.2 / np.sqrt(41))
    assert got.extra_spread_k == pytest.approx(0.5)
    # One interval between two switch-ons in the 400 s after twice the limit.
    assert got.ons_per_h == pytest.approx(9.0)


def test_a_fall_ends_when_the_place_is_down_and_fails_when_the_coldest_goes_under() -> None:
    yard = Yardstick(Place.MID, "hot", 74.0, 0.5, coldest_c=64.0, spread_k=1.0, limit_s=300.0)
    mid = np.interp(np.arange(0.0, 1210.0, 10.0), [0.0, 900.0, 1200.0], [74.0, 65.0, 65.0])
    got = score(trace(mid, mid - 1.0, mid), yard)
    assert got.come_up_s == pytest.approx(850.0)
    assert not got.failed
    assert score(trace(mid, mid - 2.6, mid), yard).failed


def test_first_for_good_is_never_when_the_end_is_bad() -> None:
    times = np.array([0.0, 1.0, 2.0, 3.0])
    assert first_for_good(times, np.array([False, True, False, True])) == 3.0
    assert first_for_good(times, np.array([True, True, True, True])) == 0.0
    assert first_for_good(times, np.array([True, True, True, False])) is None


def test_overshoot_counts_after_the_place_has_been_below() -> None:
    assert overshoot(np.array([74.0, 66.0, 65.0, 65.4, 65.0])) == pytest.approx(0.4)
    assert overshoot(np.array([74.0, 66.0])) == 0.0


def test_a_run_that_never_arrives_ranks_behind_every_ratio() -> None:
    assert spread_of([1.0, np.inf, 1.2, 1.1])[0] == pytest.approx(1.15)
    assert three([1.0, np.inf, 1.2]) == "1.200 /     – /     –"
