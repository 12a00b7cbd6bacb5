"""Gains of the two loops from the told model, by SIMC (Skogestad, J. Process Control 13 (2003) 291–309).

The closed-loop time constant is the effective dead time, which counts the relay's cycle, the tick and the delay of
the loop below: Ms is about 1.6 (first order) to 1.7 (integrating).
"""

from dataclasses import dataclass

from holdctl.control.told import Told
from holdctl.settings import Place

_REACTION = {Place.CORE: (1.03, 0.43), Place.MID: (0.97, 0.11), Place.EDGE: (0.12, 0.02)}
"""Lag and dead time over the slowest time constant: two-point (28.3 / 63.2 %) fit to the series solution of the
infinite cylinder with an isothermal wall at r/R 0, 0.5, 0.9 (series: Carslaw & Jaeger 1959, §7.6). At 0.9 the fit's
dead time is -0.02, which no process has: its size stands here, on the slow side."""

_PROBE_LAG_S = 15.0
"""Half the lag of a kitchen probe in paste, 5 to 30 s (from memory)."""

MOST_OUTER_GAIN = 2.0
"""A wall cools by its losses alone, so the loop is slower downwards than SIMC believes: a higher gain undershot."""


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
