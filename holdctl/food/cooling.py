"""Whether a cooling kept the stages of a food code: the same rule live and over a whole record.

Theory: a stage says "from `clock_from_c` to `to_c` within `within_s`". Its clock starts when the food first falls
through `clock_from_c`, not when heating stops; the Food Code's second stage is a total: its clock is the first one's.
Everything counts against the baker: a clock starts at the last moment at which the *coldest* paste, less the probe's
error, was known to be at or above its temperature, and a stage is reached at the first moment at which the *hottest*
paste, with the error added, is known to be at or below the other one. So time without a reading always counts as used
up, and a longer gap never gives a better verdict. A clock that has started does not start anew when the paste gets
warmer again. The cooling of a code whose text has no number has no stage.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Protocol


class Stage(Protocol):
    """One stage, as the codes' data have it."""

    @property
    def clock_from_c(self) -> float:
        """The clock starts when the food falls through this, °C."""

    @property
    def to_c(self) -> float:
        """What it must reach, °C."""

    @property
    def within_s(self) -> float:
        """In what time, s."""


class Standing(StrEnum):
    """How a stage stands."""

    NOT_BEGUN = "not begun"
    RUNNING = "running"
    MET = "met"
    MISSED = "missed"
    NOT_SHOWN = "not shown"
    """Reached, or still running, but nobody saw the food pass the temperature at which its clock starts."""


@dataclass(frozen=True, slots=True)
class StageVerdict:
    """One stage at one moment; times in s on the clock of the samples."""

    stage: Stage
    standing: Standing
    began_s: float | None
    """When its clock started; None: not yet."""
    reached_s: float | None
    """When the hottest paste was down; None: not yet."""
    now_s: float

    @property
    def due_s(self) -> float | None:
        """When it must be reached; None while its clock has not started."""
        return None if self.began_s is None else self.began_s + self.stage.within_s

    @property
    def took_s(self) -> float | None:
        """How long it took, or has taken by now."""
        if self.began_s is None:
            return None
        return (self.now_s if self.reached_s is None else self.reached_s) - self.began_s

    @property
    def left_s(self) -> float | None:
        """What is left of its time (below 0: over it); None once reached, or before it begins."""
        due = self.due_s
        return None if due is None or self.reached_s is not None else due - self.now_s

    @property
    def ended(self) -> bool:
        """Whether the hottest paste is down."""
        return self.reached_s is not None


@dataclass(slots=True)
class _Clock:
    stage: Stage
    last_above_s: float | None = None
    began_s: float | None = None
    seen: bool = False
    """Whether the food was seen above the temperature before it fell through it."""
    reached_s: float | None = None

    def add(self, t_s: float, coldest_c: float, hottest_c: float) -> None:
        if coldest_c >= self.stage.clock_from_c:
            if self.began_s is None:
                self.last_above_s = t_s
        elif self.began_s is None:
            self.seen = self.last_above_s is not None
            self.began_s = t_s if self.last_above_s is None else self.last_above_s
        if self.began_s is not None and self.reached_s is None and hottest_c <= self.stage.to_c:
            self.reached_s = t_s

    def verdict(self, now_s: float) -> StageVerdict:
        return StageVerdict(self.stage, self._standing(now_s), self.began_s, self.reached_s, now_s)

    def _standing(self, now_s: float) -> Standing:
        if self.began_s is None:
            return Standing.NOT_BEGUN
        end_s = now_s if self.reached_s is None else self.reached_s
        if end_s - self.began_s > self.stage.within_s:
            return Standing.MISSED
        if not self.seen:
            return Standing.NOT_SHOWN
        return Standing.RUNNING if self.reached_s is None else Standing.MET


@dataclass(slots=True)
class CoolingWatch:
    """Follows one cooling while the samples come in."""

    stages: Sequence[Stage]
    since_s: float | None = None
    """A moment before the first sample at which the paste was last known to be at or above every stage's start."""
    now_s: float = 0.0
    _clocks: list[_Clock] = field(init=False)

    def __post_init__(self) -> None:
        self._clocks = [_Clock(stage, self.since_s) for stage in self.stages]

    def add(self, t_s: float, coldest_c: float | None, hottest_c: float | None) -> None:
        """Take coldest (error taken off) and hottest paste (error added), °C; None: not known. In order of time."""
        self.now_s = max(self.now_s, t_s)
        cold = coldest_c if coldest_c is not None and -100 < coldest_c < 500 else None
        hot = hottest_c if hottest_c is not None and -100 < hottest_c < 500 else None
        if cold is None or hot is None:
            return  # what nobody knows brings nothing nearer; its time is used up
        for clock in self._clocks:
            clock.add(t_s, cold, hot)

    def doubt(self, since_s: float) -> None:
        """Take back what was seen after a moment: the probe has not said how the paste is since then."""
        for clock in self._clocks:
            if clock.reached_s is not None and clock.reached_s > since_s:
                clock.reached_s = None
            if clock.began_s is None and clock.last_above_s is not None:
                clock.last_above_s = min(clock.last_above_s, since_s)

    @property
    def verdicts(self) -> tuple[StageVerdict, ...]:
        """How each stage stands now."""
        return tuple(clock.verdict(self.now_s) for clock in self._clocks)

    @property
    def began_s(self) -> float | None:
        """When the first clock started."""
        began = [clock.began_s for clock in self._clocks if clock.began_s is not None]
        return min(began, default=None)

    @property
    def done(self) -> bool:
        """Whether every stage has been reached, in time or not; False where there is no stage."""
        return bool(self._clocks) and all(clock.reached_s is not None for clock in self._clocks)


def judge(
    stages: Sequence[Stage],
    samples: Iterable[tuple[float, float | None, float | None]],
    end_s: float | None = None,
) -> tuple[StageVerdict, ...]:
    """Return the verdicts over a whole curve of (t s, coldest °C, hottest °C); `end_s`: the cooling ended only then."""
    watch = CoolingWatch(stages)
    for t_s, coldest_c, hottest_c in samples:
        watch.add(t_s, coldest_c, hottest_c)
    if end_s is not None:
        watch.now_s = max(watch.now_s, end_s)
    return watch.verdicts
