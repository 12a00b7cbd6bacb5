"""A probe that no longer says how cooling paste is: one that repeats a value, or that left the paste.

*Still*: it repeats one value for minutes although it had been falling, or although the course of this paste says that
its place must move, by more than two of the probe's steps, beyond half of what is expected.
*Jumped*: it leaves its own trend by more than any paste does within seconds. Where it comes to rest tells why: at the
mean of the paste as it was, somebody stirred; at what is around the paste, or beyond everything the paste had, the
probe slipped out; elsewhere within it, it was moved. Until that is told its readings prove nothing. What this can't
see: a probe that slips into something as warm as the paste.
"""

from collections import deque
from dataclasses import dataclass, field
from enum import StrEnum

from holdctl.safety.frozen import Frozen

JUMP_K = 1.5
"""So far from its trend within `RECENT_MS` is a jump: no paste does that, and a probe that slips does more."""
CALM_K = 0.4
"""A reading that left its trend by more than this may be on its way out: it does not end a cooling."""
RECENT_MS, BEFORE_MS = 20_000, 60_000
"""The trend is that of the minute before."""
REST_MS = 120_000
"""A probe has come to rest so long after a jump."""
AROUND_K = 2.0
"""So near to what is around the paste it is taken to be there."""
NEAR_K, NEAR_SHARE = 1.0, 0.15
"""So near to the mean, in K and as a share of coldest to hottest, the paste was stirred."""
BACK_K = 3.0
TREND_MS, EVERY_MS = 600_000, 5_000
_LEAST_TREND_MS = 240_000


class Doubt(StrEnum):
    """What a probe's readings are worth."""

    NONE = "none"
    WAITING = "waiting"
    """It has jumped and is not at rest yet."""
    STIRRED = "stirred"
    """Told once: the paste is another one than the course knows."""
    MOVED = "moved"
    """Told once: the probe is elsewhere in the paste."""
    OUT = "out"
    STILL = "still"


@dataclass(frozen=True, slots=True)
class Paste:
    """The paste as it was estimated, °C, and what is around it."""

    coldest_c: float
    mean_c: float
    hottest_c: float
    around_c: tuple[float, ...]


