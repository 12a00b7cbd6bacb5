"""The model run ahead: when every part is in range, how hot and cold the paste gets on the way, what a stir is worth.

The same governor and the same way to the setpoint as in control, in steps of some tens of seconds; the loops are taken
as a wall that follows its set temperature. What the parameters leave open is run as well, one direction after the
other, and the spread of the answers gives early and late (first-order propagation). Everything here is a pure function
of a snapshot, made to be run away from the tick.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.march import March, mixed, reach
from holdctl.control.model import PASTE, ThermalModel
from holdctl.control.wish import Wish
from holdctl.events import Forecast

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

STEP_S = 60.0
FINE_S, LATE_S = 3 * 3600.0, 240.0
"""Steps are longer after the first three hours."""
LONGEST_S = 24 * 3600.0
_EARLY_LATE = 1.2816
"""Standard normal: 10 and 90 %."""
_LEAST_SPREAD = 0.02
"""Whatever is known, a forecast is not surer than this share of what it foretells: mains and lids are not in it."""
_SETTLED_S = 1800.0
"""In range for so long in a run is for good."""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A hold at one moment: models with their modes (the first is the one believed), wish, time still to earn, s."""

    models: tuple[ThermalModel, ...]
    modes: "tuple[Floats, ...]"
    load: float
    wish: Wish
    left_s: float | None


@dataclass(frozen=True, slots=True)
class Run:
    """One run ahead: seconds until every part is in range for good (None: not in a day), extremes until then, °C."""

    band_s: float | None
    coldest_c: float
    hottest_c: float


def foresee(shot: Snapshot) -> Forecast:
    """Return the forecast of one moment."""
    believed = run_ahead(shot.models[0], shot.modes[0], shot.load, shot.wish)
    longest = LONGEST_S if believed.band_s is None else min(LONGEST_S, 2.0 * believed.band_s + 2 * _SETTLED_S)
    others = [
        run_ahead(m, x, shot.load, shot.wish, longest)
        for m, x in zip(shot.models[1:], shot.modes[1:], strict=True)
    ]
    even = mixed(shot.models[0], shot.modes[0])
    stirred = run_ahead(shot.models[0], even, shot.load, shot.wish, longest)
    band = _range(believed.band_s, [longest if run.band_s is None else run.band_s for run in others])
    cold = _extreme(believed.coldest_c, [run.coldest_c for run in others], -1.0)
    hot = _extreme(believed.hottest_c, [run.hottest_c for run in others], 1.0)
    end = None
    if band is not None and shot.left_s is not None:
        left_ms = round(1000 * shot.left_s)
        end = (band[0] + left_ms, band[1] + left_ms, band[2] + left_ms)
    paste = (shot.models[0].shape @ shot.modes[0])[PASTE:]
    return Forecast(
        band_ms=band,
        end_ms=end,
        coldest_c=cold,
        hottest_c=hot,
        stir_ms=_gain_ms(believed.band_s, stirred.band_s),
        stir_k=float(paste.max() - paste.min()),
        stir_peak_k=max(0.0, believed.hottest_c - stirred.hottest_c),
    )


def run_ahead(
    model: ThermalModel, modes: "Floats", load: float, wish: Wish, longest_s: float = LONGEST_S
) -> Run:
    """Run one model from its modes until every part is in range for good, `longest_s` at most."""
    march = March(model, modes, load, wish)
    low, high = reach(model, wish)
    coldest, hottest, time_s = math.inf, -math.inf, 0.0
    since: float | None = None
    while time_s < longest_s:
        cold, hot = march.extremes
        coldest, hottest = min(coldest, cold), max(hottest, hot)
        if cold >= low and hot <= high:
            since = time_s if since is None else since
            if time_s - since >= _SETTLED_S:
                break
        else:
            since = None
        step_s = STEP_S if time_s < FINE_S else LATE_S
        march.pass_by(step_s, march.asked())
        time_s += step_s
    ambient = model.parameters.ambient_c
    return Run(since, coldest + ambient, hottest + ambient)


def directions(
    model: ThermalModel, modes: "Floats", others: "list[ThermalModel]", spread: "Floats"
) -> "tuple[Floats, ...]":
    """Return the modes of other models, started as far from here as `spread` says: [node, model], K."""
    nodes = model.shape @ modes
    ambient = model.parameters.ambient_c
    return tuple(
        other.begin(nodes + spread[:, index] + ambient - other.parameters.ambient_c)
        for index, other in enumerate(others)
    )


def _range(believed: float | None, others: "list[float]") -> tuple[int, int, int] | None:
    """Return early, expected and late, ms."""
    if believed is None:
        return None
    # The other models stand half a standard deviation away.
    offs = [2.0 * (other - believed) for other in others]
    spread = math.sqrt(sum(off**2 for off in offs) + (_LEAST_SPREAD * believed) ** 2 + STEP_S**2 / 12)
    early = max(0.0, believed - _EARLY_LATE * spread)
    return round(1000 * early), round(1000 * believed), round(1000 * (believed + _EARLY_LATE * spread))


def _extreme(believed: float, others: "list[float]", sign: float) -> float:
    return believed + sign * 4.0 * math.sqrt(sum((other - believed) ** 2 for other in others))


def _gain_ms(as_is: float | None, stirred: float | None) -> int:
    if stirred is None:
        return 0
    return max(0, round(1000 * ((LONGEST_S if as_is is None else as_is) - stirred)))


def advice(forecast: Forecast) -> str | None:
    """Return what a stir now is worth, in words, where it is worth more than ten minutes or two kelvin."""
    minutes = forecast.stir_ms / 60_000
    if forecast.band_ms is not None and forecast.band_ms[1] == 0:
        return None
    if minutes < WORTH_MIN:
        if forecast.stir_peak_k < WORTH_K:
            return None
        return f"Stir now, to the bottom: the hottest paste then gets {forecast.stir_peak_k:.0f} K less hot."
    lead = f"about {minutes:.0f} min sooner in range" if minutes < 600 else "in range at all tonight"
    return f"Stir now, to the bottom: {lead}; the paste differs by {forecast.stir_k:.0f} K from part to part."


WORTH_MIN, WORTH_K = 10.0, 2.0
"""A stir is advised when it is worth more than this."""
