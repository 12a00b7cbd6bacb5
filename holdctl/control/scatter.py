"""How far readings scatter by themselves: a probe's noise within some seconds, the model's misfit from step to step.

Both are learnt, and slowly: what is built up within minutes, as a fault is, must not be taken for scatter.
"""

import math
from typing import TYPE_CHECKING, Any

from holdctl.control.ticks import Sensor

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

NOISE_LOOKS = 40.0
"""The probes' noise is averaged over so many steps."""
_RUNS = 10.0
"""How long a probe usually says the same is averaged over so many times."""
_OUTLIER = 9.0
"""What differs by more than three deviations counts as three, where scatter is learnt."""
_PLAIN = 2.0
"""Up to so much more than expected innovations may vary by chance."""


class Noise:
    """One probe's readings within a step of the grid, and how much they scatter there from step to step."""

    def __init__(self, sensor: Sensor) -> None:
        self._sensor = sensor
        self._square = self._steps = 0.0
        self._n = 0
        self._last_c: float | None = None
        self._same = self._usually = 1.0
        """For how many steps the probe has said exactly the same now, and how many that usually are."""
        self.begin()

    def begin(self) -> None:
        """Begin a step."""
        self._seen, self._first, self._sum, self._squares = 0, 0.0, 0.0, 0.0

    def take(self, value_c: float) -> None:
        """Take one reading, °C."""
        if not self._seen:
            self._first = value_c
        off = value_c - self._first
        self._seen += 1
        self._sum += off
        self._squares += off * off

    def close(self) -> float | None:
        """Return the mean, °C, and learn from the scatter; None where nothing was read."""
        if not self._seen:
            return None
        n, mean = self._seen, self._sum / self._seen
        self._n = n
        if n > 1:
            square = (self._squares - n * mean * mean) / (n - 1)
            if self._steps >= NOISE_LOOKS:
                square = min(square, _OUTLIER * self._square + 1e-6)
            self._steps += 1.0
            self._square += (square - self._square) / min(self._steps, NOISE_LOOKS)
        self._run(self._first + mean)
        return self._first + mean

    def _run(self, mean_c: float) -> None:
        if mean_c == self._last_c:
            self._same += 1.0
        else:
            self._usually += (self._same - self._usually) / _RUNS
            self._same, self._last_c = 1.0, mean_c

    @property
    def variance(self) -> float:
        """Variance of the mean of a step, K².

        Readings that flicker average their steps out as well: what is left of a step q under noise of deviation σ is
        q²/12 at most and falls with exp(−4π²σ²/q²) (Widrow & Kollár, Quantization Noise (2008), ch. 4, from memory).
        What is left is the same error for as long as the probe says the same: so many steps tell no more than one.
        """
        coarse = self._sensor.step_k**2 / 12.0
        if self._steps < NOISE_LOOKS / 4:
            return coarse + self._sensor.noise_k**2 / max(1, self._n)
        inside = max(0.0, self._square - coarse)
        left = coarse * math.exp(-(math.pi**2) / 3.0 * inside / coarse)
        return left * max(self._same, self._usually) + max(self._square, 1e-6) / max(1, self._n)


class Misfit:
    """By how much readings leave the model from step to step, beyond what filter and noise explain.

    A wall that answers otherwise than the model to every switching of the relay does so all the time. What builds up
    slowly, as a fault does, or an error of the parameters, hardly shows from one step to the next: so only the change
    counts. (Whole innovations would feed on themselves: the less a filter trusts its probe, the further it strays.)
    """

    def __init__(self, probes: int) -> None:
        self._square = [0.0] * probes
        self._last: list[float] | None = None
        self._steps = 0.0

    def begin(self) -> None:
        """Begin another course: its first innovations do not follow from the last ones."""
        self._last = None

    def beyond(self, spread: "Floats", wrong: "Floats") -> "Floats":
        """Take the innovations of a step; return the variances to add to those that are expected, K²."""
        import numpy as np

        # A handful of probes: plain numbers are many times quicker than arrays of two.
        now, expected = wrong.tolist(), spread.tolist()
        if self._last is not None:
            self._steps = min(self._steps + 1.0, NOISE_LOOKS)
            for at, (new, old, own) in enumerate(zip(now, self._last, expected, strict=True)):
                # Of two independent innovations the difference has twice the variance of one.
                square, before = (new - old) ** 2 / 2.0, self._square[at]
                most = _OUTLIER * max(before, own)
                self._square[at] += (min(square, most) - before) / self._steps
        self._last = now
        more = zip(self._square, expected, strict=True)
        return np.array([square - own if square > _PLAIN * own else 0.0 for square, own in more])
