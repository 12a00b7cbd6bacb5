"""A stir's heat: what the open surface loses and what a cold lid takes, counted in joules."""

import math

import pytest

from holdctl.control.march import March
from holdctl.control.model import PASTE, SIDE
from holdctl.paste.evaporation import Surface, open_w_m2
from holdctl.plan.course import Start
from holdctl.plan.lid import LidHeat
from holdctl.plan.night import Night
from holdctl.plan.spoon import MIX_S, Spoon
from tests.closed_loop import told


def _march(name="jacket", paste_c=66.0):
    night = Night(told(name), Start(paste_c, paste_c, paste_c))
    model = night.warmer().model()
    runner = night.runner(model)
    return model, March(model, runner.start, 0.0, runner.wish(65.0))


def _heat_j(model, march):
    return float((model.capacity * (model.shape @ march.modes)).sum())


def test_a_cold_lid_takes_its_heat_from_the_pastes_top_and_from_the_vessels_side():
    model, march = _march()
    spoon, twin = Spoon(model), LidHeat(model.geometry)
    for lid in (spoon.lid, twin):
        lid.off(66.0, 300.0)
    before_j, side = _heat_j(model, march), float((model.shape @ march.modes)[SIDE])
    spoon.rest(march, 10.0)
    top_j, rim_j = twin.on(10.0)
    assert rim_j > 0.0
    assert before_j - _heat_j(model, march) == pytest.approx(top_j + rim_j, rel=1e-5)
    after = float((model.shape @ march.modes)[SIDE])
    assert (side - after) * float(model.capacity[SIDE]) == pytest.approx(rim_j, rel=1e-6)


def test_a_lid_that_was_never_off_takes_nothing():
    model, march = _march()
    before = march.modes.copy()
    Spoon(model).rest(march, 60.0)
    assert (march.modes == before).all()


@pytest.mark.parametrize(("at", "end"), [(-1.0, 0), (1.0, 1)])
def test_a_moving_surface_loses_what_the_published_rules_say_of_a_disturbed_one(at, end):
    """Undisturbed pools lose 0.74 of what pools in use do (ASHRAE Transactions 1998, abstract)."""
    model, march = _march("mat-box")
    cell_j_k = float(model.capacity[PASTE:].sum())
    area_m2 = math.pi * model.geometry.radius_m**2
    lost_w = open_w_m2(66.0, Surface(area_m2, model.parameters.ambient_c))[end] * area_m2 / 0.74
    before = march.mean
    march.stir(Spoon(model, at)._change_k(march, MIX_S))
    assert (before - march.mean) * cell_j_k == pytest.approx(lost_w * MIX_S, rel=1e-6)
