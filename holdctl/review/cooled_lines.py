"""A cooling's own section in a report: each stage with its rule, limit, source and verdict; forecast and what came."""

from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from holdctl.food.findings import Verdict
from holdctl.food.say import in_units, lasting
from holdctl.review.cooled import CoolingAccount, Foretold, Stage
from holdctl.review.words import clock, look_of

if TYPE_CHECKING:
    from rich.console import RenderableType

VERDICTS = {Verdict.MET: "met", Verdict.BROKEN: "BROKEN", Verdict.CANNOT_TELL: "can't be told"}
_SLACK_S = 60.0
"""What came this much outside its forecast still counts as within it: forecasts are told in minutes."""


def cooling_lines(
    accounts: tuple[CoolingAccount, ...], units: str, started_utc: str
) -> "list[RenderableType]":
    """Return the section; nothing of a hold without a cooling. `started_utc` is the hold's begin, ISO 8601."""
    from rich.text import Text

    found: list[RenderableType] = []
    for one in accounts:
        found += [
            Text(""),
            Text(_head(one, started_utc), style="bold"),
            *([_table(one, units)] if one.stages else []),
        ]
        found += [Text(_say(line, units)) for line in _under(one)]
    return found


def _say(text: str, units: str) -> str:
    return look_of(units).text(in_units(text, units))


def _head(one: CoolingAccount, started_utc: str) -> str:
    def at(hold_s: float) -> str:
        kitchen = datetime.fromisoformat(started_utc) + timedelta(seconds=hold_s)
        return f"{clock(hold_s)} ({kitchen.astimezone().strftime('%H:%M')})"

    places = f", {'; then '.join(one.places)}" if one.places else ""
    name = "Planned fall" if one.planned else "Cooling"
    return f"{name} from {at(one.start_s)} to {at(one.end_s)}{places}: {verdict_words(one)}"


def verdict_words(one: CoolingAccount) -> str:
    """Return the verdict of the whole cooling in words."""
    if not one.stages:
        return f"{VERDICTS[Verdict.CANNOT_TELL]}, {one.why}"
    said = {Verdict.MET: "every stage met", Verdict.BROKEN: "rule BROKEN"}
    return said.get(one.verdict, VERDICTS[Verdict.CANNOT_TELL])


def _table(one: CoolingAccount, units: str) -> "RenderableType":
    from rich.table import Table

    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False, expand=True)
    for head, ratio in (("rule", 11), ("limit", 15), ("observed", 19), ("source", 18), ("verdict", 12)):
        table.add_column(head, ratio=ratio, overflow="fold")
    for number, stage in enumerate(one.stages, start=1):
        verdict = VERDICTS[stage.verdict] + (f", {lasting(stage.over_s)} over" if stage.over_s else "")
        cells = (
            f"stage {number}",
            _say(stage.limit, units),
            _say(_observed(stage), units),
            one.source,
            verdict,
        )
        table.add_row(*cells, style="bold" if stage.verdict is Verdict.BROKEN else "")
    return table


def _observed(stage: Stage) -> str:
    if stage.began_s is None:
        return stage.observed
    ended = f", there at {clock(stage.reached_s)}" if stage.reached_s is not None else ""
    return f"from {clock(stage.began_s)}: {stage.observed}{ended}"


def _under(one: CoolingAccount) -> list[str]:
    """Return the rule, how the paste ended, and what was foretold."""
    lines = [
        f"Rule ({one.force}, sureness {one.sureness.split(':')[0].split(' ')[0]}): {one.rule} {one.source}."
    ]
    if one.cold_s is not None:
        lines.append(
            f"All paste was at {one.cold_c:g} °C or below from {clock(one.cold_s)} on, errors counted."
        )
    elif one.last_high_c is not None:
        lines.append(
            f"At its end some paste may still have been at {one.last_high_c:.1f} °C, errors counted."
        )
    if one.forecasts:
        lines.append("Foretold then, and what came (times since the start):")
        lines += [f"  {_foretold(told)}" for told in one.forecasts]
    return lines


def _foretold(told: Foretold) -> str:
    due = "" if told.due_s is None else f", due {clock(told.due_s)}"
    return f"at {clock(told.told_s)} {told.place}: {told.to_c:g} °C {_range(told)}{due}; {_came(told)}"


def _range(told: Foretold) -> str:
    if told.early_s is None:
        return "never as it cooled then"
    late = "perhaps never" if told.late_s is None else clock(told.late_s)
    expected = "" if told.expected_s is None else f", expected {clock(told.expected_s)}"
    return f"{clock(told.early_s)} to {late}{expected}"


def _came(told: Foretold) -> str:
    if told.came_s is None:
        return "it did not come"
    if told.early_s is None:
        return f"came {clock(told.came_s)} after all"
    early = told.came_s < told.early_s - _SLACK_S
    late = told.late_s is not None and told.came_s > told.late_s + _SLACK_S
    return f"came {clock(told.came_s)}, {'earlier' if early else 'later' if late else 'within it'}"
