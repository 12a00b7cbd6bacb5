"""The least time in which a fault can be seen, and the twin that it is told by."""

from dataclasses import replace

import numpy as np
import pytest

from holdctl.settings import Place
from holdsim.bench import faults
from holdsim.bench.faults import CALLED, LAG_S, NOISE_K, SIGMAS, STEP_K, Least, detect
from holdsim.bench.suites import SUITES, draw
from holdsim.truth import Truth


def truth(place_c: float, hottest_c: float) -> Truth:
    return Truth(
        probes=(place_c,) * 5,
        wall_c=hottest_c,
        heater_c=hottest_c,
        ambient_c=20.0,
        coldest_c=place_c,
        hottest_c=hottest_c,
        mean_c=place_c,
        power_w=0.0,
    )


@pytest.mark.parametrize("apart_k", [0.02, 0.1, 1.0])
def test_least_time_is_that_of_a_matched_filter_behind_a_lag(apart_k: float) -> None:
    """Against the closed form of a step behind a lag of the first order, summed."""
    least = Least((Place.MID,))
    for _ in range(2000):
        least.take(truth(65.0 + apart_k, 67.0), truth(65.0, 66.5))
    seconds = np.arange(1, 2001)
    seen = apart_k * -np.expm1(-seconds / LAG_S)
    sigmas = np.sqrt(np.cumsum(seen**2) / (NOISE_K**2 + STEP_K**2 / 12.0))
    assert least.seconds == seconds[np.argmax(sigmas >= SIGMAS)]
    assert least.hottest_k == pytest.approx(0.5)


def test_nobody_sees_what_does_not_differ() -> None:
    least = Least((Place.MID, Place.WALL))
    for _ in range(1000):
        least.take(truth(65.0, 66.0), truth(65.0, 66.0))
    assert least.seconds is None and least.hottest_k is None


@pytest.mark.parametrize("suite", SUITES)
def test_a_twin_goes_the_same_way_whether_its_probes_are_read_or_not(suite: str) -> None:
    case = draw(suite, 0, 1)
    plant, twin = case.build(60.0), case.build(60.0)
    for second in range(900):
        plant.readings()
        duty = float(second % 60 < 20)
        plant.step(duty)
        twin.step(duty)
    assert plant.truth() == twin.truth()


def test_a_dead_heater_under_a_stirred_paste_is_told_in_five_minutes_and_not_before_anybody_can_see_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(faults.BEGINS, "hold", replace(faults.BEGINS["hold"], fault_s=3600))
    found = detect(draw("two-node", 0, 1), "mid", "dead heater", after_s=600)
    assert found.seconds is not None and found.bound_s is not None
    assert found.bound_s * 0.7 < found.seconds <= 300.0
    assert not set(found.before) & CALLED["dead heater"]
