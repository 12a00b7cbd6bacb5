"""What a sudden change of a reading means, told by its shape.

From the last moment at which reading and model agreed, a copy of the filter runs on without readings: the *shadow* says
what each place would have if nothing had happened. Against it the reading shows one of four things:

- *stirred*: it comes to rest at the mean of the paste;
- *addition*: it comes to rest outside everything the paste had, but no further than a small mass stirred in explains;
- *moved*: it comes to rest elsewhere within what the paste has from part to part;
- *out*: it goes beyond all of that, as only a probe outside the paste does.

The first three can be told once the reading rests, the last as soon as it is beyond. Thresholds come from the paste as
it is estimated and from the share that may be stirred in; none from a preset.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from holdctl.control.kalman import KalmanFilter
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

JUMP_K, JUMP_SIGMA = 1.0, 6.0
"""A reading this far from its prediction, in K and in standard deviations, twice running, is a jump."""
REST_S = 60.0
"""A probe that has been put elsewhere, or a paste that has been stirred, has come to rest after this time."""
WATCH_S = 240.0
"""So long after a jump a probe may still be found outside the paste."""
ADDED_SHARE = 0.15
"""The largest mass that is taken for an addition, as a share of the paste; it is between 0 and 100 °C."""
_COLD_C, _HOT_C, _CLEAR_K = 0.0, 100.0, 1.0
_NEAR_K, _NEAR_SHARE = 1.0, 0.15
WALL_OFF_K, WALL_STEP_S = 20.0, 5.0
"""No wall is hotter than the model by so much so soon; later it may be, where it heats otherwise than told."""
BACK_K, BACK_S = 3.0, 10
"""A probe is back once it agrees with the model to this, for so many seconds."""


class Shape(StrEnum):
    """What a jump was."""

    STIRRED = "stirred"
    ADDITION = "addition"
    MOVED = "moved"
    OUT = "out"


class Shadow:
    """A copy of the filter's state that runs on with the same heat and without readings."""

    def __init__(self, source: KalmanFilter) -> None:
        self._source, self._model = source, source.model
        self.x = source.x.copy()

    @property
    def valid(self) -> bool:
        """Whether the filter still has the model that this copy was made with."""
        return self._source.model is self._model

    @property
    def modes(self) -> "Floats":
        """The network's modes, as excess over the room."""
        return self.x[: self._model.modes]

    def advance(self, load: float | None = None) -> None:
        """Pass one tick with the heat that the filter has just been given; `load` replaces its disturbance."""
        if load is not None:
            self.x[-1] = load
        self.x = self._source.advanced(self.x)

    def probe_c(self, index: int) -> float:
        """Return what a probe would read, °C."""
        return self._source.probe_c(index, self.x)


@dataclass(frozen=True, slots=True)
class Paste:
    """The paste as the shadow has it, °C: coldest, hottest, mean, and how sure the mean is, K."""

    coldest_c: float
    hottest_c: float
    mean_c: float
    mean_sd_k: float


def credible(paste: Paste, own_c: float) -> tuple[float, float]:
    """Return the lowest and highest reading, °C, that stir and addition explain for a probe that had `own_c`."""
    low = min(paste.coldest_c, own_c) - ADDED_SHARE * (paste.mean_c - _COLD_C) - _CLEAR_K
    high = max(paste.hottest_c, own_c) + ADDED_SHARE * (_HOT_C - paste.mean_c) + _CLEAR_K
    return low, high


def told_by(paste: Paste, rest_c: float) -> Shape:
    """Return what a reading in the paste that has come to rest at `rest_c` means."""
    near = max(_NEAR_K, 2.0 * paste.mean_sd_k, _NEAR_SHARE * (paste.hottest_c - paste.coldest_c))
    if abs(rest_c - paste.mean_c) <= near:
        return Shape.STIRRED
    if rest_c < paste.coldest_c - _CLEAR_K or rest_c > paste.hottest_c + _CLEAR_K:
        return Shape.ADDITION
    return Shape.MOVED


@dataclass(slots=True)
class Jump:
    """One jump of one probe, from its first doubtful reading on."""

    shadow: Shadow
    spread: "Floats"
    """The filter's covariance at its begin."""
    from_c: float
    """What the probe was thought to read at its begin, °C."""
    passed_s: float = 0.0
    sure: bool = False
    """A second reading has confirmed it."""
    told: bool = False
    """Its shape has been told; what is left is to see whether the probe leaves the paste."""


