"""One hold as a picture: PNG, SVG or PDF by the file's name. Readable in greyscale; the same bytes for the
same record. A PDF has the whole report on the pages behind the picture.

Upper part: paste probe, wall, setpoint, the estimate from coldest to hottest paste as a band, the range
asked for every part, and the food code's hot-holding limit with its rule. Lower part: duty asked and the
share of relay-on time. Numbered events have their key below.
"""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from holdctl.config.unheated import heated
from holdctl.drawn import save
from holdctl.food.windows import GAP_S
from holdctl.record.query import Record
from holdctl.record.rows import EventRow
from holdctl.review.lines import Line, averaged, extremes, shares
from holdctl.review.night import Night, read_night
from holdctl.review.pages import report_pages
from holdctl.review.picture_cooling import draw_stages
from holdctl.review.words import clock, head_words, local_time, said, temp

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from holdctl.record.chain import Head

# Dark to light, so that they stay apart in greyscale; line styles and labels say the same again.
PASTE, WALL, BAND, ASKED, LIMIT = "#14213d", "#a4572a", "#b9c7da", "#5d6d5a", "#8c1c13"
_SHOWN_EVENTS = 10
_HEAD_IN = 1.0
"""Height above the axes, inches: the title, and below it three levels of numbers."""
_SHARES = 120
"""Spans of the relay strip: each holds several cycles, so that no beat between the two shows."""
_MARKED = {"trip": 0, "alarm": 1, "reset": 2, "prompt": 3, "step": 4, "request": 5, "note": 6, "refused": 7}
"""Kinds of events that get a number, the most important first when there are too many."""


def draw_hold(record: Record, hold_id: int | None, path: Path, *, units: str | None = None) -> None:
    """Draw one hold (the latest for None) to `path`; StoreError for the record, JobError for the file."""
    night = read_night(record, hold_id)
    units = units or night.settings.units
    save(
        _draw(night, units),
        path,
        behind=_report(night, units, record.head()) if path.suffix.lower() == ".pdf" else (),
    )


def _report(night: Night, units: str, head: "Head | None") -> "list[Figure]":
    """Return the report as pages to stand behind the picture, the chain's head under it as on the screen."""
    from rich.console import Group

    from holdctl.review.figures import figures_of
    from holdctl.review.report import render_report

    under = [] if head is None else ["", head_words(head)]
    report = Group(render_report(figures_of(night), night.events, units=units), *under)
    return report_pages(report, _title(night))


def new_figure(rows: int, key_lines: int) -> tuple["Figure", Any]:
    """Return a figure on the Agg canvas and its axes; `rows` 2 adds a low strip, `key_lines` room for a key."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    foot = 1.1 + 0.2 * key_lines
    height = 5.25 + foot
    figure = Figure(figsize=(10, height), dpi=120, facecolor="white")
    FigureCanvasAgg(figure)
    grid = {"height_ratios": (4, 1)[:rows], "hspace": 0.08, "left": 0.07, "right": 0.97}
    grid |= {"top": 1 - _HEAD_IN / height, "bottom": foot / height}
    axes = figure.subplots(rows, 1, sharex=True, squeeze=False, gridspec_kw=grid)
    for axis in axes[:, 0]:
        axis.grid(color="0.9", linewidth=0.6)
        axis.set_axisbelow(True)
        for side in ("top", "right"):
            axis.spines[side].set_visible(False)
    return figure, axes[:, 0]


def levels(axis: Any, night: Night, units: str) -> list[Any]:
    """Draw the range asked for every part and the code's hot-holding limit; return their lines for the key.

    Their figures stand in the right margin: words inside would cover the paste.
    """
    band, code = _band(night), night.code
    dotted: dict[str, Any] = {"color": ASKED, "linewidth": 0.9, "linestyle": (0, (1, 2))}
    limit = f"hot-holding limit {temp(code.hot_holding_c, units, 0)}: {code.source}"
    lines = [axis.axhline(_scale(value, units), **dotted) for value in band][:1]
    for line in lines:
        line.set_label(f"asked for every part: {_scale(band[0], units):g} to {temp(band[-1], units, 0)}")
    lines.append(
        axis.axhline(
            _scale(code.hot_holding_c, units), color=LIMIT, linewidth=1.2, linestyle="-.", label=limit
        )
    )
    # The code's limit and the band's low end may be close: one figure over its line, one under.
    above = bool(band) and code.hot_holding_c >= band[0]
    for value, colour, va in (
        *zip(band, (ASKED, ASKED), ("top" if above else "center", "center"), strict=False),
        (code.hot_holding_c, LIMIT, "bottom" if above else "center"),
    ):  # fmt: skip
        axis.annotate(f"{_scale(value, units):.0f}", (1, _scale(value, units)), (4, 0), fontsize=7.5, color=colour,
                      xycoords=axis.get_yaxis_transform(), textcoords="offset points", va=va)  # fmt: skip
    return lines


def _band(night: Night) -> tuple[float, ...]:
    """Return the range asked for every part; nothing of a cooling alone."""
    return night.settings.programme.every_part if heated(night.settings) else ()


def key(figure: "Figure", first: list[Any], second: list[Any], lines_below: int) -> None:
    """Write the key in two rows under the picture, above `lines_below` lines of text."""
    for row, handles in enumerate(row for row in (second, first) if row):
        y = (0.14 + 0.2 * (lines_below + row)) / figure.get_figheight()
        figure.legend(
            handles=handles, loc="lower left", ncols=7, fontsize=8, frameon=False, borderpad=0,
            bbox_to_anchor=(0.065, y), borderaxespad=0.0, columnspacing=1.6,
        )  # fmt: skip


def _draw(night: Night, units: str) -> "Figure":
    marked = _marked(night.events)
    figure, (upper, lower) = new_figure(2, len(marked))
    lines = [*_temperatures(upper, night, units), *draw_stages(upper, night, units)]
    _strip(lower, night)
    _windows(upper, night)
    _events(figure, upper, lower, marked, units)
    _hours(lower, night)
    curves = upper.get_legend_handles_labels()[0] + lower.get_legend_handles_labels()[0]
    key(figure, [c for c in curves if c not in lines], lines, len(marked))
    head(figure, _title(night))
    return figure


def _title(night: Night) -> str:
    hold = night.hold
    simulated = ", simulated warmer" if hold.simulated else ""
    what = f"{hold.programme}, {hold.warmer}{simulated}"
    if not heated(night.settings):
        what = f"a cooling, no warmer{', simulated' if hold.simulated else ''}"
    return f"Hold {hold.id}: {what}, begun {local_time(hold.started_utc_ms)}"


def head(figure: "Figure", title: str) -> None:
    """Write the picture's title."""
    y = 1 - 0.28 / figure.get_figheight()
    size = min(11.0, 11.0 * 96 / len(title))  # a line of 96 letters fits
    figure.text(0.07, y, title, fontsize=size, fontweight="bold", va="center", parse_math=False)


