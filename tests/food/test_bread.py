"""Starch, amylases and the saccharification index."""

import math

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from holdctl.food.amylase import ALPHA, BETA, exposure_min, half_life_min, left, left_after
from holdctl.food.curves import segments
from holdctl.food.saccharification import MIXED_S, Mix, State, advance, conversion, state
from holdctl.food.starch import gelatinisation, gelatinised
from holdctl.paste.flours import AMYLASES_C
from holdctl.paste.gelatinisation import STARCH
from holdctl.settings import Flour

WHEAT, RYE = Flour.WHITE_WHEAT, Flour.WHOLE_RYE
H = 3600.0
WARM = Mix(peak_c=66.0)


def steady(temp_c, hours, step_s=60.0):
    t = np.arange(0, hours * H + 1, step_s)
    return t, np.full(len(t), float(temp_c))


# ---- starch


def test_wheat_starch_gelatinises_where_the_published_scan_says():
    """Jane et al. 1999, Cereal Chem. 76:629: 57.1, 61.6, 66.2 °C (from memory)."""
    one = gelatinisation(WHEAT)
    assert (one.onset_c.low, one.peak_c.low, one.end_c.low) == (57.1, 61.6, 66.2)
    assert gelatinised(WHEAT, 57.1) == (0, 0)
    assert gelatinised(WHEAT, 61.6) == (0.5, 0.5)
    assert gelatinised(WHEAT, 66.2) == (1, 1)
    assert gelatinisation(Flour.WHOLE_WHEAT) is one


def test_rye_is_given_as_a_band_that_lies_lower():
    """Onset 49 to 55, peak 54 to 60, end 60 to 68 °C over three papers; slightly below wheat (Gomand et al. 2011)."""
    assert gelatinised(RYE, 60.0) == (0.5, 1.0)
    assert gelatinisation(Flour.WHOLE_RYE).end_c.high == 68.0
    assert gelatinised(RYE, 58.0).low >= gelatinised(WHEAT, 58.0).low


@pytest.mark.parametrize("flour", list(Flour))
def test_the_heat_balance_of_mixing_takes_the_middles_of_the_same_bands(flour):
    one, middle = gelatinisation(flour), STARCH[flour]
    assert middle.name == one.starch
    middles = (one.onset_c.middle, one.peak_c.middle, one.end_c.middle)
    assert middles == (middle.onset_c, middle.peak_c, middle.end_c)


@given(st.sampled_from(list(Flour)), st.floats(0, 100), st.floats(0, 20))
def test_hotter_never_means_less_gelatinised(flour, temp_c, more):
    share, hotter = gelatinised(flour, temp_c), gelatinised(flour, temp_c + more)
    assert 0 <= share.low <= share.high <= 1
    assert hotter.low >= share.low and hotter.high >= share.high


# ---- amylases


def test_beta_amylase_halves_in_10_minutes_at_65_between_4_and_20():
    """4.2 min: Brandam et al. 2003 in thin mash (from memory); 10 min: Muller, thick mash (second-hand)."""
    assert half_life_min(BETA, 65.0) == (4.0, 10.0, 20.0)
    assert left(BETA, 10.0).nominal == pytest.approx(0.5)


@pytest.mark.parametrize(("minutes", "published"), [(30, 0.17), (60, 0.08)])
def test_what_a_thick_mash_left_lies_within_the_spread(minutes, published):
    """Muller (BRF 1990/91), 65 °C, 2.5 l/kg, second-hand."""
    share = left_after(BETA, 65.0, minutes)
    assert share.low < published < share.high


def test_more_than_half_of_the_alpha_amylase_outlasts_an_hour_at_65():
    """Muller, second-hand; Brandam et al. 2003's constants give 0.561."""
    assert left_after(ALPHA, 65.0, 60.0).nominal == pytest.approx(0.561, abs=0.002)
    assert left_after(ALPHA, 65.0, 60.0).low >= 0.5


