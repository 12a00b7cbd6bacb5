"""Evaporation against published rules at 65 °C, the latent heat against IAPWS-IF97; energy and cost."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws import IAPWS97

from holdctl.errors import ConfigError
from holdctl.paste.evaporation import (
    Surface,
    cost,
    evaporated_g,
    latent_j_kg,
    open_kg_m2h,
    open_w_m2,
    top_up,
)
from holdctl.settings import Lid

BOWL = Surface(math.pi * 0.08**2)


@pytest.mark.parametrize("temp_c", [5.0, 20.0, 65.0, 90.0])
def test_latent_heat_is_that_of_if97(temp_c):
    steam, water = (IAPWS97(T=temp_c + 273.15, x=x).h for x in (1, 0))
    assert latent_j_kg(temp_c) == pytest.approx(1000.0 * (steam - water), rel=5e-4)


def test_open_water_at_65_spans_the_published_rules():
    # Into 20 °C, 50 % RH, still: 0.74 x ASHRAE pool 2.41 kg/m²h; Lewis with vapour buoyancy and Stefan's flow 6.02.
    low, high = open_kg_m2h(65.0, BOWL)
    assert low == pytest.approx(2.41, rel=0.005)
    assert high == pytest.approx(6.02, rel=0.01)
    # Between lie Shah (2014) 4.0 and the handbook form (25 + 19 v)(xs - x) 4.92.
    assert low < 4.005 < 4.922 < high


def test_heat_adds_air_and_radiation_to_the_vapour():
    low, high = open_w_m2(65.0, BOWL)
    assert low == pytest.approx(1572.0 + (9.0 + 6.8) * 45.0, rel=0.01)
    assert high == pytest.approx(3923.0 + (9.0 + 6.8) * 45.0, rel=0.01)


@settings(deadline=None)
@given(st.floats(25.0, 98.0), st.floats(0.0, 1.0))
def test_least_is_never_more_than_most_and_hotter_loses_more(temp_c, humidity):
    surface = Surface(0.02, 20.0, humidity)
    low, high = open_kg_m2h(temp_c, surface)
    assert 0.0 <= low <= high
    assert open_kg_m2h(temp_c + 0.5, surface)[0] >= low


def test_no_dew_is_counted_as_gain():
    assert open_kg_m2h(10.0, Surface(0.02, 30.0, 0.9)) == (0.0, 0.0)


@pytest.mark.parametrize("lid", [Lid.ON, Lid.INSULATED, Lid.BOXED])
def test_a_lid_keeps_most_of_it_back(lid):
    assert evaporated_g(65.0, 8.0, BOWL, lid)[1] < 0.2 * evaporated_g(65.0, 8.0, BOWL, Lid.OFF)[1]


def test_an_open_night_is_area_times_time():
    low, high = open_kg_m2h(65.0, BOWL)
    expected = (low * BOWL.area_m2 * 8000.0, high * BOWL.area_m2 * 8000.0)
    assert evaporated_g(65.0, 8.0, BOWL, Lid.OFF) == pytest.approx(expected)


def test_topping_up_is_said_where_it_matters():
    assert "nothing to top up" in top_up((1.0, 9.0), 1000.0)
    assert "388 to 966 g" in top_up((388.2, 965.9), 1000.0)


def test_boiling_boils_not_here():
    with pytest.raises(ValueError, match="boiling"):
        open_kg_m2h(99.5, BOWL)


def test_a_night_costs_what_the_baker_pays():
    assert cost(0.42, 0.30) == pytest.approx(0.126)
    for price in (-0.1, float("nan"), float("inf")):
        with pytest.raises(ConfigError, match="your bill"):
            cost(1.0, price)