def _hours(axis: Any, night: Night) -> None:
    """Hours since the start, with the kitchen's clock below."""
    from matplotlib.ticker import FuncFormatter, MaxNLocator

    t = night.columns.t_s
    ahead_ms = night.hold.started_utc_ms

    def words(hours: float, _: int) -> str:
        return f"{hours:g} h\n{local_time(ahead_ms + hours * 3.6e6, '%H:%M')}"

    axis.set_xlim(0, max(float(t[-1]) / 3600 if len(t) else 0.0, 0.1))
    axis.xaxis.set_major_locator(MaxNLocator(12, steps=[1, 2, 5, 10]))
    axis.xaxis.set_major_formatter(FuncFormatter(words))
    axis.tick_params(axis="x", labelsize=8.5)


def _temperatures(axis: Any, night: Night, units: str) -> list[Any]:
    """Draw the upper part and return the level lines."""
    columns = night.columns
    t, wall = columns.t_s, night.wall_probe

    def shown(line: Line) -> Line:
        return line if units == "C" else Line(line.hours, line.values * 1.8 + 32)

    coldest, hottest = shown(averaged(t, columns.coldest_c)), shown(averaged(t, columns.hottest_c))
    band = axis.fill_between(*coldest, hottest.values, color=BAND, linewidth=0)
    band.set_label("coldest to hottest paste (estimate)")
    if heated(night.settings):
        wall_c = columns.wall_c if wall is None else night.probe_c(wall)
        name = "wall (estimate)" if wall is None else "wall probe"
        axis.plot(*shown(extremes(t, wall_c)), color=WALL, linewidth=0.8, label=name)
        setpoint = shown(averaged(t, columns.setpoint_c))
        axis.plot(*setpoint, color="black", linewidth=1, linestyle="--", label="setpoint")
    paste = shown(extremes(t, night.probe_c(night.paste_probe)))
    axis.plot(*paste, color=PASTE, linewidth=1.8, label="paste probe")
    _true(axis, night, units)
    axis.set_ylabel(f"°{units}", rotation=0, ha="right", fontsize=9)
    axis.set_ylim(*_view(night, units))
    return levels(axis, night, units)


def _true(axis: Any, night: Night, units: str) -> None:
    """Draw the simulator's coldest and hottest paste as thin lines; a real hold has none."""
    import numpy as np

    if night.truth is None:
        return
    for values, label in (
        (night.truth.coldest_c, "truth (simulator)"), (night.truth.hottest_c, "_true hottest"),
    ):  # fmt: skip
        known = np.isfinite(values)
        line = extremes(night.columns.t_s[known], values[known])
        shown = line.values if units == "C" else line.values * 1.8 + 32
        axis.plot(line.hours, shown, color="black", linewidth=0.5, label=label)


