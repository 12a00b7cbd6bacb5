"""What a relay or step test has shown: ultimate gain and period, static gain, lags and dead time.

Everything is computed from the trace, that is from what was read and what the heater was truly given, so a test can
be evaluated again from the record. Duty is 0 to 1, so gains are K at full power.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from holdctl.control.rules import Process

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

LEAST_RATIO = 1.3
"""Berner's ratio needs unequal halves: at equal ones it is 0 over 0."""

_SMOOTH = 5
"""Readings in the median that takes noise off the extremes."""


@dataclass(frozen=True, slots=True)
class Trace:
    """Readings of one probe, °C, at `t_s`, with the share of full power given from each reading to the next."""

    t_s: "Floats"
    value_c: "Floats"
    given: "Floats"


@dataclass(frozen=True, slots=True)
class Swing:
    """The mean cycle of a relay test."""

    cycles: int
    on_s: float
    off_s: float
    high_c: float
    low_c: float
    mean_c: float
    start_s: float
    end_s: float

    @property
    def period_s(self) -> float:
        """Ultimate period as the relay shows it."""
        return self.on_s + self.off_s

    @property
    def duty(self) -> float:
        """Mean duty given."""
        return self.on_s / self.period_s

    @property
    def amplitude_k(self) -> float:
        """Half of the way from lowest to highest."""
        return (self.high_c - self.low_c) / 2


def swing(trace: Trace, cycles: int) -> Swing | None:
    """Return the mean of the last `cycles` whole cycles, None where there are not that many."""
    import numpy as np

    on = trace.given > 0.5
    # From switch-off to switch-off: the first switch-on is where the warmer happened to start, and the last one is
    # where the test ended, so neither stands in the trace.
    turns = np.nonzero(on[:-1] & ~on[1:])[0] + 1
    if len(turns) <= cycles:
        return None
    marks = turns[-cycles - 1 :]
    part = slice(marks[0], marks[-1] + 1)
    t, given = trace.t_s[part], trace.given[part]
    value = _smooth(trace.value_c)[part]
    steps = np.diff(t)
    whole = float(t[-1] - t[0])
    on_s = float((given[:-1] * steps).sum()) / cycles
    tops = [value[a - marks[0] : b - marks[0]] for a, b in pairwise(marks)]
    return Swing(
        cycles=cycles,
        on_s=on_s,
        off_s=whole / cycles - on_s,
        high_c=float(np.mean([top.max() for top in tops])),
        low_c=float(np.mean([top.min() for top in tops])),
        mean_c=float(np.average((value[1:] + value[:-1]) / 2, weights=steps)),
        start_s=float(t[0]),
        end_s=float(t[-1]),
    )


def _smooth(value: "Floats") -> "Floats":
    import numpy as np

    half = _SMOOTH // 2
    padded = np.concatenate([value[:1].repeat(half), value, value[-1:].repeat(half)])
    smooth: Floats = np.median(np.lib.stride_tricks.sliding_window_view(padded, _SMOOTH), axis=1)
    return smooth


def ultimate_gain(amplitude_k: float, hysteresis_k: float) -> float:
    """Return Ku of an on/off heater, 1/K: 4 d/(π √(a² − ε²)), d = ½ (Åström & Hägglund 1984; formula from memory).

    Describing function, hence too low: by 10 to 18 % on one lag and a delay, by 28 to 52 % on two lags with a
    probe's lag and hysteresis. Raises ValueError where the swing is no wider than the hysteresis.
    """
    if amplitude_k <= hysteresis_k:
        raise ValueError("the swing is no wider than the hysteresis")
    return 2.0 / (math.pi * math.sqrt(amplitude_k**2 - hysteresis_k**2))


def static_gain(found: Swing, ambient_c: float) -> float:
    """Return K at full power from means over whole cycles, the room being the second point; right once settled."""
    return (found.mean_c - ambient_c) / found.duty


