"""Paste properties against published polynomials (CoolProp carries them), IAPWS-IF97 and measured gels.

Oracles: CoolProp INCOMP::Food… (Choi and Okos 1986 in ASHRAE Refrigeration 2006, chapter 9), iapws (IAPWS-IF97), and
the table of pastes in tests/data/physics.json, computed with both for USDA compositions.
"""

import json
from pathlib import Path

import pytest
from iapws import IAPWS97

from holdctl.paste import (
    COMPOSITIONS,
    USUAL_RATIO,
    flour_properties,
    paste_properties,
    thermal,
    water_cp_j_kgk,
)
from holdctl.settings import Flour

TABLE = json.loads((Path(__file__).parent.parent / "data" / "physics.json").read_text(encoding="utf-8"))
PASTES = [entry for entry in TABLE if entry["id"].startswith("paste_")]
FLOURS = {"white": Flour.WHITE_WHEAT, "whole wheat": Flour.WHOLE_WHEAT, "whole rye": Flour.WHOLE_RYE}
FOODS = {
    "water": "FoodWater",
    "protein": "FoodProtein",
    "fat": "FoodFat",
    "carbohydrate": "FoodCarbohydrate",
    "fibre": "FoodFiber",
    "ash": "FoodAsh",
}


def _flour(entry):
    return next(flour for name, flour in FLOURS.items() if entry["inputs"]["flour"].startswith(name))


@pytest.mark.parametrize("entry", PASTES, ids=lambda entry: entry["id"])
def test_a_paste_has_the_tabulated_properties(entry):
    got = paste_properties(_flour(entry), entry["inputs"]["water_per_flour"], entry["inputs"]["T_degC"])
    assert got.rho_kg_m3 == pytest.approx(entry["expected"]["rho"], rel=1e-4)
    assert got.k_w_mk == pytest.approx(entry["expected"]["k_series"], rel=1e-4)
    assert got.cp_j_kgk == pytest.approx(entry["expected"]["cp_iapws_water"], rel=5e-4)


@pytest.mark.parametrize("component", [name for name in FOODS if name != "water"])
@pytest.mark.parametrize("temp_c", [5.0, 20.0, 65.0, 95.0])
def test_dry_components_follow_choi_and_okos(component, temp_c):
    from CoolProp.CoolProp import PropsSI

    state = ("T", temp_c + 273.15, "P", 101325.0, f"INCOMP::{FOODS[component]}")
    assert thermal._at(thermal._CP_J_KGK[component], temp_c) == pytest.approx(PropsSI("C", *state), rel=1e-9)
    assert thermal._at(thermal._K_W_MK[component], temp_c) == pytest.approx(PropsSI("L", *state), rel=1e-9)
    assert thermal._at(thermal._RHO_KG_M3[component], temp_c) == pytest.approx(PropsSI("D", *state), rel=1e-9)


@pytest.mark.parametrize("temp_c", range(1, 100, 7))
def test_water_follows_if97_and_not_the_one_percent_low_polynomial(temp_c):
    expected = 1000.0 * IAPWS97(T=temp_c + 273.15, P=0.101325).cp
    assert water_cp_j_kgk(float(temp_c)) == pytest.approx(expected, rel=6e-4)


@pytest.mark.parametrize("temp_c", [20.0, 65.0, 90.0])
def test_water_conductivity_and_density_follow_if97(temp_c):
    water = IAPWS97(T=temp_c + 273.15, P=0.101325)
    assert thermal._at(thermal._K_W_MK["water"], temp_c) == pytest.approx(water.k, rel=0.01)
    assert thermal._at(thermal._RHO_KG_M3["water"], temp_c) == pytest.approx(water.rho, rel=0.003)


@pytest.mark.parametrize("ratio", [1.4, 2.0, 3.0])
def test_conductivity_lies_among_measured_starch_gels(ratio):
    # J. Food Sci. 1991, 10.1111/j.1365-2621.1991.tb05379.x: 0.434 to 0.548 W/(m K), 1 to 4 kg water per kg dry.
    assert 0.434 <= paste_properties(Flour.WHITE_WHEAT, ratio, 65.0).k_w_mk <= 0.548


def test_diffusivity_is_conductivity_over_volume_heat():
    got = paste_properties(Flour.WHITE_WHEAT, 2.0, 65.0)
    assert got.alpha_m2_s == pytest.approx(0.50059 / (1095.38 * 3459.28), rel=5e-4)


def test_fractions_of_each_flour_add_up():
    for flour in Flour:
        mix = COMPOSITIONS[flour]
        assert sum(getattr(mix, name) for name in thermal.COMPONENTS) == pytest.approx(1.0, abs=1e-12)


def test_every_flour_has_a_usual_ratio():
    assert {flour: USUAL_RATIO[flour] for flour in Flour} == {
        Flour.WHITE_WHEAT: 1.4,
        Flour.WHOLE_WHEAT: 2.0,
        Flour.WHOLE_RYE: 3.0,
    }


def test_flour_alone_is_a_paste_without_water():
    assert flour_properties(Flour.WHOLE_RYE, 20.0) == paste_properties(Flour.WHOLE_RYE, 0.0, 20.0)


@pytest.mark.parametrize("temp_c", [-0.1, 100.1, float("nan")])
def test_temperatures_outside_liquid_water_are_refused(temp_c):
    with pytest.raises(ValueError, match="no properties"):
        paste_properties(Flour.WHITE_WHEAT, 2.0, temp_c)
    with pytest.raises(ValueError, match="no properties"):
        water_cp_j_kgk(temp_c)


@pytest.mark.parametrize("ratio", [-0.1, float("nan")])
def test_a_negative_share_of_water_is_refused(ratio):
    with pytest.raises(ValueError, match="parts of water"):
        paste_properties(Flour.WHITE_WHEAT, ratio, 65.0)
