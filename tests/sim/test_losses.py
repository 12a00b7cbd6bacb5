"""Laws of heat loss against tabulated values (tests/data/physics.json: sources there) and iapws (IAPWS-IF97)."""

import json
from pathlib import Path

import pytest
from iapws import IAPWS97

from holdsim.losses import (
    Facing,
    Surface,
    evaporation_w_m2,
    latent_heat_j_kg,
    open_paste_loss,
    saturation_pa,
)

TABLE = json.loads((Path(__file__).parent.parent / "data" / "physics.json").read_text(encoding="utf-8"))
BY_ID = {entry["id"]: entry for entry in TABLE}


def test_an_upright_wall_loses_as_churchill_and_chu_say():
    wall = Surface("side", 1.0, 0.12, Facing.SIDE, emissivity=0.0)
    assert wall.loss_w(65.0, 20.0) / 45.0 == pytest.approx(BY_ID["h_conv_side_65"]["expected"]["h"], rel=0.03)


def test_a_face_looking_up_loses_as_mcadams_says():
    face = Surface("cover", 1.0, 0.16 / 4, Facing.UP, emissivity=0.0)
    assert face.loss_w(65.0, 20.0) / 45.0 == pytest.approx(BY_ID["h_conv_top_65"]["expected"]["h"], rel=0.05)


@pytest.mark.parametrize("temp_c", [35, 45, 65])
def test_radiation_follows_stefan_and_boltzmann(temp_c):
    grey = Surface("side", 1.0, 0.12, emissivity=0.9)
    bare = Surface("side", 1.0, 0.12, emissivity=0.0)
    excess = temp_c - 20.0
    got = (grey.loss_w(temp_c, 20.0) - bare.loss_w(temp_c, 20.0)) / excess
    assert got == pytest.approx(BY_ID[f"h_rad_{temp_c}"]["expected"], abs=1e-3)


def test_a_warmer_room_heats_the_surface():
    wall = Surface("side", 0.1, 0.12)
    assert wall.loss_w(15.0, 25.0) < 0.0
    assert wall.loss_w(20.0, 20.0) == 0.0


@pytest.mark.parametrize("temp_c", [5, 20, 25, 50, 65, 80, 99])
def test_vapour_pressure_and_latent_heat_follow_if97(temp_c):
    vapour, liquid = IAPWS97(T=temp_c + 273.15, x=1), IAPWS97(T=temp_c + 273.15, x=0)
    assert saturation_pa(temp_c) == pytest.approx(1e6 * vapour.P, rel=1.5e-3)
    assert latent_heat_j_kg(temp_c) == pytest.approx(1e3 * (vapour.h - liquid.h), rel=3e-4)


def test_open_water_evaporates_as_the_pool_equation_says():
    expected = BY_ID["evap_ashrae"]["expected"]
    assert evaporation_w_m2(65.0, 20.0) == pytest.approx(expected["flux_W_m2"], rel=2e-3)
    _, water = open_paste_loss(65.0, 20.0, 1.0, 0.08)
    assert water == pytest.approx(expected["m_kg_m2_s"], rel=2e-3)


def test_cold_paste_in_a_warm_room_gains_no_dew():
    assert evaporation_w_m2(5.0, 25.0) == 0.0
    heat, water = open_paste_loss(5.0, 25.0, 0.02, 0.08)
    assert heat < 0.0
    assert water == 0.0


def test_all_latent_heat_is_water_that_left():
    heat, water = open_paste_loss(70.0, 20.0, 0.02, 0.08)
    dry = Surface("paste", 0.02, 0.04, Facing.UP, 0.95).loss_w(70.0, 20.0)
    assert water * latent_heat_j_kg(70.0) == pytest.approx(heat - dry, rel=1e-12)
