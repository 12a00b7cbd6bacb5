"""The report as pages of a PDF: the words of the screen in a plain, fixed-width face on A4, headed and numbered.

What stands on the screen stands here, line for line, so that nobody has to compare two texts. A part is anything that
`rich` can print; whoever adds a section to the report has it here too.
"""

from io import StringIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from matplotlib.figure import Figure
    from rich.console import RenderableType

WIDTH = 96
"""Letters in a line."""
LINES = 75
"""Lines on a page: what fits above its foot."""
NEAR = 12
"""A section that begins so few lines above the foot begins on the next page."""
_A4_IN = (8.27, 11.69)
_SIZE_PT = 8.0


def report_pages(report: "RenderableType", head: str) -> "list[Figure]":
    """Return a report's pages; `head` stands on each with its number."""
    lines = as_lines(report)
    chunks = list(_chunks(lines)) or [[]]
    return [_page(chunk, f"{head} · page {k} of {len(chunks)}") for k, chunk in enumerate(chunks, 1)]


def _chunks(lines: list[str]) -> "Iterator[list[str]]":
    """Cut into pages, between two sections where one ends near the foot."""
    while lines:
        end = min(LINES, len(lines))
        if end < len(lines):
            blank = [k for k in range(end - NEAR, end) if not lines[k]]
            end = blank[-1] + 1 if blank else end
        yield lines[:end]
        lines = lines[end:]


def as_lines(report: "RenderableType") -> list[str]:
    """Return what is printed of a report, line by line, without colour."""
    from rich.console import Console

    out = StringIO()
    Console(
        file=out, width=WIDTH, color_system=None, force_terminal=False, legacy_windows=False, _environ={}
    ).print(report)
    return [line.rstrip() for line in out.getvalue().rstrip().splitlines()]


def _page(lines: list[str], head: str) -> "Figure":
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=_A4_IN, dpi=120, facecolor="white")
    FigureCanvasAgg(figure)
    left, top = 0.075, 0.96
    figure.text(left, top, head, fontsize=_SIZE_PT, va="top", color="0.35", parse_math=False)
    figure.text(left, top - 0.025, "\n".join(lines), fontsize=_SIZE_PT, family="DejaVu Sans Mono", va="top",
                linespacing=1.25, parse_math=False)  # fmt: skip
    return figure
