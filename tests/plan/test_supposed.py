"""What a plan supposes of a warmer with a kind and no figures, against the kind's own two ends."""

import math

import msgspec
import pytest

from holdctl.control import told as as_told
from holdctl.control.kinds import RHO_C, THICK_M, Vessel, prior
from holdctl.plan.supposed import JACKET_M, supposed
from holdctl.plan.warmer import known_warmer
from holdctl.settings import Kind, Lid, Material, Settings
from tests.closed_loop import told

KETTLE = told("stirred-kettle")


def _with(settings: Settings, *, lid=None, **warmer) -> Settings:
    vessel = settings.vessel if lid is None else msgspec.structs.replace(settings.vessel, lid=lid)
    return msgspec.structs.replace(
        settings, vessel=vessel, warmer=msgspec.structs.replace(settings.warmer, **warmer)
    )


@pytest.mark.parametrize("kind", [Kind.JACKET, Kind.PLATE, Kind.MAT])
def test_a_side_that_nobody_tells_of_loses_the_middle_of_bare_and_wrapped(kind):
    settings = _with(KETTLE, kind=kind)
    found = supposed(settings)
    bare, wrapped = (
        prior(kind, Vessel(found.radius_m, found.height_m, Material.STEEL, lid), found.power_w).loss_w_k
        for lid in (Lid.ON, Lid.INSULATED)
    )
    assert wrapped < found.wall_loss_w_k < bare
    assert math.log(bare / found.wall_loss_w_k) == pytest.approx(math.log(found.wall_loss_w_k / wrapped))
    assert found.loss_sd == as_told(settings).loss_sd, "both ends stay in the range"
    assert known_warmer(settings, None, 20.0).belief.parameters.loss_w_k == found.wall_loss_w_k


def test_what_is_told_of_the_loss_stays_told():
    for settings in (
        _with(KETTLE, lid=Lid.INSULATED),
        _with(KETTLE, loss_w_k=1.3),
        told("mat-box"),
        told("jacket"),
    ):
        assert supposed(settings).wall_loss_w_k == as_told(settings).wall_loss_w_k


def test_a_water_jacket_has_an_outer_wall_that_is_warmed_along():
    found, bare = supposed(KETTLE), as_told(KETTLE)
    radius, high = found.radius_m + JACKET_M, found.height_m + JACKET_M
    outer_m2 = math.pi * radius**2 + 2.0 * math.pi * radius * high
    outer_j_k = outer_m2 * THICK_M[Material.STEEL] * RHO_C[Material.STEEL]
    assert found.wall_j_k - bare.wall_j_k == pytest.approx(outer_j_k)
    inner = [(1.0 - one.heater_share) * one.wall_j_k for one in (found, bare)]
    assert inner[0] == pytest.approx(inner[1]), "the vessel itself stays as it was"
    figures = _with(KETTLE, heat_capacity_j_k=20_000.0)
    assert supposed(figures).wall_j_k == 20_000.0
