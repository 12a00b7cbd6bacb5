"""Gains of the two loops from the told model, by SIMC (Skogestad, J. Process Control 13 (2003) 291–309), and their Ms.

The closed-loop time constant is the effective dead time, which counts the relay's cycle, the tick and the delay of
the loop below: Ms is about 1.6 (first order) to 1.7 (integrating) on the model that the rule sees. What the loops
have on the whole thermal network, told or identified, is computed from its frequency response.
"""

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from holdctl.control.margins import Margins, Response, margins, pid_response
from holdctl.control.model import Parameters, ThermalModel
from holdctl.control.rules import Pid
from holdctl.control.told import Told
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[Any]

_REACTION = {Place.CORE: (1.03, 0.43), Place.MID: (0.97, 0.11), Place.EDGE: (0.12, 0.02)}
"""Lag and dead time over the slowest time constant: two-point (28.3 / 63.2 %) fit to the series solution of the
infinite cylinder with an isothermal wall at r/R 0, 0.5, 0.9 (series: Carslaw & Jaeger 1959, §7.6). At 0.9 the fit's
dead time is -0.02, which no process has: its size stands here, on the slow side."""

_PROBE_LAG_S = 15.0
"""Half the lag of a kitchen probe in paste, 5 to 30 s (from memory)."""

_WALL_LAG_S, _PASTE_LAG_S = 5.0, 15.0
"""Of probes, as the margins count them: on metal, and in paste (from memory)."""

MOST_OUTER_GAIN = 2.0
"""A wall cools by its losses alone, so the loop is slower downwards than SIMC believes: a higher gain undershot."""

MOST_MS = 1.7
"""Largest sensitivity wanted of either loop: the gain may then grow 2.4-fold and the phase fall behind by 34°."""


_SOFTER, _SOFTER_TIMES = 0.85, 20


@dataclass(frozen=True, slots=True)
class Gains:
    """PI settings: gain (outer: K/K, inner: duty/K) and integral time, s."""

    kc: float
    ti_s: float


def inner_gains(model: Told, cycle_s: float) -> tuple[Gains, float]:
    """Return the wall loop's gains and its closed-loop time constant, s: an integrator power/capacity with delay."""
    theta = model.delay_s + cycle_s / 2 + 2.0
    slope = model.power_w / model.wall_j_k
    return Gains(kc=1.0 / (slope * 2 * theta), ti_s=8 * theta), theta


def outer_gains(model: Told, place: Place, inner_s: float) -> Gains:
    """Return the paste loop's gains for a probe at `place`, over a wall loop of time constant `inner_s`."""
    if model.stirred:
        lag, dead = model.tau_s, 0.0
    else:
        lag_share, dead_share = _REACTION[place]
        lag, dead = lag_share * model.tau_s, dead_share * model.tau_s
    theta = dead + 2 * inner_s + _PROBE_LAG_S
    return Gains(kc=min(MOST_OUTER_GAIN, lag / (2 * theta)), ti_s=min(lag, 8 * theta))


def tuned(
    model: ThermalModel, learnt: Told, place: Place, cycle_s: float
) -> "tuple[Gains, Gains, LoopMargins]":
    """Return the gains of the paste loop and of the wall loop, softened until both keep `MOST_MS` on the network.

    The rule sees one lag and one dead time; the network has more, and where that counts the gain comes down.
    """
    inner, inner_s = inner_gains(learnt, cycle_s)
    outer = outer_gains(learnt, place, inner_s)
    for _ in range(_SOFTER_TIMES):
        found = loop_margins(model, place, outer, inner, cycle_s)
        if found.enough:
            break
        if found.inner.ms > MOST_MS:
            inner = replace(inner, kc=inner.kc * _SOFTER, ti_s=inner.ti_s / _SOFTER)
        else:
            outer = replace(outer, kc=outer.kc * _SOFTER)
    return outer, inner, loop_margins(model, place, outer, inner, cycle_s)


