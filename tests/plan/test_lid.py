"""A lid that was off is cold, and the paste's top pays for it: heat counted, closed forms."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest

from holdctl.control.kinds import RHO_C, THICK_M
from holdctl.control.told import told as parameters
from holdctl.plan.lid import AIR_W_M2K, LidHeat
from holdctl.settings import Lid, Material
from tests.closed_loop import told

JACKET = replace(parameters(told("jacket")), material=Material.STEEL, lid=Lid.INSULATED)
J_M2K = THICK_M[Material.STEEL] * RHO_C[Material.STEEL]


def test_it_cools_towards_the_room_with_its_own_time_constant():
    lid = LidHeat(JACKET)
    lid.off(66.0, 60.0)
    lid.off(66.0, 120.0)
    assert lid.short_k == pytest.approx(46.0 * (1.0 - math.exp(-180.0 * AIR_W_M2K / J_M2K)))


def test_what_it_takes_back_is_less_than_it_lacks_and_ends():
    lid = LidHeat(JACKET)
    lid.off(66.0, 1e6)
    lacks_j = J_M2K * math.pi * JACKET.radius_m**2 * lid.short_k
    taken = [lid.on(20.0) for _ in range(500)]
    assert all(a >= b for a, b in pairwise(taken))
    assert 0.7 * lacks_j < sum(taken) < lacks_j
    assert lid.on(20.0) == lid.short_k == 0.0


@pytest.mark.parametrize("state", [Lid.OFF, Lid.BOXED])
def test_no_lid_and_one_that_stays_in_a_warm_box_take_nothing(state):
    lid = LidHeat(replace(JACKET, lid=state))
    lid.off(66.0, 600.0)
    assert lid.on(60.0) == 0.0


def test_a_bare_lid_cools_faster_than_a_padded_one():
    bare, padded = LidHeat(replace(JACKET, lid=Lid.ON)), LidHeat(JACKET)
    for lid in (bare, padded):
        lid.off(66.0, 120.0)
    assert bare.short_k > padded.short_k