class Jumps:
    """The jumps of all probes of one filter. It puts the filter back where a jump was not what it first seemed."""

    def __init__(self, main: int) -> None:
        """`main` is the index of the paste's own probe: its jumps alone are taken for stirs at first."""
        self._main = main
        self._running: dict[int, Jump] = {}
        self._back: dict[int, int] = {}
        """Probes outside the paste, with the seconds for which they have agreed with the model again."""
        self.out: tuple[int, ...] = ()
        """Indices of the probes that are outside the paste: their readings must not be used."""
        self.confirmed = False
        """Whether the last readings have made a jump of the paste's own probe sure."""

    @property
    def watching(self) -> bool:
        """Whether a jump of the paste's own probe is being looked at."""
        return self._main in self._running

    def moved_k(self, value_c: float) -> float:
        """Return by how much a running jump has moved the paste's own probe until now, K; 0 without one."""
        jump = self._running.get(self._main)
        return 0.0 if jump is None else abs(value_c - jump.shadow.probe_c(self._main))

    def trust(self) -> None:
        """A person says that every probe is in its place."""
        self._back.clear()
        self._running.clear()
        self.out = ()

    def forget(self) -> None:
        """After a gap no jump can be told any more; a probe that was outside still is."""
        self._running.clear()

    def advance(self) -> None:
        """Let one tick pass, after the filter's own."""
        for jump in self._running.values():
            jump.shadow.advance()

    def look(
        self, source: KalmanFilter, readings: "list[float | None]", seconds: float, paste_of: "View"
    ) -> list[tuple[int, Shape]]:
        """Take the readings of one moment, before the filter does; return what has become clear, by probe."""
        found: list[tuple[int, Shape]] = []
        self.confirmed = False
        for index, value in enumerate(readings):
            if value is None:
                continue
            if index in self._back:
                self._returning(source, index, value, seconds)
                continue
            shape = self._one(source, index, value, seconds, paste_of)
            if shape is not None:
                found.append((index, shape))
        return found

    def _returning(self, source: KalmanFilter, index: int, value: float, seconds: float) -> None:
        wrong, _ = source.innovation(index, value)
        self._back[index] = self._back[index] + round(seconds) if abs(wrong) <= BACK_K else 0
        if self._back[index] >= BACK_S:
            del self._back[index]
            self.out = tuple(self._back)

    def _one(
        self, source: KalmanFilter, index: int, value: float, seconds: float, paste_of: "View"
    ) -> Shape | None:
        jump = self._running.get(index)
        if jump is None or not jump.shadow.valid:
            self._running.pop(index, None)
            wrong, spread = source.innovation(index, value)
            if abs(wrong) > max(JUMP_K, JUMP_SIGMA * spread):
                self._running[index] = Jump(Shadow(source), source.p.copy(), source.probe_c(index))
            return None
        jump.passed_s += seconds
        own_c = jump.shadow.probe_c(index)
        if not jump.sure:
            jump.sure = abs(value - own_c) > JUMP_K
            if not jump.sure:
                del self._running[index]
                return None
            self.confirmed = self.confirmed or index == self._main
        paste = paste_of(jump.shadow.modes)
        low_c, high_c = credible(paste, own_c)
        # What is as it was has gone nowhere, however fast the shadow thinks that its place moves: hot paste in a cold
        # vessel moves walls by tens of kelvin while nothing of the warmer has been learnt.
        low_c, high_c = min(low_c, jump.from_c - _CLEAR_K), max(high_c, jump.from_c + _CLEAR_K)
        if source.sensors[index].place is Place.WALL:
            high_c = own_c + (WALL_OFF_K if jump.passed_s <= WALL_STEP_S else math.inf)
        if not low_c <= value <= high_c:
            source.restore(jump.shadow.x, jump.spread, jump.passed_s)
            self._running.clear()
            self._back[index] = 0
            self.out = tuple(self._back)
            return Shape.OUT
        if jump.passed_s >= WATCH_S:
            del self._running[index]
        if jump.told or jump.passed_s < REST_S or index != self._main:
            return None
        jump.told = True
        shape = told_by(paste, value)
        if shape is Shape.MOVED:
            source.restore(jump.shadow.x, jump.spread, jump.passed_s, abs(value - own_c))
        return shape


View = Callable[["Floats"], Paste]
"""Looks at the paste of a state's modes."""
