"""The paste of the last holds over each other, each begun where its hold phase begins."""

from pathlib import Path
from typing import Any

from holdctl.drawn import save
from holdctl.events import Phase
from holdctl.record.query import Record
from holdctl.review.compare import holds_with_samples
from holdctl.review.lines import Line, extremes
from holdctl.review.night import Night, read_night
from holdctl.review.picture import PASTE, head, key, levels, new_figure
from holdctl.review.words import local_time

_STYLES = ("-", (0, (6, 2)), (0, (3, 1.5)), (0, (1, 1)), (0, (6, 2, 1, 2)))


def draw_comparison(record: Record, n: int, path: Path, *, units: str | None = None) -> None:
    """Draw the paste probe of the last `n` holds to `path` (.png, .svg, .pdf); StoreError or JobError."""
    nights = [read_night(record, hold_id) for hold_id in holds_with_samples(record, n)]
    figure, (axis,) = new_figure(1, 0)
    latest = nights[-1]
    shown = units or latest.settings.units
    for age, night in reversed(list(enumerate(reversed(nights)))):
        _paste(axis, night, age, len(nights), shown)
    lines = levels(axis, latest, shown)
    axis.axvline(0, color="0.45", linewidth=0.7)
    axis.set_xlabel(
        "hours from the start of the hold phase (from the first sample where there was none)", fontsize=9
    )
    axis.set_ylabel(f"°{shown}", rotation=0, ha="right", fontsize=9)
    curves = [c for c in axis.get_legend_handles_labels()[0] if c not in lines]
    axis.legend(handles=curves, loc="upper right", fontsize=7.5, framealpha=0.9, edgecolor="0.8")
    key(figure, [], lines, 0)
    title = f"Paste probe of the last {len(nights)} holds, {latest.hold.warmer}"
    head(figure, title)
    save(figure, path)


def _paste(axis: Any, night: Night, age: int, of: int, units: str) -> None:
    """The newest hold is darkest and thickest; every line has its own dashes too."""
    columns = night.columns
    holding = columns.phase == Phase.HOLD
    zero = columns.t_s[holding][0] if holding.any() else columns.t_s[0]
    line = extremes(columns.t_s - zero, night.probe_c(night.paste_probe))
    if units == "F":
        line = Line(line.hours, line.values * 1.8 + 32)
    colour = PASTE if age == 0 else str(0.25 + 0.5 * age / of)
    label = f"hold {night.hold.id}, {local_time(night.hold.started_utc_ms)}, {night.hold.programme}"
    axis.plot(*line, color=colour, linewidth=1.8 if age == 0 else 1.1, linestyle=_STYLES[age % len(_STYLES)],
              label=label)  # fmt: skip
