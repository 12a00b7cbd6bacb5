"""Enthalpies against IAPWS-IF97, IAPWS R10-06 (ice) and integrals of the polynomials that CoolProp carries."""

import pytest
from iapws import IAPWS97
from iapws._iapws import _Ice
from scipy.integrate import quad

from holdctl.paste import COMPOSITIONS
from holdctl.paste.enthalpy import FUSION_J_KG, WATER, Ice, Portion, Vessel, enthalpy, ice_enthalpy, root
from holdctl.paste.thermal import component_heat_j_kg, wetted
from holdctl.settings import Flour

FOODS = {
    "protein": "FoodProtein",
    "fat": "FoodFat",
    "carbohydrate": "FoodCarbohydrate",
    "fibre": "FoodFiber",
    "ash": "FoodAsh",
}


@pytest.mark.parametrize("temp_c", range(5, 100, 10))
def test_water_has_the_enthalpy_of_if97(temp_c):
    def h(t):
        return 1000.0 * IAPWS97(T=t + 273.15, P=0.101325).h

    assert enthalpy(WATER, temp_c) - enthalpy(WATER, 1.0) == pytest.approx(h(temp_c) - h(1.0), abs=8.0)


@pytest.mark.parametrize("name", FOODS)
@pytest.mark.parametrize("temp_c", [20.0, 65.0, 100.0])
def test_a_component_has_the_integral_of_its_heat_capacity(name, temp_c):
    from CoolProp.CoolProp import PropsSI

    expected, _ = quad(
        lambda t: PropsSI("C", "T", t + 273.15, "P", 101325.0, f"INCOMP::{FOODS[name]}"), 0, temp_c
    )
    assert component_heat_j_kg(name, temp_c) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("flour", Flour)
def test_a_paste_is_its_flour_and_its_water(flour):
    made_of = COMPOSITIONS[flour]
    apart = (enthalpy(made_of, 65.0) + 2.0 * enthalpy(WATER, 65.0)) / 3.0
    assert enthalpy(wetted(made_of, 2.0), 65.0) == pytest.approx(apart, rel=1e-12)


def test_ice_melts_with_the_reference_heat():
    # IAPWS R10-06 and IF97: 333.42 kJ/kg at 0 °C and 1 atm; the heat capacity of ice from the same formulation.
    ice, water = _Ice(273.15, 0.101325), IAPWS97(T=273.16, P=0.101325)
    assert pytest.approx(1000.0 * (water.h - ice["h"]), abs=80.0) == FUSION_J_KG
    colder = 1000.0 * (ice["h"] - _Ice(263.15, 0.101325)["h"])
    assert ice_enthalpy(0.0) - ice_enthalpy(-10.0) == pytest.approx(colder, rel=0.003)


def test_bodies_say_what_heat_takes_them_where():
    assert Portion(1000.0, 20.0).heat_j(21.0) == pytest.approx(4184.0, rel=1e-3)
    assert Ice(1000.0).heat_j(0.0) == pytest.approx(FUSION_J_KG)
    assert Ice(1000.0, -10.0).heat_j(10.0) == pytest.approx(FUSION_J_KG + 10 * 2060.0 + 10 * 4199.0, rel=1e-3)
    assert Vessel(500.0, 20.0).heat_j(80.0) == 30_000.0


@pytest.mark.parametrize("temp_c", [-0.1, 102.1, float("nan")])
def test_no_enthalpy_outside_of_liquid_water(temp_c):
    with pytest.raises(ValueError, match="no enthalpy"):
        enthalpy(WATER, temp_c)


@pytest.mark.parametrize("temp_c", [0.1, -41.0, float("nan")])
def test_no_ice_above_freezing(temp_c):
    with pytest.raises(ValueError, match="no ice"):
        ice_enthalpy(temp_c)


def test_a_root_that_is_not_between_is_none():
    assert root(lambda t: t - 200.0) is None
    assert root(lambda t: t + 1.0) is None
    assert root(lambda t: t - 65.0) == pytest.approx(65.0, abs=1e-6)
