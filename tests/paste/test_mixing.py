"""The mix against an independent integration of enthalpy (scipy over CoolProp's components and iapws' water).

Tables: adiabatic scalds of white flour at 20 °C and boiling water (Choi and Okos solids, IAPWS-IF97 water).
"""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.paste import COMPOSITIONS
from holdctl.paste.boiling import boiling_c
from holdctl.paste.enthalpy import WATER, Ice, Portion, Vessel
from holdctl.paste.evaporation import Surface, open_w_m2
from holdctl.paste.mixing import (
    Loss,
    believed_loss,
    excess_j,
    mix,
    mix_c,
    pooled_loss_j_k,
    surface_of,
    unknown_vessel,
    vessel,
)
from holdctl.settings import Flour, Material
from tests.paste.scalds import mixed_c, scald

TABLE = [
    (1.0, 99.974, 74.32, 75.65, 70.27),
    (1.2, 99.974, 77.38, 78.55, 73.58),
    (1.4, 99.974, 79.78, 80.84, 76.22),
    (1.5, 99.974, 80.81, 81.80, 77.36),
    (2.0, 99.974, 84.67, 85.47, 81.71),
    (3.0, 99.974, 89.07, 89.64, 86.79),
    (1.0, 96.649, 72.06, 73.40, None),
    (1.4, 96.649, 77.30, 78.35, None),
    (2.0, 96.649, 81.98, 82.78, None),
    (3.0, 96.649, 86.20, 86.77, None),
    (2.0, 93.317, 79.29, 80.09, None),
]


def _boiled(ratio, water_c, **more):
    return replace(scald(**more), waters=(Portion(100.0 * ratio, water_c),))


@pytest.mark.parametrize(("ratio", "water_c", "plain_c", "with_heats_c", "in_steel_c"), TABLE)
def test_a_scald_comes_to_the_tabulated_temperature(ratio, water_c, plain_c, with_heats_c, in_steel_c):
    plain = _boiled(ratio, water_c)
    assert mix_c(plain) == pytest.approx(plain_c, abs=0.02)
    # Heat of hydration 15.1 kJ/kg flour given, 6.8 kJ/kg flour taken by its starch.
    assert mix_c(_boiled(ratio, water_c, hydration_j_kg=15.1e3 - 6.8e3)) == pytest.approx(
        with_heats_c, abs=0.02
    )
    if in_steel_c is not None:  # a kilogram of steel, 0.5 kJ/(kg K), for each of flour
        steel = _boiled(ratio, water_c, vessel=Vessel(0.1 * 500.0, 20.0))
        assert mix_c(steel) == pytest.approx(in_steel_c, abs=0.03)


@pytest.mark.parametrize(
    ("flour", "ratio", "flour_c", "water_c", "vessel_j_k"),
    [
        (Flour.WHITE_WHEAT, 1.0, 5.0, 99.9, 0.0),
        (Flour.WHITE_WHEAT, 1.4, 28.0, 84.0, 40.0),
        (Flour.WHOLE_WHEAT, 2.0, 18.0, 95.0, 100.0),
        (Flour.WHOLE_RYE, 3.0, 22.0, 77.0, 0.0),
        (Flour.WHOLE_RYE, 5.0, -0.0, 60.0, 25.0),
    ],
)
def test_the_mix_is_within_a_tenth_of_a_kelvin_of_an_independent_integration(
    flour, ratio, flour_c, water_c, vessel_j_k
):
    ours = replace(
        scald(flour, flour_c=flour_c, vessel=Vessel(vessel_j_k, 17.0)),
        waters=(Portion(100.0 * ratio, water_c),),
    )
    bodies = [(100.0, COMPOSITIONS[flour], flour_c), (100.0 * ratio, WATER, water_c)]
    assert mix_c(ours) == pytest.approx(mixed_c(bodies, vessel_j_k, 17.0), abs=0.01)
    warmed = replace(ours, hydration_j_kg=15_120.0)
    assert mix_c(warmed) == pytest.approx(mixed_c(bodies, vessel_j_k, 17.0, 1512.0), abs=0.01)


def test_two_waters_and_ice_share_their_heat():
    ours = replace(scald(), waters=(Portion(120.0, 98.0), Portion(20.0, 12.0), Ice(10.0, -5.0)))
    melted = -(333_420.0 + 5 * 2079.0) * 0.010  # J, IAPWS R10-06
    bodies = [(100.0, COMPOSITIONS[Flour.WHITE_WHEAT], 20.0), (120.0, WATER, 98.0), (20.0, WATER, 12.0)]
    assert mix_c(ours) == pytest.approx(mixed_c([*bodies, (10.0, WATER, 0.0)], given_j=melted), abs=0.01)


def test_altitude_takes_what_the_boiling_point_takes():
    low, high = (mix_c(_boiled(1.4, boiling_c(hpa))) for hpa in (1013.25, 845.597))
    assert low - high == pytest.approx(0.746 * (99.974 - 94.984), abs=0.05)


