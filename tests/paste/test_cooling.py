"""How a paste cools, against the series solutions of heat conduction and the simulator's own conduction.

The series: eigenvalues of slab (ζ tan ζ = Bi) and cylinder (ζ J1 = Bi J0); the first eigenvalues and coefficients agree
with Çengel, Heat and Mass Transfer, table 4-2, to its four decimals; a finite cylinder is the product of both.
"""

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.special import j0, j1, jn_zeros

from holdctl.paste import Properties, paste_properties
from holdctl.paste.cooling import WALLS, Around, Form, Stand, around, cool_down
from holdctl.settings import Flour, Lid, Material, Place
from holdsim.network import Network
from holdsim.paste_grid import PasteGrid

ALPHA, K = 1.5e-7, 0.55
PASTE = Properties(K / (ALPHA * 1050.0), 1050.0, K)
RYE = paste_properties(Flour.WHOLE_RYE, 3.0, 35.0)
CENGEL_4_2 = {0.1: (0.3111, 0.4417), 1.0: (0.8603, 1.2558), 10.0: (1.4289, 2.1795)}
"""Biot number: first eigenvalue of the slab, and of the cylinder."""
TERMS = 40


def _slab_roots(bi):
    return [
        brentq(lambda z: z * np.sin(z) - bi * np.cos(z), n * np.pi, n * np.pi + np.pi / 2)
        for n in range(TERMS)
    ]


def _cylinder_roots(bi):
    zeros = np.concatenate([[0.0], jn_zeros(1, TERMS)])
    return [
        brentq(lambda z: z * j1(z) - bi * j0(z), low + 1e-9, high) for low, high in itertools.pairwise(zeros)
    ]


def _slab(bi, fo):
    """Return what is left of the start at the centre, and in the mean."""
    z = np.array(_slab_roots(bi))
    c = 4 * np.sin(z) / (2 * z + np.sin(2 * z)) * np.exp(-(z**2) * fo)
    return c.sum(), (c * np.sin(z) / z).sum()


def _cylinder(bi, fo):
    z = np.array(_cylinder_roots(bi))
    c = 2 / z * j1(z) / (j0(z) ** 2 + j1(z) ** 2) * np.exp(-(z**2) * fo)
    return c.sum(), (c * 2 * j1(z) / z).sum()


def _alike(h_w_m2k):
    return Around("all alike", 0.0, 0.0, h_w_m2k, h_w_m2k, h_w_m2k)


@pytest.mark.parametrize("bi", CENGEL_4_2)
def test_the_series_compared_with_has_the_textbooks_eigenvalues(bi):
    assert _slab_roots(bi)[0] == pytest.approx(CENGEL_4_2[bi][0], abs=5e-5)
    assert _cylinder_roots(bi)[0] == pytest.approx(CENGEL_4_2[bi][1], abs=5e-5)


@pytest.mark.parametrize(("bi", "fo"), [(0.5, 1.0), (1.0, 0.5), (5.0, 0.3), (10.0, 0.05)])
def test_a_layer_cools_as_the_slab_of_the_textbook(bi, fo):
    half = 0.02
    curve = cool_down(PASTE, Form(2 * half), 1.0, _alike(bi * K / half), longest_s=fo * half**2 / ALPHA)
    core, mean = _slab(bi, fo)
    assert curve.core_c[-1] == pytest.approx(core, abs=1e-3)
    assert curve.mean_c[-1] == pytest.approx(mean, abs=1e-3)


@pytest.mark.parametrize(
    ("h", "core", "mean"),
    [(10.0, 0.873964, 0.650764), (30.0, 0.741482, 0.395317), (200.0, 0.551233, 0.180189)],
)
def test_a_pot_cools_as_the_finite_cylinder(h, core, mean):
    """R 6 cm, 10 cm deep, one hour: the product of both series, computed with 200 terms."""
    curve = cool_down(PASTE, Form(0.10, 0.12), 1.0, _alike(h), longest_s=3600)
    assert curve.core_c[-1] == pytest.approx(core, abs=5e-4)
    assert curve.mean_c[-1] == pytest.approx(mean, abs=5e-4)
    slab, cylinder = (_slab(h * 0.05 / K, 0.216), _cylinder(h * 0.06 / K, 0.15))
    assert slab[0] * cylinder[0] == pytest.approx(core, abs=1e-4)


