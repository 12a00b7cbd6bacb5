"""The computed limit against closed formulas, a second search, and its own claims."""

import math

import numpy as np
import pytest

from holdctl.settings import Place
from holdsim.bench.limit import Goal, least_time
from holdsim.bench.search import search
from holdsim.bench.suites import draw
from holdsim.bench.two_node import TwoNode, TwoNodeSpec

# Wall J/K, paste J/K, wall-paste, wall-room, paste-room W/K, power W, dead time s.
PLANTS = {
    "mat box": (1500.0, 3500.0, 3.0, 0.40, 0.12, 60.0, 20),
    "bain-marie": (7000.0, 7000.0, 25.0, 2.6, 0.5, 600.0, 10),
    "lamp box": (800.0, 1750.0, 1.5, 0.34, 0.10, 40.0, 50),
    "big": (15000.0, 35000.0, 60.0, 7.0, 1.2, 1500.0, 30),
}
# Least time to 64.5 °C without ever passing 65.3 / 65.0 °C, s, dead time left out: a bang-bang search at 0.5 s on
# the same four plants, which a linear programme on a 20 s grid confirmed within a step (own computation).
SEARCHED = {
    "mat box": (5392, 5401),
    "bain-marie": (1378, 1392),
    "lamp box": (4788, 4790),
    "big": (1990, 2006),
}


def plant(name: str) -> TwoNode:
    return TwoNode(TwoNodeSpec(*PLANTS[name]), [], seed=1, ambient_c=20.0, start_c=20.0)


def least(model_plant: TwoNode, top_c: float) -> float:
    goal = Goal(Place.MID, 64.5, top_c, 60.0, 200.0)
    seconds = least_time(model_plant.linear(), model_plant.temps(), goal).seconds
    assert seconds is not None
    return seconds


def closed_form(spec: TwoNodeSpec, top_c: float) -> float:
    """Full power until the coast would peak at `top_c`; then when the rise passes 64.5 °C.

    After the cut at t1 the paste is K Σ wi (1 - e^(-t1/τi)) e^(-t/τi), w1 = τ1/(τ1-τ2), w2 = -τ2/(τ1-τ2): the step
    answer of K/((τ1 s+1)(τ2 s+1)) and its superposition (any control textbook).
    """
    (one, two), gain = spec.times_s, spec.gain_k
    w1, w2 = one / (one - two), -two / (one - two)

    def rise(cut: float, t: float) -> float:
        def step(s: float) -> float:
            return gain * (1 - w1 * math.exp(-s / one) - w2 * math.exp(-s / two)) if s > 0 else 0.0

        return 20.0 + step(t) - step(t - cut)

    def coast(cut: float) -> tuple[float, float]:
        """Where and when after the cut a e^(-t/τ1) + b e^(-t/τ2) peaks: its slope is 0."""
        a, b = w1 * (1 - math.exp(-cut / one)), w2 * (1 - math.exp(-cut / two))
        when = math.log(-(b / two) / (a / one)) / (1 / two - 1 / one)
        return 20.0 + gain * (a * math.exp(-when / one) + b * math.exp(-when / two)), when

    low, high = 1.0, 3 * one
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if coast(middle)[0] < top_c else (low, middle)
    cut = low
    low, high = 0.0, cut + coast(cut)[1]
    for _ in range(80):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if rise(cut, middle) < 64.5 else (low, middle)
    return low


@pytest.mark.parametrize("name", PLANTS)
def test_limit_equals_the_closed_form_of_one_cut(name: str) -> None:
    a_plant = plant(name)
    for top, searched in zip((65.3, 65.0), SEARCHED[name], strict=True):
        found = least(a_plant, top) - a_plant.delay_s
        # The programme may cut within a step only by a fraction of power: 1 part in 140 of the come-up.
        assert found == pytest.approx(closed_form(a_plant.spec, top), rel=1e-3)
        assert found == pytest.approx(searched, rel=1e-3)


def test_two_node_time_constants_are_those_of_the_reference() -> None:
    slow = {"mat box": 9984, "bain-marie": 4581, "lamp box": 6156, "big": 6356}
    for name, parts in PLANTS.items():
        assert TwoNodeSpec(*parts).times_s[0] == pytest.approx(slow[name], abs=0.6)


def test_no_switching_found_by_running_the_plant_beats_the_limit() -> None:
    case = draw("unstirred", 11, 1)
    a_plant = case.build(20.0)
    coldest = a_plant.steady(65.0, Place.MID).coldest_c
    goal = Goal(Place.MID, 64.5, 65.5, coldest - 0.5, 70.0)
    limit = least_time(a_plant.linear(), a_plant.temps(), goal).seconds
    assert limit is not None
    found = search(a_plant.linear(), a_plant.temps(), goal, limit)
    assert found is not None
    assert limit <= found <= 1.005 * limit


def test_limit_trajectory_keeps_ceiling_and_arrives() -> None:
    case = draw("nonlinear", 1, 1)
    a_plant = case.build(20.0)
    coldest = a_plant.steady(65.0, Place.MID).coldest_c
    goal = Goal(Place.MID, 64.5, 65.5, coldest - 0.5, 70.0)
    limit = least_time(
        a_plant.linear(),
        a_plant.temps(),
        goal,
        factors=lambda t: a_plant.power_factors(0.0, t),
        extra=lambda t, temps: a_plant.extra_heat(0.0, t, temps),
    )
    assert limit.seconds is not None
    # The plant itself, nonlinear and with its mains, follows the duty of the limit.
    hottest, last = 0.0, None
    for second in range(round(limit.seconds)):
        k = min(int(np.searchsorted(limit.times_s, second, side="right")), len(limit.duty) - 1)
        a_plant.step(float(limit.duty[k]))
        if second % 20 == 0:
            last = a_plant.truth()
            hottest = max(hottest, last.hottest_c)
    assert last is not None
    assert hottest <= 70.1
    assert last.coldest_c == pytest.approx(goal.coldest_c, abs=0.1)