def _scale(value_c: float, units: str) -> float:
    return value_c if units == "C" else value_c * 1.8 + 32


def _view(night: Night, units: str) -> tuple[float, float]:
    """Return the shown range: everything measured or estimated, the limit and the range asked for."""
    import numpy as np

    columns = night.columns
    levels = (*_band(night), night.code.hot_holding_c)
    probes = [night.probe_c(p) for p in (night.paste_probe, night.wall_probe) if p is not None]
    true = [night.truth.coldest_c, night.truth.hottest_c] if night.truth else []
    values = np.concatenate([*probes, columns.coldest_c, columns.hottest_c, *true])
    values = values[np.isfinite(values)]
    bottom = min([*levels, *values.min(initial=levels[0], keepdims=True)])
    top = max([*levels, *values.max(initial=levels[0], keepdims=True)])
    room = 0.06 * (top - bottom)
    return _scale(bottom - 1.5 * room, units), _scale(top + room, units)


def _strip(axis: Any, night: Night) -> None:
    if not heated(night.settings):
        axis.set_yticks(())
        axis.text(0.01, 0.4, "no warmer: nothing was heated", transform=axis.transAxes, fontsize=8)
        return
    columns = night.columns
    t = columns.t_s
    relay = shares(t, columns.relay * night.steps_s(), _SHARES)
    axis.fill_between(*relay, step="mid", color="0.78", linewidth=0, label="relay on (share)")
    axis.plot(*averaged(t, columns.duty, 4 * _SHARES), color="black", linewidth=1.0, label="duty asked")
    axis.set_ylim(0, 1.02)
    axis.set_yticks((0, 0.5, 1), ("0", "50 %", "100 %"), fontsize=8)


def _windows(axis: Any, night: Night) -> None:
    """Mark unsafe windows along the foot of the picture, gaps across its height."""
    import numpy as np

    steps, t = night.steps_s(), night.columns.t_s
    for k in np.flatnonzero(steps > GAP_S):
        axis.axvspan(t[k] / 3600, (t[k] + steps[k]) / 3600, facecolor="none", edgecolor="0.75", hatch="///",
                     linewidth=0, label="_gap")  # fmt: skip
    spans = [(w.start_s / 3600, w.length_s / 3600) for w in night.timeline().hot_windows()]
    if spans:
        axis.broken_barh(spans, (0, 0.025), transform=axis.get_xaxis_transform(), facecolor=LIMIT)
        axis.text(spans[0][0], 0.035, " below the limit, or not recorded", transform=axis.get_xaxis_transform(),
                  fontsize=7.5, color=LIMIT, va="bottom")  # fmt: skip


def _marked(events: list[EventRow]) -> list[EventRow]:
    """Return the events that get a number, in order of time: the most important ones when there are too many."""
    prompts = {(e.hold_ms, e.text) for e in events if e.kind == "prompt"}
    known = [e for e in events if e.kind in _MARKED and not e.detail.get("restored")]
    known = [e for e in known if e.kind != "step" or (e.hold_ms, e.text) not in prompts]  # said once
    chosen = sorted(known, key=lambda e: (_MARKED[e.kind], e.seq))[:_SHOWN_EVENTS]
    return sorted(chosen, key=lambda e: e.seq)


def _events(figure: Any, upper: Any, lower: Any, marked: list[EventRow], units: str) -> None:
    height = figure.get_figheight()
    levels = _levels([e.hold_ms / 3.6e6 for e in marked])
    for number, (event, level) in enumerate(zip(marked, levels, strict=True), 1):
        x = event.hold_ms / 3.6e6
        for axis in (upper, lower):
            axis.axvline(x, color="0.45", linewidth=0.7, linestyle=(0, (1, 1)))
        upper.text(x, 1.015 + 0.045 * level, str(number), transform=upper.get_xaxis_transform(), fontsize=8,
                   ha="center", va="bottom", bbox={"boxstyle": "circle,pad=0.15", "fc": "white", "ec": "0.3",
                                                   "lw": 0.6})  # fmt: skip
        words = said(event, units)
        words = words if len(words) <= 120 else words[:119] + "…"
        y = (0.12 + 0.2 * (len(marked) - number)) / height
        key = f"{number}   {clock(event.hold_ms / 1000)}   {event.kind}: {words}"
        figure.text(0.07, y, key, fontsize=8, va="bottom", parse_math=False)


def _levels(hours: list[float]) -> list[int]:
    """Return for each number how high it stands, so that close ones do not cover each other."""
    levels: list[int] = []
    for k, x in enumerate(hours):
        close = k > 0 and x - hours[k - 1] < (hours[-1] or 1) * 0.02
        levels.append((levels[-1] + 1) % 3 if close else 0)
    return levels
