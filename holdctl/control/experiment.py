"""Tests that excite the warmer on purpose: a relay feedback test and a step test.

Each is a step function: a reading and the time since the last one go in, a duty comes out; no clock, no I/O. A test
ends by itself, with what was wanted or with the reason why not. `Guarded` makes a test a controller that a hold can
be given; every interlock of the hold stays above it.

Relay feedback (Åström & Hägglund, Automatica 20 (1984) 645–651): full power below the setpoint, none above. The
temperature then swings at close to the frequency where a controller of pure gain would just lose its stability.
"""

import math
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from statistics import median
from typing import Protocol

NOISE_S = 4.0
"""A half-wave shorter than this is noise on the reading, not the warmer."""


class Experiment(Protocol):
    """What `Guarded` runs."""

    ended: str
    """Why it is over; empty while it runs."""
    good: bool
    """Whether it ended with what was wanted."""

    def step(self, value_c: float, dt_s: float) -> float:
        """Return the duty, 0 to 1; 0 once it is over."""


@dataclass(frozen=True, slots=True)
class Wave:
    """One cycle of the relay, from switch-on to switch-on."""

    on_s: float
    off_s: float
    swing_k: float
    """From lowest to highest reading."""

    @property
    def period_s(self) -> float:
        """Its length."""
        return self.on_s + self.off_s


@dataclass(slots=True)
class RelayTest:
    """Relay feedback about `setpoint_c` until `cycles` equal ones have been seen."""

    setpoint_c: float
    hysteresis_k: float = 0.25
    """The relay turns this far above and below the setpoint: more than the reading's noise and steps."""
    cycles: int = 4
    longest_s: float = 4 * 3600.0
    ended: str = ""
    good: bool = False
    waves: list[Wave] = field(default_factory=list)
    _on: bool | None = None
    _passed_s: float = 0.0
    _half_s: float = 0.0
    _on_s: float | None = None
    """Length of the last whole on-time; None before the first."""
    _low_c: float = math.inf
    _high_c: float = -math.inf
    _short: int = 0
    _recent: deque[float] = field(default_factory=lambda: deque(maxlen=3))

    def step(self, value_c: float, dt_s: float) -> float:
        """Return duty 1 or 0; a reading that is no number turns nothing."""
        if self.ended or not (math.isfinite(value_c) and 0 <= dt_s < math.inf):
            return 0.0
        self._recent.append(value_c)
        value = median(self._recent)  # one wild reading turns nothing
        self._passed_s += dt_s
        self._half_s += dt_s
        self._low_c, self._high_c = min(self._low_c, value), max(self._high_c, value)
        if self._on is None:
            self._on = value < self.setpoint_c
        elif self._on and value > self.setpoint_c + self.hysteresis_k:
            self._turn(on=False)
        elif not self._on and value < self.setpoint_c - self.hysteresis_k:
            self._turn(on=True)
        self._judge()
        return 1.0 if self._on and not self.ended else 0.0

    def _turn(self, *, on: bool) -> None:
        self._short = self._short + 1 if self._half_s < NOISE_S else 0
        if not on:
            self._on_s = self._half_s
        elif self._on_s is not None:
            self.waves.append(Wave(self._on_s, self._half_s, self._high_c - self._low_c))
            self._low_c, self._high_c = math.inf, -math.inf
        self._on, self._half_s = on, 0.0

    def _judge(self) -> None:
        # The first wave still shows where the warmer started.
        if len(self.waves) > self.cycles and self._equal(self.waves[-self.cycles :]):
            self._end(f"{self.cycles} equal cycles of {self.waves[-1].period_s:.0f} s", good=True)
        elif self._short >= 3:
            self._end("the relay turns at the noise of the reading: give a larger hysteresis")
        elif self._passed_s >= self.longest_s:
            self._end(self._why_so_long())

    def _equal(self, waves: list[Wave]) -> bool:
        periods, swings = [w.period_s for w in waves], [w.swing_k for w in waves]
        duties = [w.on_s / w.period_s for w in waves]
        return (
            _spread(periods) <= max(0.1 * max(periods), 3.0)
            and _spread(swings) <= max(0.1 * max(swings), self.hysteresis_k / 2)
            and _spread(duties) <= 0.04
        )

    def _why_so_long(self) -> str:
        if not self.waves and self._on_s is None:
            way = "come up to" if self._on else "fall below"
            return f"the reading did not {way} {self.setpoint_c:g} °C within {self.longest_s / 3600:g} h"
        return f"no {self.cycles} equal cycles within {self.longest_s / 3600:g} h: the warmer has not settled"

    def _end(self, why: str, *, good: bool = False) -> None:
        self.ended, self.good = why, good


