"""The night as a small plot of text: the paste probe's curve, the programme's band dotted, the code limit dashed.

Theory: a cell of braille holds 2 × 4 dots, so the plot is drawn on a grid of dots and the lines of the band keep
their exact height beside the curve. Where only ASCII will do, a dot is a whole cell. Time runs to the right over a
span that grows in steps, so that the curve does not creep; beyond the last step the newest hours are shown.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import groupby

from holdctl.watch.snapshot import Bin
from holdctl.watch.words import Look

LEFT, RIGHT = 6, 11
SPANS_H = (0.5, 1, 2, 3, 4, 6, 8, 10, 12)
_TICKS_S = (300, 600, 900, 1800, 3600, 7200, 10800, 21600)
GAP_MS = 30_000
"""Two bins further apart than this are not joined: nothing is known between them."""
_H_MS = 3_600_000
_BRAILLE = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))


@dataclass(frozen=True, slots=True)
class Marks:
    """The horizontal lines, °C."""

    band: tuple[()] | tuple[float, float]
    """Empty where nothing is held."""
    limit_c: float
    """The food code's."""


def curve(
    bins: Sequence[Bin], marks: Marks, now_ms: int, utc_offset_ms: int, size: tuple[int, int], look: Look
) -> list[str]:
    """Return `size` = (width, height) lines: plot, then one line of local clock times.

    `now_ms` and the bins are in the hold's time, `utc_offset_ms` is what makes UTC of it. Fewer than 20 columns or
    3 lines: nothing.
    """
    width, height = size[0] - LEFT - RIGHT, size[1] - 1
    if width < 20 or height < 2:
        return []
    start, end = _window(bins[0].hold_ms if bins else 0, now_ms)
    shown = [b for b in bins if b.hold_ms >= start]
    grid = _grid(width, height, _scale(shown, marks), look)
    grid.lines(marks)
    grid.trace(shown, start, end)
    left, right = _gutters(grid, marks, look)
    rows = [
        f"{a:>{LEFT - 1}} {row} {b:<{RIGHT - 1}}" for a, row, b in zip(left, grid.rows(), right, strict=True)
    ]
    return [*rows, " " * LEFT + _times(start, end, utc_offset_ms, width, look)]


def _window(first_ms: int, now_ms: int) -> tuple[int, int]:
    for hours in SPANS_H:
        if now_ms - first_ms <= hours * _H_MS:
            return first_ms, first_ms + int(hours * _H_MS)
    return now_ms - int(SPANS_H[-1] * _H_MS), now_ms


def _scale(bins: Iterable[Bin], marks: Marks) -> tuple[float, float]:
    values = [v for b in bins for v in (b.lowest_c, b.highest_c)]
    values += [*marks.band, marks.limit_c]
    return min(values) - 0.5, max(values) + 0.5


def _grid(width: int, height: int, scale: tuple[float, float], look: Look) -> "Grid":
    return Grid(width, height, *scale, *((1, 1) if look.plain else (2, 4)))


@dataclass(slots=True)
class Grid:
    """Dots in `width` × `height` cells between two temperatures."""

    width: int
    height: int
    low_c: float
    high_c: float
    across: int
    """Dots of a cell."""
    down: int
    dots: dict[tuple[int, int], str] = field(default_factory=dict)

    def y(self, value_c: float) -> int:
        """Return the row of dots of a temperature, 0 on top."""
        most = self.height * self.down - 1
        part = (self.high_c - value_c) / (self.high_c - self.low_c)
        return min(most, max(0, round(part * most)))

    def row(self, value_c: float) -> int:
        """Return the row of cells of a temperature."""
        return self.y(value_c) // self.down

    def lines(self, marks: Marks) -> None:
        """Draw the band dotted and the limit dashed."""
        for x in range(self.width * self.across):
            if x % (2 * self.across) == 0:
                self.dots.update({(x, self.y(value)): "." for value in marks.band})
            if x % (4 * self.across) < 2 * self.across:
                self.dots[x, self.y(marks.limit_c)] = "-"

    def trace(self, bins: Sequence[Bin], start_ms: int, end_ms: int) -> None:
        """Draw the curve: each column from its lowest to its highest dot, joined to its neighbour."""
        before: tuple[int, int, int, int] | None = None
        for x, first_ms, last_ms, lowest_c, highest_c in self._columns(bins, start_ms, end_ms):
            top, bottom = self.y(highest_c), self.y(lowest_c)
            drawn = range(top, bottom + 1)
            if before is not None and first_ms - before[1] <= GAP_MS:
                drawn = range(min(top, before[3]), max(bottom, before[2]) + 1)
                skipped = range(before[0] + 1, x)
                self.dots.update({(k, y): "*" for k in skipped for y in range(before[2], before[3] + 1)})
            self.dots.update({(x, y): "*" for y in drawn})
            before = (x, last_ms, top, bottom)

    def _columns(
        self, bins: Sequence[Bin], start_ms: int, end_ms: int
    ) -> Iterator[tuple[int, int, int, float, float]]:
        """Yield column, time of its first and last bin, lowest and highest value, for each column with bins."""
        most = self.width * self.across - 1
        for x, group in groupby(
            bins, lambda b: min(most, (b.hold_ms - start_ms) * (most + 1) // (end_ms - start_ms))
        ):
            own = list(group)
            yield (
                x, own[0].hold_ms, own[-1].hold_ms, min(b.lowest_c for b in own), max(b.highest_c for b in own),
            )  # fmt: skip

    def rows(self) -> list[str]:
        """Return the cells, top row first."""
        if self.down == 1:
            return [
                "".join(self.dots.get((x, y), " ") for x in range(self.width)) for y in range(self.height)
            ]
        cells = [[0] * self.width for _ in range(self.height)]
        for x, y in self.dots:
            cells[y // 4][x // 2] |= _BRAILLE[x % 2][y % 4]
        return ["".join(chr(0x2800 + c) if c else " " for c in row) for row in cells]


def _gutters(grid: Grid, marks: Marks, look: Look) -> tuple[list[str], list[str]]:
    """Return the words left (temperatures of band and ends) and right (what the lines are)."""
    left, right = [""] * grid.height, [""] * grid.height
    for value in (grid.high_c - 0.5, grid.low_c + 0.5, *marks.band):
        left[grid.row(value)] = look.limit(value).split()[0]
    band = {grid.row(value) for value in marks.band}
    for row in band:
        right[row] = "· band" if not look.plain else ". band"
    at = grid.row(marks.limit_c)
    if right[at] and len(band) == 1 and at + 1 < grid.height:
        at += 1  # else the other line of the band keeps its word
    name = f"code {look.limit(marks.limit_c).split()[0]}"
    right[at] = f"- {name}" if len(name) + 2 < RIGHT else name
    return left, right


def _times(start_ms: int, end_ms: int, utc_offset_ms: int, width: int, look: Look) -> str:
    """Return the axis: local clock times, each behind a tick at its place."""
    length_s = (end_ms - start_ms) / 1000
    step = next((s for s in _TICKS_S if length_s / s * 9 <= width), _TICKS_S[-1])
    first_s = -look.second_of_day(start_ms + utc_offset_ms) % step
    line = [" "] * (width + RIGHT)
    for k in range(int((length_s - first_s) // step) + 1):
        at_ms = start_ms + (first_s + k * step) * 1000
        x = int((at_ms - start_ms) * width / (end_ms - start_ms))
        line[x : x + 6] = "|" + look.time(at_ms + utc_offset_ms)
    return "".join(line)[: width + RIGHT]
