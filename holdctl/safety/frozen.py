"""A probe that repeats one value where it should move.

Two ways of knowing. A probe with noise flickers: its value goes up and down again within seconds whatever the paste
does. One that has flickered in every minute for half an hour and then stands still is frozen. A probe without noise may
rightly repeat one value for as long as its place keeps its temperature; it is frozen once the model says that the place
must have moved by more than two of its steps, beyond what a tenth of the power would explain, for some minutes.
"""

from collections import deque
from dataclasses import dataclass, field

FLICKER_MS = 3_000
"""Up and down again within this time is noise: no wall and no paste does that."""
_MINUTE_MS = 60_000
LEARN_MINUTES = 30
STILL_MS = 8 * _MINUTE_MS
"""A flickering probe that has stood still for so long is frozen."""
MOVED_MS = 5 * _MINUTE_MS
"""So long must the model say that a still probe should have moved."""
STEPS = 2.0
_LEAST_STEP_K = 0.0625
"""Smaller steps are not told from what a model does not know."""


@dataclass(slots=True)
class Frozen:
    """One probe; times in ms of the hold."""

    _value: float | None = None
    _since_ms: int = 0
    _before: tuple[float, int] | None = None
    """The value before this one, and when it ended."""
    _step_k: float | None = None
    _flickers: int = 0
    _minute_ms: int | None = None
    _minutes: deque[bool] = field(default_factory=lambda: deque(maxlen=LEARN_MINUTES))
    """Of each of the last minutes, whether the probe flickered in it."""
    _learnt: bool = False
    _moved_ms: int | None = None

    def still_ms(self, now_ms: int) -> int:
        """Return for how long the value has been the same."""
        return 0 if self._value is None else now_ms - self._since_ms

    @property
    def step_k(self) -> float:
        """The probe's smallest step seen, K, not less than 0.0625."""
        return max(_LEAST_STEP_K, self._step_k or 0.0)

    def forget(self) -> None:
        """Start anew, as after a gap; what was learnt of the noise stays."""
        self._value = self._before = self._moved_ms = self._minute_ms = None

    def look(self, value_c: float, now_ms: int, expected_k: float = 0.0, unsure_k: float = 0.0) -> bool:
        """Take one value; True while the probe counts as frozen.

        `expected_k` is by how much the model says its place has moved since it stands still, `unsure_k` what a tenth
        of the power would have made of it in that time.
        """
        if value_c != self._value:
            self._take(value_c, now_ms)
        if self._minute_ms is None or now_ms - self._minute_ms >= _MINUTE_MS:
            self._count(now_ms)
        if self._learnt and now_ms - self._since_ms >= STILL_MS:
            return True
        if not expected_k or abs(expected_k) <= STEPS * self.step_k + unsure_k:
            self._moved_ms = None
            return False
        if self._moved_ms is None:
            self._moved_ms = now_ms
        return now_ms - self._moved_ms >= MOVED_MS

    def _take(self, value_c: float, now_ms: int) -> None:
        if self._value is not None:
            step = abs(value_c - self._value)
            self._step_k = step if self._step_k is None else min(self._step_k, step)
            if self._before is not None and self._before[0] == value_c:
                self._flickers += now_ms - self._before[1] <= FLICKER_MS
            self._before = (self._value, now_ms)
        self._value, self._since_ms, self._moved_ms = value_c, now_ms, None

    def _count(self, now_ms: int) -> None:
        """Close a minute; what was learnt holds until a minute passes in which a moving probe did not flicker."""
        first, flickered = self._minute_ms is None, self._flickers > 0
        self._minute_ms, self._flickers = now_ms, 0
        if first:
            return
        if not flickered and self.still_ms(now_ms) >= _MINUTE_MS:
            return  # standing still says nothing of the noise: it is what is judged
        self._minutes.append(flickered)
        self._learnt = len(self._minutes) == LEARN_MINUTES and all(self._minutes)
