"""Growth, heat, starch and amylases of one hold, added up while the samples come in: pure, any stretch at a time.

The live screen feeds it with what is new in the record, the review with the whole of it at once: the same sums, so the
figures on the screen in the morning are those of the report. It stands outside the hold's step and costs it nothing,
and since it is fed from the record alone, a hold that was killed and gone on with has the account of the whole night.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from holdctl.food.accounts import (
    EMETIC_RULE,
    EMETIC_SOURCE,
    BreadAccount,
    Emetic,
    Growth,
    GrowthAccount,
    Lethality,
    Part,
    mix_of,
)
from holdctl.food.amylase import ALPHA, BETA
from holdctl.food.converting import ConversionTally
from holdctl.food.curves import segments
from holdctl.food.growth_range import GrowthRange, GrowthTally
from holdctl.food.layers import NAMES, ranked
from holdctl.food.lethality import (
    BENCHMARK_MIN,
    BENCHMARK_RULE,
    BENCHMARK_SOURCE,
    SPORES_SURVIVE,
    HeatTally,
)
from holdctl.food.measured import Measured
from holdctl.food.organisms import Organism
from holdctl.food.saccharification import Conversion
from holdctl.food.starch import gelatinisation
from holdctl.food.worst_case import GAP_S
from holdctl.paste.flours import AMYLASES_C
from holdctl.paste.gelatinisation import Band
from holdctl.settings import Flour

if TYPE_CHECKING:
    from holdctl.food.curves import Floats


class Tally:
    """What one hold did to its paste so far."""

    def __init__(self, flour: Flour) -> None:
        self._flour = flour
        self._growth = [GrowthTally(organism, NAMES) for organism in Organism]
        self._heat, self._bread = HeatTally(), ConversionTally(flour, NAMES, GAP_S)
        self._last: tuple[Floats, ...] | None = None
        self._unrecorded_s = 0.0

    def add(
        self, t_s: "Floats", estimated_c: "tuple[Floats, Floats]", ends_c: "tuple[Floats, Floats]"
    ) -> None:
        """Take further samples, in order of time (s since the start of the hold).

        `estimated_c` is the coldest and the hottest paste as estimated, `ends_c` between what all of it surely was
        (`worst_case.low_c`, `high_c`), °C, NaN without one. Where there are ends but no estimate the ends stand for it.
        A late first sample has a gap before it.
        """
        import numpy as np

        new = tuple(np.asarray(values, dtype=float) for values in (t_s, *estimated_c, *ends_c))
        if not len(new[0]):
            return
        last = self._last
        if last is None and new[0][0] > GAP_S:
            last = (np.array([0.0]), *(np.array([np.nan]) for _ in range(4)))
        if last is not None:
            new = tuple(np.concatenate(pair) for pair in zip(last, new, strict=True))
        self._last = tuple(values[-1:] for values in new)
        self._take(*new)

    def _take(self, t: "Floats", coldest: "Floats", hottest: "Floats", low: "Floats", high: "Floats") -> None:
        import numpy as np

        known = np.isfinite(low) & np.isfinite(high)
        coldest, hottest = (
            np.where(known, np.where(np.isfinite(one), one, end), np.nan)
            for one, end in ((coldest, low), (hottest, high))
        )
        layers = ranked(coldest, hottest)
        for growth in self._growth:
            growth.add(t, layers, GAP_S, (low, high))
        self._bread.add(t, layers)
        sure = segments(t, low, GAP_S)
        self._heat.add(sure)
        self._unrecorded_s += sure.unknown_s

    def growth(self, silent_s: float = 0.0) -> GrowthAccount:
        """Return what may have grown and what the heat did; `silent_s` without a sample counts as not recorded."""
        found = [one.so_far(silent_s) for one in self._growth]
        heat = self._heat
        return GrowthAccount(
            organisms=tuple(_growth(one) for one in found),
            unrecorded_s=self._unrecorded_s + silent_s,
            emetic=next((_emetic(one) for one in found if one.emetic), None),
            lethality=Lethality(
                p70_min=heat.p70_min,
                p70_burger_min=heat.p70_burger_min,
                benchmark_met=min(heat.p70_min, heat.p70_burger_min) >= BENCHMARK_MIN,
                rule=BENCHMARK_RULE,
                source=BENCHMARK_SOURCE,
                reductions_log=dict(heat.reductions_log),
                spores=SPORES_SURVIVE,
            ),
        )

    def bread(self, measured: Sequence[Measured] = ()) -> BreadAccount:
        """Return what it did for the bread; without mix and malt among what was `measured` there is no index."""
        mix, missing = mix_of(measured)
        found = self._bread.conversions(mix)
        starch = gelatinisation(self._flour)
        return BreadAccount(
            starch=starch.starch,
            gelatinises_c=(_pair(starch.onset_c), _pair(starch.peak_c), _pair(starch.end_c)),
            starch_source=starch.source, starch_sureness=starch.sureness, limit_c=AMYLASES_C,
            amylase_sources=tuple(f"{one.name}: {one.source}; {one.sureness}" for one in (BETA, ALPHA)),
            parts=tuple(_part(name, one) for name, one in found),
            unrecorded_s=found[0][1].unrecorded_s, mix=mix, missing=missing, measured=tuple(measured),
        )  # fmt: skip


def _growth(one: GrowthRange) -> Growth:
    sources = dict.fromkeys(f"{g.fit.source} ({g.fit.food}; {g.fit.sureness})" for g in one.sets)
    return Growth(
        organism=one.organism.value, least_log=one.least_log, most_log=one.most_log,
        any_part_log=one.any_part_log, layer=one.layer, fits=len(one.sets), sources=tuple(sources),
        upper_bound=one.upper_bound,
    )  # fmt: skip


def _emetic(one: GrowthRange) -> Emetic | None:
    flag = one.emetic
    return flag and Emetic(
        from_s=flag.from_s, lasted_s=flag.lasted_s, unrecorded_s=flag.unrecorded_s, rule=EMETIC_RULE,
        source=EMETIC_SOURCE, action="Discard the paste.",
    )  # fmt: skip


def _part(name: str, one: Conversion) -> Part:
    return Part(
        layer=name, highest_c=one.highest_c, gelatinised=one.gelatinised and _pair(one.gelatinised),
        above_limit_s=one.above_limit_s, alpha_left=one.alpha_left, beta_left=one.beta_left, index=one.index,
    )  # fmt: skip


def _pair(band: Band) -> tuple[float, float]:
    return band.low, band.high
