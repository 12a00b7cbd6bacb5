"""What comes after the hold: a declared cooling by the code's stages, cold holding after it, a declared souring."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from holdctl.food import actions
from holdctl.food.finding_of import finding
from holdctl.food.findings import Breach, Finding, Verdict
from holdctl.food.rules import ColdHolding, Cooling, CoolingStage, DateMarking, Rule
from holdctl.food.say import degrees, lasting, unrecorded
from holdctl.food.spells import SpellKind
from holdctl.food.tcs import SOUR_PH, TABLE_B
from holdctl.food.timeline import Piece, Timeline
from holdctl.food.worst_case import Span


@dataclass(frozen=True, slots=True, kw_only=True)
class StageFound:
    """One stage of one declared cooling; times in s since the start of the hold."""

    spell: Piece
    stage: CoolingStage
    verdict: Verdict
    words: str
    """What was observed."""
    began_s: float | None = None
    """When its clock started: the coldest paste's fall; None: not in the record."""
    reached_s: float | None = None
    """When the hottest paste was down; None: not in the record."""
    over_s: float = 0.0
    """By how much its time was exceeded."""
    unrecorded_s: float = 0.0
    breach: Breach | None = None


_ORDER = (Verdict.BROKEN, Verdict.CANNOT_TELL, Verdict.MET)


def cooling(line: Timeline, rule: Cooling) -> Finding:
    """Each declared cooling against each stage; clock from the coldest paste's fall, end by the hottest paste."""
    limit = "; ".join(stage_words(s) for s in rule.stages) or "as quickly as possible, no number"
    spells = line.coolings()
    if not spells:
        return finding(rule, limit, "no cooling was declared or planned", Verdict.NOT_APPLICABLE)
    if not rule.stages:
        lengths = ", ".join(lasting(b - a) for a, b in spells)
        return finding(
            rule, limit, f"a cooling of {lengths}", Verdict.CANNOT_TELL, "the code has no number for it"
        )
    found = stages_of(line, rule)
    breaches = tuple(one.breach for one in found if one.breach is not None)
    words = "; ".join(one.words for one in found)
    return finding(rule, limit, words, worst_of(one.verdict for one in found), breaches=breaches)


def stages_of(line: Timeline, rule: Cooling) -> tuple[StageFound, ...]:
    """Return each stage of each declared cooling and planned fall; of spells in one fall only the last one's."""
    found = [_stage(line, spell, stage) for spell in line.coolings() for stage in rule.stages]
    later = {(one.stage, one.began_s): one.spell for one in found}
    return tuple(one for one in found if one.began_s is None or later[one.stage, one.began_s] == one.spell)


def worst_of(verdicts: Iterable[Verdict]) -> Verdict:
    """Return the worst of several verdicts; what can't be told where there is none."""
    among = set(verdicts)
    return next((verdict for verdict in _ORDER if verdict in among), Verdict.CANNOT_TELL)


def within_rule(line: Timeline) -> list[Piece]:
    """Return the coolings and planned falls that kept every stage of the code, or still may; all where it has none."""
    stages = [stage for rule in line.code.of(Cooling) for stage in rule.stages]
    found = [_stage(line, spell, stage) for spell in line.coolings() for stage in stages]
    last = {(one.spell[0] if one.began_s is None else one.began_s, one.stage): one for one in found}
    kept = []
    for spell in line.coolings():
        came = [
            last[spell[0] if s.began_s is None else s.began_s, s.stage] for s in found if s.spell == spell
        ]
        still = not line.declared.ended and spell[1] >= line.curve.end_s
        good = {Verdict.MET, Verdict.CANNOT_TELL} if still else {Verdict.MET}
        if all(one.verdict in good for one in came):
            kept.append(spell)
    return kept


def stage_words(stage: CoolingStage) -> str:
    """Return `57 °C (135 °F) to 21 °C (70 °F) within 2 h`."""
    start, end = degrees(stage.clock_from_c, stage.clock_from_f), degrees(stage.to_c, stage.to_f)
    return f"{start} to {end} within {lasting(stage.within_s)}"


def _stage(line: Timeline, spell: Piece, stage: CoolingStage) -> StageFound:
    """Return what came of one stage of one cooling."""
    curve = line.curve.cut(line.curve.start_s, spell[1])
    falls = [s for s in curve.below(stage.clock_from_c) if s.end_s > spell[0]]
    to = f"to {degrees(stage.to_c, stage.to_f)}"
    if not falls:
        words = f"{to}: it did not pass {degrees(stage.clock_from_c, stage.clock_from_f)} in the record"
        return StageFound(spell=spell, stage=stage, verdict=Verdict.CANNOT_TELL, words=words)
    start = falls[0].start_s
    at = curve.first_at_most(stage.to_c, start)
    end = spell[1] if at is None else at
    took, over = end - start, end - start - stage.within_s
    lost = sum(s.unrecorded_s for s in curve.cut(start, end).unrecorded())
    if over > 0:
        verdict, late = Verdict.BROKEN, lasting(over)
        words = (
            f"{to} after {lasting(took)}, {late} too late"
            if at is not None
            else f"not {to} in {lasting(took)}"
        )
    elif at is None:
        verdict, words = Verdict.CANNOT_TELL, f"{to}: {_ends(line, spell)} {lasting(took)} after the start"
    else:
        verdict, words = Verdict.MET, f"{to} in {lasting(took)}"
    if start <= curve.start_s and verdict is Verdict.MET:
        passing = degrees(stage.clock_from_c, stage.clock_from_f)
        verdict, words = Verdict.CANNOT_TELL, f"{words} of the record, which does not show it pass {passing}"
    breach = _late(line, stage, (start, end), at) if over > 0 else None
    return StageFound(
        spell=spell, stage=stage, verdict=verdict, words=f"{words}{unrecorded(lost)}", began_s=start, reached_s=at,
        over_s=max(0.0, over), unrecorded_s=lost, breach=breach,
    )  # fmt: skip


