"""Whether a cooling will ever be cold, as it goes: by its forecast, or because it no longer falls.

A pot that nobody stirs in an ice bath under warm air keeps a warm top: the code's time passes, and nothing else would
say that waiting does not help.
"""

from collections import deque
from dataclasses import dataclass, field

NEVER = "cooling-never"
FORECASTS = 3
"""So many forecasts in a row must say that it never comes, and so many the other way before that is taken back."""
FAR_S = 12 * 3600.0
"""What is foretold further ahead is no help to anybody."""
STALLED_S, STALLED_K = 1800.0, 0.2
"""It no longer falls where it fell by less than this in this time,"""
ABOVE_K = 0.3
"""and is still so far above."""


@dataclass(slots=True)
class Never:
    """Fed with each forecast."""

    end_c: float
    """What all paste has to come to, °C."""
    _bad: int = 0
    _good: int = 0
    _said: str = ""
    _highest_c: float = -273.15
    _kept: deque[tuple[float, float]] = field(default_factory=deque)

    def anew(self) -> None:
        """The paste stands elsewhere, or was stirred: what was seen before says nothing of now."""
        self._bad = self._good = 0
        self._said = ""
        self._kept.clear()

    def look(self, t_s: float, hottest_c: float, foretold: bool | None) -> str:
        """Return why it will not be cold, in words; empty where it will, or nobody can tell.

        `foretold`: whether the forecast reaches the end; None where the form of the paste is not known.
        """
        self._highest_c = max(self._highest_c, hottest_c)
        self._kept.append((t_s, hottest_c))
        while t_s - self._kept[0][0] > STALLED_S:
            self._kept.popleft()
        stalled = self._stalled(t_s, hottest_c)
        self._bad = self._bad + 1 if foretold is False else 0
        self._good = 0 if stalled or foretold is False else self._good + 1
        if hottest_c <= self.end_c + ABOVE_K or self._good >= FORECASTS:
            self._said = ""
        elif stalled:
            self._said = (
                f"the paste has stopped cooling at about {hottest_c:.1f} °C: {self.end_c:g} °C will not come"
            )
        elif self._bad >= FORECASTS:
            hours = FAR_S / 3600
            self._said = (
                f"as it cools now the hottest paste does not come to {self.end_c:g} °C within {hours:g} h"
            )
        return self._said

    def _stalled(self, t_s: float, hottest_c: float) -> bool:
        """Whether it has fallen before and falls no more: a thick core that waits for its edge has not yet."""
        first_s, first_c = self._kept[0]
        long, begun = t_s - first_s >= 0.9 * STALLED_S, first_c < self._highest_c - STALLED_K
        return long and begun and first_c - hottest_c < STALLED_K
