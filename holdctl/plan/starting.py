"""A night from a plan: the settings it runs with, what is written at its head, and whether it may wait for its start.

Paste that is mixed cools at its edge within minutes of leaving the heat, so all the time that it waits counts as spent
under the food code's limit, and so does the come-up after it, which is longer for the wait; the card and the start ask
`holdctl.plan.waiting` both. Flour and water that are apart may wait as they like.
"""

from pathlib import Path
from typing import Literal

import msgspec

from holdctl.errors import ConfigError
from holdctl.events import Identified, Notice, NoticeKind
from holdctl.food.codes import AUTHORITY
from holdctl.food.measured import Measurement
from holdctl.plan import waiting
from holdctl.plan.bread import digest
from holdctl.plan.learned import TOLD, Memory
from holdctl.plan.night import Night
from holdctl.plan.nights import Evening, night_of
from holdctl.plan.plan import Plan
from holdctl.plan.words import clock, span
from holdctl.record.query import Record
from holdctl.record.rows import EventRow
from holdctl.safety.contradictions import contradictions
from holdctl.settings import Settings

PLAN = "plan"
"""Name of the notice at the head of a planned hold, and the key of the plan in its detail."""
_LATE_MS = 60_000


def settings_for(plan: Plan, settings: Settings) -> Settings:
    """Return the warmer's settings with the plan's paste and programme. Raises ConfigError where they don't fit."""
    scald = msgspec.structs.replace(
        settings.scald, flour=plan.scald.like, mass_g=plan.scald.mass_g, ratio=round(plan.scald.ratio, 4),
        begins="fresh",
    )  # fmt: skip
    found = msgspec.structs.replace(settings, scald=scald)
    if plan.programme is not None and plan.programme.settings is not None:
        found = msgspec.structs.replace(found, programme=plan.programme.settings)
    try:
        found = msgspec.convert(msgspec.to_builtins(found), Settings)
    except msgspec.ValidationError as error:
        raise ConfigError(f"Plan {plan.id} can't be held by this warmer: {error}.") from None
    problems = contradictions(found)
    if problems:
        raise ConfigError(f"Plan {plan.id} does not go with this holdctl.toml: {problems[0]}")
    return found


def changed_since(plan: Plan, settings: Settings) -> str:
    """Say that the warmer's settings are not those that the plan was made with; empty where they are."""
    if not plan.settings_digest:
        return f"Plan {plan.id} was made without a holdctl.toml: its forecast, if any, is not this warmer's."
    if plan.settings_digest != digest(settings):
        return f"holdctl.toml has changed since plan {plan.id} was made: what it foretells may not hold."
    return ""


def first_notices(plan: Plan, memory: Memory, now_utc_ms: int) -> tuple[Notice, ...]:
    """Return what is written at the head of the record: the plan, whole, and the mix that the night begins with.

    The mix is the one that was measured for this plan, where one was told, else the planned one, and marked so.
    """
    told = Notice(NoticeKind.INFO, PLAN, _words(plan), {PLAN: msgspec.to_builtins(plan)})
    value = _mix(plan, memory, now_utc_ms)
    if value is None:
        return (told,)
    by = f"plan {plan.id}"
    return told, Notice(NoticeKind.NOTE, "note", value.words(), {"by": by, **value.detail()})


def _mix(plan: Plan, memory: Memory, now_utc_ms: int) -> Measurement | None:
    origin = f"plan {plan.id}"
    seen = [s for s in memory.seen if s.kind == "mix" and s.how == TOLD and s.same_night(origin, now_utc_ms)]
    malt: Literal["none"] | None = None if plan.scald.malt_g else "none"
    if seen:
        ago_s = round((seen[-1].at_utc_ms - now_utc_ms) / 1000.0, 1)
        return Measurement(mix_c=round(seen[-1].measured_c, 1), mix_s=ago_s, malt=malt)
    if plan.mix is None:
        return None
    return Measurement(mix_c=round(plan.mix.mix_c, 1), mix_from=origin, malt=malt)


