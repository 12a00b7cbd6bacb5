"""Mains and room of the benchmark, drawn in advance: what control does cannot change them, and the limit knows them."""

import numpy as np

from holdsim.bench.linear import Array
from holdsim.disturbance import Wander

TICK_S = 10.0
LENGTH_S = 60 * 3600
STEP_RATE = 1.0 / 3600.0
STEP_SD = 0.03
WANDER_SD, WANDER_S = 0.01, 1200.0
ROOM_SD, ROOM_S, ROOM_LIMIT_K = 0.5, 3600.0, 1.0
POWER_LIMIT = 0.15


class World:
    """The heater's power against its rating, and the room, on a grid of ten seconds."""

    def __init__(self, rng: np.random.Generator, ambient_c: float, *, disturbed: bool) -> None:
        self.base_c = ambient_c
        self.mains = 1.0
        """A factor on top, for a mains fault set by hand."""
        ticks = round(LENGTH_S / TICK_S)
        self._power = _mains(rng, ticks) if disturbed else np.ones(ticks)
        self._room = ambient_c + (_room(rng, ticks) if disturbed else np.zeros(ticks))
        self._by_tick = list(zip(self._power.tolist(), self._room.tolist(), strict=True))
        self._time_s = 0.0
        self._look()

    def advance(self, dt_s: float) -> None:
        """Let `dt_s` pass."""
        self._time_s += dt_s
        self._look()

    def factors(self, times_s: Array) -> Array:
        """Return the power factors at these times."""
        return np.asarray(self._power[_ticks(times_s)] * self.mains)

    def rooms(self, times_s: Array) -> Array:
        """Return the room's temperatures at these times, °C."""
        return np.asarray(self._room[_ticks(times_s)])

    def _look(self) -> None:
        power, self.ambient_c = self._by_tick[min(int(self._time_s / TICK_S), len(self._by_tick) - 1)]
        self.power_factor = power * self.mains


def _ticks(times_s: Array) -> np.ndarray:
    return np.clip(times_s / TICK_S, 0, LENGTH_S / TICK_S - 1).astype(int)


def _mains(rng: np.random.Generator, ticks: int) -> Array:
    """Steps to a new level, on average one an hour, and a wander of twenty minutes."""
    wander = Wander(WANDER_SD, WANDER_S)
    slow = np.array([wander.advance(x) for x in rng.standard_normal(ticks).tolist()])
    steps = rng.random(ticks) < STEP_RATE * TICK_S
    levels = np.where(steps, STEP_SD * rng.standard_normal(ticks), 0.0)
    latest = np.maximum.accumulate(np.where(steps, np.arange(ticks), 0))
    return np.asarray(1.0 + np.clip(levels[latest] + slow, -POWER_LIMIT, POWER_LIMIT))


def _room(rng: np.random.Generator, ticks: int) -> Array:
    wander = Wander(ROOM_SD, ROOM_S)
    drift = np.array([wander.advance(x) for x in rng.standard_normal(ticks).tolist()])
    return np.asarray(np.clip(drift, -ROOM_LIMIT_K, ROOM_LIMIT_K))
