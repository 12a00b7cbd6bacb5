"""Thermometers: place, first-order lag, bias, noise, resolution. They do not disturb what they measure."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from holdctl.settings import Place

_BLOCK = 4096


@dataclass(frozen=True)
class ProbeSpec:
    """What a probe is and where it sits."""

    place: Place
    lag_s: float = 10.0
    resolution_k: float = 0.01
    noise_k: float = 0.02
    """Standard deviation."""
    bias_k: float = 0.0


class Probe:
    """One thermometer; `advance` it with the true temperature, `read` it as often as you like."""

    def __init__(self, spec: ProbeSpec, true_c: float, rng: np.random.Generator) -> None:
        self.spec = spec
        self._lag_s, self._step_k = spec.lag_s, spec.resolution_k
        self._whole = (16.0 * spec.resolution_k).is_integer()
        """Whether every multiple of its step is a number of four decimals as it is."""
        self.true_c = true_c
        self.lagged_c = true_c
        self._noise = _normals(rng)
        self._dt_s = 0.0
        self._keep = 0.0

    def advance(self, true_c: float, dt_s: float) -> None:
        """Let `dt_s` pass while the truth goes in a straight line to `true_c`: exact for that line."""
        if self._lag_s == 0.0:
            self.lagged_c = self.true_c = true_c
            return
        if dt_s != self._dt_s:
            self._dt_s, self._keep = dt_s, math.exp(-dt_s / self._lag_s)
        behind = (true_c - self.true_c) / dt_s * self._lag_s
        self.lagged_c = true_c - behind + (self.lagged_c - self.true_c + behind) * self._keep
        self.true_c = true_c

    def read(self) -> float:
        """Return a new reading, °C, in whole steps of the resolution."""
        spec, step_k = self.spec, self._step_k
        value = self.lagged_c + spec.bias_k + spec.noise_k * next(self._noise)
        seen = round(value / step_k) * step_k
        return seen if self._whole else round(seen, 4)


def _normals(rng: np.random.Generator) -> Iterator[float]:
    """Yield standard normal numbers, drawn in blocks because single draws are slow."""
    while True:
        yield from rng.standard_normal(_BLOCK).tolist()
