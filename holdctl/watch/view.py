"""One frame of the live screen: a pure function from a snapshot to text of a given size.

Grey by default; colour marks only what is abnormal and never stands alone: reverse video and a word go with it.
What is left of the height goes to the curve; a small terminal loses the curve first, then the events.
"""

import re
import textwrap
from typing import TYPE_CHECKING

from holdctl.watch.account import account_line, account_lines, account_text
from holdctl.watch.alarm_lines import alarm_lines
from holdctl.watch.curve import Marks, curve
from holdctl.watch.figures import advice_line, beside, food_text
from holdctl.watch.sentence import Level, sentence
from holdctl.watch.snapshot import Line, Snapshot
from holdctl.watch.words import Look

if TYPE_CHECKING:
    from rich.text import Text

STYLES: dict[Level, str] = {
    "normal": "bold",
    "alarm": "bold reverse yellow",
    "trip": "bold reverse red",
    "danger": "bold blink reverse red",
}
MIN_CURVE = 5
MAX_EVENTS = 14
MIN_EVENTS = 2
WIDE, TALL = 110, 24
"""Columns, and lines beside the food code's, from which on the account of the night is given at length."""
_KIND_WORDS = {"trip": "TRIP: ", "alarm": "ALARM: ", "prompt": "Wanted: ", "note": "Note: "}

_UNIT = re.compile(r"([\d-]) (°?[CFK]|h|min|s|%)\b")

Styled = tuple[str, str]


LEAVE = "Ctrl-C leaves, the hold goes on"


def frame(
    shot: Snapshot, width: int, height: int, look: Look, footer: str = "", leave: str = LEAVE
) -> "Text":
    """Return at most `height` lines of at most `width` columns.

    `footer` is the caller's own last line, `leave` says what Ctrl-C does.
    """
    said = sentence(shot, look)
    head = [(line, STYLES[said.level]) for line in _wrap(said.text, width, max(1, height // 4))]
    head += [(line, STYLES["normal"]) for text in advice_line(shot, look) for line in _wrap(text, width, 2)]
    head += _plain(beside(shot, width, height, look))
    head += alarm_lines(shot, width, height, look)
    tail = [(_status(shot, width, look, leave), "")] + [(look.text(footer), "")] * bool(footer)
    room = height - len(head) - len(tail)
    lines = head[: height - len(tail)] + _body(shot, width, room, look) + tail
    return _text(lines, width)


def _body(shot: Snapshot, width: int, room: int, look: Look) -> list[Styled]:
    """Return curve, food code, account of the night and events in `room` lines."""
    food = _wrap(look.text(food_text(shot, look)), width, 4)
    if room < len(food):
        return _plain(_events(shot.lines, room, width, look))
    rest = room - len(food)
    account = _account(shot, width, rest, look)
    food, rest = [*food, *account], rest - len(account)
    if rest < MIN_CURVE + 1:
        return _plain([*food, *_events(shot.lines, rest, width, look)])
    wanted = min(max(2, rest // 4), MAX_EVENTS, rest - MIN_CURVE)
    events = _events(shot.lines, wanted, width, look)
    return _plain([*_curve(shot, width, rest - len(events), look), *food, *events])


def _account(shot: Snapshot, width: int, room: int, look: Look) -> list[str]:
    """Return what the night has done so far, as much of it as leaves room for curve and events."""
    if shot.sample is None:
        return []
    if width >= WIDE and room >= TALL:
        return [line for text in account_lines(shot, look) for line in _wrap(text, width, 4)]
    for text in (account_text(shot, look), account_line(shot, look)):
        lines = _wrap(text, width, 4)
        if room - len(lines) > MIN_CURVE + MIN_EVENTS:
            return lines
    return []


def _plain(lines: list[str]) -> list[Styled]:
    return [(line, "") for line in lines]


def _curve(shot: Snapshot, width: int, height: int, look: Look) -> list[str]:
    at = shot.sample.at if shot.sample else None
    offset_ms = at.utc_ms - at.hold_ms if at else shot.hold.started_utc_ms
    marks = Marks(shot.settings.programme.every_part if shot.heated else (), shot.food.code.hot_holding_c)
    return curve(shot.history, marks, at.hold_ms if at else 0, offset_ms, (width, height), look)


def _events(lines: tuple[Line, ...], count: int, width: int, look: Look) -> list[str]:
    """Return the newest events in at most `count` lines, newest last; long ones are folded."""
    rows: list[str] = []
    for event in reversed(lines[-count:] if count > 0 else ()):
        text = look.text(_KIND_WORDS.get(event.kind, "") + event.text)
        folded = _wrap(text, max(10, width - 7), MAX_EVENTS)
        if rows and len(rows) + len(folded) > count:
            break
        times = [look.time(event.utc_ms)] + [""] * (len(folded) - 1)
        rows = [f"{time:<5}  {part}" for time, part in zip(times, folded, strict=True)] + rows
    return rows[:count]


def _status(shot: Snapshot, width: int, look: Look, how: str) -> str:
    """Return warmer and programme, what makes it no night's work, how to leave, date and time: as much as fits."""
    tags = ["TEST RIG"] * shot.hold.simulated + ["the node turns the clock"] * (shot.hold.pace == "device")
    names = [shot.hold.warmer, shot.hold.programme] if shot.heated else ["no warmer", "cooling"]
    leave, short = ("", "") if shot.ended else (f"{how}  ", f"{how.split(',')[0]}  ")
    time, day = look.time(shot.now_utc_ms), look.day(shot.now_utc_ms)
    for left, right in (
        ([*names, *tags], f"{leave}{day} {time}"),
        ([*names, *tags], f"{leave}{time}"),
        ([names[0], *tags], f"{leave}{time}"),
        ([names[0], *tags], f"{short}{time}"),
        (tags, f"{leave}{time}"),
        ([names[0], *tags], time),
        (tags, f"{short}{time}"),
        (tags, time),
        (tags, ""),
    ):
        text = look.text(" · ".join(left))
        if len(text) + len(right) + 2 <= width:
            return f"{text:<{width - len(right) - 2}}  {right}"
    return look.text(", ".join(tags) or time)


def _wrap(text: str, width: int, most: int) -> list[str]:
    """Break a text into lines, numbers kept with their units; what is beyond `most` lines is cut off."""
    glued = _UNIT.sub("\\1\N{NO-BREAK SPACE}\\2", text)
    lines = textwrap.wrap(glued, width, break_on_hyphens=False) or [""]
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines[:most]]


def _text(lines: list[Styled], width: int) -> "Text":
    from rich.text import Text

    rows = []
    for content, style in lines:
        row = Text(content.rstrip(), style=style, no_wrap=True, end="")
        row.truncate(width, overflow="crop")
        rows.append(row)
    return Text("\n", no_wrap=True, end="").join(rows)
