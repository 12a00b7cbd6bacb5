"""A planned hold: what was planned beside what came, and what the night teaches the next plan."""

from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.errors import HoldctlError
from holdctl.events import Phase
from holdctl.plan.learned import BY_PROBE, TOLD, Memory, Seen
from holdctl.plan.measuring import seen_dough, seen_mix
from holdctl.plan.starting import plan_of
from holdctl.record.rows import EventRow
from holdctl.review.bread import measured_of
from holdctl.review.words import duration, temp
from holdctl.settings import PASTE_PLACES, Settings

if TYPE_CHECKING:
    from rich.console import RenderableType

    from holdctl.review.night import Night

_FIRST_S = 900.0
_HOT_C = 50.0
"""The probe tells the mix only where it was put into hot paste at the beginning."""
_SAME_S, _SAME_G = 60.0, 2.0

Span = tuple[float, float, float]


class PlannedNight(msgspec.Struct, frozen=True, kw_only=True):
    """What a plan said of a hold, and what came; None where it was not said, or did not come."""

    plan: int | None
    name: str
    mix_c: float | None
    mix_low_c: float | None
    mix_high_c: float | None
    mix_came_c: float | None
    mix_how: str
    """How the mix is known: told, or read by the probe in the first minutes."""
    band_s: Span | None
    """Every part in range, s since the start: early, expected, late."""
    band_came_s: float | None
    ready_s: Span | None
    """Programme done."""
    ready_came_s: float | None
    energy_kwh: float | None
    energy_came_kwh: float
    mass_g: float
    """Of the paste."""
    mass_came_g: float | None
    """As weighed last."""
    evaporation_g: tuple[float, float] | None


def planned_night(night: "Night", energy_kwh: float) -> PlannedNight | None:
    """Return plan and night side by side; None for a hold without a plan."""
    plan = plan_of(night.events)
    if plan is None:
        return None
    mix, foreseen, columns = plan.mix, plan.night, night.columns
    came_c, how = _mix_came(night)
    return PlannedNight(
        plan=plan.id, name=plan.name,
        mix_c=mix.mix_c if mix else None, mix_low_c=mix.low_c if mix else None, mix_high_c=mix.high_c if mix else None,
        mix_came_c=came_c, mix_how=how,
        band_s=foreseen.band_s if foreseen else None, band_came_s=_first_s(columns, Phase.HOLD),
        ready_s=foreseen.ready_s if foreseen else None, ready_came_s=_first_s(columns, Phase.HOT_HOLDING),
        energy_kwh=foreseen.energy_kwh if foreseen else None, energy_came_kwh=energy_kwh,
        mass_g=plan.scald.mass_g, mass_came_g=_weighed_g(night.events),
        evaporation_g=foreseen.evaporation_g if foreseen else None,
    )  # fmt: skip


def _first_s(columns: Any, phase: Phase) -> float | None:
    here = columns.phase == phase
    return float(columns.t_s[here][0]) if here.any() else None


def _weighed_g(events: list[EventRow]) -> float | None:
    masses = [m.value.mass_g for m in measured_of(events) if m.value.mass_g is not None]
    return masses[-1] if masses else None


def _mix_came(night: "Night") -> tuple[float | None, str]:
    """Return the mix as told, else as the probe read it in the first minutes, and how it is known."""
    import numpy as np

    told = [m.value for m in measured_of(night.events) if m.value.mix_c is not None and not m.value.mix_from]
    if told:
        return told[-1].mix_c, TOLD
    early = night.columns.t_s <= _FIRST_S
    if not early.any():
        return None, ""
    paste = [night.probe_c(p)[early] for p in night.settings.probe if p.place in PASTE_PLACES]
    finite = np.concatenate(paste)
    finite = finite[np.isfinite(finite)]
    if not len(finite) or finite.max() < _HOT_C:
        return None, ""
    return round(float(finite.max()), 1), BY_PROBE


def teaches(
    events: list[EventRow], found: PlannedNight, settings: Settings, started_utc_ms: int
) -> Seen | None:
    """Return what the mix of a planned night teaches of its vessel; None where it teaches nothing."""
    plan = plan_of(events)
    if plan is None or found.mix_came_c is None:
        return None
    try:
        return seen_mix(
            plan, settings, found.mix_came_c, at_utc_ms=started_utc_ms, origin=f"plan {plan.id}",
            by_probe=found.mix_how == BY_PROBE,
        )  # fmt: skip
    except HoldctlError:  # a plan of another version, or without a mix: nothing to learn
        return None