@dataclass(slots=True)
class CoolingProbe:
    """One probe in the paste; times in ms of the hold."""

    doubt: Doubt = Doubt.NONE
    since_ms: int = 0
    """Since when its readings are in doubt."""
    calm: bool = True
    """Whether its last value is on its trend."""
    rests_c: float = 0.0
    """Where it came to rest after its last jump."""
    _frozen: Frozen = field(default_factory=Frozen)
    _kept: deque[tuple[int, float]] = field(default_factory=deque)
    _before: Paste | None = None
    _jumped_ms: int = 0
    _asked: bool = False
    _still_ms: int = 0
    """Since when its value is the same."""
    _last_c: float | None = None

    def trust(self) -> None:
        """A person says how the paste stands: everything begins anew. A probe that is out is in its place only once it
        reads something else than it does there: perhaps it has not been put back yet.
        """
        if self.doubt is Doubt.OUT:
            self._asked = True
        else:
            self._anew()

    def _anew(self) -> None:
        self._asked = False
        self._frozen.forget()
        self._kept.clear()
        self._before, self._last_c, self.doubt = None, None, Doubt.NONE

    def look(self, value_c: float, now_ms: int, paste: Paste | None, expected_k: float = 0.0) -> Doubt:
        """Take one value; `paste` is how it was before it, `expected_k` how far its place has moved by the course of
        this paste since the value last changed.
        """
        if value_c != self._last_c:
            self._still_ms, self._last_c = now_ms, value_c
        if self.doubt is Doubt.OUT:
            if self._asked and abs(value_c - self.rests_c) > BACK_K:
                self._anew()
            return self.doubt
        if self.doubt is Doubt.WAITING:
            return self._waiting(value_c, now_ms)
        off_k = self._off_k(value_c, now_ms)
        self.calm = off_k <= CALM_K
        if paste is not None and off_k > JUMP_K:
            self._before, self.since_ms, self.doubt = paste, now_ms - RECENT_MS, Doubt.WAITING
            self._jumped_ms = now_ms
            return self.doubt
        moved_k = max(abs(self._trend_k(now_ms)), abs(expected_k))
        if self._frozen.look(value_c, now_ms, moved_k, moved_k / 2):
            self.doubt, self.since_ms = Doubt.STILL, self._still_ms
            return self.doubt
        self.doubt = Doubt.NONE
        self._keep(value_c, now_ms)
        return self.doubt

    def still_s(self, now_ms: int) -> float:
        """Return for how long the value has been the same, s."""
        return 0.0 if self._last_c is None else (now_ms - self._still_ms) / 1000

    def returned(self, value_c: float, expected_c: float) -> bool:
        """Whether a probe that was out reads again what the paste should have."""
        back = self.doubt is Doubt.OUT and abs(value_c - expected_c) <= BACK_K
        if back:
            self._anew()
        return back

    def _keep(self, value_c: float, now_ms: int) -> None:
        if self._kept and now_ms - self._kept[-1][0] < EVERY_MS:
            return
        self._kept.append((now_ms, value_c))
        while now_ms - self._kept[0][0] > TREND_MS + BEFORE_MS:
            self._kept.popleft()

    def _slope(self, upto_ms: int) -> float:
        """Return how it changed over the ten minutes before a moment, K/ms; 0 where too little is known."""
        part = [(t, v) for t, v in self._kept if t <= upto_ms]
        if len(part) < 2 or part[-1][0] - part[0][0] < _LEAST_TREND_MS:
            return 0.0
        return (part[-1][1] - part[0][1]) / (part[-1][0] - part[0][0])

    def _trend_k(self, now_ms: int) -> float:
        """Return how far it would have gone since it stands still, K."""
        return self._slope(self._still_ms) * (now_ms - self._still_ms)

    def _off_k(self, value_c: float, now_ms: int) -> float:
        """Return by how much more than its trend allows the value has changed in the last seconds, K."""
        recent = [(t, v) for t, v in self._kept if now_ms - t <= RECENT_MS]
        before = [(t, v) for t, v in self._kept if RECENT_MS < now_ms - t <= RECENT_MS + BEFORE_MS]
        if not recent or len(before) < 2 or before[-1][0] - before[0][0] < BEFORE_MS / 2:
            return 0.0
        slope = (before[-1][1] - before[0][1]) / (before[-1][0] - before[0][0])
        trend_k = slope * (now_ms - recent[0][0])
        return abs(value_c - recent[0][1] - trend_k) - 2.0 * abs(trend_k)

    def _waiting(self, value_c: float, now_ms: int) -> Doubt:
        """Tell a jump by where it came to rest; what is told once is no doubt any more with the next value."""
        if now_ms - self._jumped_ms < REST_MS or self._before is None:
            return self.doubt
        shape, since = _shape(self._before, value_c), self.since_ms
        if shape is not Doubt.OUT:
            self._anew()
        self.doubt, self.since_ms, self.rests_c = shape if shape is Doubt.OUT else Doubt.NONE, since, value_c
        return shape


def _shape(before: Paste, rest_c: float) -> Doubt:
    outside = [a for a in before.around_c if abs(before.mean_c - a) > AROUND_K]
    near = max(NEAR_K, NEAR_SHARE * (before.hottest_c - before.coldest_c))
    if abs(rest_c - before.mean_c) <= near:
        return Doubt.STIRRED
    if any(abs(rest_c - a) <= AROUND_K for a in outside):
        return Doubt.OUT
    if not before.coldest_c - NEAR_K <= rest_c <= before.hottest_c + NEAR_K:
        return Doubt.OUT
    return Doubt.MOVED