def test_stirring_loses_what_an_open_surface_loses_meanwhile():
    quiet = _boiled(2.0, 95.0)
    stirred = replace(quiet, stirring_s=120.0, surface=Surface(0.02, 20.0))
    got = mix_c(stirred)
    low, high = open_w_m2(got, stirred.surface)
    assert excess_j(quiet, got) == pytest.approx(-((low * high) ** 0.5) * 0.02 * 120.0, rel=1e-4)
    assert got < mix_c(quiet)


def test_starch_that_has_not_swollen_takes_no_heat():
    cool = replace(scald(swelling=1.0), waters=(Portion(200.0, 55.0),))
    assert mix_c(cool) == pytest.approx(mix_c(replace(cool, swelling=0.0)), abs=1e-9)
    hot = replace(scald(swelling=1.0), waters=(Portion(200.0, 95.0),))
    assert mix_c(hot) == pytest.approx(mix_c(replace(hot, swelling=0.0, hydration_j_kg=-6774.0)), abs=0.01)


def test_a_range_is_two_deviations_of_all_terms_in_squares():
    got = mix(_boiled(1.4, 99.5, vessel=unknown_vessel(240.0, 20.0), stirring_s=120.0))
    half = 2.0 * sum(t.sd_k**2 for t in got.terms) ** 0.5
    assert (got.low_c, got.high_c) == pytest.approx((got.temp_c - half, got.temp_c + half))
    assert got.terms[0].name in ("vessel", "loss while stirring")


def test_a_weighed_vessel_narrows_the_range_and_a_learnt_one_more():
    kilo = replace(scald(flour_g=400.0), waters=(Portion(560.0, 99.5),), stirring_s=120.0)
    guessed = mix(replace(kilo, vessel=unknown_vessel(960.0, 20.0)))
    weighed = mix(replace(kilo, vessel=vessel(700.0, Material.STEEL, 20.0)))
    learnt = mix(replace(kilo, loss=Loss(500.0, 40.0)))
    spans = [m.high_c - m.low_c for m in (guessed, weighed, learnt)]
    assert spans == sorted(spans, reverse=True)


@settings(deadline=None)
@given(st.floats(30.0, 90.0))
def test_a_measured_mix_gives_back_the_loss_that_made_it(j_k):
    made = replace(
        _boiled(1.4, 97.0, flour_g=400.0), waters=(Portion(560.0, 97.0),), loss=Loss(10 * j_k, 0.0)
    )
    assert pooled_loss_j_k(made, mix_c(made)) == pytest.approx(10 * j_k, rel=1e-4)


def test_a_mix_at_room_temperature_teaches_nothing():
    assert pooled_loss_j_k(scald(), 20.5) is None


def test_what_is_believed_of_a_vessel_says_the_same_as_its_parts():
    whole = replace(
        scald(flour_g=400.0, vessel=unknown_vessel(960.0, 20.0), stirring_s=120.0),
        waters=(Portion(560.0, 99.0),),
    )
    at = mix_c(whole)
    assert mix_c(replace(whole, loss=believed_loss(whole, at))) == pytest.approx(at, abs=1e-3)


@settings(deadline=None)
@given(
    st.floats(0.8, 6.0),
    st.floats(0.0, 40.0),
    st.floats(45.0, 100.0),
    st.floats(0.0, 100.0),
    st.floats(0.0, 40.0),
)
def test_without_heats_a_mix_lies_between_what_was_mixed(ratio, flour_c, water_c, vessel_j_k, vessel_c):
    made = replace(
        scald(flour_c=flour_c, vessel=Vessel(vessel_j_k, vessel_c)), waters=(Portion(100.0 * ratio, water_c),)
    )
    lowest, highest = min(flour_c, vessel_c), max(water_c, vessel_c)
    assert min(lowest, flour_c) - 1e-5 <= mix_c(made) <= highest + 1e-5


@settings(deadline=None)
@given(st.floats(0.1, 50.0))
def test_size_alone_changes_nothing(times):
    small = _boiled(1.4, 95.0, vessel=Vessel(30.0, 20.0))
    large = replace(
        scald(flour_g=100.0 * times, vessel=Vessel(30.0 * times, 20.0)),
        waters=(Portion(140.0 * times, 95.0),),
    )
    assert mix_c(large) == pytest.approx(mix_c(small), abs=1e-5)


def test_an_unknown_diameter_is_taken_as_half_as_high_as_wide():
    area = surface_of(1120.0, None, 20.0).area_m2
    assert area * (area / 3.14159265) ** 0.5 == pytest.approx(1e-3, rel=1e-4)
    assert surface_of(1120.0, 16.0, 20.0).area_m2 == pytest.approx(0.020106, rel=1e-4)


def test_what_would_boil_over_is_no_paste():
    with pytest.raises(ValueError, match="don't mix"):
        mix_c(replace(scald(), waters=(Ice(500.0, -20.0),)))
