"""How far a loop is from oscillating: largest sensitivity Ms, gain margin, phase margin.

Everything is read off the frequency response with the exact e^(−jωθ), on a logarithmic grid. Ms = max |1/(1 + L)|
bounds both margins: GM ≥ Ms/(Ms − 1), PM ≥ 2 asin(1/(2 Ms)) (Skogestad & Postlethwaite, Multivariable Feedback
Control, section 2.4). Whether the loop is stable at all is a count of turns of 1 + L (Nyquist 1932).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.rules import Pid, Process

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[Any]

POINTS = 6000
_SPAN = 1e4
"""The grid reaches this factor below the slowest and above the quickest time of the loop."""

Response = Callable[["Array"], "Array"]
"""L(jω) at angular frequencies, rad/s."""


@dataclass(frozen=True, slots=True)
class Margins:
    """Of one loop. An unstable loop has an infinite Ms and a gain margin below 1 or a negative phase margin."""

    ms: float
    gain_margin: float
    """Factor by which the gain may grow; infinite where the phase never comes to −180°."""
    phase_margin_deg: float
    """Infinite where the gain never crosses 1."""
    peak_rad_s: float
    """Where |1/(1 + L)| is largest."""

    @property
    def stable(self) -> bool:
        """Whether the closed loop is stable."""
        return math.isfinite(self.ms)


def process_response(process: Process) -> Response:
    """Return G(jω) of a process."""

    def response(w: "Array") -> "Array":
        import numpy as np

        s = 1j * w
        g: Array = process.gain * np.exp(-s * process.delay_s) / s**process.integrators
        for zero in process.zeros_s:
            g = g * (zero * s + 1)
        for lag in process.lags_s:
            g = g / (lag * s + 1)
        return g

    return response


def pid_response(pid: Pid, filter_s: float = 0.0) -> Response:
    """Return C(jω) of ideal settings, the whole behind a first-order filter of `filter_s`; endless Ti: no integral."""

    def response(w: "Array") -> "Array":
        s = 1j * w
        c: Array = pid.kc * (1 + 1 / (pid.ti_s * s) + pid.td_s * s) / (filter_s * s + 1)
        return c

    return response


def closed(process: Process, pid: Pid, filter_s: float = 0.0) -> Margins:
    """Return the margins of `pid` on `process`."""
    g, c = process_response(process), pid_response(pid, filter_s)
    times = (*process.lags_s, *process.zeros_s, process.delay_s, pid.ti_s, pid.td_s, filter_s)
    sizes = [abs(t) for t in times if t and math.isfinite(t)]
    if not sizes:
        raise ValueError("a loop without any lag, delay or integral time has no frequency to look at")
    integrators = process.integrators + math.isfinite(pid.ti_s)
    return margins(lambda w: g(w) * c(w), 1 / max(sizes) / _SPAN, _SPAN / min(sizes), integrators=integrators)


def margins(
    loop: Response, low_rad_s: float, high_rad_s: float, *, integrators: int = 1, points: int = POINTS
) -> Margins:
    """Return the margins of L between two frequencies; outside them L must be steady and small.

    `integrators` is the number of poles of L at zero; it must have no pole to the right. Raises ValueError for
    frequencies that are no range or a response that is not finite.
    """
    import numpy as np

    if not 0 < low_rad_s < high_rad_s < math.inf:
        raise ValueError(f"{low_rad_s!r} to {high_rad_s!r} rad/s is no range of frequencies")
    w = np.geomspace(low_rad_s, high_rad_s, points)
    response = loop(w)
    if not np.all(np.isfinite(response)):
        raise ValueError("the loop's frequency response is not finite")
    distance = np.abs(1 + response)
    nearest = int(np.argmin(distance))
    ms = 1.0 / max(float(distance[nearest]), 1e-12) if _stable(response, integrators) else math.inf
    return Margins(
        ms=max(ms, 1.0),
        gain_margin=_gain_margin(response),
        phase_margin_deg=_phase_margin(response),
        peak_rad_s=float(w[nearest]),
    )


def _stable(response: "Array", integrators: int) -> bool:
    """Whether 1 + L makes no turn about zero beyond what its poles at zero make."""
    import numpy as np

    # Where |L| is small, 1 + L stays to the right of zero, however fast the delay turns it between grid points.
    near = np.nonzero(np.abs(response) >= 0.5)[0]
    last = int(near[-1]) + 2 if near.size else 1
    angle = np.unwrap(np.angle(1 + response[:last]))
    start = -integrators * np.pi / 2
    angle += 2 * np.pi * np.round((start - angle[0]) / (2 * np.pi))
    return bool(abs(angle[-1]) < np.pi)


def _gain_margin(response: "Array") -> float:
    """Return the least 1/|L| where L crosses the negative real axis upwards or downwards."""
    import numpy as np

    im, re = response.imag, response.real
    at = np.nonzero((im[:-1] * im[1:] < 0) & (re[:-1] < 0) & (re[1:] < 0))[0]
    if not at.size:
        return math.inf
    share = im[at] / (im[at] - im[at + 1])
    crossing = np.abs(re[at] + share * (re[at + 1] - re[at]))
    return float(1.0 / crossing.max())


def _phase_margin(response: "Array") -> float:
    """Return the least angle between L and −1 where |L| crosses 1, degrees."""
    import numpy as np

    size = np.log(np.abs(response))
    at = np.nonzero(size[:-1] * size[1:] < 0)[0]
    if not at.size:
        return math.inf
    share = size[at] / (size[at] - size[at + 1])
    angle = np.angle(-response[at]) + share * np.angle(response[at + 1] / response[at])
    return float(np.degrees(angle.min()))
