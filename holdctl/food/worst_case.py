"""A record as a food rule has to see it: against the baker's favour in every doubt.

For hot limits the coldest paste counts, for cold limits the hottest: as estimated for the part where no probe sits,
less (plus) the probes' largest error and one standard deviation of the estimate, and never better than what a probe
read less (plus) its error. A value counts from its own time to the next one's. More than GAP_S between two, or no valid
reading of a paste probe, is a gap: nobody knows what the paste did in it, so it counts in full as breaking whatever
rule is asked.

Two parts of a record that share the sample at the cut add up to the whole.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from holdctl.events import Estimate, ProbeFault
from holdctl.settings import PASTE_PLACES, Probe

if TYPE_CHECKING:
    from numpy import bool_, float64
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[float64]
    Mask = NDArray[bool_]

GAP_S = 10.0
"""Longest step between two samples that still counts as recorded, s; this project's choice."""

ERROR_CLASS_K = 1.0
"""Error of a food thermometer of which nothing better is known, K (FDA Food Code 4-203.11: ±1 °C)."""


def error_k(probe: Probe) -> float:
    """Return the error that counts against a probe, K: none is no thermometer's error."""
    return probe.error_k if probe.error_k > 0 else ERROR_CLASS_K


class Span(NamedTuple):
    """An interval that breaks a limit, s; the worst known temperature in it, °C; how much of it is a gap, s."""

    start_s: float
    end_s: float
    worst_c: float | None
    unrecorded_s: float

    @property
    def length_s(self) -> float:
        """Length, s."""
        return self.end_s - self.start_s


@dataclass(frozen=True, slots=True)
class Curve:
    """The worst-case temperatures of a record, °C; `t_s` ascending. Made by `curve`."""

    t_s: "Floats"
    low_c: "Floats"
    """Not warmer than this was the coldest paste; NaN where nothing valid was read."""
    high_c: "Floats"
    """Not colder than this was the hottest paste."""
    gap: "Mask"
    """For each step to the next sample: whether nobody knows what the paste did."""

    @property
    def start_s(self) -> float:
        """The first sample, s."""
        return float(self.t_s[0]) if len(self.t_s) else 0.0

    @property
    def end_s(self) -> float:
        """The last sample, s."""
        return float(self.t_s[-1]) if len(self.t_s) else 0.0

    @property
    def known(self) -> bool:
        """Whether any valid reading is in it."""
        import numpy as np

        return bool(np.isfinite(self.low_c).any())

    @property
    def lasts(self) -> bool:
        """Whether it is about any time at all; without a single reading in it all of it counts as the worst."""
        return self.end_s > self.start_s or self.known

    @property
    def first_known_high_c(self) -> float:
        """The hottest paste at the first valid sample, °C; NaN where there is none."""
        import numpy as np

        found = np.flatnonzero(np.isfinite(self.high_c))
        return float(self.high_c[found[0]]) if len(found) else float("nan")

    def below(self, limit_c: float) -> tuple[Span, ...]:
        """Return the intervals in which the coldest paste was, or may have been, below a limit."""
        return self._spans(self.low_c, self.low_c[:-1] < limit_c)

    def above(self, limit_c: float) -> tuple[Span, ...]:
        """Return the intervals in which the hottest paste was, or may have been, above a limit."""
        found = self._spans(-self.high_c, self.high_c[:-1] > limit_c)
        return tuple(s._replace(worst_c=None if s.worst_c is None else -s.worst_c) for s in found)

    def between(self, low_c: float, high_c: float) -> tuple[Span, ...]:
        """Return the intervals in which some paste was, or may have been, between two temperatures."""
        return self._spans(self.low_c, (self.low_c[:-1] < high_c) & (self.high_c[:-1] > low_c))

    def unrecorded(self) -> tuple[Span, ...]:
        """Return the gaps."""
        import numpy as np

        return self._spans(self.low_c, np.zeros(max(0, len(self.t_s) - 1), dtype=bool))

    def first_at_least(self, limit_c: float) -> float | None:
        """Return when the coldest paste was first known to be at or above a limit, s."""
        return self._first(self.low_c >= limit_c, 0.0)

    def first_at_most(self, limit_c: float, after_s: float = 0.0) -> float | None:
        """Return when the hottest paste was first known to be at or below a limit, not before `after_s`, s."""
        return self._first((self.high_c <= limit_c) & (self.t_s >= after_s), 0.0)

    def held_at_least(self, limit_c: float, dwell_s: float) -> float | None:
        """Return when the coldest paste had been known to be at or above a limit for so long without a gap, s."""
        return self._first(self.low_c >= limit_c, dwell_s)

    def cut(self, start_s: float, end_s: float) -> "Curve":
        """Return the part between two times; what counts just before a cut counts at it."""
        whole = _marked(_marked(self, start_s), end_s)
        inside = (whole.t_s >= start_s) & (whole.t_s <= end_s)
        steps = inside[:-1] & inside[1:]
        return Curve(whole.t_s[inside], whole.low_c[inside], whole.high_c[inside], whole.gap[steps])

    def _first(self, good: "Mask", dwell_s: float) -> float | None:
        import numpy as np

        if not good.any():
            return None
        if dwell_s <= 0:
            return float(self.t_s[int(np.argmax(good))])
        gap = np.append(self.gap, False)
        since: float | None = None
        for t, fine, hole in zip(self.t_s.tolist(), good.tolist(), gap.tolist(), strict=True):
            since = (t if since is None else since) if fine else None
            if since is not None and t - since >= dwell_s:
                return float(t)
            if hole:
                since = None
        return None

    def _spans(self, values: "Floats", bad: "Mask") -> tuple[Span, ...]:
        """Join the steps that are bad or gaps; `values` are lowest where worst."""
        import numpy as np

        if len(self.t_s) < 2:
            return ()
        gap = self.gap
        wrong = np.concatenate([[False], bad | gap, [False]])
        edges = np.flatnonzero(wrong[1:] != wrong[:-1])
        unknown_s = np.concatenate([[0.0], np.cumsum(np.where(gap, np.diff(self.t_s), 0.0))])
        found = []
        for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
            seen = values[first:last][bad[first:last] & np.isfinite(values[first:last])]
            worst = float(seen.min()) if len(seen) else None
            span = (float(self.t_s[first]), float(self.t_s[last]))
            found.append(Span(*span, worst, float(unknown_s[last] - unknown_s[first])))
        return tuple(found)