def _ends(line: Timeline, spell: Piece) -> str:
    if spell[1] < line.curve.end_s and spell in line.spells(SpellKind.PLANNED):
        return "the planned fall ends"
    return "the record ends" if spell[1] >= line.curve.end_s else "the cooling was ended"


def _late(line: Timeline, stage: CoolingStage, piece: Piece, at: float | None) -> Breach:
    """Return the interval that broke a stage: from the fall through its temperature until all paste was down."""
    part = line.curve.cut(*piece)
    warmest = _last_known(part.high_c) if at is None else None
    return Breach(
        start_s=piece[0],
        end_s=piece[1],
        limit_c=stage.to_c,
        limit_s=stage.within_s,
        observed_c=warmest,
        margin_k=None if warmest is None else max(0.0, warmest - stage.to_c),
        unrecorded_s=sum(s.unrecorded_s for s in part.unrecorded()),
        action=actions.not_cooled(line.code),
    )


def _last_known(values: object) -> float | None:
    import numpy as np

    known = np.asarray(values)[np.isfinite(np.asarray(values))]
    return float(known[-1]) if len(known) else None


def cold_holding(line: Timeline, rule: ColdHolding) -> Finding:
    """Within a declared cooling, from the moment the paste is cold; a gap before may hide that it warmed again."""
    limit = f"{degrees(rule.limit_c, rule.limit_f)} or below"
    spans: list[Span] = []
    hottest, cold = None, False
    for start, end in line.coolings():
        at = line.curve.cut(start, end).first_at_most(rule.limit_c)
        spans += line.curve.cut(start, end if at is None else at).unrecorded()
        if at is not None and at < end:
            cold = True
            part = line.curve.cut(at, end)
            spans += part.above(rule.limit_c)
            hottest = _last_known(part.high_c)
    if not cold and not spans:
        return finding(rule, limit, "the paste was not in cold holding", Verdict.NOT_APPLICABLE)
    if not spans:
        return finding(rule, limit, f"never above it; last {hottest:.1f} °C", Verdict.MET)
    total, lost = sum(s.length_s for s in spans), sum(s.unrecorded_s for s in spans)
    breaches = tuple(
        Breach(
            start_s=s.start_s,
            end_s=s.end_s,
            limit_c=rule.limit_c,
            observed_c=s.worst_c,
            margin_k=None if s.worst_c is None else s.worst_c - rule.limit_c,
            unrecorded_s=s.unrecorded_s,
            action=actions.WARMED,
        )
        for s in spans
    )
    return finding(
        rule, limit, f"above it for {lasting(total)}{unrecorded(lost)}", Verdict.BROKEN, breaches=breaches
    )


def date_marking(_line: Timeline, rule: DateMarking) -> Finding:
    """Of ready-to-eat food only: a guide for the label, never a finding about a hold."""
    limit = f"{rule.days} days at {rule.at_most_c:g} °C or below"
    return finding(rule, limit, "asked of ready-to-eat food only", Verdict.NOT_APPLICABLE)


_SOURING = Rule(
    name="souring",
    text="A declared souring stands below the hot-holding limit until the paste is measured below pH 4.2.",
    source=TABLE_B.source,
    force="advisory",
    sureness="the pH is Table B's; that it ends a souring is this project's reading, no code's rule",
    remarks="A food business needs a plan for it that the authority has agreed to (3-502.11, variance; from memory).",
)


_LATER = "told afterwards: what was below the limit in the record stays a window"


def souring(line: Timeline) -> Iterator[Finding]:
    """A declared souring with the pH that was entered in it; one that was told afterwards takes no window back."""
    for start, end in line.spells(SpellKind.SOURING):
        yield _soured(line, start, end, f"{lasting(end - start)} long", "")
    for one in line.declared.measured:
        start_s, to_s = one.value.sour_from_s, one.value.sour_to_s
        if start_s is not None:
            end_s = one.at_s if to_s is None else to_s
            when = f"from {lasting(start_s)} after the begin of the hold on, {lasting(end_s - start_s)} long"
            yield _soured(line, start_s, end_s, f"{when}, told by {one.by}", _LATER)


def _soured(line: Timeline, start: float, end: float, words: str, why: str) -> Finding:
    limit = f"pH below {SOUR_PH:g}"
    entered = [m for m in line.declared.measured if m.at_s >= start and m.value.ph is not None]
    read = ", ".join(f"pH {m.value.ph:g} after {lasting(m.at_s - start)}" for m in entered)
    observed = f"{words}; {read or 'no pH was entered'}"
    last = entered[-1].value.ph if entered else None
    if last is None:
        left = f"{why}; {actions.STILL_SOUR}" if why else actions.STILL_SOUR
        return finding(_SOURING, limit, observed, Verdict.CANNOT_TELL, left)
    if last < SOUR_PH:
        return finding(_SOURING, limit, observed, Verdict.MET, why)
    breach = Breach(start_s=start, end_s=end, limit_c=line.limit_c, action=actions.STILL_SOUR)
    return finding(_SOURING, limit, observed, Verdict.BROKEN, why, (breach,))
