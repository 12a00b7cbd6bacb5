"""The account of a night, added up while it goes on, against the same curve reckoned at once."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.food.curves import segments
from holdctl.food.growth import emetic
from holdctl.food.growth_range import growth_range
from holdctl.food.layers import ranked
from holdctl.food.lethality import RESISTANCES, Z_BURGER_K, log_reduction, p70_min
from holdctl.food.measured import Measured, Measurement
from holdctl.food.organisms import Organism
from holdctl.food.saccharification import Mix, conversion
from holdctl.food.tally import Tally
from holdctl.food.worst_case import GAP_S
from holdctl.settings import Flour
from tests.food.records import numbers

RYE = Flour.WHOLE_RYE
MIXED = Measured(at_s=5.0, by="baker", value=Measurement(mix_c=84.0, mix_s=-600.0, malt="none"))
MALT_S = 2400.0
MALTED = Measured(at_s=60.0, by="baker", value=Measurement(malt_s=MALT_S))


def night(step_s=5.0, hours=9.0):
    """A paste that falls from 80 °C, is held, is left without heat, and has a gap of half an hour on its way down."""
    t = np.arange(0.0, hours * 3600, step_s)
    middle = np.interp(t / 3600, [0, 1, 3, 5, hours], [80, 64, 63, 42, 19])
    coldest, hottest = middle - 1.5 - t / 3e4, middle + 1.0 + t / 1e4
    coldest[200:220] = hottest[200:220] = np.nan  # a probe without a value
    there = (t < 4.1 * 3600) | (t > 4.6 * 3600)
    t, coldest, hottest = t[there], coldest[there], hottest[there]
    return t, (coldest, hottest), (coldest - 0.6, hottest + 0.7)


def told(cuts, curve, measured=()):
    """Return both accounts of a night that came in stretches."""
    t, estimated, ends = curve
    tally = Tally(RYE)
    for a, b in zip([0, *cuts], [*cuts, len(t)], strict=True):
        tally.add(t[a:b], tuple(x[a:b] for x in estimated), tuple(x[a:b] for x in ends))
    return tally.growth(), tally.bread(measured)


@pytest.fixture(scope="module")
def whole():
    return {measured: told([], night(), measured) for measured in ((), (MIXED,), (MIXED, MALTED))}


@given(st.lists(st.integers(0, 6100), max_size=6), st.sampled_from([(), (MIXED,), (MIXED, MALTED)]))
@settings(max_examples=25, deadline=None)
def test_a_night_that_comes_in_any_stretches_ends_where_the_whole_ends(whole, cuts, measured):
    growth, bread = told(sorted(cuts), night(), measured)
    at_once = whole[measured]
    assert numbers(growth) == pytest.approx(numbers(at_once[0]), abs=1e-6)
    assert numbers(bread) == pytest.approx(numbers(at_once[1]), abs=1e-6)


def test_what_is_told_of_the_mix_late_counts_from_the_mix_on(whole):
    """Each time it is asked, too: the answers before it leave nothing behind."""
    t, estimated, ends = night()
    tally = Tally(RYE)
    for k in range(0, len(t), 500):
        s = slice(k, k + 500)
        tally.add(t[s], tuple(x[s] for x in estimated), tuple(x[s] for x in ends))
        known = (MIXED, MALTED) if k > 3000 else (MIXED,) if k > 1000 else ()
        assert bool(tally.bread(known).missing) == (not known)
    for measured in ((MIXED, MALTED), (), (MIXED,)):
        assert numbers(tally.bread(measured)) == pytest.approx(numbers(whole[measured][1]), abs=1e-6)


def test_malt_that_is_still_to_go_in_counts_from_its_time_on():
    t, estimated, ends = night()
    later = Measured(at_s=1.0, by="baker", value=Measurement(malt_s=MALT_S))
    tally = Tally(RYE)
    for a, b in ((0, 300), (300, len(t))):  # the first stretch ends before the malt
        tally.add(t[a:b], tuple(x[a:b] for x in estimated), tuple(x[a:b] for x in ends))
        index = tally.bread((MIXED, later)).parts[2].index
        assert index is not None and (index[1] == 0) == (a == 0)
    assert numbers(tally.bread((MIXED, later))) == pytest.approx(
        numbers(told([], night(), (MIXED, later))[1]), abs=1e-6
    )


def test_it_is_what_each_part_gives_by_itself():
    t, (coldest, hottest), ends = night()
    growth, bread = told([], night(), (MIXED,))
    layers, low = ranked(coldest, hottest), segments(t, ends[0], GAP_S)
    for one, organism in zip(growth.organisms, Organism, strict=True):
        alone = growth_range(organism, t, layers, GAP_S, ends_c=ends)
        assert (one.least_log, one.most_log) == pytest.approx((alone.least_log, alone.most_log), abs=1e-9)
        assert one.any_part_log == pytest.approx(alone.any_part_log, abs=1e-9)
    heat = growth.lethality
    assert heat.p70_min == pytest.approx(p70_min(low))
    assert heat.p70_burger_min == pytest.approx(p70_min(low, Z_BURGER_K))
    assert heat.reductions_log == pytest.approx(
        {one.name: log_reduction(low, one) for one in RESISTANCES if not one.spores}
    )
    for part, layer in zip(bread.parts, layers, strict=True):
        alone = conversion(t, layer.temp_c, RYE, Mix(84.0, 600.0), GAP_S)
        assert part.index == pytest.approx(alone.index)
        assert part.beta_left == pytest.approx(alone.beta_left)


@pytest.mark.parametrize("hot_h", [0, 2])
def test_toxin_is_told_from_the_time_at_which_the_whole_curve_has_it(hot_h):
    """Hot hours before it, in which nothing can grow and nothing is reckoned, are time all the same."""
    t = np.arange(0.0, 20 * 3600, 10.0)
    temp = np.where(t < hot_h * 3600, 65.0, 25.0)
    curve = (t, (temp, temp), (temp - 0.5, temp + 0.5))
    growth, _ = told([900, 2000, 2001, 5000], curve)
    alone = growth_range(Organism.BACILLUS_CEREUS, t, ranked(*curve[1]), GAP_S, ends_c=curve[2]).emetic
    assert growth.emetic is not None and alone is not None
    assert (growth.emetic.from_s, growth.emetic.lasted_s) == pytest.approx((alone.from_s, alone.lasted_s))
    assert emetic(growth_range(Organism.STAPHYLOCOCCUS_AUREUS, t, ranked(*curve[1])).sets[0].fit,
                  segments(t, curve[1][0]), 0.0) is None  # fmt: skip


def test_silence_since_the_last_sample_counts_as_the_fastest_growth_and_is_forgotten_when_one_comes():
    t, estimated, ends = night(hours=1.0)
    tally = Tally(RYE)
    tally.add(t, estimated, ends)
    before, silent = tally.growth(), tally.growth(3600.0)
    assert before.organisms[0].any_part_log < 0.3 < silent.organisms[0].any_part_log
    assert silent.unrecorded_s - before.unrecorded_s == 3600
    assert silent.organisms[0].most_log == before.organisms[0].most_log
    assert numbers(tally.growth()) == numbers(before)


def test_time_before_a_late_first_sample_is_not_recorded():
    tally = Tally(RYE)
    tally.add(np.array([1800.0, 1805.0]), (np.array([64.0, 64.0]),) * 2, (np.array([63.0, 63.0]),) * 2)
    assert tally.growth().unrecorded_s == 1800
    assert tally.growth().organisms[0].any_part_log > 0.3


def test_where_there_is_no_estimate_the_ends_stand_for_it():
    """As of a paste that sours: nobody follows what it is like beside its probe."""
    t = np.arange(0.0, 6 * 3600, 10.0)
    none = np.full(len(t), np.nan)
    tally = Tally(RYE)
    tally.add(t, (none, none), (np.full(len(t), 29.0), np.full(len(t), 31.0)))
    cereus = tally.growth().organisms[0]
    assert 1.0 < cereus.least_log < cereus.most_log < cereus.any_part_log + 1e-9


def test_an_account_of_nothing_is_nothing():
    tally = Tally(RYE)
    tally.add(np.array([]), (np.array([]),) * 2, (np.array([]),) * 2)
    assert tally.growth().grown == () and tally.growth().lethality.p70_min == 0
    assert "survive" in tally.growth().lethality.spores
    assert all(part.highest_c is None for part in tally.bread((MIXED,)).parts)