def _marked(curve: Curve, at_s: float) -> Curve:
    """Return a curve with a sample at a time that has none."""
    import numpy as np

    t = curve.t_s
    if not len(t) or not t[0] < at_s < t[-1]:
        return curve
    k = int(np.searchsorted(t, at_s))
    if t[k] == at_s:
        return curve
    low, high = (np.insert(values, k, values[k - 1]) for values in (curve.low_c, curve.high_c))
    return Curve(np.insert(t, k, at_s), low, high, np.insert(curve.gap, k, curve.gap[k - 1]))


def curve(t_s: "ArrayLike", low_c: "ArrayLike", high_c: "ArrayLike") -> Curve:
    """Return a curve; `t_s` in s, ascending, temperatures in °C, NaN where nothing valid was read.

    Raises ValueError if the lengths differ or the times do not ascend.
    """
    import numpy as np

    t, low, high = (np.asarray(values, dtype=float) for values in (t_s, low_c, high_c))
    if not t.shape == low.shape == high.shape or t.ndim != 1:
        raise ValueError(f"{t.shape} times do not belong to {low.shape} and {high.shape} temperatures")
    steps = np.diff(t)
    if not (steps >= 0).all():
        raise ValueError("the times of a record do not ascend")
    unknown = np.isnan(low) | np.isnan(high)
    low, high = np.where(unknown, np.nan, low), np.where(unknown, np.nan, high)
    return Curve(t, low, high, unknown[:-1] | (steps > GAP_S))


def low_c(
    temps: Sequence[float | ProbeFault], probes: Sequence[Probe], estimate: Estimate | None
) -> float | None:
    """Return the coldest paste as it counts against hot limits, °C; None without a valid reading in the paste."""
    read = _readings(temps, probes)
    if not read:
        return None
    coldest = min(value - error for value, error in read)
    if estimate is None:
        return coldest
    return min(coldest, estimate.coldest_c - estimate.coldest_sd_k - _largest_error_k(probes))


def high_c(
    temps: Sequence[float | ProbeFault], probes: Sequence[Probe], estimate: Estimate | None
) -> float | None:
    """Return the hottest paste as it counts against cold limits, °C; None without a valid reading in the paste."""
    read = _readings(temps, probes)
    if not read:
        return None
    hottest = max(value + error for value, error in read)
    if estimate is None:
        return hottest
    return max(hottest, estimate.hottest_c + estimate.hottest_sd_k + _largest_error_k(probes))


def _largest_error_k(probes: Sequence[Probe]) -> float:
    """Return the largest error of the paste's probes, whether or not they read now: all have made the estimate."""
    return max(error_k(probe) for probe in probes if probe.place in PASTE_PLACES)


def _readings(temps: Sequence[float | ProbeFault], probes: Sequence[Probe]) -> list[tuple[float, float]]:
    """Return each valid reading in the paste, offset added, with its error; channels are numbered from 1."""
    found = []
    for probe in probes:
        value = temps[probe.channel - 1] if 0 < probe.channel <= len(temps) else None
        if probe.place in PASTE_PLACES and isinstance(value, float | int):
            found.append((value + probe.offset_k, error_k(probe)))
    return found
