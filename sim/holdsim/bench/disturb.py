"""What happens to a hold, one thing after the other, and how long it takes to be back for good.

The limit of each recovery starts from the very state that the controller had left its plant in.
"""

from collections.abc import Iterator
from typing import Any

import numpy as np

from holdctl.settings import Lid, Place
from holdsim.bench.limit import Goal, Limit, Prelude, least_time
from holdsim.bench.linear import Array
from holdsim.bench.peers import Controller
from holdsim.bench.score import BAND_K, SETPOINT_C, Yardstick, first_for_good, overshoot
from holdsim.bench.suites import CEILING_C, Bench, Case, at
from holdsim.bench.trace import Happening, night

OPEN_S, OPEN_STEPS = 300, 10
COLD_SHARE, COLD_C = 0.10, 20.0
MAINS_FALL = 0.10
SHORTEST_S = 3600
TIMES = 2.0
KINDS = ("lid", "stir", "mains", "cold mass")
"""In this order; the cold mass last, because the fill is another one after it."""


def disturbed(
    case: Case, plant: Bench, controller: Controller, yard: Yardstick, every_s: int
) -> Iterator[dict[str, Any]]:
    """Yield one recovery after another: kind, limit, seconds, ratio, overshoot; None where there is no score."""
    for kind in KINDS:
        if not _in_band(plant, yard.place):
            yield _row(kind, None, None, None)
            night(plant, controller, SHORTEST_S, every_s, _happenings(kind))
            plant.mains = 1.0
            continue
        limit = _befall(case, kind, plant, yard.place)
        seconds = SHORTEST_S if not limit.seconds else round(max(SHORTEST_S, TIMES * limit.seconds))
        later = {OPEN_S: _close} if kind == "lid" else None
        coldest = _steady_coldest(plant, yard.place)
        trace = night(plant, controller, seconds, every_s, later)
        place = trace.at(yard.place)
        good = (trace.coldest_c >= coldest - BAND_K) & (np.abs(place - SETPOINT_C) <= BAND_K)
        back = first_for_good(trace.time_s, good)
        yield _row(kind, limit.seconds, back, overshoot(place))
        if kind == "mains":
            plant.mains = 1.0


def limit_from(plant: Bench, goal: Goal, *, line_duty: float = 0.0, prelude: Prelude | None = None) -> Limit:
    """Return the least time to `goal` from where the plant is now."""
    start_s = plant.time_s
    return least_time(
        plant.linear(),
        plant.temps(),
        goal,
        factors=lambda times: plant.power_factors(start_s, times),
        extra=lambda times, temps: plant.extra_heat(start_s, times, temps),
        line_duty=line_duty,
        prelude=prelude,
    )


def _row(kind: str, limit_s: float | None, back_s: float | None, over_k: float | None) -> dict[str, Any]:
    ratio = back_s / limit_s if back_s is not None and limit_s else None
    scored = over_k is not None and bool(limit_s)
    return {
        "kind": kind,
        "limit_s": limit_s,
        "back_s": back_s,
        "ratio": ratio,
        "overshoot_k": over_k,
        "scored": scored,
        "in_band_before": over_k is not None,
    }


def _steady_coldest(plant: Bench, place: Place) -> float:
    """With the lid as usual, whatever it is now."""
    lid = plant.lid
    plant.set_lid(plant.usual_lid)
    coldest = plant.steady(SETPOINT_C, place).coldest_c
    plant.set_lid(lid)
    return coldest


def _in_band(plant: Bench, place: Place) -> bool:
    truth = plant.truth()
    coldest = plant.steady(SETPOINT_C, place).coldest_c
    return abs(at(truth, place) - SETPOINT_C) <= BAND_K and truth.coldest_c >= coldest - BAND_K


def _goal(plant: Bench, place: Place) -> Goal:
    coldest = plant.steady(SETPOINT_C, place).coldest_c - BAND_K
    ceiling = max(CEILING_C, plant.truth().hottest_c)
    return Goal(place, SETPOINT_C - BAND_K, SETPOINT_C + BAND_K, coldest, ceiling)


def _befall(case: Case, kind: str, plant: Bench, place: Place) -> Limit:
    """Let it happen and return the least time to be back, from the moment it happens."""
    if kind == "lid":
        limit = _lid_limit(case, plant, place)
        _open(plant)
        return limit
    _happenings(kind)[0](plant)
    usual = min(1.0, plant.steady(SETPOINT_C, place).power_w / plant.power_w)
    return limit_from(plant, _goal(plant, place), line_duty=usual)


def _lid_limit(case: Case, plant: Bench, place: Place) -> Limit:
    """From the opening, with the best duty while it is open too; 0: it can be back before the lid is."""
    usual = min(1.0, plant.steady(SETPOINT_C, place).power_w / plant.power_w)
    clone, base = _opened(case, plant, np.full(OPEN_STEPS, usual))
    steps = []
    for step in range(OPEN_STEPS):
        duty = np.full(OPEN_STEPS, usual)
        duty[step] = 1.0
        steps.append((_opened(case, plant, duty)[1] - base) / (1.0 - usual))
    goal = _goal(clone, place)
    later = limit_from(clone, goal, line_duty=usual, prelude=Prelude(np.array(steps).T, usual)).seconds
    return Limit(OPEN_S + later if later else later)


def _opened(case: Case, plant: Bench, duty: Array) -> tuple[Bench, Array]:
    """Return a copy that was open for five minutes with this duty, lid on again, and its temperatures."""
    clone = case.build(SETPOINT_C)
    clone.set_temps(plant.temps())
    clone.set_lid(Lid.OFF)
    each = OPEN_S // OPEN_STEPS
    for second in range(OPEN_S):
        clone.step(float(duty[second // each]))
    clone.set_lid(plant.usual_lid)
    return clone, clone.temps()


def _happenings(kind: str) -> dict[int, Happening]:
    every: dict[str, dict[int, Happening]] = {
        "lid": {0: _open, OPEN_S: _close},
        "stir": {0: _stir},
        "mains": {0: _fall},
        "cold mass": {0: _cool},
    }
    return every[kind]


def _open(plant: Bench) -> None:
    plant.set_lid(Lid.OFF)


def _close(plant: Bench) -> None:
    plant.set_lid(plant.usual_lid)


def _stir(plant: Bench) -> None:
    plant.stir()


def _fall(plant: Bench) -> None:
    plant.mains = 1.0 - MAINS_FALL


def _cool(plant: Bench) -> None:
    plant.add(1000.0 * COLD_SHARE * plant.paste_kg, COLD_C)
