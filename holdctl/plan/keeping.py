"""Whether a foretold night keeps the times that the food code allows. It judges a model's curve, never the food."""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.food.code_fda import ADVISORY_HEATING
from holdctl.food.codes import code_of
from holdctl.food.rules import FoodCode, OnceBelow, Reheating, TimeControl
from holdctl.food.say import lasting
from holdctl.food.windows import GAP_S, ZONE_C, WindowTracker
from holdctl.settings import Settings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Kept:
    """What one rule makes of a foretold curve."""

    kept: bool
    used_s: float
    limit_s: float
    what: str
    """What takes this time."""
    rule: str
    source: str
    advisory: bool
    """This project's own advice, no code's rule."""

    @property
    def words(self) -> str:
        """The verdict in one sentence."""
        by = "this project's advice" if self.advisory else self.source
        how = "within" if self.kept else "over"
        long = lasting(self.used_s) if self.used_s >= 1.0 else "no time"
        return f"{self.what} for {long}: {how} the {lasting(self.limit_s)} of {by}."


FRESH_S = 600.0
"""Paste that touches a cold vessel within this after the start has not been hot yet: its come-up begins there."""


def judge(settings: Settings, t_s: "Floats", coldest_c: "Floats", waited_s: float = 0.0) -> list[Kept]:
    """Return what each rule with a time makes of the coldest paste over time, the worst first.

    `waited_s` is time between mixing and the first moment; all of it counts as under the code's limit. Raises
    ConfigError without a code.
    """
    import numpy as np

    code = code_of(settings)
    tracker = WindowTracker(code)
    times = np.arange(0.0, float(t_s[-1]) + GAP_S, GAP_S)
    known = np.interp(times, t_s, coldest_c)
    low = np.flatnonzero((known < code.hot_holding_c) & (times <= FRESH_S))
    if len(low):
        known[: low[0]] = known[low[0]]
    if waited_s > 0.0:
        before = np.arange(0.0, waited_s, GAP_S)
        under_c = min(float(known[0]), code.hot_holding_c - 0.5, ZONE_C[1] - 0.5)
        times = np.concatenate([before, waited_s + times])
        known = np.concatenate([np.full(len(before), under_c), known])
    for at_s, low_c in zip(times.tolist(), known.tolist(), strict=True):
        tracker.add(at_s, low_c)
    found = [*_come_up(tracker, code), *_below(tracker, code)]
    return sorted(found, key=lambda one: (one.kept, one.limit_s - one.used_s))


def _come_up(tracker: WindowTracker, code: FoodCode) -> list[Kept]:
    """Return the time on the way up."""
    reheating = code.of(Reheating)
    if tracker.begins == "chilled" and reheating:
        rule = reheating[0]
        if rule.within_s is None:
            return []
        used = tracker.reached_s if tracker.reached_s is not None else float("inf")
        what = f"The coldest part needs {code.hot_holding_c:g} °C"
        return [Kept(used <= rule.within_s, used, rule.within_s, what, rule.text, rule.source, False)]
    advice = ADVISORY_HEATING
    used, limit = tracker.zone_s, advice.within_s or 0.0
    what = "The coldest part is on its way up between 5 °C and 57 °C"
    return [Kept(used <= limit, used, limit, what, advice.text, advice.source, True)]


def _below(tracker: WindowTracker, code: FoodCode) -> list[Kept]:
    """Return the time under the limit once it was reached, and what a code adds up."""
    found = []
    once = code.of(OnceBelow)
    if tracker.windows:
        limit = once[0].shorter_than_s if once and len(tracker.windows) == 1 else 0.0
        used, hot = tracker.below_s, code.hot_holding
        what = f"The coldest part falls under {hot.limit_c:g} °C again"
        found.append(Kept(used < limit, used, limit, what, hot.text, hot.source, False))
    for rule in code.of(TimeControl):
        if rule.cumulative:
            what = f"The coldest part is between {rule.cold_c:g} °C and {rule.hot_c or 0:g} °C in all"
            used = tracker.cumulative_s
            found.append(
                Kept(used < rule.longest_s, used, rule.longest_s, what, rule.text, rule.source, False)
            )
    return found
