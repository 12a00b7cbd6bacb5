"""The limit of a control that has to learn its warmer: what readings leave open, and what that costs."""

from dataclasses import replace

import numpy as np
import pytest

from holdctl.control.told import told
from holdctl.settings import Place
from holdsim.bench import informed
from holdsim.bench.informed import Bound
from holdsim.bench.limit import Goal, Limit, least_time
from holdsim.bench.suites import draw
from holdsim.bench.two_node import TwoNode, TwoNodeSpec

STEPS = 360
COURSE = Limit(
    3600.0, 10.0 * np.arange(1, STEPS + 1), np.where(np.arange(STEPS) < 90, 1.0, 0.3), np.empty((0, 0))
)


def room(*places: Place) -> np.ndarray:
    case = draw("unstirred", 0, 1)
    return Bound(told(case.settings(places)), places).along(COURSE)[1]


def test_the_bound_is_the_posterior_of_a_linear_model_by_brute_force(monkeypatch: pytest.MonkeyPatch) -> None:
    # With readings so poor that only the prior counts, the deviation of the hottest cell is that of parameters
    # drawn from the prior: the same by 400 draws (own computation) to the few per cent that so many can tell.
    monkeypatch.setattr(informed, "NOISE_K", 1e6)
    case = draw("unstirred", 0, 1)
    about = told(case.settings((Place.CORE,)))
    bound = Bound(about, (Place.CORE,))
    small = 0.05
    bound._belief = replace(bound._belief, covariance=bound._belief.covariance * small**2)
    by_formula = bound.along(COURSE)[1][-1] / informed.SURE
    rng = np.random.default_rng(7)
    scale = np.sqrt(np.diag(bound._belief.covariance))
    centre = informed._Answer(about, bound._layout, bound._sensors, bound._belief, COURSE.duty)
    hottest = int(centre.rims[-1].argmax())
    drawn = [
        informed._Answer(
            about,
            bound._layout,
            bound._sensors,
            bound._belief,
            COURSE.duty,
            rng.normal(size=len(scale)) * scale,
        ).rims[-1, hottest]
        for _ in range(400)
    ]
    assert np.std(drawn) == pytest.approx(by_formula, rel=0.12)


def test_what_is_open_shrinks_with_the_readings_and_two_probes_leave_less_than_one() -> None:
    core, two = room(Place.CORE), room(Place.MID, Place.WALL)
    assert core[-1] < 0.7 * core.max()
    assert (two[2:] < core[2:]).all()
    assert (core >= 0.0).all()


def test_a_ceiling_that_moves_costs_time_and_one_that_stands_costs_none() -> None:
    spec = TwoNodeSpec(1500.0, 3500.0, 3.0, 0.40, 0.12, 60.0, 20)
    plant = TwoNode(spec, [], seed=1, ambient_c=20.0, start_c=20.0)
    goal = Goal(Place.MID, 64.5, 65.5, 60.0, 70.0)

    def least(one: Goal) -> float:
        seconds = least_time(plant.linear(), plant.temps(), one).seconds
        assert seconds is not None
        return seconds

    ends = np.array([0.0, 20_000.0])
    free = least(goal)
    assert least(replace(goal, ceiling=(ends, np.array([70.0, 70.0])))) == pytest.approx(free, rel=1e-9)
    # Paste may not be above 50 °C before 7000 s, then it may: no sooner than that.
    stairs = np.array([0.0, 7000.0, 7001.0, 20_000.0])
    held = least(replace(goal, ceiling=(stairs, np.array([50.0, 50.0, 70.0, 70.0]))))
    assert held > max(free, 7000.0)
