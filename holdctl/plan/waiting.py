"""How long mixed paste may wait in the cold warmer for its start, so that card and start say the same.

It cools while it waits and takes longer to come up, so the night after each wait is foretold; the wait itself counts
as spent under the food code's limit from its first minute on, whatever the model makes of it. Pure.
"""

from dataclasses import replace

from holdctl.food.say import lasting
from holdctl.plan.keeping import Kept
from holdctl.plan.night import Night, NightForecast, foretell

PAIRS = 2
"""So many pairs of other warmers are drawn for each wait: several are asked for."""
STEP_S = 300.0
_LONGEST_S = 8 * 3600.0
ADVICE = "this project's advice"
UNTOLD = "No time of this code says how long paste this cold may wait."
NEVER = "Not every part would get into the programme's range within a day."


def after(night: Night, wait_s: float) -> NightForecast:
    """Return the night foretold after a wait of so many seconds."""
    return foretell(replace(night, waited_s=wait_s), PAIRS)


def keeps(forecast: NightForecast) -> bool:
    """Whether such a night keeps the code's times; a wait that no rule speaks of is none that keeps one."""
    return bool(forecast.rules) and forecast.kept and forecast.band_s is not None


def longest_s(night: Night) -> float:
    """Return the longest wait, in whole steps, that keeps the code's times, s; 0 where none does."""
    at_once = rule_of(after(night, 0.0))
    left_s = 0.0 if at_once is None else min(_LONGEST_S, at_once.limit_s - at_once.used_s)
    least, most = 0, max(0, int(left_s // STEP_S)) + 1  # a wait takes its own time from the rule at least
    while most - least > 1:  # the longer it waits, the more of the code's time is gone
        middle = (least + most) // 2
        if keeps(after(night, STEP_S * middle)):
            least = middle
        else:
            most = middle
    return STEP_S * least


def rule_of(forecast: NightForecast) -> Kept | None:
    """Return the rule whose time is the first to run out."""
    return min(forecast.rules, key=lambda rule: rule.limit_s - rule.used_s, default=None)


def words(night: Night) -> str:
    """Say how long mixed paste may wait before the start."""
    wait_s = longest_s(night)
    if wait_s < STEP_S:
        return "Start at once: mixed paste that waits counts against the code's time."
    rule = rule_of(after(night, wait_s + STEP_S))
    by = "" if rule is None else f" by {ADVICE if rule.advisory else rule.source}"
    return f"Mixed paste that waits cools, and its time counts: start within {lasting(wait_s)}{by}."
