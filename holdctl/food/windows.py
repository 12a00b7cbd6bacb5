"""Unsafe windows: intervals in which the coldest known paste was below a code's hot-holding limit.

Theory: `add` is told, in order of time, the coldest paste that is known: the lowest reading of the
paste's probes less that probe's error, or None when there is no valid reading. A value counts from its
own time to the next one's. An interval without a valid value, or longer than GAP_S between two, is a gap;
nobody knows what the paste did in it, so all of it counts as below the limit (the worst case) and the
window says how much of it was not recorded.

The limits' rules: see `holdctl.food.codes`. The time between 5 and 57 °C before the limit was first reached
is given as a duration, without a verdict (danger zone of FDA Food Code 2022 3-501.16: 5 and 57 °C).
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from holdctl.events import ProbeFault
from holdctl.food.codes import FoodCode
from holdctl.settings import PASTE_PLACES, Probe

GAP_S = 10.0
"""Longest step between two samples that still counts as recorded, s; this project's choice."""
ZONE_C = (5.0, 57.0)
ZONE_F = (41.0, 135.0)
"""The same as FDA Food Code 2022 3-501.16 writes it in °F."""


@dataclass(frozen=True, slots=True)
class UnsafeWindow:
    """One interval below the limit, times in s since the start of the hold."""

    start_s: float
    end_s: float
    lowest_c: float | None
    """Lowest known paste in it, °C; None when nothing of it was recorded."""
    unrecorded_s: float
    """How much of it has no valid reading and was counted as below the limit."""
    limit_c: float
    rule: str
    source: str

    @property
    def duration_s(self) -> float:
        """Length, s."""
        return self.end_s - self.start_s


def coldest_known_c(temps: Sequence[float | ProbeFault], probes: Sequence[Probe]) -> float | None:
    """Return the lowest paste reading, offset added, less that probe's error, °C; None without a valid one.

    `temps` as the node reports them: one entry per channel, channels numbered from 1. A probe at fault is not
    known; while another one in the paste is valid, that one counts.
    """
    known = []
    for probe in probes:
        value = temps[probe.channel - 1] if 0 < probe.channel <= len(temps) else None
        if probe.place in PASTE_PLACES and isinstance(value, float | int):
            known.append(value + probe.offset_k - probe.error_k)
    return min(known, default=None)


class WindowTracker:
    """Finds unsafe windows while the samples come in; the live screen and the review share it."""

    def __init__(self, code: FoodCode) -> None:
        self._code = code
        self._closed: list[UnsafeWindow] = []
        self._open: UnsafeWindow | None = None
        self._last: tuple[float, float | None] | None = None
        self._reached = False
        self.zone_s = 0.0
        """Time known to lie in ZONE_C before the limit was first reached, s."""
        self.zone_unrecorded_s = 0.0
        """Gaps before the limit was first reached, s: not known whether in the zone."""

    @property
    def windows(self) -> tuple[UnsafeWindow, ...]:
        """All windows in order, the open one (ending at the last sample) included."""
        return (*self._closed, self._open) if self._open else tuple(self._closed)

    @property
    def open(self) -> UnsafeWindow | None:
        """The window that has not ended yet, None when the paste is at or above the limit."""
        return self._open

    @property
    def reached(self) -> bool:
        """Whether the limit has ever been reached."""
        return self._reached

    @property
    def below_s(self) -> float:
        """Total of all windows, s."""
        return sum(window.duration_s for window in self.windows)

    @property
    def unrecorded_s(self) -> float:
        """Total of all gaps, s."""
        return sum(window.unrecorded_s for window in self.windows)

    def add(self, t_s: float, coldest_c: float | None) -> None:
        """Take the coldest known paste (°C, None without one) at `t_s`; samples come in order of time."""
        if coldest_c is not None and not -100 < coldest_c < 500:
            coldest_c = None  # NaN included
        if self._last is not None:
            self._step(*self._last, t_s)
        self._last = (t_s, coldest_c)
        if coldest_c is None or coldest_c < self._code.hot_holding_c:
            self._begin(t_s, coldest_c)
        else:
            self._reached = True
            self._end()

    def _step(self, start_s: float, coldest_c: float | None, end_s: float) -> None:
        """Account for the interval between two samples, whose value is the first one's."""
        length = max(0.0, end_s - start_s)
        gap = coldest_c is None or length > GAP_S
        if not self._reached:
            if gap:
                self.zone_unrecorded_s += length
            elif coldest_c is not None and ZONE_C[0] < coldest_c < ZONE_C[1]:
                self.zone_s += length
        if gap:
            self._begin(start_s, None)
        if self._open is not None:
            unrecorded = self._open.unrecorded_s + (length if gap else 0.0)
            self._open = replace(self._open, end_s=max(end_s, start_s), unrecorded_s=unrecorded)

    def _begin(self, t_s: float, coldest_c: float | None) -> None:
        if self._open is None:
            code = self._code
            self._open = UnsafeWindow(t_s, t_s, coldest_c, 0.0, code.hot_holding_c, code.rule, code.source)
        elif coldest_c is not None and (self._open.lowest_c is None or coldest_c < self._open.lowest_c):
            self._open = replace(self._open, lowest_c=coldest_c)

    def _end(self) -> None:
        if self._open is not None:
            self._closed.append(self._open)
            self._open = None
