"""The tables: one per suite and start, and the goals with what was measured."""

from collections.abc import Callable

import numpy as np

from holdsim.bench.run import Row

COLUMNS = (
    "time ÷ limit",
    "over ceiling K",
    "overshoot K",
    "late dev max K",
    "late rms K",
    "spread extra K",
)
HEAD = (
    f"{'controller':15}{'n':>4} {'fail':>5} {'never':>5} | "
    + " | ".join(f"{c:21}" for c in COLUMNS)
    + " | ons/h"
)


def suite_table(rows: list[Row], suite: str, start: str) -> str:
    """Return a table of median / 95th percentile / worst for each controller."""
    some = [row for row in rows if row.suite == suite and row.start == start]
    limits = sorted({(r.number, r.place, r.limit_s) for r in some if r.limit_s is not None})
    lines = [f"## {suite}, from {'20 °C' if start == 'cold' else 'a scald at 74 °C'}", ""]
    if limits:
        hours = [limit / 3600.0 for _, _, limit in limits if limit is not None]
        lines.append(f"limits {min(hours):.2f} … {max(hours):.2f} h; median / p95 / worst")
    lines.append(HEAD)
    for name in dict.fromkeys(row.controller for row in some):
        lines.append(_line(name, [row for row in some if row.controller == name]))
    return "\n".join(lines) + "\n"


def _line(name: str, rows: list[Row]) -> str:
    scored = [row for row in rows if row.limit_s is not None]
    failed = sum(row.score.failed for row in rows)
    never = sum(row.score.come_up_s is None for row in scored)
    # A run that never arrives, or breaks its ceiling, is worse than every ratio.
    ratios = [row.score.ratio if row.score.ratio is not None else np.inf for row in scored]
    cells = [
        three(ratios),
        three([row.score.over_ceiling_k for row in rows]),
        three([row.score.overshoot_k for row in scored]),
        three(_some(scored, lambda r: r.score.late_max_k)),
        three(_some(scored, lambda r: r.score.late_rms_k)),
        three(_some(scored, lambda r: r.score.extra_spread_k)),
    ]
    ons = _some(scored, lambda r: r.score.ons_per_h)
    last = f"{np.max(ons):.0f}" if ons else "–"
    return f"{name:15}{len(rows):4d} {failed:5d} {never:5d} | " + " | ".join(cells) + f" | {last}"


def three(values: list[float]) -> str:
    """Return median / p95 / worst; infinite ones as a dash."""
    if not values:
        return f"{'–':21}"
    return " / ".join("    –" if not np.isfinite(x) else f"{x:5.3f}"[:5] for x in spread_of(values))


def spread_of(values: list[float]) -> tuple[float, float, float]:
    """Return median, 95th percentile (the value of rank ⌈0.95 n⌉) and worst of at least one value."""
    ranked = np.sort(np.array(values, dtype=float))
    high = ranked[int(np.ceil(0.95 * len(ranked))) - 1]
    return float(np.median(ranked)), float(high), float(ranked[-1])


def _some(rows: list[Row], get: Callable[[Row], float | None]) -> list[float]:
    return [value for row in rows if (value := get(row)) is not None]
