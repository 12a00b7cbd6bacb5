"""What is left of each time that a rule allows, while the hold goes on. Pure: asked of the live tracker.

An allowance is no leave: it says how much of a stated time is used, by whose rule. Time without a reading counts as
used.
"""

from collections.abc import Iterator
from typing import Literal

import msgspec

from holdctl.food.code_fda import ADVISORY_HEATING
from holdctl.food.rules import Cooling, OnceBelow, Reheating, Rule, TimeControl
from holdctl.food.say import degrees, lasting, left
from holdctl.food.windows import WindowTracker

Kind = Literal["come-up", "reheating", "one period", "time control", "all times", "planned fall"]


class Allowance(msgspec.Struct, frozen=True, kw_only=True):
    """One time that a rule allows."""

    kind: Kind
    used_s: float
    limit_s: float
    text: str
    """In words, without the forecast."""
    source: str
    advisory: bool
    """Whether it is this project's own advice and no code's rule."""

    @property
    def left_s(self) -> float:
        """What is left of it, s; negative where it is over."""
        return self.limit_s - self.used_s


def allowances(tracker: WindowTracker, now_s: float, *, silent_s: float = 0.0) -> tuple[Allowance, ...]:
    """Return what runs now; `now_s` in s since the start of the hold, `silent_s` without a reading up to now."""
    return tuple(_running(tracker, now_s, silent_s))


def _running(tracker: WindowTracker, now_s: float, silent_s: float) -> Iterator[Allowance]:
    if tracker.first_s is None:
        return
    if tracker.in_zone:
        used = tracker.zone_s + tracker.zone_unrecorded_s + silent_s
        yield _made(
            "come-up", used, ADVISORY_HEATING.within_s or 0.0, ADVISORY_HEATING, "this project advises"
        )
    if tracker.under_time:
        yield from _from_cold(tracker, now_s, silent_s)
        return
    yield from _reheating(tracker, now_s)
    yield from _once(tracker, silent_s)
    yield from _falling(tracker, now_s)
    for rule in tracker.code.of(TimeControl):
        if rule.cumulative:
            yield _all_times(rule, tracker.cumulative_s + silent_s)
        elif tracker.time_control is True and rule is tracker.time_rule and tracker.first_fall_s is not None:
            used = now_s - tracker.first_fall_s
            yield _made("time control", used, rule.longest_s, rule, "time control, then discard")


def _from_cold(tracker: WindowTracker, now_s: float, silent_s: float) -> Iterator[Allowance]:
    """Yield what is left of a time that runs from cold holding on; silence may hide that it left it, and warmth."""
    rule, time = tracker.time_rule, tracker.time
    begun = time.left_s if time else None
    if begun is None and silent_s:
        begun = now_s - silent_s
    if rule is None or time is None or begun is None:
        return
    top, used = rule.never_above_c, now_s - begun
    what = f"time control from {degrees(rule.cold_c, rule.cold_f)}, then {rule.at_end or 'discard'}"
    if top is not None and (time.too_warm_s is not None or silent_s):
        text = f"the {lasting(rule.longest_s)} are over: above {degrees(top, rule.never_above_f)}, or not recorded: "
        yield Allowance(kind="time control", used_s=max(used, rule.longest_s), limit_s=rule.longest_s,
                        text=f"{text}{rule.at_end or 'discard'} it", source=rule.source, advisory=False)  # fmt: skip
    else:
        capped = "" if top is None else f", never above {degrees(top, rule.never_above_f)}"
        yield _made("time control", used, rule.longest_s, rule, f"{what}{capped}")


def _reheating(tracker: WindowTracker, now_s: float) -> Iterator[Allowance]:
    for rule in tracker.code.of(Reheating):
        hot = tracker.warmest_c is not None and tracker.warmest_c >= rule.to_c
        if tracker.begins == "chilled" and rule.within_s is not None and not hot:
            what = f"every part to reach {degrees(rule.to_c, rule.to_f)}"
            yield _made("reheating", max(0.0, now_s - _warms_s(tracker, now_s)), rule.within_s, rule, what)


def _warms_s(tracker: WindowTracker, now_s: float) -> float:
    """Return since when the time for reheating runs: the record's begin, unless it was shown to begin cold."""
    warmed = tracker.warmed
    if warmed is None or not warmed.cold:
        return tracker.first_s or 0.0
    return now_s if warmed.left_s is None else warmed.left_s


def _once(tracker: WindowTracker, silent_s: float) -> Iterator[Allowance]:
    windows = tracker.windows
    for rule in tracker.code.of(OnceBelow):
        if len(windows) > 1:
            text = f"more than one period below it: the one of {lasting(rule.shorter_than_s)} can't be shown"
            used = sum(w.duration_s for w in windows) + silent_s
            yield Allowance(kind="one period", used_s=max(used, rule.shorter_than_s), limit_s=rule.shorter_than_s,
                            text=text, source=rule.source, advisory=False)  # fmt: skip
        elif windows or silent_s:
            used = sum(w.duration_s for w in windows) + silent_s
            yield _made("one period", used, rule.shorter_than_s, rule, "the one period below it")


def _falling(tracker: WindowTracker, now_s: float) -> Iterator[Allowance]:
    """Yield what a planned fall has left of each stage that is not reached, by the code's rule for a cooling."""
    for rule in tracker.code.of(Cooling):
        for fall in tracker.falls:
            if fall.reached_s is None:
                begins = degrees(fall.stage.clock_from_c, fall.stage.clock_from_f)
                what = (
                    f"the planned fall is a cooling: {begins} to {degrees(fall.stage.to_c, fall.stage.to_f)}"
                )
                yield _made("planned fall", now_s - fall.began_s, fall.stage.within_s, rule, what)


def _all_times(rule: TimeControl, used: float) -> Allowance:
    reuse = rule.reuse_within_s
    if reuse is not None and used < reuse:
        text = f"{left(reuse - used)} left of {lasting(reuse)} in all outside {rule.cold_c:g} and {rule.hot_c:g} °C"
    elif used < rule.longest_s:
        text = f"use it now: {left(rule.longest_s - used)} left of {lasting(rule.longest_s)} in all, then {rule.at_end}"
    else:
        text = f"{lasting(rule.longest_s)} in all are over: {rule.at_end}"
    return Allowance(kind="all times", used_s=used, limit_s=rule.longest_s, text=text, source=rule.source,
                     advisory=False)  # fmt: skip


def _made(kind: Kind, used: float, limit: float, rule: Rule, what: str) -> Allowance:
    of = f"{lasting(limit)} ({what})"
    text = f"{left(limit - used)} left of {of}" if used < limit else f"{of} over by {left(used - limit)}"
    return Allowance(kind=kind, used_s=used, limit_s=limit, text=text, source=rule.source,
                     advisory=rule.force == "advisory")  # fmt: skip
