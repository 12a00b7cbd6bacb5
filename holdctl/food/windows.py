"""The rules' windows and allowances while the samples come in: the streaming form of `timeline`, for live screens.

`add` is told, in order of time, the worst case of each reading (`worst_case.low_c`, `high_c`), or None without a valid
one. A value counts from its own time to the next one's; a longer step than GAP_S, or no value, is a gap and counts in
full as below the limit. Where another rule is asked about the come-up (a fresh mix, or a chilled scald under a code
that says how food is reheated), its recorded time below the limit is no window; its gaps are: they may hide anything.

A property test holds it against `timeline`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

from holdctl.events import ProbeFault
from holdctl.food.code_fda import ADVISORY_HEATING
from holdctl.food.judge_heat import ZONE_F
from holdctl.food.leaving import Leaving
from holdctl.food.rules import (
    FROM_COLD,
    Cooling,
    CoolingStage,
    FoodCode,
    Reheating,
    TimeControl,
    TimeControlled,
    declared_time,
)
from holdctl.food.spells import COOLINGS, SpellKind
from holdctl.food.timeline import COLD_START_C
from holdctl.food.worst_case import GAP_S, low_c
from holdctl.settings import Probe

__all__ = ["GAP_S", "ZONE_C", "ZONE_F", "UnsafeWindow", "WindowTracker", "coldest_known_c"]

ZONE_C = ADVISORY_HEATING.zone_c or (5.0, 57.0)


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


class Fall(NamedTuple):
    """One stage of the code's cooling in a planned fall, s since the start of the hold."""

    stage: CoolingStage
    began_s: float
    """When the coldest paste may have passed the temperature that starts its clock."""
    reached_s: float | None
    """When the hottest paste was down; None: not yet."""


def coldest_known_c(temps: Sequence[float | ProbeFault], probes: Sequence[Probe]) -> float | None:
    """Return the lowest paste reading, offset added, less that probe's error, °C; None without a valid one."""
    return low_c(temps, probes, None)


