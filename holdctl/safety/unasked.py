"""Heat that nobody has ordered, seen without a model: no lease for minutes, and a place that goes on getting hotter.

What a model makes of heat needs a model, and a relay that is shut from the begin teaches it wrong. But where no heat
has been ordered nothing in a vessel can climb beyond its hottest place. A stir, a spoon of hot water or a probe that is
moved is one step and no climb; a cold wall warms up to the paste and no further; what a heater has stored comes within
its first minutes. What goes on climbing above the programme's ceiling then is a relay that has welded shut, another
heater, or a vessel that was hotter than its paste: somebody has to look. The figures are this project's, no source.
"""

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

QUIET_MS = 180_000
"""So long after the last lease the heat that it has stored may still come."""
SCALES = ((30_000, 6), (150_000, 4))
"""How far looks are apart, ms, and how many steps running have to be upward: for a wall, and for deep paste."""
STEP_K, CLIMB_K = 0.1, 1.5
"""Each by so much at least, and all together by so much."""
OVER_K = 1.0
"""Only what is above the ceiling by so much, and a wall that is hotter than the paste by so much, counts."""
BACK_K = 2.0
"""What has fallen by so much from its peak climbs no more."""


@dataclass(frozen=True, slots=True)
class Climb:
    """A place that climbs without orders."""

    channel: int
    from_c: float
    to_c: float
    lasted_s: float
    """How long it took, s."""
    quiet_s: float
    """How long no heat had been ordered, s."""


@dataclass(slots=True)
class _Scale:
    """Readings that lie so far apart."""

    every_ms: int
    steps: int
    _at_ms: int = 0
    _marks: dict[int, deque[float]] = field(default_factory=dict)

    def forget(self) -> None:
        self._marks.clear()

    def look(self, temps_c: Mapping[int, float], now_ms: int) -> Iterator[tuple[int, float, float]]:
        """Take one set of temperatures; yield what has climbed: channel, from and to, °C."""
        if self._marks and now_ms - self._at_ms < self.every_ms:
            return
        self._at_ms = now_ms
        for channel, value in temps_c.items():
            marks = self._marks.setdefault(channel, deque(maxlen=self.steps + 1))
            marks.append(value)
            upward = len(marks) > self.steps and all(b - a >= STEP_K for a, b in pairwise(marks))
            if upward and marks[-1] - marks[0] >= CLIMB_K:
                yield channel, marks[0], marks[-1]


@dataclass(slots=True)
class Unasked:
    """Follows the probes of one warmer; times in ms of the hold."""

    _since_ms: int | None = None
    """The last lease, or the first look."""
    _leased: bool = False
    _scales: tuple[_Scale, ...] = field(default_factory=lambda: tuple(_Scale(*one) for one in SCALES))
    _told: Climb | None = None
    _peak_c: float = 0.0

    def resting(self, now_ms: int) -> bool:
        """Whether heat has been ordered so lately that a look could show nothing."""
        lately = self._since_ms is not None and now_ms - self._since_ms < QUIET_MS
        return lately and self._leased and self._told is None

    def ordered(self, now_ms: int) -> None:
        """Note a lease."""
        self._since_ms, self._leased = now_ms, True
        for scale in self._scales:
            scale.forget()

    def forget(self) -> None:
        """Start anew after a gap."""
        self._told = None
        for scale in self._scales:
            scale.forget()

    def look(self, temps_c: Mapping[int, float], above_c: Mapping[int, float], now_ms: int) -> Climb | None:
        """Take one set of temperatures, °C, and above which each of them counts; return what climbs."""
        if self._since_ms is None:
            self._since_ms = now_ms
        if self._told is not None:
            value = temps_c.get(self._told.channel, self._told.to_c)
            self._peak_c = max(self._peak_c, value)
            self._told = self._told if value > self._peak_c - BACK_K else None
        elif not self._leased or now_ms - self._since_ms >= QUIET_MS:
            found = [c for c in self._climbs(temps_c, now_ms) if c.to_c > above_c.get(c.channel, c.to_c)]
            self._told = found[0] if found else None
            self._peak_c = found[0].to_c if found else 0.0
        return self._told

    def _climbs(self, temps_c: Mapping[int, float], now_ms: int) -> Iterator[Climb]:
        quiet_s = (now_ms - (self._since_ms or 0)) / 1000
        for scale in self._scales:
            for channel, from_c, to_c in scale.look(temps_c, now_ms):
                yield Climb(channel, from_c, to_c, scale.every_ms * scale.steps / 1000, quiet_s)