def dough_teaches(events: list[EventRow], settings: Settings, started_utc_ms: int) -> Seen | None:
    """Return what the dough that was noted last of a planned night teaches of mixing; None where it teaches nothing."""
    plan = plan_of(events)
    told = [m.value for m in measured_of(events) if m.value.dough_c is not None]
    last = told[-1] if told else None
    if plan is None or last is None or last.dough_c is None:
        return None
    try:
        return seen_dough(
            plan, settings, last.dough_c, water_c=last.dough_water_c, scald_c=last.dough_scald_c,
            at_utc_ms=started_utc_ms, origin=f"plan {plan.id}",
        )  # fmt: skip
    except HoldctlError:  # what mixing does not do teaches nothing
        return None


def learn(memory: Memory, one: Seen | None) -> Memory:
    """Return the memory with what a night taught; what was told of that night outranks what the probe read."""
    if one is None:
        return memory
    same = [s for s in memory.seen if s.kind == one.kind and s.same_night(one.origin, one.at_utc_ms)]
    if same and one.how == BY_PROBE and any(s.how == TOLD for s in same):
        return memory
    if any(abs(s.value - one.value) < 1e-9 and s.how == one.how for s in same):
        return memory
    return memory.with_one(one)


def planned_lines(found: PlannedNight | None, units: str) -> "list[RenderableType]":
    """Return plan against night as it stands in a report; nothing for a hold without a plan."""
    from rich.table import Table
    from rich.text import Text

    if found is None:
        return []
    number = f"plan {found.plan}" if found.plan is not None else "plan"
    table = Table(box=None, padding=(0, 2, 0, 0))
    for head in (f"{number}, {found.name}", "planned", "came", ""):
        table.add_column(head)
    for row in _rows(found, units):
        table.add_row(*row)
    return [Text(""), table]


def _rows(f: PlannedNight, units: str) -> list[tuple[str, str, str, str]]:
    rows = []
    if f.mix_c is not None and f.mix_low_c is not None and f.mix_high_c is not None:
        planned = f"{temp(f.mix_c, units)} ({temp(f.mix_low_c, units, 0)} to {temp(f.mix_high_c, units, 0)})"
        side = _side(f.mix_came_c, f.mix_low_c, f.mix_high_c, ("colder", "hotter"))
        rows.append(
            ("mix", planned, temp(f.mix_came_c, units), f"{side}, {f.mix_how}" if side else "not known")
        )
    for name, told, came in (
        ("every part in range", f.band_s, f.band_came_s),
        ("ready", f.ready_s, f.ready_came_s),
    ):
        if told is not None:
            planned = f"{duration(told[1])} ({duration(told[0])} to {duration(told[2])})"
            side = _side(came, told[0] - _SAME_S, told[2] + _SAME_S, ("sooner", "later"))
            rows.append((name, planned, duration(came), side or "it did not come"))
    if f.energy_kwh is not None:
        rows.append(("heat", f"{f.energy_kwh:.2f} kWh", f"{f.energy_came_kwh:.2f} kWh", ""))
    rows += _mass_rows(f)
    return rows


def _mass_rows(f: PlannedNight) -> list[tuple[str, str, str, str]]:
    if f.mass_came_g is None:
        return []
    lost = f.mass_g - f.mass_came_g
    told = "–" if f.evaporation_g is None else f"{f.evaporation_g[0]:.0f} to {f.evaporation_g[1]:.0f} g"
    side = ""
    if f.evaporation_g is not None:
        side = _side(lost, f.evaporation_g[0] - _SAME_G, f.evaporation_g[1] + _SAME_G, ("less", "more"))
    return [
        ("paste", f"{f.mass_g:.0f} g", f"{f.mass_came_g:.0f} g", ""),
        ("water lost", told, f"{lost:.0f} g", side),
    ]


def _side(came: float | None, low: float, high: float, words: tuple[str, str]) -> str:
    if came is None:
        return ""
    return words[0] if came < low else words[1] if came > high else "as planned"
