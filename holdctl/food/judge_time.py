"""Time as the control, and the thermometer that all this rests on."""

from holdctl.food import actions
from holdctl.food.finding_of import finding
from holdctl.food.findings import Breach, Finding, Verdict
from holdctl.food.rules import Thermometer, TimeControl
from holdctl.food.say import lasting, left, unrecorded
from holdctl.food.spells import SpellKind
from holdctl.food.timeline import Timeline, without
from holdctl.food.worst_case import Span


def time_control(line: Timeline, rule: TimeControl) -> Finding:
    """Time instead of temperature: declared beforehand, or all times between two temperatures together."""
    if rule.cumulative:
        return _cumulative(line, rule)
    limit = f"{lasting(rule.longest_s)}, then {rule.at_end or 'discard'}"
    if not line.declared.time_control or rule.hot_c is None:
        why = (
            "time control was not declared" if rule.hot_c is not None else "it starts from cold holding only"
        )
        return finding(rule, limit, why, Verdict.NOT_APPLICABLE)
    if not line.curve.known:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    out = line.out()
    if out is None:
        return finding(rule, limit, "it never left hot holding", Verdict.NOT_APPLICABLE)
    part = line.curve.cut(*out)
    length, lost = out[1] - out[0], sum(s.unrecorded_s for s in part.unrecorded())
    observed = f"out of hot holding for {lasting(length)} until the record ends{unrecorded(lost)}"
    if length <= rule.longest_s:
        why = f"use or discard it within {left(rule.longest_s - length)} of the record's end; warming does not end it"
        return finding(rule, limit, observed, Verdict.MET, why)
    breach = Breach(
        start_s=out[0],
        end_s=out[1],
        limit_s=rule.longest_s,
        unrecorded_s=lost,
        action=actions.time_over(rule.at_end),
    )
    return finding(rule, limit, observed, Verdict.BROKEN, breaches=(breach,))


def counted(line: Timeline, rule: TimeControl) -> tuple[Span, ...]:
    """Return the times between a cumulative rule's temperatures, declared coolings left out."""
    hot = rule.hot_c if rule.hot_c is not None else line.limit_c
    cooled = sorted(line.spells(SpellKind.COOLING))
    pieces = without((line.curve.start_s, line.curve.end_s), cooled)
    return tuple(s for piece in pieces for s in line.curve.cut(*piece).between(rule.cold_c, hot))


def _cumulative(line: Timeline, rule: TimeControl) -> Finding:
    limit = f"under {lasting(rule.longest_s)} in all, then {rule.at_end or 'discard'}"
    if not line.curve.known:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    spans = counted(line, rule)
    total, lost = sum(s.length_s for s in spans), sum(s.unrecorded_s for s in spans)
    observed = f"{lasting(total)} in all{unrecorded(lost)}"
    if total < rule.longest_s:
        reuse = rule.reuse_within_s
        why = ""
        if reuse is not None:
            over = f"{lasting(reuse)} or more: use it now, neither chill nor hold it again"
            why = over if total >= reuse else f"under {lasting(reuse)}: it may be chilled or held hot again"
        return finding(rule, limit, observed, Verdict.MET, why)
    breaches = tuple(
        Breach(
            start_s=s.start_s,
            end_s=s.end_s,
            limit_s=rule.longest_s,
            observed_c=s.worst_c,
            unrecorded_s=s.unrecorded_s,
            action=actions.time_over(rule.at_end),
        )
        for s in spans
    )
    return finding(rule, limit, observed, Verdict.BROKEN, breaches=breaches)


def thermometer(line: Timeline, rule: Thermometer) -> Finding:
    """The error that the settings give for the probes in the paste."""
    limit = f"error of {rule.error_k:g} K at most"
    error = line.declared.probe_error_k
    if error is None:
        return finding(rule, limit, "no error was given", Verdict.CANNOT_TELL)
    observed = f"{error:g} K, as the settings say; it is counted against every limit"
    verdict = Verdict.MET if error <= rule.error_k else Verdict.BROKEN
    why = "" if verdict is Verdict.MET else actions.RECALIBRATE
    return finding(rule, limit, observed, verdict, why)
