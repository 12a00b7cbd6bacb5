"""A lid that was off is cold, and the paste's top pays for it: heat counted, closed forms."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from holdctl.control.kinds import K_W_MK, RHO_C, THICK_M
from holdctl.control.told import told as parameters
from holdctl.plan.lid import AIR_W_M2K, GAP_W_M2K, SEAT_M, LidHeat, lid_m2, rim_w_k
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
    lacks_j = J_M2K * lid_m2(JACKET.radius_m) * lid.short_k
    taken = [sum(lid.on(20.0)) for _ in range(500)]
    assert all(a >= b for a, b in pairwise(taken))
    assert 0.7 * lacks_j < sum(taken) < lacks_j
    assert lid.on(20.0) == (0.0, 0.0)
    assert lid.short_k == 0.0


def test_paste_and_rim_give_in_the_measure_of_their_conductances():
    lid = LidHeat(JACKET)
    lid.off(66.0, 600.0)
    top_j, rim_j = lid.on(60.0)
    top_w_k = JACKET.top_w_m2k * math.pi * JACKET.radius_m**2
    assert rim_j / top_j == pytest.approx(rim_w_k(JACKET.radius_m, Material.STEEL) / top_w_k)


@pytest.mark.parametrize("material", list(Material))
def test_a_rim_passes_what_a_plate_heated_at_its_edge_takes_up(material):
    """Conduction in a disc that takes up heat evenly, solved in many rings, behind the air of its seat."""
    radius, rings = 0.08, 400
    edges = np.linspace(0.0, radius, rings + 1)
    middles, areas = 0.5 * (edges[1:] + edges[:-1]), np.pi * np.diff(edges**2)
    along = 2.0 * np.pi * edges[1:] * K_W_MK[material] * THICK_M[material]
    inner = along[:-1] / np.diff(middles)
    outer = along[-1] / (radius - middles[-1])
    matrix = np.diag(np.append(inner, outer)) + np.diag(np.append(0.0, inner))
    matrix -= np.diag(inner, 1) + np.diag(inner, -1)
    below = np.linalg.solve(matrix, areas)  # each m² takes up 1 W
    plate_w_k = areas.sum() / float(np.average(below, weights=areas))
    seat_w_k = 2.0 * math.pi * radius * SEAT_M * GAP_W_M2K
    assert rim_w_k(radius, material) == pytest.approx(1.0 / (1.0 / plate_w_k + 1.0 / seat_w_k), rel=1e-3)


@pytest.mark.parametrize("state", [Lid.OFF, Lid.BOXED])
def test_no_lid_and_one_that_stays_in_a_warm_box_take_nothing(state):
    lid = LidHeat(replace(JACKET, lid=state))
    lid.off(66.0, 600.0)
    assert lid.on(60.0) == (0.0, 0.0)


def test_a_bare_lid_cools_faster_than_a_padded_one():
    bare, padded = LidHeat(replace(JACKET, lid=Lid.ON)), LidHeat(JACKET)
    for lid in (bare, padded):
        lid.off(66.0, 120.0)
    assert bare.short_k > padded.short_k
