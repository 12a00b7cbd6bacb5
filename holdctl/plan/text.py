"""The kitchen card for a terminal or a line printer: 80 columns, no colour needed."""

import textwrap
from collections.abc import Iterator

from holdctl.plan.card import HEAD, MORE, WHY, Card, Said, Section
from holdctl.plan.words import GLUE, glued

WIDTH = 80
SHORTENED = "         Why and more: with `| less`, --html or --picture."
_LABEL = 9
_ALSO = "+ dough  "
_TIGHTEST = -1
"""Rank of a card that has to be as short as it can be …"""
_LEAST = -2
"""… and of one that is too long even then: what needs nobody is left out, and of the notes there is their number."""
_COLUMNS = (11, 13, 12, 8)


def render(card: Card, rows: int | None = None) -> str:
    """Return the card as lines of at most 80 columns.

    Where `rows` are too few, what says why and more is left out, as far as that helps, and the last line says so; then
    ingredients that don't meet the scald share lines; then what goes by itself is left out, too, and notes are counted.
    """
    whole = list(_lines(card, MORE))
    if rows is None or len(whole) <= rows:
        return "\n".join(whole) + "\n"
    short = list(_lines(card, WHY))
    if len(short) >= rows:
        short = list(_lines(card, 0))
    for rank in (_TIGHTEST, _LEAST):
        if len(short) >= rows:
            short = list(_lines(card, rank))
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
    apart = [row for row in card.rows if rank <= _TIGHTEST and _only_dough(row)]
    yield from (_row(row, width) for row in card.rows if row not in apart)
    yield from packed(tuple(f"{name} {grams}" for name, _, grams, *_ in apart), WIDTH, _ALSO)
    yield _row(card.foot, width)
    for section in card.sections:
        yield from _section(section, rank)


def _only_dough(row: tuple[str, ...]) -> bool:
    """Whether an ingredient goes into the final dough alone."""
    _, _, dough, together, _ = row
    return dough == together


def _row(cells: tuple[str, ...], width: int) -> str:
    numbers = (f"{cell:>{wide}}" for cell, wide in zip(cells[1:], _COLUMNS, strict=True))
    return f"{_short(cells[0], width):<{width}}" + "".join(numbers)


def _section(section: Section, rank: int) -> Iterator[str]:
    label = section.label.upper() if section.loud else section.label
    lines = [
        line for line in section.lines if line.rank <= max(rank, 0) and not (rank == _LEAST and line.spare)
    ]
    parts = [part for line in lines for part in _parts(line, rank)]
    if rank == _LEAST and section.brief and len(parts) > 1:
        parts = [section.brief]
    for part in _joined(parts) if rank <= _TIGHTEST else parts:
        yield f"{label:<{_LABEL}}{part}"
        label = ""


def _joined(parts: list[str]) -> list[str]:
    """Return short sentences side by side where there is room."""
    found: list[str] = []
    for part in parts:
        if found and len(found[-1]) + 2 + len(part) <= WIDTH - _LABEL:
            found[-1] += f"  {part}"
        else:
            found.append(part)
    return found


def _parts(line: Said, rank: int) -> list[str]:
    """Return a sentence in lines; its tail is left out only where that saves a line."""
    if rank <= _TIGHTEST and line.brief:
        return wrapped(line.brief, WIDTH - _LABEL)
    whole = wrapped(line.whole, WIDTH - _LABEL)
    return whole if rank > 0 or len(whole) == 1 or not line.tail else wrapped(f"{line.text}.", WIDTH - _LABEL)


def wrapped(line: str, width: int) -> list[str]:
    """Return a sentence in lines; a number keeps its unit beside it."""
    parts = textwrap.wrap(glued(line), width, break_on_hyphens=False)
    return [part.replace(GLUE, " ") for part in parts]


def packed(facts: tuple[str, ...], width: int, lead: str = "") -> list[str]:
    """Return facts in lines, broken between them only; the first begins with `lead`, the others as far in."""
    lines: list[str] = []
    for fact in facts:
        if lines and len(lines[-1]) + 3 + len(fact) <= width:
            lines[-1] += f" · {fact}"
        else:
            lines.append((" " * len(lead) if lines else lead) + fact)
    return lines


def _short(text: str, width: int) -> str:
    return text if len(text) <= width else text[: width - 1] + "…"
