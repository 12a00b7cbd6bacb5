"""The way up: a fresh mix heated for hot holding, a chilled scald heated again, and this project's advice on time."""

from holdctl.food import actions
from holdctl.food.finding_of import finding
from holdctl.food.findings import Breach, Finding, Verdict
from holdctl.food.leaving import left_s
from holdctl.food.rules import Heating, Reheating
from holdctl.food.say import degrees, lasting, unrecorded
from holdctl.food.timeline import COLD_START_C, Timeline
from holdctl.food.worst_case import Span

UNHEATED = "nothing was heated in this record"
ZONE_F = (41.0, 135.0)
"""5 and 57 °C as FDA Food Code 2022 3-501.16 writes them in °F."""


def heating(line: Timeline, rule: Heating) -> Finding:
    """A fresh mix has to reach a temperature; within a time where the code has one."""
    limit = _to(degrees(rule.to_c, rule.to_f), rule.within_s)
    if not line.declared.heated:
        return finding(rule, limit, UNHEATED, Verdict.NOT_APPLICABLE)
    if line.begins == "chilled":
        return finding(rule, limit, "this scald was chilled before", Verdict.NOT_APPLICABLE)
    if not line.curve.lasts:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    at = line.curve.first_at_least(rule.to_c)
    took = (line.curve.end_s if at is None else at) - line.curve.start_s
    late = rule.within_s is not None and took > rule.within_s
    if at is not None and not late:
        return finding(rule, limit, f"every part there after {lasting(took)}", Verdict.MET)
    if at is None and not line.declared.ended and not late:
        return finding(rule, limit, f"not there yet after {lasting(took)}", Verdict.CANNOT_TELL)
    observed = f"not reached in {lasting(took)}" if at is None else f"reached after {lasting(took)}"
    end = line.curve.end_s if at is None else at
    breach = _span_breach(line, end, rule.to_c, rule.within_s, actions.not_heated(rule.to_c))
    return finding(rule, limit, observed, Verdict.BROKEN, breaches=(breach,))


def come_up_advice(line: Timeline, rule: Heating) -> Finding:
    """Time of a fresh come-up between 5 and 57 °C: advice of this project, by analogy."""
    low, high = rule.zone_c or (0.0, rule.to_c)
    longest = rule.within_s or 0.0
    limit = f"{lasting(longest)} between {degrees(low, ZONE_F[0])} and {degrees(high, ZONE_F[1])}"
    if not line.declared.heated:
        return finding(rule, limit, UNHEATED, Verdict.NOT_APPLICABLE)
    if line.begins == "chilled":
        return finding(rule, limit, "this scald was chilled before", Verdict.NOT_APPLICABLE)
    if not line.curve.lasts:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    at = line.curve.first_at_least(high)
    spans = come_up_spans(line, (low, high))
    total, lost = sum(s.length_s for s in spans), sum(s.unrecorded_s for s in spans)
    observed = f"{lasting(total)}{unrecorded(lost)}"
    if total <= longest:
        pending = at is None and not (line.declared.ended and line.curve.known)
        return finding(rule, limit, observed, Verdict.CANNOT_TELL if pending else Verdict.MET)
    why = "no code's rule: this project's advice"
    breaches = tuple(
        Breach(
            start_s=s.start_s,
            end_s=s.end_s,
            limit_c=high,
            limit_s=longest,
            observed_c=s.worst_c,
            unrecorded_s=s.unrecorded_s,
            action=actions.below_hot(line.code, total),
        )
        for s in spans
    )
    return finding(rule, limit, observed, Verdict.BROKEN, why, breaches)


def come_up_spans(line: Timeline, zone_c: tuple[float, float] = (5.0, 57.0)) -> tuple[Span, ...]:
    """Return the times of a fresh come-up in the zone, gaps with them; none of a chilled scald."""
    if line.begins == "chilled" or not line.declared.heated:
        return ()
    at = line.curve.first_at_least(zone_c[1])
    return line.curve.cut(line.curve.start_s, line.curve.end_s if at is None else at).between(*zone_c)


def reheating(line: Timeline, rule: Reheating) -> Finding:
    """A chilled scald: every part hot enough, long enough, soon enough."""
    limit = _to(degrees(rule.to_c, rule.to_f), rule.within_s, rule.dwell_s)
    if not line.declared.heated:
        return finding(rule, limit, UNHEATED, Verdict.NOT_APPLICABLE)
    if line.begins == "fresh":
        return finding(rule, limit, "a fresh mix, so it is not asked", Verdict.NOT_APPLICABLE)
    if not line.curve.lasts:
        return finding(rule, limit, "nothing was recorded", Verdict.CANNOT_TELL)
    if line.left_cold() is not None:
        return finding(rule, limit, "time alone controls it from cold holding on", Verdict.NOT_APPLICABLE)
    told = line.declared.begins == "chilled"
    why = "" if told else f"told as fresh, but it began at or below {COLD_START_C:g} °C"
    at = line.curve.held_at_least(rule.to_c, rule.dwell_s)
    began = None if rule.from_c is None else left_s(line.curve, rule.from_c)
    began = line.curve.start_s if began is None else began
    took = (line.curve.end_s if at is None else at) - began
    late = rule.within_s is not None and took > rule.within_s
    if at is not None and not late:
        return finding(rule, limit, f"every part so after {lasting(took)}", Verdict.MET, why)
    if at is None and not line.declared.ended and not late:
        return finding(rule, limit, f"not so yet after {lasting(took)}", Verdict.CANNOT_TELL, why)
    observed = f"not so in {lasting(took)}" if at is None else f"so only after {lasting(took)}"
    end = line.curve.end_s if at is None else at
    breach = _span_breach(line, end, rule.to_c, rule.within_s, actions.not_reheated(line.code), began)
    return finding(rule, limit, observed, Verdict.BROKEN, why, (breach,))


def _span_breach(
    line: Timeline,
    end_s: float,
    limit_c: float,
    limit_s: float | None,
    action: str,
    start_s: float | None = None,
) -> Breach:
    """Return the time from a moment, the record's start without one, until a temperature was reached, or to the end."""
    import numpy as np

    start = line.curve.start_s if start_s is None else start_s
    part = line.curve.cut(start, end_s)
    warmest = float(np.nanmax(part.low_c)) if np.isfinite(part.low_c).any() else None
    return Breach(
        start_s=start,
        end_s=end_s,
        limit_c=limit_c,
        limit_s=limit_s,
        observed_c=warmest,
        margin_k=None if warmest is None else max(0.0, limit_c - warmest),
        unrecorded_s=sum(s.unrecorded_s for s in part.unrecorded()),
        action=action,
    )


def _to(to: str, within_s: float | None, dwell_s: float = 0.0) -> str:
    dwell = f" for {dwell_s:g} s" if dwell_s else ""
    within = f" within {lasting(within_s)}" if within_s is not None else ", no time given"
    return f"every part at {to}{dwell}{within}"
