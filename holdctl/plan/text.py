"""The kitchen card for a terminal or a line printer: 80 columns, no colour needed."""

import textwrap
from collections.abc import Iterator

from holdctl.plan.card import HEAD, MORE, WHY, Card, Said, Section
from holdctl.plan.words import GLUE, glued

WIDTH = 80
SHORTENED = "         Why and more: with `| less`, --html or --picture."
_LABEL = 9
_COLUMNS = (11, 13, 12, 8)


def render(card: Card, rows: int | None = None) -> str:
    """Return the card as lines of at most 80 columns.

    Where `rows` are too few, what says why and more is left out, as far as that helps, and the last line says so.
    """
    whole = list(_lines(card, MORE))
    if rows is None or len(whole) <= rows:
        return "\n".join(whole) + "\n"
    short = list(_lines(card, WHY))
    if len(short) >= rows:
        short = list(_lines(card, 0))
    if len(short) < rows:
        short.append(SHORTENED)
    elif len(short) > rows:  # it scrolls: what must not be overlooked stands at its end, too
        short += [line for section in card.first for line in _section(section, 0)]
    return "\n".join(short) + "\n"


def _lines(card: Card, rank: int) -> Iterator[str]:
    room = WIDTH - len(card.made) - 2
    yield f"{_short(card.title, room):<{room}}  {card.made}"
    yield from packed(card.facts, WIDTH)
    for section in card.first:
        yield from _section(section, rank)
    width = WIDTH - sum(_COLUMNS)
    yield _row(HEAD, width).rstrip()
    yield from (_row(row, width) for row in card.rows)
    yield _row(card.foot, width)
    for section in card.sections:
        yield from _section(section, rank)


def _row(cells: tuple[str, ...], width: int) -> str:
    numbers = (f"{cell:>{wide}}" for cell, wide in zip(cells[1:], _COLUMNS, strict=True))
    return f"{_short(cells[0], width):<{width}}" + "".join(numbers)


def _section(section: Section, rank: int) -> Iterator[str]:
    label = section.label.upper() if section.loud else section.label
    for line in section.lines:
        if line.rank <= rank:
            for part in _parts(line, rank):
                yield f"{label:<{_LABEL}}{part}"
                label = ""


def _parts(line: Said, rank: int) -> list[str]:
    """Return a sentence in lines; its tail is left out only where that saves a line."""
    whole = wrapped(line.whole, WIDTH - _LABEL)
    return whole if rank or len(whole) == 1 or not line.tail else wrapped(f"{line.text}.", WIDTH - _LABEL)


def wrapped(line: str, width: int) -> list[str]:
    """Return a sentence in lines; a number keeps its unit beside it."""
    parts = textwrap.wrap(glued(line), width, break_on_hyphens=False)
    return [part.replace(GLUE, " ") for part in parts]


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
