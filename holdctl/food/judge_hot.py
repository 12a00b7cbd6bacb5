"""Hot holding, and the one period below it that some codes allow."""

from holdctl.food import actions
from holdctl.food.finding_of import finding
from holdctl.food.findings import Breach, Finding, Verdict
from holdctl.food.rules import HotHolding, OnceBelow
from holdctl.food.say import degrees, lasting, unrecorded
from holdctl.food.timeline import Timeline
from holdctl.food.worst_case import Span


def hot_holding(line: Timeline, rule: HotHolding) -> Finding:
    """Every interval below the limit outside a come-up and outside what was declared."""
    limit = f"{degrees(rule.limit_c, rule.limit_f)} or above"
    if not line.curve.lasts:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    out = line.out()
    windows = [w for w in line.hot_windows() if out is None or w.end_s <= out[0]]
    if not windows and not line.hot():
        return finding(rule, limit, "the paste never was in hot holding", Verdict.NOT_APPLICABLE)
    coldest = _coldest_c(line, line.curve.end_s if out is None else out[0])
    if not windows:
        seen = f"coldest {coldest:.1f} °C" if coldest is not None else "nothing below it"
        why = "from its fall below the limit on time controls it" if out else ""
        return finding(rule, limit, seen, Verdict.MET, why=why)
    total = sum(w.length_s for w in windows)
    lost = sum(w.unrecorded_s for w in windows)
    breaches = tuple(_breach(line, rule, w, total) for w in windows)
    return finding(
        rule, limit, _below_words(windows, total, lost), Verdict.BROKEN, _why(total, lost), breaches
    )


def _coldest_c(line: Timeline, until_s: float) -> float | None:
    import numpy as np

    pieces = [(start, min(end, until_s)) for start, end in line.hot() if start < until_s]
    lows = [line.curve.cut(*piece).low_c[:-1] for piece in pieces]  # the last one counts for what follows
    known = [float(np.nanmin(low)) for low in lows if np.isfinite(low).any()]
    return min(known, default=None)


def _below_words(windows: list[Span], total: float, lost: float) -> str:
    seen = [w.worst_c for w in windows if w.worst_c is not None]
    count = "1 window" if len(windows) == 1 else f"{len(windows)} windows"
    coldest = f"coldest {min(seen):.1f} °C, " if seen else ""
    return f"{coldest}below it for {lasting(total)} in {count}{unrecorded(lost)}"


def _why(total: float, lost: float) -> str:
    return "only what was not recorded counts against it" if 0 < total <= lost + 1 else ""


def _breach(line: Timeline, rule: HotHolding, window: Span, total: float) -> Breach:
    return Breach(
        start_s=window.start_s,
        end_s=window.end_s,
        limit_c=rule.limit_c,
        observed_c=window.worst_c,
        margin_k=None if window.worst_c is None else rule.limit_c - window.worst_c,
        unrecorded_s=window.unrecorded_s,
        action=actions.below_hot(line.code, total),
    )


def once_below(line: Timeline, rule: OnceBelow) -> Finding:
    """One single period, shorter than a time; a gap in it can't be shown to be one period."""
    limit = f"one period of less than {lasting(rule.shorter_than_s)}"
    if not line.curve.lasts:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    windows = line.hot_windows()
    if not windows:
        return finding(rule, limit, "not called on", Verdict.NOT_APPLICABLE)
    longest, lost = max(w.length_s for w in windows), sum(w.unrecorded_s for w in windows)
    count = "1 period" if len(windows) == 1 else f"{len(windows)} periods"
    observed = f"{count}, the longest {lasting(longest)}{unrecorded(lost)}"
    why = (
        "more than one period" if len(windows) > 1
        else "a gap can't be shown to be one period" if lost
        else "too long" if longest >= rule.shorter_than_s
        else ""
    )  # fmt: skip
    if not why:
        return finding(rule, limit, observed, Verdict.MET, "this was the one period: there is no second")
    total = sum(w.length_s for w in windows)
    breaches = tuple(
        Breach(
            start_s=w.start_s,
            end_s=w.end_s,
            limit_s=rule.shorter_than_s,
            observed_c=w.worst_c,
            unrecorded_s=w.unrecorded_s,
            action=actions.below_hot(line.code, total),
        )
        for w in windows
    )
    return finding(rule, limit, observed, Verdict.BROKEN, why, breaches)