def _words(plan: Plan) -> str:
    parts = [f"Plan {plan.id}, {plan.name}: {plan.scald.mass_g:g} g of scald at 1:{plan.scald.ratio:.3g}"]
    if plan.mix is not None:
        parts.append(
            f"mix expected at {plan.mix.mix_c:.1f} °C ({plan.mix.low_c:.0f} to {plan.mix.high_c:.0f} °C)"
        )
    if plan.night is not None and plan.night.band_s is not None:
        parts.append(f"every part in range in about {span(plan.night.band_s[1])}")
    return ", ".join(parts) + "."


def plan_of(events: list[EventRow]) -> Plan | None:
    """Return the plan at the head of a record; None where there is none that this version reads."""
    for event in events:
        if event.source == "out" and event.name == PLAN and PLAN in event.detail:
            try:
                return msgspec.convert(event.detail[PLAN], Plan)
            except msgspec.ValidationError:
                return None
    return None


def left_open(path: Path) -> Plan | None:
    """Return the plan of the hold that a record was left open with; None where there is none, or not of a plan."""
    if not path.is_file():
        return None
    record = Record(path)
    rows = [row for row in record.holds() if row.state is None]
    return plan_of(record.events(rows[-1].id)) if rows else None


def wait_ms(plan: Plan, now_utc_ms: int) -> int:
    """Return how long it is until the plan's latest start, ms; 0 where that is past. Raises ConfigError without one."""
    start = plan.programme.start_utc_ms if plan.programme is not None else None
    if start is None:
        raise ConfigError(
            f"Plan {plan.id} says no latest start; make it with `holdctl plan bread.toml --ready 05:30 --save`."
        )
    return max(0, start - now_utc_ms)


def too_late(plan: Plan, now_utc_ms: int) -> str:
    """Say by how much the latest start was missed; empty where it was not."""
    start = plan.programme.start_utc_ms if plan.programme is not None else None
    if start is None or now_utc_ms <= start + _LATE_MS:
        return ""
    late = span((now_utc_ms - start) / 1000.0)
    return f"The latest start was {clock(start)}: it will be ready about {late} later than asked."


def planned_night(plan: Plan, settings: Settings, known: Identified | None = None) -> Night:
    """Return the night of a kept plan on this warmer, as its card foretold it. Raises ConfigError without a mix."""
    if plan.mix is None:
        raise ConfigError(
            f"Plan {plan.id} has no mix in it, so nobody can say how long its paste may wait: start it now, "
            "or make the plan again."
        )
    told = plan.night
    evening = Evening(known) if told is None else Evening(
        known, vessel_c=told.vessel_c, stir_every_min=told.stir_every_min, stir_advised=told.stir_advised
    )  # fmt: skip
    return night_of(settings, plan.scald, plan.mix, evening)


def refuse_waiting(plan: Plan, settings: Settings, wait_s: float, known: Identified | None = None) -> None:
    """Raise ConfigError where a mixed paste that waits so long, and then comes up, would break the code."""
    if wait_s <= 0.0:
        return
    night = planned_night(plan, settings, known)
    seen = waiting.after(night, wait_s)
    if waiting.keeps(seen):
        return
    start = plan.programme.start_utc_ms if plan.programme is not None else None
    at = f" at {clock(start)}" if start is not None else ""
    rule = waiting.rule_of(seen)
    why = waiting.UNTOLD if rule is None else f"{rule.words} {rule.rule}"
    why = waiting.NEVER if seen.band_s is None else why
    longest = waiting.longest_s(night)
    within = f", or within {span(longest)}" if longest > 0.0 else ""
    raise ConfigError(
        f"It does not wait: paste that is mixed would stand {span(wait_s)} without heat and cool, and that counts. "
        f"{why} Start now without --wait{within}, or mix{at} and say --mix-later. {AUTHORITY}"
    )
