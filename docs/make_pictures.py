"""Run demo nights and draw the README's pictures from them: `python docs/make_pictures.py`."""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from holdctl.clock import SystemClock
from holdctl.drawn import save
from holdctl.errors import StoreError
from holdctl.record.query import Record
from holdctl.watch import Screen

HERE = Path(__file__).parent
COLUMNS, ROWS = 80, 24
CELL_X, CELL_Y = 0.1, 0.2  # inches
HOLDING_MS = int(2.6 * 3_600_000)
# Braille dot numbers by column and row of the cell (ISO/TR 11548-1).
DOTS = ((0, 1, 2, 6), (3, 4, 5, 7))


def main() -> None:
    """Draw dashboard.png in the middle of a hold and night.png of a whole night."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "night"
        demo = [sys.executable, "-m", "holdctl", "demo", "--seed", "3", "--folder", str(folder), "--json"]
        with subprocess.Popen(demo, stdout=subprocess.DEVNULL) as process:
            dashboard = frame_when_holding(folder / "night.db", process)
        draw(dashboard, HERE / "dashboard.png")
        shutil.copy(folder / "night.png", HERE / "night.png")


def frame_when_holding(record: Path, process: "subprocess.Popen[bytes]") -> str:
    """Return the live screen once the hold is well under way."""
    clock = SystemClock()
    while process.poll() is None:
        clock.sleep(0.1)
        try:
            screen = Screen(Record(record))
        except StoreError:
            continue
        sample = screen.snapshot.sample
        if sample is not None and sample.at.hold_ms > HOLDING_MS:
            return screen.frame(COLUMNS, ROWS).plain
    raise SystemExit("the demo ended before its hold was under way")


def draw(text: str, path: Path) -> None:
    """Draw a screen of text cell by cell, so that no font can push its columns apart."""
    from matplotlib.figure import Figure

    figure = Figure(figsize=(COLUMNS * CELL_X + 0.3, ROWS * CELL_Y + 0.3), facecolor="#fafaf8")
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set_xlim(-1.5, COLUMNS + 1.5)
    axes.set_ylim(ROWS + 0.75, -0.75)
    for row, line in enumerate(text.splitlines()):
        for column, letter in enumerate(line):
            _cell(axes, column, row, letter, bold=row == 0)
    save(figure, path)


def _cell(axes: Any, column: int, row: int, letter: str, *, bold: bool) -> None:
    from matplotlib.patches import Circle, Rectangle

    if letter == "█":
        axes.add_patch(Rectangle((column, row), 1.02, 1.02, color="#222222", linewidth=0))
    elif "⠀" <= letter <= "⣿":
        for x, column_of_dots in enumerate(DOTS):
            for y, bit in enumerate(column_of_dots):
                if (ord(letter) - 0x2800) >> bit & 1:
                    axes.add_patch(
                        Circle((column + 0.25 + x / 2, row + 0.125 + y / 4), 0.11, color="#222222")
                    )
    elif letter != " ":
        axes.text(
            column + 0.5, row + 0.5, letter, family="DejaVu Sans Mono", size=9, ha="center", va="center_baseline",
            weight="bold" if bold else "normal", color="#222222",
        )  # fmt: skip


if __name__ == "__main__":
    main()
