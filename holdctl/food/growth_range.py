"""Growth of an organism as a range: all its parameter sets, with and without the lag, in every layer of the paste.

The lower end is the smallest increase that a set gives in the layer where it grew most, with the lag; the upper end the
largest, without. Beside it stands what no part of the paste can have exceeded: at each moment the fastest rate between
the coldest and the hottest paste, and time that was not recorded counted at the temperature of fastest growth.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from holdctl.food.curves import Segments, segments
from holdctl.food.growth import EMETIC_LOG, Emetic, Ripening, exposure_until, gained, log_count, ripened
from holdctl.food.layers import Layer, fastest_c
from holdctl.food.organisms import SPORES_LOG, Organism, ParameterSet, sets_of
from holdctl.food.rates import optimum

if TYPE_CHECKING:
    from holdctl.food.curves import Floats


@dataclass(frozen=True, slots=True)
class Grown:
    """What one parameter set gives."""

    fit: ParameterSet
    layer: str
    """Where it grew most."""
    with_lag_log: float | None
    """Increase there, log10; None where no lag was published."""
    without_lag_log: float
    any_part_log: float
    """Increase that no part of the paste can have exceeded, no lag, gaps at the fastest rate."""


@dataclass(frozen=True, slots=True)
class GrowthRange:
    """What all sets of an organism give together, log10 of the count."""

    organism: Organism
    start_log: float
    least_log: float
    most_log: float
    any_part_log: float
    layer: str
    """Where `most_log` was."""
    unrecorded_s: float
    sets: tuple[Grown, ...]
    emetic: Emetic | None = None
    """Longest time in which emetic toxin may have formed, of any set and part, without the lag."""

    @property
    def upper_bound(self) -> str:
        """Why the figures are more than a paste would give; empty where they are not."""
        return self.sets[0].fit.upper_bound


def growth_range(
    organism: Organism,
    t_s: "Floats",
    layers: Sequence[Layer],
    gap_s: float = math.inf,
    start_log: float = SPORES_LOG,
    ends_c: "tuple[Floats, Floats] | None" = None,
) -> GrowthRange:
    """Return the growth of an organism over the layers of a record (times in s since its begin).

    `layers` from the coldest to the hottest; `ends_c` are the temperatures between which every part surely was, those
    of the outermost layers when left out. Raises ValueError without a layer.
    """
    tally = GrowthTally(organism, [layer.name for layer in layers], start_log)
    tally.add(t_s, layers, gap_s, ends_c)
    return tally.so_far()


@dataclass(slots=True)
class _Sum:
    """What one parameter set has come to so far, ln units."""

    fit: ParameterSet
    by_layer: list[float]
    anywhere: float = 0.0
    """The fastest anywhere, gaps at the fastest rate."""
    toxin: list[Ripening] = field(default_factory=list)
    """Of the fastest course, then of each layer; empty of an organism without emetic toxin."""


class GrowthTally:
    """Growth of one organism, added up stretch by stretch: stretches that share a sample add up to the whole."""

    def __init__(self, organism: Organism, names: Sequence[str], start_log: float = SPORES_LOG) -> None:
        """`names` of the layers, coldest first. Raises ValueError without one."""
        if not names:
            raise ValueError("growth needs at least one layer of the paste")
        self.organism, self._names, self._start_log = organism, tuple(names), start_log
        self._unknown_s = [0.0] * len(names)
        self._until = exposure_until(EMETIC_LOG, 0.0, start_log)
        curves = 1 + len(names) if organism is Organism.BACILLUS_CEREUS else 0
        self._sums = [_Sum(one, [0.0] * len(names), toxin=[Ripening()] * curves) for one in sets_of(organism)]

    def add(
        self,
        t_s: "Floats",
        layers: Sequence[Layer],
        gap_s: float = math.inf,
        ends_c: "tuple[Floats, Floats] | None" = None,
    ) -> None:
        """Take a stretch as `growth_range` takes a record; the last sample of one is the first of the next."""
        curves = [segments(t_s, layer.temp_c, gap_s) for layer in layers]
        self._unknown_s = [s + c.unknown_s for s, c in zip(self._unknown_s, curves, strict=True)]
        ends = ends_c or (layers[0].temp_c, layers[-1].temp_c)
        coldest, hottest = _outermost(curves, ends)
        for one in self._sums:
            if coldest >= one.fit.max_c or hottest <= one.fit.min_c:
                one.toxin = [was.later(float(curves[0].length_s.sum())) for was in one.toxin]
                continue
            fastest = segments(t_s, fastest_c(optimum(one.fit)[0], *ends), gap_s)
            self._take(one, [fastest, *curves])

    def _take(self, one: _Sum, curves: Sequence[Segments]) -> None:
        fit = one.fit
        grew = [gained(fit, curve) for curve in curves]
        one.anywhere += float(grew[0].sum()) + optimum(fit)[1] * curves[0].unknown_s / 3600
        one.by_layer = [s + float(g.sum()) for s, g in zip(one.by_layer, grew[1:], strict=True)]
        if one.toxin:
            one.toxin = [
                ripened(fit, curve, g, was, self._until)
                for curve, g, was in zip(curves, grew, one.toxin, strict=True)
            ]

    def so_far(self, silent_s: float = 0.0) -> GrowthRange:
        """Return what all sets give together so far; `silent_s` without a sample since the last one."""
        found = [self._grown(one, silent_s) for one in self._sums]
        top = max(found, key=lambda grown: grown.without_lag_log)
        return GrowthRange(
            self.organism, self._start_log,
            min(g.without_lag_log if g.with_lag_log is None else g.with_lag_log for g in found),
            top.without_lag_log, max(g.any_part_log for g in found), top.layer,
            max(self._unknown_s) + silent_s, tuple(found),
            _longest([self._toxin(one, was, silent_s) for one in self._sums for was in one.toxin]),
        )  # fmt: skip

    def _grown(self, one: _Sum, silent_s: float) -> Grown:
        start, fit = self._start_log, one.fit
        most, where = max(zip(one.by_layer, self._names, strict=True))
        anywhere = one.anywhere + optimum(fit)[1] * silent_s / 3600
        lagged = None if fit.h0 is None else log_count(most, fit.h0, start) - start
        bare, bound = (log_count(value, 0.0, start) - start for value in (most, max(most, anywhere)))
        return Grown(fit, where, lagged, bare, bound)

    def _toxin(self, one: _Sum, was: Ripening, silent_s: float) -> Emetic | None:
        if silent_s <= 0:
            return was.found
        gap = segments([0.0, silent_s], [math.nan, math.nan])
        return ripened(one.fit, gap, gained(one.fit, gap), was, self._until).found


def _outermost(curves: Sequence[Segments], ends_c: "tuple[Floats, Floats]") -> tuple[float, float]:
    """Return between what all paste was all the time, °C; everything possible where some time is not known."""
    if not all(curve.known.all() for curve in curves):
        return -math.inf, math.inf
    low, high = float(ends_c[0].min()), float(ends_c[1].max())
    tops = [float(end.max()) for curve in curves for end in (curve.start_c, curve.end_c) if len(end)]
    lows = [float(end.min()) for curve in curves for end in (curve.start_c, curve.end_c) if len(end)]
    return min([low, *lows]), max([high, *tops])


def _longest(found: Sequence[Emetic | None]) -> Emetic | None:
    there = [one for one in found if one is not None]
    return max(there, key=lambda one: one.lasted_s) if there else None
