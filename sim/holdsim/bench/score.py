"""Scores of a night, all on the true paste. The definitions stand in docs/benchmark.md."""

from dataclasses import dataclass

import numpy as np

from holdctl.settings import Place
from holdsim.bench.linear import Array, Mask
from holdsim.bench.trace import Trace

BAND_K = 0.5
SETPOINT_C = 65.0


@dataclass(frozen=True)
class Score:
    """What one night came to; K, s. None: never, or not asked."""

    come_up_s: float | None
    """From the start until coldest and probe's place are in band for good."""
    ratio: float | None
    """Come-up by the limit; None without a limit, when outside the ceiling, or never."""
    over_ceiling_k: float
    """How far the hottest paste went above the ceiling."""
    overshoot_k: float
    """How far the probe's place went above 65 °C once it had been there or below."""
    dev_max_k: float | None
    """Largest distance of the place from 65 °C from when the limit trajectory is within ±0.1 K."""
    dev_rms_k: float | None
    late_max_k: float | None
    """The same from twice the limit on."""
    late_rms_k: float | None
    extra_spread_k: float | None
    """Largest hottest minus coldest from twice the limit on, less the steady profile's."""
    ons_per_h: float | None
    """Off-to-on from twice the limit on."""
    failed: bool
    """Outside the ceiling by more than the slack."""


@dataclass(frozen=True)
class Yardstick:
    """What a night is measured against, °C and s."""

    place: Place
    start: str
    ceiling_c: float
    slack_k: float
    coldest_c: float
    """Of the steady profile with 65 °C at the place."""
    spread_k: float
    limit_s: float | None
    hold_s: float | None = None
    """When the limit trajectory for a band of ±0.1 K at the place arrives: the hold counts from here."""


def score(trace: Trace, yard: Yardstick) -> Score:
    """Return the scores of a night that lasted three limits."""
    place = trace.at(yard.place)
    over = max(0.0, float(trace.hottest_c.max()) - yard.ceiling_c)
    reached = arrival(trace, yard)
    failed = over > yard.slack_k
    if yard.start == "hot" and reached is not None:
        failed = failed or bool(trace.coldest_c.min() < min(63.0, yard.coldest_c) - BAND_K - 0.05)
    limit = yard.limit_s
    ratio = None if reached is None or not limit or failed else reached / limit
    hold = None if yard.hold_s is None else trace.time_s >= yard.hold_s
    late = None if limit is None else trace.time_s >= 2.0 * limit
    dev, late_dev = _deviation(place, hold), _deviation(place, late)
    spread = ons = None
    if late is not None and limit is not None and late.any():
        spread = float((trace.hottest_c - trace.coldest_c)[late].max()) - yard.spread_k
        hours = (trace.time_s[-1] - 2.0 * limit) / 3600.0
        # Whole intervals between two switch-ons: the window's own edges switch nothing.
        ons = max(0.0, float(np.sum(trace.ons_s >= 2.0 * limit)) - 1.0) / hours if hours > 0.0 else None
    return Score(
        reached,
        ratio,
        over,
        overshoot(place),
        dev[0],
        dev[1],
        late_dev[0],
        late_dev[1],
        spread,
        ons,
        failed,
    )


def arrival(trace: Trace, yard: Yardstick) -> float | None:
    """Return when the come-up ends (s), or for a hot start when the place is down for good; None: never."""
    place = trace.at(yard.place)
    if yard.start == "hot":
        good = place <= SETPOINT_C + BAND_K
    else:
        good = (trace.coldest_c >= yard.coldest_c - BAND_K) & (np.abs(place - SETPOINT_C) <= BAND_K)
    return first_for_good(trace.time_s, good)


def first_for_good(time_s: Array, good: Mask) -> float | None:
    """Return the first time from which `good` stays true to the end; None when it is false at the end."""
    bad = np.flatnonzero(~np.asarray(good, dtype=bool))
    if not len(bad):
        return float(time_s[0])
    if bad[-1] == len(time_s) - 1:
        return None
    return float(time_s[bad[-1] + 1])


def _deviation(place: Array, when: Mask | None) -> tuple[float | None, float | None]:
    if when is None or not when.any():
        return None, None
    away = place[when] - SETPOINT_C
    return float(np.abs(away).max()), float(np.sqrt(np.mean(away**2)))


def overshoot(place_c: Array) -> float:
    """Return how far the place went above 65 °C, K, once it has been at or below it."""
    below = np.flatnonzero(place_c <= SETPOINT_C)
    return max(0.0, float(place_c[below[0] :].max()) - SETPOINT_C) if len(below) else 0.0
