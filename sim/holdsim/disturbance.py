"""What the world does meanwhile: mains voltage and room temperature.

The sizes are common experience, no source; the mains stay within ±10 % (EN 50160, from memory). Everything
moves on a ten-second grid, so that a night costs little.
"""

import math

import numpy as np

_TICK_S = 10.0
_MAINS_LIMIT = 0.10


class World:
    """Mains and room; constant unless `disturbed`."""

    def __init__(self, rng: np.random.Generator, ambient_c: float, *, disturbed: bool) -> None:
        self.ambient_c = ambient_c
        self.power_factor = 1.0
        """Heater power against nominal: the square of the voltage's."""
        self.base_c = ambient_c
        """The room's mean temperature, °C."""
        self._rng = rng
        self._disturbed = disturbed
        self._since_s = 0.0
        self._step = 0.0
        self._mains = Wander(0.015, 1200.0)
        self._room = Wander(0.5, 3600.0)

    def advance(self, dt_s: float) -> None:
        """Let `dt_s` pass."""
        if not self._disturbed:
            return
        self._since_s += dt_s
        while self._since_s >= _TICK_S:
            self._since_s -= _TICK_S
            self._tick()

    def _tick(self) -> None:
        slow, room, chance, size = self._rng.standard_normal(4).tolist()
        # |N| < x has probability 2x/√(2π) for small x: a step every 40 minutes on average.
        if abs(chance) < _TICK_S / 2400.0 * math.sqrt(math.pi / 2.0):
            self._step = 0.02 * size
        voltage = self._mains.advance(slow) + self._step
        voltage = 1.0 + min(_MAINS_LIMIT, max(-_MAINS_LIMIT, voltage))
        self.power_factor = voltage * voltage
        self.ambient_c = self.base_c + self._room.advance(room)


class Wander:
    """A value that strays around zero with a standard deviation and a correlation time (Ornstein-
    Uhlenbeck).
    """

    def __init__(self, deviation: float, time_s: float) -> None:
        self._keep = math.exp(-_TICK_S / time_s)
        self._kick = deviation * math.sqrt(1.0 - self._keep**2)
        self.value = 0.0

    def advance(self, normal: float) -> float:
        """Return the value one tick later, given a standard normal number."""
        self.value = self._keep * self.value + self._kick * normal
        return self.value
