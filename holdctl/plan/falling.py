"""Falls of a programme of one's own as the food code sees them: below its hot-holding limit they are coolings. Pure."""

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from holdctl.control.model import PASTE, ThermalModel
from holdctl.food.rules import Cooling, FoodCode
from holdctl.food.say import lasting
from holdctl.plan.course import Course
from holdctl.settings import Place, Programme

if TYPE_CHECKING:
    from holdctl.control.model import Floats

STEP_S = 60.0
LONGEST_S = 24 * 3600.0


def falls(own: Programme) -> Iterator[tuple[int, float, float]]:
    """Yield each fall after a hold: its step's number from 1, from and to, °C."""
    at_c: float | None = None
    for n, step in enumerate(own.step, 1):
        if step.fall_to is not None and at_c is not None:
            yield n, at_c, step.fall_to
            at_c = min(at_c, step.fall_to)
        elif step.hold_for and step.to is not None:
            at_c = step.to


def cooled_from_s(own: Programme, course: Course, hot_c: float) -> float:
    """Return when a fall after a hold begins that goes below the code's limit, °C: from there on it is a cooling, s."""
    cooling = {n for n, from_c, to_c in falls(own) if from_c >= hot_c > to_c}
    return min((span.begun_s for span in course.spans if span.number in cooling), default=math.inf)


def _course(model: ThermalModel, place: Place, from_c: float) -> "tuple[Floats, Floats]":
    """Return moments of a day, s, and all paste at each, °C: one row for each part of it."""
    import numpy as np

    ambient = model.parameters.ambient_c
    modes: Floats = model.begin((from_c - ambient) * model.holding(place))
    times = np.arange(0.0, LONGEST_S + STEP_S, STEP_S)
    fading = modes[:, None] * np.exp(-model.rates[:, None] * times)
    return times, ambient + model.shape[PASTE:] @ fading


def _when(times: "Floats", there: "Floats") -> float | None:
    return float(times[there.argmax()]) if there.any() else None


def too_slow(model: ThermalModel, place: Place, own: Programme, code: FoodCode) -> str:
    """Say which fall is slower, as expected, than a stage of the code's cooling rule; empty where none surely is.

    A fall that ends above a stage's end is held to the stage's time for the way that it goes.
    """
    stages = [(stage, rule.source) for rule in code.of(Cooling) for stage in rule.stages]
    for n, from_c, to_c in falls(own):
        times, paste = _course(model, place, from_c)
        for stage, source in stages:
            end_c = max(stage.to_c, to_c)
            begins = _when(times, paste.min(axis=0) <= stage.clock_from_c)
            ends = _when(times, paste.max(axis=0) <= end_c)
            if end_c >= min(stage.clock_from_c, code.hot_holding_c) or begins is None:
                continue
            if ends is None or ends - begins > stage.within_s:
                took = "more than a day" if ends is None else lasting(ends - begins)
                return (
                    f"Step {n} of your programme lets the paste fall in the warmer from {stage.clock_from_c:g} °C to "
                    f"{end_c:g} °C in {took}: over the {lasting(stage.within_s)} of {source}."
                )
    return ""
