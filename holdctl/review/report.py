"""The review of one hold for a terminal: 80 columns, readable without colour."""

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from holdctl.cautions import CAUTIONS
from holdctl.events import Phase
from holdctl.record.rows import EventRow
from holdctl.review.bread import bread_lines
from holdctl.review.cooled_lines import cooling_lines
from holdctl.review.figures import Figures, PhaseFigures
from holdctl.review.food import food_lines, food_summary
from holdctl.review.foretold import Foretold, Span
from holdctl.review.growth import growth_lines
from holdctl.review.interruptions import lines as interruption_lines
from holdctl.review.paste_lines import entered, entered_lines, open_lines
from holdctl.review.planned import planned_lines
from holdctl.review.storage import storage_lines
from holdctl.review.words import (
    OF_FIGURES,
    clock,
    counted,
    difference,
    duration,
    earned,
    local_of,
    look_of,
    said,
    temp,
    with_doubt,
)

if TYPE_CHECKING:
    from rich.console import RenderableType

_SHOWN_EVENTS = 20
_TRUTH_HEAD = "less simulator's truth"
_PASSING_S = 60.0
"""The phase in which nothing runs is told only where it lasted: each hold ends with a moment of it."""
_TOLD = ("step", "prompt", "trip", "trip-cleared", "reset", "alarm", "alarm-cleared", "returned", "acknowledged",
         "shelved", "unshelved", "chattering", "disposition", "refused", "note", "state", "phase", "request",
         "advice")  # fmt: skip


def render_report(
    figures: Figures, events: list[EventRow] | None = None, *, units: str | None = None
) -> "RenderableType":
    """Return the report of one hold; `units` "C" or "F", those of its settings when left out."""
    from rich.console import Group
    from rich.padding import Padding
    from rich.text import Text

    units = units or figures.units
    parts: list[RenderableType] = [
        Text(_title(figures), style="bold"),
        *open_lines(figures.deviations, figures.hold, units),
        Padding(Text(_sentence(figures, units)), (0, 0, 1, 0)),
        _figures_table(figures, units),
        Text(""),
        _phases_table(figures.phases, units, heated=figures.heated),
        *_unrecorded(figures.phases),
        *planned_lines(figures.planned, units),
        *_foretold(figures),
        *_truth(figures, units),
        *cooling_lines(figures.cooling, units, figures.started_utc),
        *food_lines(figures.food, units, figures.hold, entered(figures.deviations)),
        *storage_lines(figures.storage, units),
        *_interrupted(figures, units),
        *growth_lines(figures.growth, units),
        *(bread_lines(figures.bread, units) if figures.bread else ()),
    ]
    parts += entered_lines(figures.deviations)
    if events:
        parts += _events(events, units)
    return Group(*parts, Padding(cautions(units), (1, 0, 0, 0)))


def render_summary(figures: Figures, *, units: str | None = None) -> "RenderableType":
    """Return what fits one screen of 24 lines: what happened, by phase, and against the food code."""
    from rich.console import Group
    from rich.text import Text

    units = units or figures.units
    head = (
        Text(_title(figures), style="bold"),
        *open_lines(figures.deviations, figures.hold, units),
        Text(_sentence(figures, units)),
    )
    table = _phases_table(figures.phases, units, heated=figures.heated)
    food = [*food_summary(figures.food, units), *_interrupted(figures, units)]
    return Group(*head, table, *_truth(figures, units), *food, Text(""))


def cautions(units: str = "C") -> "RenderableType":
    """Return the cautions that stand under every review."""
    from rich.text import Text

    return Text(look_of(units).text("Cautions. " + " ".join((*CAUTIONS, OF_FIGURES))))


def _title(f: Figures) -> str:
    kind = ", simulated warmer" if f.simulated else ""
    if not f.heated:
        return f"Hold {f.hold} · a cooling, no warmer{', simulated' if f.simulated else ''}"
    return f"Hold {f.hold} · {f.programme} · {f.warmer}{kind}"


def _sentence(f: Figures, units: str) -> str:
    """Return what happened in one plain sentence."""
    ending = "not closed yet" if f.state == "open" else f"ended {f.state}"
    hold = f.phase(Phase.HOLD)
    if not f.heated:
        return f"{duration(f.length_s)} long, {ending}: nothing was heated, no relay was switched; the probe alone."
    if hold is None:
        return f"{duration(f.length_s)} long, {ending}; the paste was never in the hold phase."
    return (
        f"{duration(f.length_s)} long, {ending}: in the hold after {duration(f.until_hold_s)}, "
        f"{earned(f.credit_s, f.asked_s)} of hold time earned, paste probe {temp(hold.paste_min_c, units)} to "
        f"{temp(hold.paste_max_c, units)} in it (set {temp(f.setpoint_c, units)})."
    )


def _figures_table(f: Figures, units: str) -> Any:
    from rich.table import Table

    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    checked = f"checked {f.paste_probe_checked_on}" if f.paste_probe_checked_on else "no check noted"
    longest = f" (longest {duration(f.longest_gap_s)})" if f.gaps else ""
    started = local_of(f.started_utc)
    told = f"{counted(f.alarms, 'alarm')}, {counted(f.trips, 'trip')}"
    table.add_row("started", f"{started}, paced by the {f.pace}")
    for name, words in _held(f, units):
        table.add_row(name, words)
    table.add_row(
        "paste probe", f"{f.paste_probe}, error up to {difference(f.paste_error_k, units)}, {checked}"
    )
    if f.heated:
        heat = f"{f.energy_relay_kwh:.3f} kWh from relay time, {f.energy_duty_kwh:.3f} kWh from duty"
        table.add_row("relay", f"{counted(f.switch_ons, 'switch-on')}; heat {heat}")
    table.add_row(
        "record", f"{counted(f.samples, 'sample')}, {counted(f.gaps, 'gap')} over 10 s{longest}; {told}"
    )
    return table


