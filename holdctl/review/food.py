"""A recorded hold held against its food code: findings, whether it counts as TCS food, and how they stand in a report.

What the rules ask is `holdctl.food.judge`'s; here a record's columns and events become what it takes. The local
authority decides what a finding means.
"""

import re
from collections.abc import Iterable
from typing import TYPE_CHECKING

import msgspec

from holdctl.config.unheated import heated
from holdctl.events import NoticeKind
from holdctl.food.codes import AUTHORITY, code_of
from holdctl.food.findings import Breach, Declared, Finding, Verdict
from holdctl.food.judge import judge, worst
from holdctl.food.rules import TimeControlled
from holdctl.food.say import in_units
from holdctl.food.spells import Spell, falling_steps, spells, with_falls
from holdctl.food.tcs import standing
from holdctl.food.worst_case import Curve, curve, error_k
from holdctl.record.rows import EventRow, HoldRow
from holdctl.review.words import clock, counted, duration, look_of
from holdctl.settings import PASTE_PLACES, Settings

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray
    from rich.console import RenderableType

    from holdctl.food.measured import Measured
    from holdctl.review.night import Night

    Floats = NDArray[float64]

HOW = (
    "What counts: for hot limits the coldest paste, read or estimated, less the probes' error and one deviation of the "
    "estimate; for cold ones the hottest with both added; what was not recorded as the worst."
)
_LISTED = 6
"""Up to so many intervals of one rule are all listed, however short."""
_LONG_S = 60.0
_WORDS = {Verdict.MET: "met", Verdict.BROKEN: "BROKEN", Verdict.CANNOT_TELL: "can't be told"}


class FoodAccount(msgspec.Struct, frozen=True, kw_only=True):
    """What the rules of the chosen code found."""

    code: str
    name: str
    force: str
    remarks: str
    heated: bool
    """False: a cooling with no hold before it."""
    begins: str
    """How the scald came into the warmer: `fresh` or `chilled`."""
    time_control: TimeControlled
    findings: tuple[Finding, ...]
    worst: Verdict
    tcs: bool
    """Whether the paste counts as a food that time and temperature must control."""
    tcs_text: str
    tcs_source: str
    authority: str = AUTHORITY

    def of(self, rule: str) -> Finding | None:
        """Return the finding of one rule by its name."""
        return next((f for f in self.findings if f.rule == rule), None)

    @property
    def breaches(self) -> tuple[Breach, ...]:
        """All intervals that break a rule of the code; this project's own advice apart."""
        return tuple(b for f in self.findings if f.force != "advisory" for b in f.breaches)


def food_account(night: "Night") -> FoodAccount:
    """Return what the code's rules found in a night."""
    found = judge(night.curve, night.declared, night.code)
    tcs = standing(night.declared.measured)
    return FoodAccount(
        code=night.code.id,
        name=night.code.name,
        force=night.code.force,
        remarks=night.code.remarks,
        heated=night.declared.heated,
        begins=night.declared.begins,
        time_control=night.declared.time_control,
        findings=found,
        worst=worst(found),
        tcs=tcs.tcs,
        tcs_text=tcs.text,
        tcs_source=tcs.source,
    )


def declared_of(
    hold: HoldRow,
    settings: Settings,
    events: Iterable[EventRow],
    measured: "tuple[Measured, ...]",
    end_s: float,
) -> Declared:
    """Return what was told about a hold besides its temperatures."""
    errors = [error_k(p) for p in settings.probe if p.place in PASTE_PLACES]
    return Declared(
        begins=settings.scald.begins,
        heated=heated(settings),
        time_control=settings.time_control,
        spells=spells_of(events, end_s, falling_steps(settings.programme, code_of(settings).hot_holding_c)),
        measured=measured,
        probe_error_k=max(errors, default=None),
        ended=hold.state is not None,
    )


def spells_of(
    events: Iterable[EventRow], end_s: float, falling: frozenset[int] = frozenset()
) -> tuple[Spell, ...]:
    """Return the declared spells of a hold; `falling` are the steps that are planned falls."""
    told = list(events)
    said = [
        (e.hold_ms / 1000, e.name, e.detail.get("begins") is True)
        for e in told
        if e.source == "out" and e.kind == NoticeKind.SPELL
    ]
    entered = [
        (e.hold_ms / 1000, int(e.detail.get("step", -1)))
        for e in told
        if e.source == "out" and e.kind == NoticeKind.STEP
    ]
    return with_falls(spells(said, end_s), entered, falling, end_s)


def worst_curve(t_s: "Floats", low_c: "Floats", high_c: "Floats") -> Curve:
    """Return a hold's worst-case curve; a late first reading is a gap from the start."""
    import numpy as np

    if len(t_s) and t_s[0] > 0:
        t_s, low_c, high_c = (
            np.concatenate([[first], values])
            for first, values in ((0.0, t_s), (np.nan, low_c), (np.nan, high_c))
        )
        if t_s[1] <= _FIRST_S:
            t_s, low_c, high_c = t_s[1:], low_c[1:], high_c[1:]
    return curve(t_s, low_c, high_c)


_FIRST_S = 10.0
"""The first reading may come so late after the start."""


# In a report ------------------------------------------------------------------------------------------------------