def as_identified(told: Told, found: Parameters) -> Told:
    """Return what is told with the heat capacity and the lag that have been identified."""
    capacity = found.heater_j_k + found.medium_j_k + found.vessel_j_k
    link = found.heater_base_w_k + found.heater_medium_w_k
    lag = (
        found.heater_j_k / max(link, 1e-6)
        if found.medium_j_k > 1.0
        else found.heater_j_k / found.heater_base_w_k
    )
    return replace(told, wall_j_k=capacity, delay_s=found.delay_s + min(lag, 300.0))


# Margins ----------------------------------------------------------------------------------------------------------

_LOW_RAD_S, _HIGH_RAD_S = 1e-7, 10.0
"""From a thousand hours to the tick."""


@dataclass(frozen=True, slots=True)
class LoopMargins:
    """Margins of the wall loop, and of the paste loop over it."""

    inner: Margins
    outer: Margins

    @property
    def enough(self) -> bool:
        """Whether both loops keep `MOST_MS`."""
        return max(self.inner.ms, self.outer.ms) <= MOST_MS


def loop_margins(
    model: ThermalModel,
    place: Place,
    outer: Gains,
    inner: Gains,
    cycle_s: float,
    *,
    tick_s: float = 1.0,
    filter_s: float = 0.0,
) -> LoopMargins:
    """Return the margins of both loops on the thermal network, told or identified, with a paste probe at `place`.

    Counted: the network with its dead time, half a relay cycle, half a tick, the probes' lags, `filter_s` for a
    filter on either reading, and the feed-forward of the wall's outflow with its path back through the paste. Not
    counted: that duty ends at 0 and 1, and that a wall cools more slowly than it is heated.
    """
    gain_k, at_rest = model.wall_at_rest()
    wall = _modal(model, model.row(Place.WALL) @ model.shape)
    paste = _modal(model, model.row(place) @ model.shape)
    free = _modal(model, at_rest)
    delay_s = model.parameters.delay_s + cycle_s / 2 + tick_s / 2
    inner_pi, outer_pi = (pid_response(Pid(g.kc, g.ti_s)) for g in (inner, outer))

    def inside(w: "Array") -> "Array":
        seen: Array = inner_pi(w) * wall(w) * _lagged(w, _WALL_LAG_S, filter_s)
        loop: Array = _delayed(w, delay_s) * (seen + free(w) / gain_k)
        return loop

    def outside(w: "Array") -> "Array":
        asked: Array = (inner_pi(w) + 1.0 / gain_k) * _delayed(w, delay_s) / (1 + inside(w))
        loop: Array = outer_pi(w) * asked * paste(w) * _lagged(w, _PASTE_LAG_S, filter_s)
        return loop

    within = margins(inside, _LOW_RAD_S, _HIGH_RAD_S)
    over = margins(outside, _LOW_RAD_S, _HIGH_RAD_S)
    # Turns are counted from stable parts only: over a wall loop that swings, the paste loop's count says nothing.
    return LoopMargins(within, over if within.stable else replace(over, ms=math.inf))


def margins_told(loops: LoopMargins) -> tuple[str, dict[str, Any]]:
    """Return one sentence for the record and its figures."""
    verdict = "as wanted" if loops.enough else "less robust than wanted"
    text = (
        f"Largest sensitivity Ms of the wall loop {loops.inner.ms:.2f}, of the paste loop {loops.outer.ms:.2f} "
        f"(at most {MOST_MS:g} is wanted): {verdict}."
    )
    return text, {
        f"{name}_{key}": round(value, 4)
        for name, found in (("inner", loops.inner), ("outer", loops.outer))
        for key, value in (("ms", found.ms), ("gm", found.gain_margin), ("pm_deg", found.phase_margin_deg))
    }


def _modal(model: ThermalModel, row: "Array") -> Response:
    """Return the frequency response from duty to a weighted sum of modes, without the dead time."""
    driven = row * model.drive

    def response(w: "Array") -> "Array":
        total: Array = (driven[:, None] / (1j * w + model.rates[:, None])).sum(axis=0)
        return total

    return response


def _lagged(w: "Array", *lags_s: float) -> "Array":
    import numpy as np

    total = np.ones(len(w), complex)
    for lag in lags_s:
        total = total / (1j * w * lag + 1)
    return total


def _delayed(w: "Array", delay_s: float) -> "Array":
    import numpy as np

    turned: Array = np.exp(-1j * w * delay_s)
    return turned
