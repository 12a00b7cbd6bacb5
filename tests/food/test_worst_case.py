"""What counts against a limit: the worse of reading and estimate, errors and deviation against the baker's favour."""

import math

import pytest

from holdctl.events import Estimate, ProbeFault
from holdctl.food.worst_case import ERROR_CLASS_K, curve, error_k, high_c, low_c
from holdctl.settings import Place, Probe


def probe(place: Place = Place.MID, error: float = 0.5, channel: int = 1, offset: float = 0.0) -> Probe:
    return Probe(channel=channel, place=place, error_k=error, offset_k=offset)


def estimate(coldest: float = 62.0, hottest: float = 66.0, sd: float = 0.3) -> Estimate:
    return Estimate(67.0, 65.0, coldest, hottest, 64.0, 0.1, sd, sd, 0.1)


def test_the_coldest_estimate_counts_less_error_and_deviation_and_the_hottest_plus_both() -> None:
    assert low_c((65.0,), [probe()], estimate()) == pytest.approx(62.0 - 0.5 - 0.3)
    assert high_c((65.0,), [probe()], estimate()) == pytest.approx(66.0 + 0.5 + 0.3)


def test_a_reading_that_is_worse_than_the_estimate_counts() -> None:
    assert low_c((58.0,), [probe()], estimate()) == 57.5
    assert high_c((70.0,), [probe()], estimate()) == 70.5


def test_without_an_estimate_the_readings_count_and_without_a_reading_nothing_does() -> None:
    assert low_c((65.0,), [probe()], None) == 64.5
    assert low_c((ProbeFault.OPEN,), [probe()], estimate()) is None
    assert high_c((), [probe()], estimate()) is None


def test_wall_and_room_probes_do_not_speak_for_the_paste() -> None:
    probes = [probe(), probe(Place.WALL, 0.1, 2), probe(Place.AIR, 0.1, 3)]
    assert low_c((65.0, 40.0, 20.0), probes, None) == 64.5


def test_the_flag_does_not_depend_on_where_the_probe_sat() -> None:
    # the same paste, 61 at the lid to 66 at the wall, seen at the core or at the edge: the coldest estimate decides
    core = low_c((64.0,), [probe(Place.CORE)], estimate(61.0, 66.0))
    edge = low_c((65.5,), [probe(Place.EDGE)], estimate(61.0, 66.0))
    assert core == edge == pytest.approx(60.2)


def test_an_error_of_nothing_is_no_thermometers_and_the_class_of_4_203_11_counts() -> None:
    # FDA Food Code 4-203.11: food thermometers accurate to ±1 °C.
    assert error_k(probe(error=0.0)) == ERROR_CLASS_K == 1.0
    assert error_k(probe(error=0.3)) == 0.3


def test_a_curve_whose_times_do_not_ascend_or_do_not_fit_is_refused() -> None:
    with pytest.raises(ValueError, match="ascend"):
        curve([1, 0], [60, 60], [60, 60])
    with pytest.raises(ValueError, match="belong"):
        curve([0, 1], [60], [60, 60])


def test_what_one_side_does_not_know_nobody_knows() -> None:
    made = curve([0, 1, 2], [60, math.nan, 60], [61, 61, 61])
    assert made.gap.tolist() == [False, True]
    assert sum(s.unrecorded_s for s in made.below(57)) == 1
