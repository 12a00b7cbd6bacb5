"""What a probe deep in the paste is late to see, said once to the baker: a dead heater, a welded relay."""

import math

from holdctl.control.controller import Controller
from holdctl.events import Notice, NoticeKind

SHOWN_K = 0.1
"""A fault shows about when the probe's place has moved by so much (measured: docs/faults.md)."""
SOON_S = 600.0
_LONGEST_S, _STEPS = 4 * 3600.0, 240


def deep_probe(controller: Controller) -> Notice | None:
    """Return the advice for a hold whose only probe answers late; None where a fault shows within ten minutes."""
    if controller.sees_wall:
        return None
    duty = controller.needed_duty
    dead_s, welded_s = shows_after_s(controller, duty), shows_after_s(controller, 1.0 - duty)
    if dead_s <= SOON_S:
        return None
    text = (
        f"This probe sees the heater late: a dead heater would show there {_about(dead_s)}, a welded relay "
        f"{_about(welded_s)}, and the paste at the wall is spoilt before. A second probe on the heated wall shows both "
        "within minutes."
    )
    detail = {"dead_s": _finite(dead_s), "welded_s": _finite(welded_s)}
    return Notice(NoticeKind.ADVICE, "deep-probe", text, detail)


def shows_after_s(controller: Controller, duty: float) -> float:
    """Return after how many seconds a change of heat by `duty` has moved the probe's place; endless: four hours."""
    import numpy as np

    model = controller.estimator.model
    gain = (model.row(controller.main_probe.place) @ model.shape) * model.drive / model.rates
    times = np.linspace(0.0, _LONGEST_S, _STEPS + 1)[1:]
    moved = duty * (gain * (1.0 - np.exp(-np.outer(times, model.rates)))).sum(axis=1)
    shown = np.nonzero(moved >= SHOWN_K)[0]
    return float(times[shown[0]]) if shown.size else math.inf


def _about(seconds: float) -> str:
    if math.isinf(seconds):
        return "hardly ever"
    return f"only after about {max(1, round(seconds / 60))} min"


def _finite(seconds: float) -> float | None:
    return None if math.isinf(seconds) else seconds
