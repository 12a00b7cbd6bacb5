"""The model run ahead: when every part is in range, how hot and cold the paste gets on the way, what a stir is worth.

The same governor and the same way to the setpoint as in control, in steps of some tens of seconds; the loops are taken
as a wall that follows its set temperature. What the parameters leave open is run as well, one direction after the
other, and the spread of the answers gives early and late (first-order propagation). Everything here is a pure function
of a snapshot, made to be run away from the tick.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.approach import Approach, Leg
from holdctl.control.governor import Governor
from holdctl.control.model import BASE, PASTE, SIDE, ThermalModel
from holdctl.events import Forecast
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

STEP_S = 60.0
FINE_S, LATE_S = 3 * 3600.0, 240.0
"""Steps are longer after the first three hours."""
LONGEST_S = 24 * 3600.0
_GAIN = 2.0
"""Wall over paste, K/K: near the outer loop's own."""
_EARLY_LATE = 1.2816
"""Standard normal: 10 and 90 %."""
_LEAST_SPREAD = 0.02
"""Whatever is known, a forecast is not surer than this share of what it foretells: mains and lids are not in it."""
_WRONG_K, _NEAR_K = 2.0, 0.3
_SETTLED_S = 1800.0
"""In range for so long in a run is for good."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be reached, °C: setpoint at its place, range of all paste, ceilings of paste and walls."""

    place: Place
    setpoint_c: float
    low_c: float
    high_c: float
    ceiling_c: float
    wall_c: float
    floor_c: float
    loop_c: float
    """Least and most that the loops ask of the wall, °C."""
    margin_k: float = 0.0
    """How far under its ceiling the hottest paste is kept for what is not known."""


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
    mixed = _mixed(shot.models[0], shot.modes[0])
    stirred = run_ahead(shot.models[0], mixed, shot.load, shot.wish, longest)
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
    import numpy as np

    ambient = model.parameters.ambient_c
    rim = model.rim_rows()
    governor = Governor(model, np.vstack([rim, np.eye(model.nodes)[[BASE, SIDE]]]), STEP_S)
    limits = np.full(len(governor.rows), wish.wall_c)
    limits[: len(rim)] = wish.ceiling_c - wish.margin_k
    limits -= ambient
    aim = Place.MID if wish.place is Place.EDGE else wish.place
    approach = Approach(model, aim)
    share = float(model.row(aim) @ model.holding(wish.place))
    gain_k, free = model.wall_at_rest()
    place = model.row(wish.place) @ model.shape
    cells = np.vstack([model.shape[PASTE:], rim @ model.shape])
    decay = np.exp(-model.rates * STEP_S)
    push = model.drive * (1.0 - decay) / model.rates
    setpoint = wish.setpoint_c - ambient
    low, high = _reach(model, wish, setpoint)
    x, coldest, hottest, step_s = modes, math.inf, -math.inf, STEP_S
    since: float | None = None
    coarse: tuple[Floats, float] | None = None
    time_s = 0.0
    while time_s < longest_s:
        if time_s >= FINE_S and coarse is None:
            coarse = (np.exp(-model.rates * LATE_S), LATE_S)
            decay, step_s = coarse
            push = model.drive * (1.0 - decay) / model.rates
        seen = cells @ x
        cold, hot = float(seen.min()), float(seen.max())
        coldest, hottest = min(coldest, cold), max(hottest, hot)
        if cold >= low and hot <= high:
            since = time_s if since is None else since
            if time_s - since >= _SETTLED_S:
                break
        else:
            since = None
        most = governor.most(x, limits, load)
        if approach.decide(x, setpoint * share) is Leg.RIDE:
            duty = most
        else:
            wall = approach.hold_rise * setpoint * share
            if approach.leg is Leg.LOOPS:
                asked = wall + _GAIN * (setpoint - float(place @ x)) + ambient
                wall = min(max(asked, wish.floor_c), wish.loop_c) - ambient
            duty = min(most, max(0.0, (wall - float(free @ x)) / gain_k - load))
        x = x * decay + push * (duty + load)
        time_s += step_s
    return Run(since, coldest + ambient, hottest + ambient)


def _reach(model: ThermalModel, wish: Wish, setpoint: float) -> tuple[float, float]:
    """Return the range that a run has to come into, as excess over the room.

    Where a model's own steady profile misses the programme's range by less than a model can be wrong, coming near that
    profile is taken for it: whether the programme's clock runs then is for the estimate to say.
    """
    steady = setpoint * model.holding(wish.place)[PASTE:]
    ambient = model.parameters.ambient_c
    coldest, hottest = float(steady.min()), float(steady.max())
    low, high = wish.low_c - ambient, wish.high_c - ambient
    if coldest > low - _WRONG_K:
        low = min(low, coldest - _NEAR_K)
    if hottest < high + _WRONG_K:
        high = max(high, hottest + _NEAR_K)
    return low, high


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


def _mixed(model: ThermalModel, modes: "Floats") -> "Floats":
    mean = float(model.weights @ (model.shape @ modes)[PASTE:])
    return model.begin(model.mixed(modes, mean))


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
