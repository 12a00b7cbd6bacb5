"""Falls of a programme of one's own, foretold: how long the paste takes in the warmer, relay off, from hold to hold.

A fall begins from the hold's steady profile and ends as the hold's does, when the hottest paste is there. Pure.
"""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from holdctl.control.model import PASTE, ThermalModel
from holdctl.settings import Place, Programme

if TYPE_CHECKING:
    from holdctl.control.model import Floats

STEP_S = 60.0
LONGEST_S = 24 * 3600.0
EARLY, LATE = 0.1, 0.9


def falls(own: Programme) -> Iterator[tuple[int, float, float]]:
    """Yield each fall after a hold: its step's number from 1, from and to, °C."""
    at_c: float | None = None
    for n, step in enumerate(own.step, 1):
        if step.fall_to is not None and at_c is not None:
            yield n, at_c, step.fall_to
            at_c = min(at_c, step.fall_to)
        elif step.hold_for and step.to is not None:
            at_c = step.to


def fall_s(model: ThermalModel, place: Place, from_c: float, to_c: float) -> float | None:
    """Return how long the hottest paste takes from a hold's steady profile to a temperature; None: over a day."""
    import numpy as np

    ambient = model.parameters.ambient_c
    modes: Floats = model.begin((from_c - ambient) * model.holding(place))
    times = np.arange(0.0, LONGEST_S + STEP_S, STEP_S)
    fading = modes[:, None] * np.exp(-model.rates[:, None] * times)
    there = np.flatnonzero((model.shape[PASTE:] @ fading).max(axis=0) <= to_c - ambient)
    return float(times[there[0]]) if len(there) else None


def falls_s(
    model: ThermalModel, others: Sequence[ThermalModel], place: Place, own: Programme
) -> tuple[float, float, float] | None:
    """Return the time of all falls: early, expected, late, s; None where one is not done within a day."""
    import numpy as np

    todo = [(from_c, to_c) for _, from_c, to_c in falls(own)]
    sums = []
    for one in (model, *others):
        each = [fall_s(one, place, *fall) for fall in todo]
        if any(part is None for part in each):
            if one is model:
                return None
            each = [LONGEST_S if part is None else part for part in each]
        sums.append(sum(part for part in each if part is not None))
    early, late = (float(np.quantile(sums, share)) for share in (EARLY, LATE))
    return min(sums[0], early), sums[0], max(sums[0], late)
