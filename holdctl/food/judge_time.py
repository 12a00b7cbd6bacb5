"""Time as the control, and the thermometer that all this rests on."""

from holdctl.food import actions
from holdctl.food.finding_of import finding
from holdctl.food.findings import Breach, Finding, Verdict
from holdctl.food.judge_cold import within_rule
from holdctl.food.rules import FROM_COLD, Thermometer, TimeControl
from holdctl.food.say import degrees, lasting, left, unrecorded
from holdctl.food.timeline import Timeline, without
from holdctl.food.worst_case import Curve, Span


def time_control(line: Timeline, rule: TimeControl) -> Finding:
    """Time instead of temperature: declared beforehand, or all times between two temperatures together."""
    if rule.cumulative:
        return _cumulative(line, rule)
    limit = _limit(rule)
    if rule is not line.time_rule:
        return finding(rule, limit, _not_declared(line, rule), Verdict.NOT_APPLICABLE)
    if not line.curve.lasts:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    if line.declared.time_control in FROM_COLD:
        return _from_cold(line, rule, limit)
    out = line.out()
    if out is None:
        return _never_out(line, rule, limit)
    part = line.curve.cut(*out)
    length, lost = out[1] - out[0], sum(s.unrecorded_s for s in part.unrecorded())
    observed = f"out of hot holding for {lasting(length)} until the record ends{unrecorded(lost)}"
    if length <= rule.longest_s:
        why = f"use or discard it within {left(rule.longest_s - length)} of the record's end; warming does not end it"
        return finding(rule, limit, observed, Verdict.MET, why)
    return finding(rule, limit, observed, Verdict.BROKEN, breaches=(_too_long(rule, out, lost),))


def _never_out(line: Timeline, rule: TimeControl, limit: str) -> Finding:
    """Nothing shows that it left hot holding; where nothing shows it there either, a gap may hide both."""
    gaps = line.curve.unrecorded() if line.reached_s is None else ()
    start = gaps[0].start_s if gaps else line.curve.end_s
    length, lost = line.curve.end_s - start, sum(s.unrecorded_s for s in gaps)
    if length <= rule.longest_s:
        return finding(rule, limit, "it never left hot holding", Verdict.NOT_APPLICABLE)
    observed = (
        f"it may have left hot holding in a gap {lasting(length)} before the record ends{unrecorded(lost)}"
    )
    breach = _too_long(rule, (start, line.curve.end_s), lost)
    return finding(rule, limit, observed, Verdict.BROKEN, breaches=(breach,))


def _limit(rule: TimeControl) -> str:
    capped = rule.never_above_c is not None
    top = f", never above {degrees(rule.never_above_c or 0.0, rule.never_above_f)}" if capped else ""
    return f"{lasting(rule.longest_s)}{top}, then {rule.at_end or 'discard'}"


def _not_declared(line: Timeline, rule: TimeControl) -> str:
    if line.declared.time_control and line.time_rule is not None:
        return f"{line.time_rule.name.replace('-', ' ')} was declared instead"
    return "time control was not declared" + (
        " (it starts from cold holding only)" if rule.hot_c is None else ""
    )


def _from_cold(line: Timeline, rule: TimeControl, limit: str) -> Finding:
    """From cold holding on: how long it has been out of it, and how warm where the rule has a limit for that."""
    curve, cold = line.curve, degrees(rule.cold_c, rule.cold_f)
    out = line.left_cold()
    if out is None:
        begun = f"it began at {curve.first_known_high_c:.1f} °C, errors counted: not"
        observed = f"{begun if curve.known else 'nothing shows that it began'} at {cold} or below"
        return finding(rule, limit, observed, Verdict.BROKEN, breaches=(_whole(line, rule),))
    length = out[1] - out[0]
    if length <= 0:
        return finding(rule, limit, f"it never left {cold}", Verdict.NOT_APPLICABLE)
    part = curve.cut(*out)
    lost = sum(s.unrecorded_s for s in part.unrecorded())
    above = () if rule.never_above_c is None else part.above(rule.never_above_c)
    observed = f"out of {cold} for {lasting(length)} until the record ends{_warmest(part)}{unrecorded(lost)}"
    breaches = tuple(_too_warm(rule, span) for span in above)
    if length > rule.longest_s:
        breaches += (_too_long(rule, out, lost),)
    if breaches:
        return finding(rule, limit, observed, Verdict.BROKEN, breaches=breaches)
    why = f"use or discard it within {left(rule.longest_s - length)} of the record's end; chilling does not end it"
    return finding(rule, limit, observed, Verdict.MET, why)


def _warmest(part: Curve) -> str:
    import numpy as np

    return f", warmest {np.nanmax(part.high_c):.1f} °C" if part.known else ""


def _whole(line: Timeline, rule: TimeControl) -> Breach:
    begun = line.curve.first_known_high_c if line.curve.known else None
    return Breach(
        start_s=line.curve.start_s, end_s=line.curve.end_s, limit_c=rule.cold_c, observed_c=begun,
        margin_k=None if begun is None else begun - rule.cold_c, action=actions.time_over(rule.at_end),
    )  # fmt: skip


def _too_warm(rule: TimeControl, span: Span) -> Breach:
    top = rule.never_above_c or 0.0
    return Breach(
        start_s=span.start_s, end_s=span.end_s, limit_c=top, observed_c=span.worst_c,
        margin_k=None if span.worst_c is None else span.worst_c - top, unrecorded_s=span.unrecorded_s,
        action=actions.time_over(rule.at_end),
    )  # fmt: skip


def _too_long(rule: TimeControl, out: tuple[float, float], lost: float) -> Breach:
    return Breach(
        start_s=out[0], end_s=out[1], limit_s=rule.longest_s, unrecorded_s=lost,
        action=actions.time_over(rule.at_end),
    )  # fmt: skip


def counted(line: Timeline, rule: TimeControl) -> tuple[Span, ...]:
    """Return the times between a cumulative rule's temperatures; a cooling that kept the code's stages is left out."""
    hot = rule.hot_c if rule.hot_c is not None else line.limit_c
    pieces = without((line.curve.start_s, line.curve.end_s), within_rule(line))
    return tuple(s for piece in pieces for s in line.curve.cut(*piece).between(rule.cold_c, hot))


def _cumulative(line: Timeline, rule: TimeControl) -> Finding:
    limit = f"under {lasting(rule.longest_s)} in all, then {rule.at_end or 'discard'}"
    if not line.curve.lasts:
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
