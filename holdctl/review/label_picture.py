"""A label as a sheet of A7 (ISO 216: 105 mm by 74 mm), black on white: PDF to print, PNG or SVG to show."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from holdctl.drawn import save
from holdctl.review.label_text import Lines

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_MM = 1 / 25.4
_WIDE_MM, _HIGH_MM = 105.0, 74.0
_LEFT_MM, _VALUE_MM, _LOUD_MM, _TOP_MM, _BOTTOM_MM = 5.0, 20.0, 29.0, 9.0, 4.0
_PT_MM = 25.4 / 72
_LETTER = 0.54
"""Width of a letter of the plain face, in its size: a little more than its mean."""
_SIZES = (1.0, 0.92, 0.85, 0.78, 0.72, 0.66, 0.6)
"""Tried in turn until all fits: the least is print of 4 pt."""


def draw(lines: Lines, path: Path) -> None:
    """Draw the label to a .pdf, .png or .svg file. Raises JobError where it can't."""
    save(_figure(lines), path)


def _figure(lines: Lines) -> "Figure":
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(_WIDE_MM * _MM, _HIGH_MM * _MM), dpi=300, facecolor="white")
    FigureCanvasAgg(figure)
    plans = [_plan(lines, share) for share in _SIZES]
    plan = next((p for p in plans if p[-1][1] <= _HIGH_MM - _BOTTOM_MM), plans[-1])
    for x, y, text, size, bold in plan:
        figure.text(
            x / _WIDE_MM, 1 - y / _HIGH_MM, text, fontsize=size, va="baseline",
            fontweight="bold" if bold else "normal", parse_math=False,
        )  # fmt: skip
    return figure


def _plan(lines: Lines, share: float) -> list[tuple[float, float, str, float, bool]]:
    """Return each line's place (mm from the upper left), text, size (pt) and weight, downwards."""
    found: list[tuple[float, float, str, float, bool]] = []
    y = _TOP_MM

    def put(x: float, texts: list[str], size: float, bold: bool) -> None:
        nonlocal y
        for text in texts:
            found.append((x, y, text, size, bold))
            y += 1.25 * size * _PT_MM

    def row(name: str, value: str, x: float, size: float, bold: bool) -> None:
        found.append((_LEFT_MM, y, name, size, bold))
        put(x, _wrapped(value, size, x, bold), size, bold)

    put(_LEFT_MM, _wrapped(lines.title, 13 * share, _LEFT_MM, True), 13 * share, True)
    for text in lines.under:
        put(_LEFT_MM, _wrapped(text, 9 * share, _LEFT_MM, False), 9 * share, False)
    y += 1.0
    for name, value in lines.rows:
        row(name, value, _VALUE_MM, 7 * share, False)
    y += 1.8
    for name, value in lines.loud:
        row(name, value, _LOUD_MM, 10.5 * share, True)
    y += 0.2
    for text in lines.foot:
        put(_LEFT_MM, _wrapped(text, 6.2 * share, _LEFT_MM, False), 6.2 * share, False)
    return found


def _wrapped(text: str, size: float, left_mm: float, bold: bool) -> list[str]:
    letters = int((_WIDE_MM - 5.0 - left_mm) / (size * _PT_MM * _LETTER * (1.1 if bold else 1.0)))
    return textwrap.wrap(text, letters, break_on_hyphens=False) or [""]