# Brandam et al. 2003, Biochem. Eng. J. 13:43 (from memory): k = k0 exp(-Ea / RT), per s.
@pytest.mark.parametrize(("enzyme", "k0", "ea"), [(ALPHA, 6.9e30, 224_200.0), (BETA, 7.6e60, 410_700.0)])
def test_the_tenfold_law_follows_the_published_activation_energy_near_65(enzyme, k0, ea):
    def half_life(temp_c):
        return math.log(2) / (k0 * math.exp(-ea / 8.314 / (temp_c + 273.15))) / 60

    for temp_c in (60.0, 63.0, 65.0, 68.0, 70.0):
        ours = half_life_min(enzyme, temp_c).nominal / half_life_min(enzyme, 65.0).nominal
        assert ours == pytest.approx(half_life(temp_c) / half_life(65.0), rel=0.06)
    if enzyme is ALPHA:
        assert half_life_min(ALPHA, 65.0).nominal == pytest.approx(half_life(65.0), abs=0.1)


def test_rye_beta_is_gone_at_70_and_alpha_at_85():
    """Chizhova et al.: practically inactivated at about 70 and at 85 °C; here after 10 minutes there."""
    assert AMYLASES_C == 70.0
    assert left_after(BETA, 70.0, 10.0).nominal < 0.01
    assert left_after(ALPHA, 70.0, 10.0).nominal > 0.5
    assert left_after(ALPHA, 85.0, 10.0).high < 0.01


# ---- the index


def test_an_hour_at_65_with_nothing_lost_would_be_one():
    """By hand: ½/60 ∫ (2^(-t/72) + 2^(-t/10)) dt over an hour, all starch gelatinised by the mix."""
    t, temps = steady(65, 1)
    now = advance(State(highest_c=90.0), segments(t, temps), RYE)
    areas = [half / math.log(2) * (1 - 2 ** (-60 / half)) for half in (72, 10)]
    assert now.index.nominal == pytest.approx(sum(areas) / 120, rel=1e-6)
    assert now.index.high < 1


def test_work_slows_with_cold_by_half_each_ten_kelvin_or_so():
    hot = advance(State(highest_c=90.0), segments(*steady(45, 0.1)), RYE).index.nominal
    cold = advance(State(highest_c=90.0), segments(*steady(35, 0.1)), RYE).index.nominal
    assert hot / cold == pytest.approx(1.5, rel=0.01)  # wheat, 35 to 45 °C: 1.48 to 1.56 (second-hand)


def test_raw_starch_is_not_converted():
    assert advance(State(), segments(*steady(45, 5)), RYE).index.nominal == 0
    assert advance(State(highest_c=90.0), segments(*steady(45, 5)), RYE).index.nominal > 0


def test_without_mix_and_malt_there_is_no_index_but_the_rest():
    found = conversion(*steady(72, 1), RYE, None)
    assert (found.index, found.alpha_left, found.beta_left) == (None, None, None)
    assert found.gelatinised == (1, 1)
    assert found.above_limit_s == 3600


def test_a_mix_with_boiling_water_ends_the_beta_amylase_before_the_hold():
    hot, mild = (conversion(*steady(65, 3), RYE, Mix(peak_c=peak)) for peak in (86.0, 66.0))
    assert hot.beta_left.high < 1e-6
    assert hot.index.nominal < mild.index.nominal
    assert hot.gelatinised == (1, 1)


def test_a_long_fall_from_the_mix_costs_more_than_a_short_one():
    short, long = (conversion(*steady(65, 3), RYE, Mix(peak_c=76.0, before_s=s)) for s in (180.0, 1800.0))
    assert long.alpha_left.nominal < short.alpha_left.nominal
    assert long.index.nominal < short.index.nominal


def test_an_unknown_time_since_the_mix_counts_as_the_shortest_mix():
    unknown, shortest = (conversion(*steady(65, 3), RYE, Mix(75.0, before)) for before in (None, MIXED_S))
    assert unknown == shortest


def test_malt_that_goes_in_later_keeps_its_own_amylases():
    with_flour = conversion(*steady(65, 3), RYE, Mix(peak_c=86.0))
    later = conversion(*steady(65, 3), RYE, Mix(peak_c=86.0, malt_s=0.0))
    assert later.index.nominal > with_flour.index.nominal
    assert later.gelatinised == (1, 1)


def test_malt_put_in_before_the_hold_goes_through_the_end_of_the_fall():
    at_start = conversion(*steady(65, 3), RYE, Mix(85.0, 1200.0, malt_s=0.0))
    early = conversion(*steady(65, 3), RYE, Mix(85.0, 1200.0, malt_s=-300.0))
    assert early.beta_left.nominal < at_start.beta_left.nominal