def test_faces_that_are_not_alike_cool_as_the_simulators_own_conduction_does():
    """An ice bath with room air over a lid; the simulator has its own grid and its own network."""
    place = Around("bath", 0.5, 20.0, 120.0, 80.0, 5.0)
    form = Form(0.07, 0.18)
    curve = cool_down(PASTE, form, 65.0, place, longest_s=2 * 3600)
    grid = PasteGrid(0.09, 0.07, K, 1050.0 * PASTE.cp_j_kgk, 14, 16)
    cells = grid.n_r * grid.n_z
    to = [(c, cells, g) for c, g in (*grid.side(120.0), *grid.bottom(80.0))]
    to += [(c, cells + 1, g) for c, g in grid.top(5.0)]
    net = Network(np.concatenate([grid.capacities, [1e12, 1e12]]), grid.links() + to)
    temps = np.concatenate([np.full(cells, 65.0), [0.5, 20.0]])
    step = net.propagator(2 * 3600.0, [0])
    paste = net.temps(step.decay * net.modes(temps))[:cells]
    assert curve.mean_c[-1] == pytest.approx(grid.capacities @ paste / grid.capacities.sum(), abs=0.1)
    assert curve.hottest_c[-1] == pytest.approx(paste.max(), abs=0.15)
    assert curve.mid_c[-1] == pytest.approx(grid.weights(0.045, 0.035) @ paste, abs=0.15)


def test_paste_that_is_stirred_cools_as_one_lump():
    """Lumped: 1 kg, h 10 W/(m² K), Newton's law with τ = m cp / (h A)."""
    form = Form.in_vessel(1.0, 0.12, PASTE)
    curve = cool_down(
        PASTE, form, 80.0, Around("room", 20.0, 20.0, 10.0, 10.0, 10.0), stirred=True, longest_s=3600
    )
    area = np.pi * 0.12 * form.depth_m + 2 * np.pi * 0.06**2
    tau = PASTE.cp_j_kgk / (10.0 * area)
    assert curve.hottest_c[-1] == pytest.approx(20 + 60 * np.exp(-3600 / tau), abs=0.02)
    assert curve.hottest_c[-1] - curve.coldest_c[-1] < 0.05


def test_a_wide_pot_in_the_room_fails_two_hours_and_a_thin_layer_in_ice_meets_them():
    pot = cool_down(RYE, Form.in_vessel(1.2, 0.16, RYE), 65.0, around(Stand.ROOM, 20.0))
    assert pot.when(21.0) - pot.when(57.0) > 4 * 3600
    tray = cool_down(RYE, Form(0.02), 65.0, around(Stand.ICE_BATH, 20.0, Lid.ON, Material.STEEL))
    assert tray.when(21.0) - tray.when(57.0) < 3600


def test_no_paste_in_a_room_comes_below_the_room():
    curve = cool_down(RYE, Form(0.03), 65.0, around(Stand.ROOM, 20.0, Lid.OFF))
    assert curve.when(19.9) is None
    assert curve.coldest_c[-1] >= 20.0


@pytest.mark.parametrize("place", [Place.CORE, Place.MID, Place.EDGE])
def test_the_hottest_paste_is_told_from_any_place(place):
    """The flag must not depend on where the probe sits."""
    curve = cool_down(RYE, Form(0.06, 0.16), 65.0, around(Stand.FRIDGE, 20.0))
    for k in (40, 90, 150):
        told = curve.hottest_where(place, curve.at(place)[k])
        assert told == pytest.approx(curve.hottest_c[k], abs=0.05)
    assert curve.coldest_where(place, 40.0) < curve.mean_where(place, 40.0) < curve.hottest_where(place, 40.0)


@settings(max_examples=15, deadline=None)
@given(
    depth=st.floats(0.005, 0.2),
    diameter=st.one_of(st.none(), st.floats(0.05, 0.5)),
    stand=st.sampled_from(list(Stand)),
    lid=st.sampled_from([Lid.ON, Lid.OFF]),
    start=st.floats(25.0, 90.0),
)
def test_every_course_falls_and_the_hottest_is_the_hottest(depth, diameter, stand, lid, start):
    curve = cool_down(RYE, Form(depth, diameter), start, around(stand, 20.0, lid))
    for course in (curve.hottest_c, curve.mean_c, curve.core_c, curve.mid_c, curve.edge_c):
        assert all(a >= b for a, b in itertools.pairwise(course))
    assert all(h >= m - 1e-6 for h, m in zip(curve.hottest_c, curve.mean_c, strict=True))
    assert all(c <= m + 1e-6 for c, m in zip(curve.coldest_c, curve.mean_c, strict=True))


@pytest.mark.parametrize("thinner", [0.5, 0.8])
def test_a_thinner_layer_is_never_slower(thinner):
    for stand in Stand:
        thick, thin = (cool_down(RYE, Form(d), 65.0, around(stand, 20.0)) for d in (0.04, 0.04 * thinner))
        assert thin.when(25.0) < thick.when(25.0)


def test_every_vessel_has_a_wall():
    assert set(WALLS) == set(Material)
    plastic, steel = (
        around(Stand.ICE_BATH, 20.0, Lid.ON, m).films[0] for m in (Material.PLASTIC, Material.STEEL)
    )
    assert plastic < 70 < 195 < steel


@pytest.mark.parametrize("bad", [Form, lambda d: Form(0.1, d)])
def test_a_form_without_a_body_is_refused(bad):
    with pytest.raises(ValueError):
        bad(0.0)
