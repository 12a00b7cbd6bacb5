"""What was done with the paste, as it heads the review where nobody has said it yet."""

from typing import TYPE_CHECKING

from holdctl.food.say import in_units
from holdctl.hold.disposition import WINDOW
from holdctl.review.dispositions import Deviation, Entry
from holdctl.review.words import clock, local_of, look_of

if TYPE_CHECKING:
    from rich.console import RenderableType


def open_lines(found: tuple[Deviation, ...], hold: int, units: str = "C") -> "list[RenderableType]":
    """Return what is still to be entered, with the corrective action of each alarm; nothing where nothing is."""
    from rich.text import Text

    still = [one for one in found if one.open]
    if not still:
        return []
    ask = (
        f"OPEN: what was done with the paste? `holdctl disposition all used|reworked|discarded --hold {hold}`"
    )
    ask += ", or each alarm by its name:"
    return [
        Text(ask, style="bold reverse"),
        *(Text(look_of(units).text(f"  {_said(one, units)}")) for one in still),
        Text(""),
    ]


def _said(one: Deviation, units: str) -> str:
    times = (
        f"at {clock(one.first_s)}" if one.times == 1 else f"{one.times} times, last at {clock(one.last_s)}"
    )
    return f"{one.alarm} {times}: {in_units(one.corrective_action, units)}"


def entered(found: tuple[Deviation, ...]) -> str:
    """Return what was entered for the unsafe windows and stands; empty where nothing was, or not since the last."""
    one = next((one for one in found if one.alarm == WINDOW and not one.open and one.entries), None)
    if one is None:
        return ""
    last = one.entries[-1]
    note = f" ({last.note})" if last.note else ""
    return f"{last.what}, entered by {last.by}, {local_of(last.entered_utc)}{note}"


def entered_lines(found: tuple[Deviation, ...]) -> "list[RenderableType]":
    """Return what was entered, by whom and when, corrections too; nothing where nothing was."""
    from rich.text import Text

    lines = [_entered(one.alarm, k) for one in found for k in one.entries]
    return [Text(""), *map(Text, lines)] if lines else []


def _entered(alarm: str, entry: Entry) -> str:
    note = f": {entry.note}" if entry.note else ""
    return f"Paste after {alarm}: {entry.what}, entered by {entry.by}, {local_of(entry.entered_utc)}{note}"