def from_cycle(
    found: Swing, gain: float, ambient_c: float, setpoint_c: float, hysteresis_k: float
) -> Process:
    """Return lag and delay of the one lag with delay that swings like this: exact for such a process.

    Each half-wave is an exponential: y_max − r = k d1 (1 − e^(−L/T)) + μ e^(−L/T) and t_on = L + T ln((k d1 − y_min')
    / (k d1 − μ)), y_min' from the setpoint r; so for the other half with d2. On two lags L comes out right and T too
    large, 1.5 to 2 times. Raises ValueError where no such process swings like this.
    """
    hold = (setpoint_c - ambient_c) / gain
    up, down = gain * (1 - hold), gain * hold
    over, under = found.high_c - setpoint_c, setpoint_c - found.low_c
    lags, delays = [], []
    for drive, ahead, behind, half_s in ((up, over, under, found.on_s), (down, under, over, found.off_s)):
        left, right = drive - ahead, drive - hysteresis_k
        if not 0 < left < right:
            raise ValueError("no process with one lag and a delay swings like this")
        ratio = -math.log(left / right)
        lag = half_s / (ratio + math.log((drive + behind) / right))
        lags.append(lag)
        delays.append(lag * ratio)
    return Process(gain, (math.sqrt(lags[0] * lags[1]),), math.sqrt(delays[0] * delays[1]))


def from_unequal_halves(found: Swing, gain: float, hold_duty: float, hysteresis_k: float) -> Process:
    """Return lag and delay from the ratio of the halves (Berner, Hägglund & Åström, Control Eng. Practice 54 (2016)).

    γ = max(d1, d2)/min, ρ = max(t_on, t_off)/min, τ = L/(L + T) = (γ − ρ)/((γ − 1)(0.35 ρ + 0.65)), then T from the
    on-time; a numerator of … − d2, as its block diagram has it in the Modelica Buildings Library, not the printed
    − d1. Raises ValueError where the halves are too equal for it, or the ratio leaves 0…1.
    """
    d1, d2 = 1 - hold_duty, hold_duty
    gamma = max(d1, d2) / min(d1, d2)
    rho = max(found.on_s, found.off_s) / min(found.on_s, found.off_s)
    if gamma < LEAST_RATIO:
        raise ValueError(f"on- and off-drive are too equal for their ratio to say anything ({gamma:.2f} : 1)")
    share = (gamma - rho) / ((gamma - 1) * (0.35 * rho + 0.65))
    if not 0 < share < 1:
        raise ValueError("the ratio of on- to off-time is that of no lag with a delay")
    lag = lag_of_on_time(found.on_s, share, d1, d2, hysteresis_k / abs(gain))
    return Process(gain, (lag,), lag * share / (1 - share))


def lag_of_on_time(on_s: float, share: float, d1: float, d2: float, edge: float) -> float:
    """Return T from the on-time and τ = L/(L + T); `edge` is the hysteresis over the gain (Berner et al. 2016)."""
    return on_s / math.log((edge - d2 + math.exp(share / (1 - share)) * (d1 + d2)) / (d1 - edge))


def two_points(t_s: "Floats", value_c: "Floats", step: float) -> Process:
    """Return lag and delay from the times of 28.3 and 63.2 % of a whole step response (Smith, from memory).

    The response begins at `t_s` 0 with the step (a change of duty) and ends settled. T = 1.5 (t63 − t28), L = t63 − T.
    """
    import numpy as np

    start, end = value_c[0], value_c[-1]
    risen = np.maximum.accumulate((value_c - start) / (end - start))
    early, late = (float(np.interp(share, risen, t_s)) for share in (0.283, 0.632))
    lag = 1.5 * (late - early)
    return Process(float(end - start) / step, (lag,), max(late - lag, 0.0))


# Least squares --------------------------------------------------------------------------------------------------

_LAG_S, _SECOND_S, _DELAY_S = (20.0, 2e5), (0.2, 5e3), (0.05, 3e3)
"""Bounds: an unbounded fit may run away, and that would be its only gross failure."""
_MOST_POINTS = 4000


@dataclass(frozen=True, slots=True)
class Fit:
    """Two lags and a delay fitted to a trace."""

    process: Process
    rms_k: float
    """What it leaves of the readings."""
    swing_k: float
    """Standard deviation of the readings themselves."""
    at_bound: bool

    @property
    def good(self) -> bool:
        """Whether it may be used: it explains the readings, to a twentieth or to their steps, inside its bounds."""
        return self.rms_k <= max(0.05 * self.swing_k, 0.05) and not self.at_bound


