"""Growth of an organism as a range: all its parameter sets, with and without the lag, in every layer of the paste.

The lower end is the smallest increase that a set gives in the layer where it grew most, with the lag; the upper end the
largest, without. Beside it stands what no part of the paste can have exceeded: at each moment the fastest rate between
the coldest and the hottest paste, and time that was not recorded counted at the temperature of fastest growth.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from holdctl.food.curves import segments
from holdctl.food.growth import Emetic, emetic, exposure, log_count
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
    if not layers:
        raise ValueError("growth needs at least one layer of the paste")
    curves = [(layer.name, segments(t_s, layer.temp_c, gap_s)) for layer in layers]
    ends = ends_c or (layers[0].temp_c, layers[-1].temp_c)
    found, toxin = [], list[Emetic | None]()
    for one in sets_of(organism):
        most, where = max((exposure(one, curve).recorded, name) for name, curve in curves)
        fastest = segments(t_s, fastest_c(optimum(one)[0], *ends), gap_s)
        worst = exposure(one, fastest).worst
        toxin += [emetic(one, curve, 0.0, start_log) for curve in (fastest, *(curve for _, curve in curves))]
        lagged = None if one.h0 is None else log_count(most, one.h0, start_log) - start_log
        bare, bound = (log_count(value, 0.0, start_log) - start_log for value in (most, max(most, worst)))
        found.append(Grown(one, where, lagged, bare, bound))
    top = max(found, key=lambda grown: grown.without_lag_log)
    return GrowthRange(
        organism, start_log,
        min(g.without_lag_log if g.with_lag_log is None else g.with_lag_log for g in found),
        top.without_lag_log, max(g.any_part_log for g in found), top.layer,
        max(curve.unknown_s for _, curve in curves), tuple(found),
        _longest(toxin),
    )  # fmt: skip


def _longest(found: Sequence[Emetic | None]) -> Emetic | None:
    there = [one for one in found if one is not None]
    return max(there, key=lambda one: one.lasted_s) if there else None