def food_lines(account: FoodAccount, units: str, hold: int, done: str = "") -> "list[RenderableType]":
    """Return the food section of a report: a table of what was asked, then every interval that broke a rule.

    `done` is what was entered as done with the paste after them.
    """
    from rich.text import Text

    asked = [f for f in account.findings if f.verdict is not Verdict.NOT_APPLICABLE]
    begun = "a fresh mix" if account.begins == "fresh" else "a chilled scald heated again"
    begun = f"told as {begun}" if account.heated else "a cooling alone"
    lines: list[RenderableType] = [
        Text(""),
        Text(f"{account.name} ({account.force}); {begun}", style="bold"),
        Text(_say(account.remarks, units)),
        Text(HOW),
        Text(""),
        _table(asked, units),
        Text(""),
    ]
    lines += [Text(line) for line in _breach_lines(account, units, hold, done)]
    lines += [Text(_say(line, units)) for line in _texts(account)]
    return [*lines, Text(account.authority)]


def food_summary(account: FoodAccount, units: str) -> "list[RenderableType]":
    """Return the findings in a few lines: what was broken, what can't be told, what was met."""
    from rich.text import Text

    lines = [f"{account.name}: {AUTHORITY}"]
    for verdict in (Verdict.BROKEN, Verdict.CANNOT_TELL):
        lines += [
            f"{_name(f)} {_WORDS[verdict]}: {f.observed} (limit {f.limit}; {f.source})"
            for f in account.findings
            if f.verdict is verdict
        ]
    met = [f"{_name(f)} ({f.observed})" for f in account.findings if f.verdict is Verdict.MET]
    lines += [f"Met: {', '.join(met)}."] if met else []
    return [Text(""), *(Text(_say(line, units)) for line in lines)]


def _table(findings: list[Finding], units: str) -> "RenderableType":
    from rich.table import Table

    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, expand=True)
    for head, ratio in (("rule", 11), ("limit", 15), ("observed", 19), ("source", 18), ("verdict", 12)):
        table.add_column(head, ratio=ratio, overflow="fold")
    for f in findings:
        verdict = _WORDS[f.verdict] + (f": {f.why}" if f.why else "")
        cells = (_name(f), _say(f.limit, units), _say(f.observed, units), f.source, _say(verdict, units))
        table.add_row(*cells, style="bold" if f.verdict is Verdict.BROKEN else "")
    return table


def _say(text: str, units: str) -> str:
    """Return a text in one unit, a code's own figure in °F where it has one."""
    return look_of(units).text(in_units(text, units))


def _sure(finding: Finding) -> str:
    """Return how sure the number is in two words."""
    first = finding.sureness.split(":")[0].split(" ")[0]
    if first in ("high", "medium", "low"):
        return f"sureness {first}"
    return "no code's rule" if finding.force == "advisory" else finding.sureness


def _name(finding: Finding) -> str:
    return finding.rule.replace("-", " ").replace("come up", "come-up")


def _breach_lines(account: FoodAccount, units: str, hold: int, done: str) -> list[str]:
    """Return each interval with limit, observation and margin, and the corrective action of its rule once."""
    found = [line for f in account.findings if f.breaches for line in _of_rule(f, units)]
    if not found:
        return ["The record shows no interval that breaks one of these rules."]
    head = "Unsafe windows, times since the start of the hold:"
    ask = (
        f"What was done with the paste: {done}."
        if done
        else f"What was done with the paste: `holdctl disposition unsafe-window used|reworked|discarded --hold {hold}`."
    )
    return [head, *found, *([ask] if account.breaches else [])]


def _of_rule(f: Finding, units: str) -> list[str]:
    shown = f.breaches
    if len(shown) > _LISTED:
        shown = tuple(b for b in shown if b.length_s >= _LONG_S)[:_LISTED]
    lines = [f"  {_name(f)}  {_interval(b, f, units)}" for b in shown]
    left = [b for b in f.breaches if b not in shown]
    if left:
        total = duration(sum(b.length_s for b in left))
        lines.append(f"  {_name(f)}  {counted(len(left), 'more interval')}, {total} in all")
    return [
        *lines,
        _say(f"    {'advice' if f.force == 'advisory' else 'do'}: {f.breaches[0].action}", units),
    ]


def _interval(b: Breach, f: Finding, units: str) -> str:
    seconds = b.length_s < 300
    text = f"{clock(b.start_s, seconds)} to {clock(b.end_s, seconds)}, {duration(b.length_s)}"
    text += f", limit {duration(b.limit_s)}" if b.limit_s is not None else ""
    own = re.search(rf"\b{b.limit_c:g} °C \(\S+ °F\)", f.limit) if b.limit_c is not None else None
    text += f", limit {own[0] if own else f'{b.limit_c:g} °C'}" if b.limit_c is not None else ""
    if b.observed_c is not None:
        text += f", worst {b.observed_c:.1f} °C"
        text += f" ({look_of(units).difference(b.margin_k)} off)" if b.margin_k else ""
    if b.unrecorded_s >= b.length_s:
        text += ", not recorded"
    elif b.unrecorded_s:
        text += f", {duration(b.unrecorded_s)} of it not recorded"
    return _say(text, units)


def _texts(account: FoodAccount) -> list[str]:
    """Return the rules' own sentences with what has to be said of them, what was not asked, and the TCS standing."""
    lines = ["", "The rules (how their numbers were obtained: docs/food-codes.md):"]
    for f in account.findings:
        if f.verdict is not Verdict.NOT_APPLICABLE:
            remarks = f" {f.remarks}" if f.remarks else ""
            lines.append(f"  {_name(f)} ({f.force}, {_sure(f)}): {f.text}{remarks}")
    out = [f"{_name(f)} ({f.observed})" for f in account.findings if f.verdict is Verdict.NOT_APPLICABLE]
    lines += [f"Not asked: {'; '.join(out)}."] if out else []
    return [*lines, f"{account.tcs_text} ({account.tcs_source})"]