_BLOCKS = 10


@dataclass(slots=True)
class StepTest:
    """A constant duty until the reading has settled, then another one until it has settled again or risen enough."""

    base: float
    """Duty to settle at, 0 to 1."""
    raised: float
    """Duty after the step, 0 to 1."""
    steady_k: float = 0.15
    """Settled: ten means in a row lie within this."""
    block_s: float = 60.0
    """Length of each mean: whole cycles of the relay, or its ripple would look like a drift."""
    most_k: float = 4.0
    """A change this large is enough."""
    longest_s: float = 8 * 3600.0
    ended: str = ""
    good: bool = False
    stepped_s: float | None = None
    """When the step was made, from the first reading."""
    from_c: float = math.nan
    """Where the reading had settled."""
    _passed_s: float = 0.0
    _block: list[float] = field(default_factory=list)
    _block_s: float = 0.0
    _means: deque[float] = field(default_factory=lambda: deque(maxlen=_BLOCKS))

    def step(self, value_c: float, dt_s: float) -> float:
        """Return the duty for this reading; a reading that is no number changes nothing."""
        if self.ended:
            return 0.0
        if math.isfinite(value_c) and 0 <= dt_s < math.inf:
            self._passed_s += dt_s
            self._collect(value_c, dt_s)
        if self._passed_s >= self.longest_s and not self.ended:
            what = "settled" if self.stepped_s is None else "settled after the step"
            self._end(f"the reading had not {what} within {self.longest_s / 3600:g} h", good=False)
        return 0.0 if self.ended else self.base if self.stepped_s is None else self.raised

    def _collect(self, value_c: float, dt_s: float) -> None:
        self._block.append(value_c)
        self._block_s += dt_s
        if self._block_s < self.block_s:
            return
        self._means.append(sum(self._block) / len(self._block))
        self._block, self._block_s = [], 0.0
        settled = len(self._means) == _BLOCKS and _spread(list(self._means)) <= self.steady_k
        if self.stepped_s is None:
            if settled:
                self.stepped_s, self.from_c = self._passed_s, sum(self._means) / _BLOCKS
                self._means.clear()
        elif abs(self._means[-1] - self.from_c) >= self.most_k:
            self._end(f"the reading has changed by {self.most_k:g} K", good=True)
        elif settled and abs(self._means[-1] - self.from_c) > 2 * self.steady_k:
            self._end("the reading has settled again", good=True)

    def _end(self, why: str, *, good: bool) -> None:
        self.ended, self.good = why, good


@dataclass(slots=True)
class Guarded:
    """A test on the probe of one channel, with a ceiling for each: a reading above its ceiling ends the test.

    This stands below the hold's high limits, which trip and latch: a test that comes near them has failed already.
    """

    test: Experiment
    channel: int
    ceilings_c: Mapping[int, float]
    words: str = ""
    """Why it is over; empty while it runs."""

    def update(self, setpoint_c: float, values_c: Mapping[int, float], dt_s: float) -> float:
        """Return the duty; the test keeps its own setpoint, whatever `setpoint_c` says."""
        del setpoint_c
        if not self.words:
            self.words = self._over(values_c)
        if self.words or self.channel not in values_c:
            return 0.0
        duty = self.test.step(values_c[self.channel], dt_s)
        self.words = self.test.ended
        return duty

    @property
    def good(self) -> bool:
        """Whether the test ended with what was wanted."""
        return self.test.good

    def _over(self, values_c: Mapping[int, float]) -> str:
        for channel, top in self.ceilings_c.items():
            if values_c.get(channel, -math.inf) > top:
                return f"probe {channel} came to {values_c[channel]:.1f} °C, over the test's ceiling of {top:g} °C"
        return ""


def _spread(values: list[float]) -> float:
    return max(values) - min(values)
