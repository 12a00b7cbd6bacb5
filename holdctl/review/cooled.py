"""Each declared cooling of a hold by itself: every stage of the code's rule with its verdict, and what was foretold.

The verdicts are those of `holdctl.food.judge_cold`: worst case, gaps counted against the baker. A forecast stands here
as it was told at the time, beside what came.
"""

from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.events import NoticeKind
from holdctl.food.findings import Verdict
from holdctl.food.judge_cold import StageFound, stage_words, stages_of, worst_of
from holdctl.food.rules import Cooling
from holdctl.food.spells import SpellKind
from holdctl.food.storage import cooled_to

if TYPE_CHECKING:
    from holdctl.food.timeline import Piece, Timeline
    from holdctl.record.rows import EventRow
    from holdctl.review.night import Night


class Stage(msgspec.Struct, frozen=True, kw_only=True):
    """One stage of the rule; times in s since the start of the hold."""

    from_c: float
    to_c: float
    within_s: float
    limit: str
    observed: str
    verdict: Verdict
    began_s: float | None
    """When its clock started; None: the record does not show it."""
    reached_s: float | None
    """When the hottest paste was down; None: not in the record."""
    over_s: float
    """By how much its time was exceeded, s."""
    unrecorded_s: float


class Foretold(msgspec.Struct, frozen=True, kw_only=True):
    """The first forecast of one stage in one place, and what came; times in s since the start of the hold."""

    told_s: float
    place: str
    """Where and how the paste stood."""
    to_c: float
    due_s: float | None
    early_s: float | None
    expected_s: float | None
    """None: never, as it cooled then."""
    late_s: float | None
    """None: perhaps never."""
    came_s: float | None


class CoolingAccount(msgspec.Struct, frozen=True, kw_only=True):
    """One declared cooling; times in s since the start of the hold."""

    start_s: float
    end_s: float
    planned: bool
    """A fall that the programme plans, not one that a person declared."""
    places: tuple[str, ...]
    """Where and how the paste stood, in order."""
    rule: str
    source: str
    force: str
    sureness: str
    verdict: Verdict
    """The worst of its stages."""
    why: str
    """What has to be said of the verdict."""
    stages: tuple[Stage, ...]
    """Empty where the code has no number."""
    cold_c: float
    """What it had to come to, °C: the code's last stage, its cold holding, or 5 °C where it has neither."""
    cold_s: float | None
    """When all paste was first at or below it; None: not in the record."""
    last_high_c: float | None
    """Hottest that any paste may have been at its last known moment, °C."""
    forecasts: tuple[Foretold, ...]


def cooling_accounts(night: "Night") -> tuple[CoolingAccount, ...]:
    """Return the declared coolings and planned falls of a hold, in order."""
    rules, line = night.code.of(Cooling), night.timeline()
    if not rules:
        return ()
    stages = stages_of(line, rules[0])
    judged = {one.spell for one in stages}  # of spells in one fall only the last one has its stages
    spells = [spell for spell in line.coolings() if spell in judged or not rules[0].stages]
    return tuple(_account(night, line, rules[0], spell, stages) for spell in spells)


def _account(
    night: "Night", line: "Timeline", rule: Cooling, spell: "Piece", found: tuple[StageFound, ...]
) -> CoolingAccount:
    import numpy as np

    stages = tuple(_stage(one) for one in found if one.spell == spell)
    part, limit = line.curve.cut(*spell), cooled_to(night.code)
    known = part.high_c[np.isfinite(part.high_c)]
    return CoolingAccount(
        start_s=spell[0], end_s=spell[1], planned=spell in line.spells(SpellKind.PLANNED),
        places=_places(night.events, spell), rule=rule.text, source=rule.source,
        force=rule.force, sureness=rule.sureness, verdict=worst_of(one.verdict for one in stages),
        why="" if stages else "the code has no number for it", stages=stages, cold_c=limit.limit_c,
        cold_s=part.first_at_most(limit.limit_c), last_high_c=round(float(known[-1]), 2) if len(known) else None,
        forecasts=tuple(_forecasts(night.events, spell, stages)),
    )  # fmt: skip


def _stage(one: StageFound) -> Stage:
    stage = one.stage
    return Stage(
        from_c=stage.clock_from_c, to_c=stage.to_c, within_s=stage.within_s, limit=stage_words(stage),
        observed=one.words, verdict=one.verdict, began_s=one.began_s, reached_s=one.reached_s, over_s=one.over_s,
        unrecorded_s=one.unrecorded_s,
    )  # fmt: skip


def _within(event: "EventRow", spell: "Piece") -> bool:
    return spell[0] <= event.hold_ms / 1000 <= spell[1]


def _places(events: "list[EventRow]", spell: "Piece") -> tuple[str, ...]:
    """Return where the paste stood, as it was declared."""
    told = [e for e in events if e.kind == NoticeKind.COOLING and _within(e, spell) and e.detail.get("stand")]
    return tuple(dict.fromkeys(str(event.detail["stand"]) for event in told))


def _forecasts(events: "list[EventRow]", spell: "Piece", stages: tuple[Stage, ...]) -> "list[Foretold]":
    """Return the first forecast in each place, of each stage that was still ahead."""
    found: list[Foretold] = []
    place = None
    for event in events:
        if (
            event.kind != NoticeKind.COOLING
            or not _within(event, spell)
            or event.detail.get("stand") == place
        ):
            continue
        place = event.detail.get("stand")
        rows = event.detail.get("stages", ())
        found += [
            _foretold(event.hold_ms / 1000, str(place), row, stage)
            for row, stage in zip(rows, stages, strict=False)
            if row.get("reached_s") is None
        ]
    return found


def _foretold(told_s: float, place: str, row: dict[str, Any], stage: Stage) -> Foretold:
    return Foretold(
        told_s=told_s, place=place, to_c=stage.to_c, due_s=row.get("due_s"), early_s=row.get("early_s"),
        expected_s=row.get("expected_s"), late_s=row.get("late_s"), came_s=stage.reached_s,
    )  # fmt: skip
