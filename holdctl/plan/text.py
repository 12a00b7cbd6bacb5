"""The kitchen card for a terminal or a line printer: 80 columns, no colour needed."""

import re
import textwrap
from collections.abc import Iterator

from holdctl.plan.card import HEAD, Card, Section

WIDTH = 80
_LABEL = 9
_UNIT = re.compile(r"(\d) (?=°|%|(?:g|h|min|K|kWh)\b)")
_COLUMNS = (11, 13, 12, 8)


def render(card: Card) -> str:
    """Return the card as lines of at most 80 columns."""
    return "\n".join(_lines(card)) + "\n"


def _lines(card: Card) -> Iterator[str]:
    room = WIDTH - len(card.made) - 2
    yield f"{_short(card.title, room):<{room}}  {card.made}"
    yield from packed(card.facts, WIDTH)
    for section in card.first:
        yield from _section(section)
    width = WIDTH - sum(_COLUMNS)
    yield _row((HEAD[0], *HEAD[1:]), width).rstrip()
    yield from (_row(row, width) for row in card.rows)
    yield _row(card.foot, width)
    for section in card.sections:
        yield from _section(section)


def _row(cells: tuple[str, ...], width: int) -> str:
    numbers = (f"{cell:>{wide}}" for cell, wide in zip(cells[1:], _COLUMNS, strict=True))
    return f"{_short(cells[0], width):<{width}}" + "".join(numbers)


def _section(section: Section) -> Iterator[str]:
    label = section.label.upper() if section.loud else section.label
    for line in section.lines:
        for part in wrapped(line, WIDTH - _LABEL):
            yield f"{label:<{_LABEL}}{part}"
            label = ""


def wrapped(line: str, width: int) -> list[str]:
    """Return a sentence in lines; a number keeps its unit beside it."""
    parts = textwrap.wrap(_UNIT.sub("\\1\u00a0", line), width, break_on_hyphens=False)
    return [part.replace("\u00a0", " ") for part in parts]


def packed(facts: tuple[str, ...], width: int) -> list[str]:
    """Return facts in lines, broken between them only."""
    lines: list[str] = []
    for fact in facts:
        if lines and len(lines[-1]) + 3 + len(fact) <= width:
            lines[-1] += f" · {fact}"
        else:
            lines.append(fact)
    return lines


def _short(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"
