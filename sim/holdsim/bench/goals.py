"""The goals, each with what was measured and on how many runs."""

from collections.abc import Callable, Iterable

import numpy as np

from holdsim.bench.run import Row
from holdsim.bench.tables import spread_of

UNSTIRRED = ("unstirred", "nonlinear")
NIGHT_S = 12 * 3600


def goal_table(rows: list[Row]) -> str:
    """Return a Markdown table; a dash where nothing was run."""
    lines = ["| quantity | goal | measured | met | runs |", "| --- | --- | --- | --- | --- |"]
    for quantity, goal, (measured, met, runs) in _goals(rows):
        answer = "–" if met is None else "yes" if met else "no"
        lines.append(f"| {quantity} | {goal} | {measured} | {answer} | {runs} |")
    return "\n".join(lines) + "\n"


Measured = tuple[str, bool | None, int]


def _goals(rows: list[Row]) -> Iterable[tuple[str, str, Measured]]:
    cold = [r for r in rows if r.start == "cold"]
    for name in ("ours-mid", "ours-two"):
        two = _of(cold, ("two-node",), name)
        yield f"two-node, {name}: come-up ÷ limit", "median ≤ 1.01, p95 ≤ 1.02", _ratios(two, 1.01, 1.02)
        yield (
            f"two-node, {name}: overshoot",
            "≤ 0.3 K on 100 %",
            _share(two, lambda r: r.score.overshoot_k, 0.3),
        )
    yield from _unstirred(cold, "ours-two", 1.05, 1.10, ((0.5, 100),))
    yield from _unstirred(cold, "ours-mid", 1.10, 1.25, ((1.5, 100),))
    yield from _unstirred(cold, "ours-edge", 1.10, 1.25, ((1.5, 100),))
    yield from _unstirred(cold, "ours-core", 1.25, 1.60, ((1.5, 95), (5.0, 100)))
    yield from _holding(cold, "ours-two", 0.1, 0.03, 0.2)
    yield from _holding(cold, "ours-core", 0.2, None, 1.0)
    for name in ("ours-two", "ours-mid", "ours-edge", "ours-core"):
        hot = [r for r in rows if r.start == "hot" and r.controller == name]
        yield f"from 74 °C, {name}", "≤ 1.10 × limit", _ratios(hot, None, None, worst=1.10)
    for name in ("ours-two", "ours-mid"):
        yield from _recovering(_of(cold, ("two-node", *UNSTIRRED), name), name)
    yield from _again(cold)
    yield from _foretelling(cold)
    yield from _computing(rows)


def _again(rows: list[Row]) -> Iterable[tuple[str, str, Measured]]:
    """The second night; its first one, on the same plant and seed, is `ours-two`."""
    again = _of(rows, UNSTIRRED, "again-two")
    yield "second night, two probes: come-up ÷ limit", "p95 ≤ 1.05", _ratios(again, None, 1.05)
    first = {(r.suite, r.number): r.score.ratio for r in _of(rows, UNSTIRRED, "ours-two")}
    pairs = [
        (r.score.ratio, before)
        for r in _limited(again)
        if (before := first.get((r.suite, r.number))) is not None and r.score.ratio is not None
    ]
    better = [now <= before + 0.002 for now, before in pairs]
    text = f"{sum(better)} of {len(better)} no slower than the first" if better else "–"
    yield (
        "second night against the first",
        "at least as good",
        (text, all(better) if better else None, len(better)),
    )


def _foretelling(rows: list[Row]) -> Iterable[tuple[str, str, Measured]]:
    for name in ("ours-two", "ours-mid", "ours-core"):
        said = [one for r in _of(rows, UNSTIRRED, name) for one in r.foretold]
        errors = [abs(one["error_s"]) / one["left_s"] for one in said if one["error_s"] is not None]
        held = 100.0 * float(np.mean([one["held"] for one in said])) if said else 0.0
        off = f"{100 * float(np.median(errors)):.0f} %" if errors else "–"
        text = f"median off by {off} of what was left; range held for {held:.0f} %"
        yield f"forecast on the way, {name}", "no goal", (text if said else "–", None, len(said))


def _unstirred(
    rows: list[Row], name: str, median: float, high: float, ceilings: tuple[tuple[float, int], ...]
) -> Iterable[tuple[str, str, Measured]]:
    some = _of(rows, UNSTIRRED, name)
    goal = f"median ≤ {median:.2f}, p95 ≤ {high:.2f}"
    yield f"unstirred, {name}: come-up ÷ limit", goal, _ratios(some, median, high)
    for slack, percent in ceilings:
        measured = _share(some, lambda r: r.score.over_ceiling_k, slack, percent)
        yield f"unstirred, {name}: above the ceiling", f"≤ {slack} K on {percent} %", measured


