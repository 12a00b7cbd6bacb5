"""Which water to pour: inverses against the mix itself and printed tables, ice against worked examples, the choice."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.errors import ConfigError
from holdctl.paste.boiling import boiling_point
from holdctl.paste.enthalpy import WATER, Ice, Portion, enthalpy
from holdctl.paste.mixing import mix_c, unknown_vessel, vessel
from holdctl.paste.pouring import Kitchen, blend_hot_g, choose, hot_for, ice_for, water_for
from holdctl.settings import Flour, Material
from tests.paste.scalds import scald

KITCHEN = Kitchen(boiling_point(0.0), 12.0)
REAL = {"hydration_j_kg": 15_120.0, "swelling": 1.0, "stirring_s": 120.0}


def _kilo(flour=Flour.WHITE_WHEAT, **more):
    return scald(flour, flour_g=400.0, vessel=vessel(600.0, Material.STEEL, 20.0), **REAL, **more)


@pytest.mark.parametrize(("ratio", "water_c"), [(1.0, 86.25), (1.4, 80.19), (2.0, 75.64), (3.0, 72.09)])
def test_a_mix_of_65_needs_the_tabulated_water(ratio, water_c):
    # White flour at 20 °C, no losses and no heats: Choi and Okos solids, IAPWS-IF97 water.
    assert water_for(scald(), 65.0, 100.0 * ratio) == pytest.approx(water_c, abs=0.02)


@settings(max_examples=50, deadline=None)
@given(st.floats(55.0, 75.0), st.floats(1.2, 4.0))
def test_the_water_that_is_asked_for_makes_the_mix_that_was_wanted(wanted_c, ratio):
    water_c = water_for(_kilo(), wanted_c, 400.0 * ratio)
    if water_c is not None:
        assert mix_c(replace(_kilo(), waters=(Portion(400.0 * ratio, water_c),))) == pytest.approx(
            wanted_c, abs=1e-4
        )


@settings(max_examples=50, deadline=None)
@given(st.floats(40.0, 66.0), st.floats(2.0, 4.0))
def test_hot_and_cold_water_make_the_mix_that_was_wanted(wanted_c, ratio):
    water_g = 400.0 * ratio
    hot_g = hot_for(_kilo(), wanted_c, water_g, 98.0, 12.0)
    assert hot_g is not None
    waters = (Portion(hot_g, 98.0), Portion(water_g - hot_g, 12.0))
    assert mix_c(replace(_kilo(), waters=waters)) == pytest.approx(wanted_c, abs=1e-4)


def test_what_no_water_can_do_is_none():
    assert water_for(scald(), 99.0, 100.0) is None
    assert hot_for(scald(), 90.0, 100.0, 95.0, 10.0) is None
    assert hot_for(scald(), 60.0, 100.0, 50.0, 50.0) is None


@pytest.mark.parametrize(
    ("total_g", "tap_c", "wanted_c", "ice_c", "ice_g"),
    [
        (40_000.0, 20.0, 10.0, 0.0, 4013.0),
        (10_000.0, 18.0, 4.0, 0.0, 1433.0),
        (40_000.0, 20.0, 10.0, -10.0, 3821.0),
    ],
)
def test_ice_replaces_water_with_the_taps_heat_below_the_line(total_g, tap_c, wanted_c, ice_c, ice_g):
    # m = W c (Tt - Tn)/(L + c Tt) with 333.4 kJ/kg; the wanted temperature there would give 4.4 kg (ice on top).
    got = ice_for(total_g, tap_c, wanted_c, ice_c)
    assert got == pytest.approx(ice_g, rel=0.004)
    cold = Portion(total_g - got, tap_c).heat_j(wanted_c) + Ice(got, ice_c).heat_j(wanted_c)
    assert cold == pytest.approx(0.0, abs=1.0)


def test_a_bakery_textbooks_rule_in_fahrenheit_is_met():
    # W (Tt - Tn)/(Tt + 112), a rule from memory: 16 lb, 65 to 58 °F, 0.633 lb.
    assert ice_for(16.0, (65 - 32) / 1.8, (58 - 32) / 1.8) == pytest.approx(0.633, rel=0.01)


def test_cold_tap_water_needs_no_ice():
    assert ice_for(500.0, 8.0, 10.0) == 0.0


def test_water_is_blended_by_heat():
    hot_g = blend_hot_g(1000.0, 80.0, 99.0, 12.0)
    heat = (hot_g * enthalpy(WATER, 99.0) + (1000.0 - hot_g) * enthalpy(WATER, 12.0)) / 1000.0
    assert heat == pytest.approx(enthalpy(WATER, 80.0))
    assert blend_hot_g(1000.0, 99.5, 99.0, 12.0) == 1000.0


@pytest.mark.parametrize("flour", Flour)
def test_malt_means_boiling_water_first(flour):
    pour = choose(_kilo(flour), 1000.0, KITCHEN, malt=True)
    assert pour.boil_first
    assert pour.cold_g == 0.0
    assert pour.water_c == KITCHEN.hot_c
    assert "malt" in pour.why
    assert "below 70 °C" in pour.why


@pytest.mark.parametrize(
    ("flour", "ratio"), [(Flour.WHITE_WHEAT, 1.6), (Flour.WHOLE_WHEAT, 2.0), (Flour.WHOLE_RYE, 3.0)]
)
def test_a_paste_without_malt_lands_between_its_starch_and_its_amylases(flour, ratio):
    pour = choose(_kilo(flour), 400.0 * ratio, KITCHEN, malt=False)
    assert _kilo(flour).starch.end_c < pour.mix.temp_c < 70.0
    assert not pour.boil_first
    assert pour.hot_g + pour.cold_g == pytest.approx(400.0 * ratio)
    assert "amylases must live" in pour.why


def test_the_quick_way_swells_first_and_ends_below_70():
    pour = choose(_kilo(Flour.WHOLE_RYE), 1200.0, KITCHEN, malt=True)
    said = pour.notes[-1]
    hot_g, peak_c, cold_g, end_c = (
        float(word) for word in said.replace("(about ", "").split() if word.isdigit()
    )
    first = replace(_kilo(Flour.WHOLE_RYE), waters=(Portion(hot_g, KITCHEN.hot_c),))
    both = replace(first, waters=(*first.waters, Portion(cold_g, KITCHEN.cold_c)))
    assert mix_c(first) == pytest.approx(peak_c, abs=0.6)
    assert mix_c(both) == pytest.approx(end_c, abs=0.6)
    assert peak_c > 64.0 > 0.0


def test_where_boiling_water_is_not_enough_the_plan_says_so():
    cold = scald(flour_g=400.0, flour_c=5.0, vessel=vessel(2000.0, Material.STONEWARE, 10.0), **REAL)
    pour = choose(cold, 400.0, KITCHEN, malt=True)
    assert pour.mix.temp_c < 66.2
    assert "even that" in pour.why
    assert "warm the bowl" in pour.why


def test_a_wish_is_met_or_refused_with_the_nearest():
    assert choose(_kilo(), 560.0, KITCHEN, malt=False, wanted_c=63.0).mix.temp_c == pytest.approx(
        63.0, abs=1e-4
    )
    with pytest.raises(ConfigError, match=r"boiling it comes to (\d+\.\d) °C; nearest: \1 °C"):
        choose(_kilo(), 560.0, KITCHEN, malt=False, wanted_c=90.0)
    with pytest.raises(ConfigError, match="all its water cold"):
        choose(_kilo(), 560.0, KITCHEN, malt=False, wanted_c=5.0)


def test_a_range_that_crosses_70_tells_to_measure():
    guessed = scald(flour_g=400.0, vessel=unknown_vessel(960.0, 20.0), **REAL)
    assert any("measure at once" in note for note in choose(guessed, 640.0, KITCHEN, malt=False).notes)
