"""What the paste may have come to while nobody looked: the model run on with the heater off, at its bounds.

From the filter's state and its uncertainty at the last reading. For the coldest, whatever extra heat the filter has
made out counts as gone; for the hottest the last lease still runs to its end at full power. Both bounds are two
standard deviations from the estimate, which grow with the time that passes. A lid that somebody takes off, or paste
that is poured away, is in no model.
"""

import copy
from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.control.estimator import LONGEST_S, Estimator
from holdctl.control.kalman import KalmanFilter
from holdctl.control.model import PASTE
from holdctl.settings import PASTE_PLACES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

SURE = 2.0
"""Standard deviations from the estimate to its bounds."""
FASTER = 0.1
"""Of what the model lets paste lose in the gap, so much more may be gone: convection and radiation are not proportional
to the excess over the room, as the model's losses are (an exponent of 1.25 loses a quarter more at
first than its secant)."""
LEASE_S = 5.0
"""The node's longest lease: so long may the heater have gone on."""
_LOOKS = 6
"""The gap is looked at so often, ever later: the hottest paste is so soon after its begin."""


class Unattended(msgspec.Struct, frozen=True):
    """Bounds of the paste over a gap, °C."""

    coldest_c: float
    hottest_c: float
    place_low_c: float
    """Lowest at the setpoint's probe at the end of the gap."""


def unattended(estimator: Estimator, gap_s: float) -> Unattended | None:
    """Return the bounds over a gap of `gap_s` from the last reading; None where there was none."""
    if not estimator.filter.started:
        return None
    cold, hot = _copy(estimator.filter), _copy(estimator.filter)
    cold.x[-1], hot.x[-1] = min(cold.load, 0.0), max(hot.load, 0.0)
    modes = hot.model.modes
    hot.x[:modes] += hot.model.advance(0.0 * hot.modes, 1.0, LEASE_S)
    rows = _paste_rows(estimator)
    began = rows @ cold.modes
    coldest, hottest = _bound(cold, rows, -SURE).min(), _bound(hot, rows, SURE).max()
    for seconds in _looks(min(gap_s, LONGEST_S)):
        for one in (cold, hot):
            one.cross(seconds, 0.0, [None] * len(one.sensors))
        more = FASTER * (began - rows @ cold.modes).clip(0.0)
        coldest = min(coldest, (_bound(cold, rows, -SURE) - more).min())
        hottest = max(hottest, _bound(hot, rows, SURE).max())
    place = next(s.place for s in cold.sensors if s.place in PASTE_PLACES)
    there = (cold.model.row(place) @ cold.model.shape)[None, :]
    lost = FASTER * max(0.0, float((there @ (estimator.filter.modes - cold.modes))[0]))
    return Unattended(float(coldest), float(hottest), float(_bound(cold, there, -SURE)[0]) - lost)


def _copy(of: KalmanFilter) -> KalmanFilter:
    return copy.deepcopy(of, {id(of.model): of.model})  # the model is not changed by what follows


def _paste_rows(estimator: Estimator) -> "Floats":
    """Return what gives all paste from the modes: its cells, and its surface at the walls."""
    import numpy as np

    model = estimator.model
    return np.vstack([model.shape[PASTE:], model.rim_rows() @ model.shape])


def _bound(of: KalmanFilter, rows: "Floats", sds: float) -> "Floats":
    bound: Floats = rows @ of.modes + of.model.parameters.ambient_c + sds * of.deviations(rows)
    return bound


def _looks(gap_s: float) -> list[float]:
    """Return the steps, s, in which a gap is passed, each twice as long as the one before."""
    first = gap_s / (2.0**_LOOKS - 1.0)
    return [first * 2.0**k for k in range(_LOOKS)] if gap_s >= 1.0 else []