class WindowTracker:
    """Follows one hold; the live screen asks it."""

    def __init__(
        self,
        code: FoodCode,
        begins: Literal["fresh", "chilled"] = "fresh",
        time_control: TimeControlled = False,
    ) -> None:
        self.code = code
        self._hot_c, self._asked = code.hot_holding_c, bool(code.of(Reheating))
        self.time_control = time_control
        """As declared beforehand; see `Timeline.left_cold`."""
        self.time_rule = declared_time(code, time_control)
        timed = self.time_rule if time_control in FROM_COLD else None
        self.time = Leaving(timed.cold_c, timed.never_above_c) if timed else None
        """Where time from cold holding on was declared to control it: whether it began cold, and when it left."""
        again = next((r.from_c for r in code.of(Reheating) if r.from_c is not None), None)
        self.warmed = None if again is None else Leaving(again)
        """When it left the temperature from which the code's time for reheating runs."""
        self.begins = begins
        """As told, or `chilled` where the first known paste was colder than any fresh mix."""
        self.spell: SpellKind | None = None
        """What is declared now: no window opens in it; set it before the sample from which on it counts."""
        self._closed: list[UnsafeWindow] = []
        self._open: UnsafeWindow | None = None
        self._last: tuple[float, float | None, float | None] | None = None
        self._last_spell: SpellKind | None = None
        self._seen = False
        self.reached = False
        """Whether the coldest paste was ever known at or above the limit."""
        self._above_zone = False
        self.first_s: float | None = None
        """Time of the first sample, s."""
        self.reached_s: float | None = None
        self.first_fall_s: float | None = None
        """Start of the first window after the limit was reached, s: where time control begins."""
        self.warmest_c: float | None = None
        """Highest that the coldest paste was ever known to be, °C."""
        self.come_up_s = 0.0
        """Recorded time below the limit that another rule is asked about, s."""
        self.zone_s = 0.0
        """Time known to lie in ZONE_C on the way up, s."""
        self.zone_unrecorded_s = 0.0
        """Gaps on the way up, s: not known whether in the zone."""
        self._stages = tuple(stage for rule in code.of(Cooling) for stage in rule.stages)
        self._fell_s: list[float | None] = [None] * len(self._stages)
        self.falls: tuple[Fall, ...] = ()
        """How each stage of the code's cooling stands while a planned fall goes on; empty without one."""
        self._cumulative = next((r for r in code.of(TimeControl) if r.cumulative), None)
        self._counted_s = 0.0
        self._cooling_s = 0.0
        """The same within the cooling or planned fall that goes on, s; it counts unless every stage is kept."""
        self._cooled: tuple[Fall, ...] = ()

    @property
    def windows(self) -> tuple[UnsafeWindow, ...]:
        """All windows in order, the open one (ending at the last sample) included; none under time from the cold."""
        if self.under_time:
            return ()
        return (*self._closed, self._open) if self._open else tuple(self._closed)

    @property
    def open(self) -> UnsafeWindow | None:
        """The window that has not ended yet, None when there is none."""
        return None if self.under_time else self._open

    @property
    def below_s(self) -> float:
        """Total of all windows, s."""
        return sum(window.duration_s for window in self.windows)

    @property
    def unrecorded_s(self) -> float:
        """Total of all gaps in windows, s."""
        return sum(window.unrecorded_s for window in self.windows)

    @property
    def cumulative_s(self) -> float:
        """Time, gaps with it, between the temperatures of a rule that adds all times up, s.

        Of a cooling or a planned fall only what did not keep the code's stages, or can't any more.
        """
        return self._counted_s + (self._cooling_s if self._too_slow() else 0.0)

    @property
    def under_time(self) -> bool:
        """Whether time alone controls it from cold holding on, as declared, and it was shown to begin there."""
        return self.time is not None and self.time.cold

    @property
    def coming_up(self) -> bool:
        """Whether the paste is on its way up and another rule than hot holding is asked about it."""
        return not self.reached and (self.begins == "fresh" or self._asked)

    @property
    def in_zone(self) -> bool:
        """Whether the time of a fresh come-up still counts."""
        return self.begins == "fresh" and not self._above_zone

    def add(self, t_s: float, low: float | None, high: float | None = None) -> None:
        """Take the coldest and hottest paste (°C, worst case, None without one) at `t_s`, in order of time."""
        if low is not None and not -100 < low < 500:
            low = None  # NaN included
        high = low if high is None or low is None or not -100 < high < 500 else high
        self.first_s = t_s if self.first_s is None else self.first_s
        if self._last is not None:
            self._step(*self._last, t_s)
        for one in (self.time, self.warmed):
            if one is not None:
                one.add(t_s, high)
        self._fall(t_s, low, high, self._gap_s(t_s))
        self._look(t_s, low, high)
        self._last, self._last_spell = (t_s, low, high), self.spell

    def _look(self, t_s: float, low: float | None, high: float | None) -> None:
        """Take what this sample shows by itself."""
        if low is None:
            if self.spell is None:
                self._begin(t_s, None)
            else:
                self._end()
            return
        if not self._seen and high is not None and high <= COLD_START_C:
            self.begins = "chilled"
        self._seen = True
        self.warmest_c = low if self.warmest_c is None else max(self.warmest_c, low)
        self._above_zone = self._above_zone or low >= ZONE_C[1]
        if low >= self._hot_c:
            self.reached_s = self.reached_s if self.reached else t_s
            self.reached = True
        if low >= self._hot_c or self.coming_up or self.spell is not None:
            self._end()
        else:
            self._begin(t_s, low)

    def _step(self, start_s: float, low: float | None, high: float | None, end_s: float) -> None:
        """Account for the interval between two samples, whose value is the first one's."""
        length = max(0.0, end_s - start_s)
        gap = low is None or length > GAP_S
        self._zone(length, low, high, gap)
        if self._cumulative is not None:
            self._add_up(self._cumulative, length, low, high, gap)
        if self._last_spell is not None:
            return
        if gap:
            self._begin(start_s, None)
        elif self.coming_up:
            self.come_up_s += length
        if self._open is not None:
            unrecorded = self._open.unrecorded_s + (length if gap else 0.0)
            self._open = replace(self._open, end_s=max(end_s, start_s), unrecorded_s=unrecorded)

    def _fall(self, t_s: float, low: float | None, high: float | None, gap_s: float | None) -> None:
        """Follow a fall that the programme plans: its clocks start when the coldest paste may have passed them."""
        for k, stage in enumerate(self._stages):
            if low is not None and low >= stage.clock_from_c:
                self._fell_s[k] = None
            elif self._fell_s[k] is None:
                self._fell_s[k] = t_s if gap_s is None else gap_s
        if self.spell not in COOLINGS:
            self._cooling_over()
            return
        before = {fall.stage: fall.reached_s for fall in self._cooled}
        self._cooled = tuple(
            Fall(
                stage, fell_s, before.get(stage) or (t_s if high is not None and high <= stage.to_c else None)
            )
            for stage, fell_s in zip(self._stages, self._fell_s, strict=True)
            if fell_s is not None
        )
        self.falls = self._cooled if self.spell is SpellKind.PLANNED else ()

    def _cooling_over(self) -> None:
        """Count the time of a cooling that has ended, unless every stage of the code was kept."""
        if not self._cooled and self._cooling_s == 0.0:
            return
        kept = all(fall.reached_s is not None for fall in self._cooled) and not self._too_slow()
        if self._stages and not (kept and len(self._cooled) == len(self._stages)):
            self._counted_s += self._cooling_s
        self._cooling_s, self._cooled, self.falls = 0.0, (), ()

    def _too_slow(self) -> bool:
        """Whether a stage of the cooling that goes on was not reached within its time."""
        if not self._cooled:
            return False
        now_s = self._last[0] if self._last else 0.0
        return any(
            (now_s if f.reached_s is None else f.reached_s) - f.began_s > f.stage.within_s
            for f in self._cooled
        )

    def _gap_s(self, t_s: float) -> float | None:
        """Return when the gap that ends here began, s; None without one."""
        if self._last is None:
            return None
        was_s, low, _ = self._last
        return was_s if low is None or t_s - was_s > GAP_S else None

    def _zone(self, length: float, low: float | None, high: float | None, gap: bool) -> None:
        if not self.in_zone:
            return
        if gap:
            self.zone_unrecorded_s += length
        elif low is not None and high is not None and low < ZONE_C[1] and high > ZONE_C[0]:
            self.zone_s += length

    def _add_up(
        self, rule: TimeControl, length: float, low: float | None, high: float | None, gap: bool
    ) -> None:
        hot = self._hot_c if rule.hot_c is None else rule.hot_c
        if gap or (low is not None and high is not None and low < hot and high > rule.cold_c):
            if self._last_spell in COOLINGS:
                self._cooling_s += length
            else:
                self._counted_s += length

    def _begin(self, t_s: float, lowest: float | None) -> None:
        if self._open is None:
            code = self.code
            self._open = UnsafeWindow(t_s, t_s, lowest, 0.0, code.hot_holding_c, code.rule, code.source)
            if self.reached and self.first_fall_s is None:
                self.first_fall_s = t_s
        elif lowest is not None and (self._open.lowest_c is None or lowest < self._open.lowest_c):
            self._open = replace(self._open, lowest_c=lowest)

    def _end(self) -> None:
        if self._open is not None:
            self._closed.append(self._open)
            self._open = None
