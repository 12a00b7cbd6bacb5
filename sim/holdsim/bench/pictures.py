"""Two pictures: every controller on one plant, and the come-up of all plants against their limit."""

from pathlib import Path
from typing import Any

import numpy as np

from holdsim.bench.run import Outcome, Row, Task
from holdsim.bench.suites import CEILING_C
from holdsim.bench.trace import Trace


def draw_all(outcomes: list[Outcome], tasks: list[Task], folder: Path) -> None:
    """Write `curves-<suite>.png` for each suite's first plant and `ratios.png`."""
    import matplotlib as mpl

    mpl.use("Agg")
    folder.mkdir(parents=True, exist_ok=True)
    for outcome, task in zip(outcomes, tasks, strict=True):
        if outcome.curves:
            _curves(outcome, task, folder / f"curves-{task.suite}.png")
    _ratios([row for outcome in outcomes for row in outcome.rows], folder / "ratios.png")


def _curves(outcome: Outcome, task: Task, path: Path) -> None:
    from matplotlib import pyplot as plt

    names = list(outcome.curves)
    columns = 3
    lines = -(-len(names) // columns)
    figure, axes = plt.subplots(
        lines, columns, figsize=(12, 2.6 * lines), sharex=True, sharey=True, squeeze=False
    )
    for axis, name in zip(axes.flat, names, strict=False):
        row = next(r for r in outcome.rows if r.controller == name)
        _panel(axis, outcome.curves[name], row)
    for axis in axes.flat[len(names) :]:
        axis.set_visible(False)
    figure.suptitle(f"{task.suite}, plant {task.number}: hottest to coldest paste, and the probe's place")
    figure.supxlabel("hours")
    figure.supylabel("°C, true paste")
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    plt.close(figure)


def _panel(axis: Any, trace: Trace, row: Row) -> None:
    from holdctl.settings import Place

    hours = trace.time_s / 3600.0
    axis.fill_between(hours, trace.coldest_c, trace.hottest_c, color="0.8", linewidth=0)
    axis.plot(hours, trace.at(Place(row.place)), color="black", linewidth=1.0)
    axis.axhline(CEILING_C, color="firebrick", linewidth=0.8, linestyle=":")
    axis.axhline(65.0, color="0.4", linewidth=0.5)
    if row.limit_s is not None:
        axis.axvline(row.limit_s / 3600.0, color="seagreen", linewidth=1.0)
    ratio = "outside its ceiling" if row.score.failed else "never in band"
    if row.score.ratio is not None:
        ratio = f"{row.score.ratio:.2f} × limit"
    axis.set_title(f"{row.controller}: {ratio}", fontsize=9)
    axis.set_ylim(40.0, 90.0)


def _ratios(rows: list[Row], path: Path) -> None:
    from matplotlib import pyplot as plt

    cold = [row for row in rows if row.start == "cold" and row.limit_s is not None]
    names = list(dict.fromkeys(row.controller for row in cold))
    if not names:
        return
    figure, axis = plt.subplots(figsize=(9, 0.5 * len(names) + 1.6))
    marks = {"two-node": "o", "unstirred": "s", "nonlinear": "^"}
    lost_at = 4.0
    for suite, mark in marks.items():
        some = [row for row in cold if row.suite == suite]
        if not some:
            continue
        x = [min(row.score.ratio or lost_at, lost_at) for row in some]
        y = [names.index(row.controller) + 0.12 * (list(marks).index(suite) - 1) for row in some]
        axis.scatter(x, y, marker=mark, s=22, alpha=0.7, label=suite)
    axis.axvline(1.0, color="0.4", linewidth=0.8)
    axis.set_xscale("log")
    ticks = [1.0, 1.1, 1.25, 1.5, 2.0, 3.0, lost_at]
    axis.set_xticks(ticks, [*(f"{t:g}" for t in ticks[:-1]), "never or\noutside"])
    axis.set_xticks([], minor=True)
    axis.set_yticks(np.arange(len(names)), names)
    axis.invert_yaxis()
    axis.set_xlabel("come-up from 20 °C ÷ limit")
    axis.legend(fontsize=8, ncols=3, loc="lower left", bbox_to_anchor=(0.0, 1.0), frameon=False)
    figure.tight_layout()
    figure.savefig(path, dpi=110)
    plt.close(figure)