def fit_two_lags(
    trace: Trace, ambient_c: float, gain: float | None = None, span_s: tuple[float, float] | None = None
) -> Fit:
    """Return gain, two lags and delay by bounded least squares on logarithms; `gain` is kept where it is given.

    Where the gain is known, the first lag says how steeply the reading rises; where not, both come from the trace.
    The state at the start is fitted along with them, linearly. `ambient_c` is where the reading would go unheated.
    `span_s` is the part to be explained; the heat given before it still counts.
    """
    import numpy as np
    from scipy.optimize import least_squares

    t, value, heat = _even(trace, span_s)
    low, high = (np.log([bounds[i] for bounds in (_LAG_S, _SECOND_S, _DELAY_S)]) for i in (0, 1))
    free = gain is None

    def left_over(x: "Floats") -> "Floats":
        lag, second, delay = np.exp(x)
        base = _response(t, heat(t - delay), lag, second)
        ways = [np.exp(-t / lag), np.exp(-t / second)] + ([base, np.ones_like(t)] if free else [])
        rest = value - ambient_c - (0.0 if gain is None else gain * base)
        matrix = np.stack(ways, axis=1)
        found[:] = np.linalg.lstsq(matrix, rest, rcond=None)[0].tolist()
        left: Floats = rest - matrix @ found
        return left

    found: list[float] = [0.0] * (4 if free else 2)
    period = float(t[-1])
    best: Any = None
    for delay in (0.003, 0.03):
        start = np.clip(
            np.log([period, max(period * delay, 1.0), max(period * delay, 1.0)]), low + 0.1, high - 0.1
        )
        tried = least_squares(left_over, start, bounds=(low, high), x_scale=1.0, diff_step=1e-4)
        best = tried if best is None or tried.cost < best.cost else best
    rms = math.sqrt(float(np.mean(left_over(best.x) ** 2)))
    lag, second, delay_s = np.exp(best.x).tolist()
    edge = np.minimum(best.x - low, high - best.x) < 1e-3
    process = Process(found[2] if gain is None else gain, tuple(sorted((lag, second), reverse=True)), delay_s)
    # Without any second lag or delay the fit ends at their lower bound, and that is an answer.
    gone = bool(edge[0]) or bool(np.any(high - best.x < 1e-3))
    return Fit(process, rms, float(np.std(value)), gone)


def _even(
    trace: Trace, span_s: tuple[float, float] | None
) -> "tuple[Floats, Floats, Callable[[Floats], Floats]]":
    """Return even times from 0, the values then, and the integral of the given heat as a function of time, s."""
    import numpy as np

    heat = np.concatenate([[0.0], np.cumsum(trace.given[:-1] * np.diff(trace.t_s))])
    first, last = span_s or (float(trace.t_s[0]), float(trace.t_s[-1]))
    t = np.arange(0.0, last - first, max(1.0, (last - first) / _MOST_POINTS))
    return (
        t,
        np.interp(t + first, trace.t_s, trace.value_c),
        lambda at: np.interp(at + first, trace.t_s, heat),
    )


def _response(t: "Floats", heat: "Floats", lag: float, second: float) -> "Floats":
    """Return the response of 1/((lag s + 1)(second s + 1)) to the integral of the given heat, from rest."""
    import numpy as np
    from scipy.signal import lfilter

    step = float(t[1] - t[0])
    mean = np.concatenate([[0.0], np.diff(heat) / step])

    def one(tau: float) -> "Floats":
        kept = math.exp(-step / tau)
        out: Floats = lfilter([1 - kept], [1, -kept], mean)
        return out

    if abs(lag - second) < 1e-6 * lag:
        second *= 1 - 1e-5
    both: Floats = (lag * one(lag) - second * one(second)) / (lag - second)
    return both


def with_loop_delay(process: Process, *delays_s: float) -> Process:
    """Return the process with more dead time: what a controller would have before it that the test had not."""
    return replace(process, delay_s=process.delay_s + sum(delays_s))