def test_malt_after_the_end_of_the_record_has_done_nothing():
    found = conversion(*steady(65, 1), RYE, Mix(85.0, malt_s=2 * H))
    assert found.index.nominal == 0
    assert found.beta_left.nominal == 1


def test_the_edge_may_be_overcooked_and_the_core_unconverted():
    t = np.arange(0, 4 * H, 60.0)
    core, edge = 20 + 30 * t / t[-1], np.minimum(20 + t / 60, 76.0)
    cold, hot = (conversion(t, temps, RYE, Mix(peak_c=22.0, before_s=120.0)) for temps in (core, edge))
    assert cold.gelatinised.high < 0.2 and cold.beta_left.nominal > 0.9
    assert hot.gelatinised.low == 1 and hot.beta_left.high < 0.01 and hot.above_limit_s > 3 * H


@given(st.floats(40, 80), st.floats(0.2, 8), st.floats(0.1, 4))
@settings(max_examples=60, deadline=None)
def test_the_index_never_falls_with_time_and_its_ends_are_in_order(temp_c, hours, more):
    short, long = (conversion(*steady(temp_c, h), RYE, WARM) for h in (hours, hours + more))
    assert 0 <= short.index.low <= short.index.nominal <= short.index.high
    for a, b in zip(short.index, long.index, strict=True):
        assert b >= a - 1e-12
    for a, b in zip(short.beta_left, long.beta_left, strict=True):
        assert b <= a + 1e-12


@given(st.lists(st.floats(20, 85), min_size=3, max_size=30), st.integers(0, 28))
@settings(max_examples=100, deadline=None)
def test_two_stretches_one_after_the_other_give_the_whole(temps, cut):
    t, temps, cut = np.arange(len(temps)) * 60.0, np.array(temps), min(cut, len(temps) - 1)
    whole = advance(State(), segments(t, temps), RYE)
    half = advance(State(), segments(t[: cut + 1], temps[: cut + 1]), RYE)
    again = advance(half, segments(t[cut:], temps[cut:]), RYE)
    assert again.alpha_min == pytest.approx(whole.alpha_min)
    assert again.beta_min == pytest.approx(whole.beta_min)
    assert again.highest_c == whole.highest_c
    assert list(again.index) == pytest.approx(list(whole.index), rel=1e-9, abs=1e-15)


@given(st.lists(st.floats(20, 85), min_size=3, max_size=30), st.data())
@settings(max_examples=60, deadline=None)
def test_a_colder_curve_never_costs_more_amylase(temps, data):
    t = np.arange(len(temps)) * 60.0
    colder = [temp - data.draw(st.floats(0, 20)) for temp in temps]
    for enzyme in (ALPHA, BETA):
        assert exposure_min(enzyme, segments(t, colder)) <= exposure_min(enzyme, segments(t, temps)) * (
            1 + 1e-12
        )


@example(74.0, 3.0, 3600.0)
@given(st.floats(58, 74), st.floats(0, 3), st.floats(3600, 20_000))
@settings(max_examples=30, deadline=None)
def test_how_densely_a_smooth_curve_is_sampled_hardly_moves_the_index(middle, swing, period):
    """Straight lines over a minute cut a sine by swing (2π 60 s / period)² / 8 at most: by that it may seem cooler."""

    def index(step, off_k=0.0):
        t = np.arange(0, 8 * H + 1, step)
        return state(t, middle + off_k + swing * np.sin(t / period * 2 * np.pi), RYE, WARM).index.nominal

    found = [index(step) for step in (1.0, 5.0, 60.0)]
    cut_k = swing * (2 * np.pi * 60.0 / period) ** 2 / 8
    assert np.ptp(found) <= 5e-4 * max(found) + abs(index(5.0, -cut_k) - index(5.0))


def test_what_was_not_recorded_counts_as_nothing_and_is_said():
    t = np.array([0.0, 10.0, 3610.0, 3620.0])
    found = conversion(t, np.full(4, 65.0), RYE, Mix(66.0), gap_s=10.0)
    assert found.unrecorded_s == 3600
    assert found.index.nominal < 0.05


def test_a_curve_without_a_single_value_says_nothing():
    found = conversion([0.0, 1.0], [math.nan] * 2, RYE, None)
    assert (found.highest_c, found.gelatinised, found.index) == (None, None, None)