def _holding(
    rows: list[Row], name: str, most: float, rms: float | None, spread: float
) -> Iterable[tuple[str, str, Measured]]:
    some = _limited(_of(rows, UNSTIRRED, name))
    dev = f"hold, {name}: place, from the limit's ±0.1 K on"
    yield dev, f"±{most} K", _worst(some, lambda r: r.score.dev_max_k, most)
    yield (
        f"hold, {name}: place, from 2 limits on",
        f"±{most} K",
        _worst(some, lambda r: r.score.late_max_k, most),
    )
    if rms is not None:
        yield (
            f"hold, {name}: rms, from 2 limits on",
            f"≤ {rms} K",
            _worst(some, lambda r: r.score.late_rms_k, rms),
        )
    extra = _worst(some, lambda r: r.score.extra_spread_k, spread)
    yield f"hold, {name}: spread above the least", f"≤ {spread} K", extra
    yield f"hold, {name}: switch-ons", "≤ 45 /h", _worst(some, lambda r: r.score.ons_per_h, 45.0)


def _recovering(rows: list[Row], name: str) -> Iterable[tuple[str, str, Measured]]:
    every = [one for row in rows for one in row.recoveries if one["in_band_before"] and one["limit_s"]]
    late = [one for one in every if one["back_s"] is None or one["back_s"] > _allowed(one["limit_s"])]
    share = 100.0 * (1.0 - len(late) / len(every)) if every else 0.0
    measured = (f"{share:.0f} % of recoveries", not late if every else None, len(every))
    yield f"recovery, {name}", "≤ max(1.15 × limit, limit + 60 s)", measured
    over = [one["overshoot_k"] for row in rows for one in row.recoveries if one["overshoot_k"] is not None]
    most = max(over, default=0.0)
    yield (
        f"recovery, {name}: overshoot",
        "≤ 0.3 K",
        (f"{most:.2f} K at worst", most <= 0.3 if over else None, len(over)),
    )


def _allowed(limit_s: float) -> float:
    return max(1.15 * limit_s, limit_s + 60.0)


def _computing(rows: list[Row]) -> Iterable[tuple[str, str, Measured]]:
    """A step's cost is a night's, less that of the same night with on/off; means, for medians hide nothing here."""
    bare = {(r.suite, r.number, r.start): r.step_ms for r in rows if r.controller == "on-off"}
    ours = [r for r in rows if r.controller.startswith("ours")]
    costs = [r.step_ms - bare[key] for r in ours if (key := (r.suite, r.number, r.start)) in bare]
    step = float(np.median(costs)) if costs else 0.0
    yield (
        "one control step, mean over a night",
        "≤ 0.2 ms",
        (f"{step:.3f} ms", step <= 0.2 if costs else None, len(costs)),
    )
    night = max((r.step_ms * NIGHT_S / 1000.0 for r in ours), default=0.0)
    yield (
        "a 12 h night in process",
        "≤ 15 s",
        (f"{night:.1f} s at worst", night <= 15.0 if ours else None, len(ours)),
    )


def _of(rows: list[Row], suites: tuple[str, ...], name: str) -> list[Row]:
    return [r for r in rows if r.suite in suites and r.controller == name]


def _limited(rows: list[Row]) -> list[Row]:
    return [r for r in rows if r.limit_s is not None]


def _ratios(
    rows: list[Row], median: float | None, high: float | None, worst: float | None = None
) -> Measured:
    values = [np.inf if r.score.ratio is None else r.score.ratio for r in _limited(rows)]
    if not values:
        return "–", None, 0
    middle, p95, most = spread_of(values)
    met = (
        (median is None or middle <= median)
        and (high is None or p95 <= high)
        and (worst is None or most <= worst)
    )
    lost = int(np.sum(np.isinf(values)))
    text = f"median {_number(middle)}, p95 {_number(p95)}, worst {_number(most)}"
    return text + (f" ({lost} never or outside)" if lost else ""), bool(met), len(values)


def _number(value: float) -> str:
    return "–" if np.isinf(value) else f"{value:.3f}"


def _share(rows: list[Row], get: Callable[[Row], float], most: float, percent: int = 100) -> Measured:
    if not rows:
        return "–", None, 0
    values = np.array([get(row) for row in rows])
    share = 100.0 * float(np.mean(values <= most))
    return f"{share:.0f} %, worst {values.max():.2f} K", share >= percent, len(rows)


def _worst(rows: list[Row], get: Callable[[Row], float | None], most: float) -> Measured:
    values = [value for row in rows if (value := get(row)) is not None]
    if not values:
        return "–", None, 0
    share = 100.0 * float(np.mean(np.array(values) <= most))
    return f"worst {max(values):.3f}, within on {share:.0f} %", max(values) <= most, len(values)
