"""The kitchen card as a page of A4: PDF to print, PNG or SVG to send. Longer where there is more to say."""

from pathlib import Path
from typing import TYPE_CHECKING

from holdctl.drawn import save
from holdctl.plan.card import HEAD, Card, Section
from holdctl.plan.text import packed, wrapped

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_A4_IN = (8.27, 11.69)
_LEFT, _RIGHT, _TOP = 0.7, 7.57, 0.8
"""Margins, inches from the left and from the top."""
_COLUMNS = (3.9, 5.2, 6.5, 7.5)
"""Right ends of the columns of numbers, inches."""
_TEXT_AT = 1.75
_ROW, _LINE = 0.29, 0.205
_SIZE, _TEXT_SIZE = 12.5, 10.5
_LETTERS, _WIDE_LETTERS = 76, 88
_NAME_LETTERS = 26


class _Pen:
    """Writes downwards; places in inches from the upper left corner."""

    def __init__(self, figure: "Figure", height: float) -> None:
        self.figure, self.height, self.y = figure, height, _TOP

    def write(self, x: float, text: str, size: float, *, bold: bool = False, right: bool = False) -> None:
        self.figure.text(
            x / _A4_IN[0], 1 - self.y / self.height, text, fontsize=size, va="baseline",
            ha="right" if right else "left", fontweight="bold" if bold else "normal", parse_math=False,
        )  # fmt: skip

    def rule(self, width: float) -> None:
        from matplotlib.lines import Line2D

        y = 1 - (self.y + 0.09) / self.height
        ends = [_LEFT / _A4_IN[0], _RIGHT / _A4_IN[0]]
        self.figure.add_artist(Line2D(ends, [y, y], color="black", linewidth=width))


def draw(card: Card, path: Path) -> None:
    """Draw the card to a .pdf, .png or .svg file. Raises JobError for another name or a place that can't be written."""
    save(_figure(card), path)


def _figure(card: Card) -> "Figure":
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    height = max(_A4_IN[1], _height(card))
    figure = Figure(figsize=(_A4_IN[0], height), dpi=120, facecolor="white")
    FigureCanvasAgg(figure)
    pen = _Pen(figure, height)
    pen.write(_LEFT, card.title, min(20.0, 20.0 * 36 / max(len(card.title), 1)), bold=True)
    pen.y += 0.28
    pen.write(_LEFT, card.made, _TEXT_SIZE)
    for line in _facts(card):
        pen.y += 0.24
        pen.write(_LEFT, line, _TEXT_SIZE)
    pen.y += 0.35
    _sections(pen, card.first)
    _table(pen, card)
    pen.y += 0.25
    _sections(pen, card.sections)
    return figure


def _height(card: Card) -> float:
    lines = sum(len(_wrapped(section)) for section in (*card.first, *card.sections))
    gaps = 0.12 * len(card.first + card.sections)
    return _TOP + 2.2 + 0.24 * len(_facts(card)) + _ROW * (len(card.rows) + 2) + _LINE * lines + gaps


def _facts(card: Card) -> list[str]:
    return packed(card.facts, _WIDE_LETTERS)


def _table(pen: _Pen, card: Card) -> None:
    _row(pen, HEAD, bold=True, rule=1.4)
    for row in card.rows:
        _row(pen, row, rule=0.4)
    _row(pen, card.foot, bold=True)


def _row(pen: _Pen, cells: tuple[str, ...], *, bold: bool = False, rule: float = 0.0) -> None:
    name = cells[0] if len(cells[0]) <= _NAME_LETTERS else cells[0][: _NAME_LETTERS - 1] + "…"
    pen.write(_LEFT, name, _SIZE, bold=bold)
    for column, (x, cell) in enumerate(zip(_COLUMNS, cells[1:], strict=True)):
        pen.write(x, cell, _SIZE, bold=bold or column == 0, right=True)
    if rule:
        pen.rule(rule)
    pen.y += _ROW


def _sections(pen: _Pen, sections: tuple[Section, ...]) -> None:
    for section in sections:
        pen.write(_LEFT, section.label, _TEXT_SIZE, bold=True)
        for line in _wrapped(section):
            pen.write(_TEXT_AT, line, _TEXT_SIZE, bold=section.loud)
            pen.y += _LINE
        pen.y += 0.12


def _wrapped(section: Section) -> list[str]:
    letters = _LETTERS - 8 if section.loud else _LETTERS
    return [part for line in section.lines for part in wrapped(line.whole, letters)]