def _held(f: Figures, units: str) -> Iterator[tuple[str, str]]:
    """Yield what a warmer was asked and gave."""
    if f.every_part_c is not None:
        low, high = f.every_part_c
        coldest, hottest = (
            f"{with_doubt(value, sd_k, units)} °{units}"
            for value, sd_k in ((f.coldest_c, f.coldest_sd_k), (f.hottest_c, f.hottest_sd_k))
        )
        estimate = f"estimated coldest in the hold {coldest}, hottest ever {hottest}"
        yield "every part", f"asked {temp(low, units)} to {temp(high, units)}; {estimate}"
    if f.wall_max_c is not None:
        yield (
            "wall",
            f"highest {temp(f.wall_max_c, units)} ({'measured' if f.wall_measured else 'estimated'})",
        )


def _phases_table(phases: tuple[PhaseFigures, ...], units: str, *, heated: bool = True) -> Any:
    from rich.table import Table

    table = Table(box=None, padding=(0, 2, 0, 0), title_justify="left")
    estimates = (f"coldest °{units}", f"hottest °{units}")
    held, relay = (["rms dev."], ["on/h"]) if heated else ([], [])
    for head in ("phase", "time", f"paste °{units}", *held, *estimates, *relay):
        table.add_column(head, justify="left" if head == "phase" else "right")
    for p in phases:
        if p.phase == Phase.NONE and p.duration_s < _PASSING_S:
            continue
        span = (
            f"{with_doubt(p.paste_min_c, None, units)}…{with_doubt(p.paste_max_c, None, units)}"
            if p.paste_min_c is not None
            else "–"
        )
        per_h = "–" if p.switch_ons_per_h is None else f"{p.switch_ons_per_h:.0f}"
        table.add_row(
            "not running" if p.phase == Phase.NONE else p.phase, duration(p.duration_s), span,
            *([difference(p.deviation_rms_k, units)] if heated else ()),
            with_doubt(p.coldest_c, p.coldest_sd_k, units), with_doubt(p.hottest_c, p.hottest_sd_k, units),
            *([per_h] if heated else ()),
        )  # fmt: skip
    return table


def _unrecorded(phases: tuple[PhaseFigures, ...]) -> "list[RenderableType]":
    """Say what of a phase's time nobody recorded: the time in the table is between its first and its last sample."""
    from rich.text import Text

    lost = [f"{duration(p.unrecorded_s)} of {p.phase}" for p in phases if p.unrecorded_s]
    return [Text(f"Not recorded of these times: {', '.join(lost)}.")] if lost else []


def _interrupted(f: Figures, units: str) -> "list[RenderableType]":
    from rich.text import Text

    return [Text(line) for line in interruption_lines(f.interruptions, units)]


def _foretold(f: Figures) -> "list[RenderableType]":
    """Return the first forecast of each hold step beside what came, and the stirs; times since the start."""
    from rich.text import Text

    lines = [line for told in f.forecasts for line in _against(told)]
    lines += [f"Stirred at {clock(stir.at_s)}: {stir.text}" for stir in f.stirs]
    return [Text(""), *map(Text, lines)] if lines else []


def _against(told: Foretold) -> list[str]:
    return [
        f"Forecast at {clock(told.told_s)} for step {told.step + 1} (times since the start):",
        f"  every part in range {_range(told.in_range_s, 'a day')}; {_came(told.in_range_s, told.in_range_came_s)}",
        f"  hold time earned    {_range(told.done_s, 'two days')}; {_came(told.done_s, told.done_came_s)}",
    ]


def _range(span: Span | None, longest: str) -> str:
    if span is None:
        return f"not within {longest}"
    return f"{clock(span[0])} to {clock(span[2])}, expected {clock(span[1])}"


def _came(span: Span | None, came_s: float | None) -> str:
    if came_s is None:
        return "it did not come"
    if span is None:
        return f"came {clock(came_s)}"
    early, _, late = span
    side = "earlier" if came_s < early - 60 else "later" if came_s > late + 60 else "within it"
    return f"came {clock(came_s)}, {side}"


def _truth(f: Figures, units: str) -> "list[RenderableType]":
    """Return how the estimates stood against the simulator's truth; nothing for a real hold."""
    from rich.table import Table
    from rich.text import Text

    if not f.truth:
        return []
    table = Table(box=None, padding=(0, 2, 0, 0))
    for head in (_TRUTH_HEAD, "rms", "worst", "at", "truth within ±2 sd"):
        table.add_column(head, justify="left" if head == _TRUTH_HEAD else "right")
    for one in f.truth:
        within = "no sd given" if one.within_2sd is None else f"{100 * one.within_2sd:.0f} %"
        worst = difference(one.worst_k, units)
        table.add_row(one.place, difference(one.rms_k, units), worst, clock(one.worst_s), within)
    return [Text(""), table]


def _events(events: list[EventRow], units: str) -> "list[RenderableType]":
    from rich.table import Table
    from rich.text import Text

    told = [e for e in events if e.kind in _TOLD]
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for event in told[-_SHOWN_EVENTS:]:
        table.add_row(clock(event.hold_ms / 1000), event.kind, Text(said(event, units)))
    left_out = len(told) - _SHOWN_EVENTS
    head = f"Events (the last {_SHOWN_EVENTS} of {len(told)})" if left_out > 0 else "Events"
    return [Text(""), Text(head, style="bold"), table]
