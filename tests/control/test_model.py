"""The thermal model: against the series of the cylinder, the matrix exponential, and its own books."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm
from scipy.special import j0, j1, jn_zeros

from holdctl.control import steady_profile, told
from holdctl.control.model import HEATER, PASTE, RINGS, WALL, ThermalModel, nominal
from holdctl.settings import Place
from holdsim import PRESETS
from tests.closed_loop import told as settings_of

ZEROS = jn_zeros(0, 60)
NAMES = sorted(PRESETS)


def model(name="jacket", geometry=None, **changes):
    shape = dataclasses.replace(told(settings_of(name)), **(geometry or {}))
    return ThermalModel(shape, dataclasses.replace(nominal(shape), **changes))


@pytest.mark.parametrize(("fourier", "bound"), [(0.05, 0.018), (0.1, 0.012), (0.2, 0.012), (0.4, 0.012)])
def test_five_rings_follow_the_series_of_the_infinite_cylinder(fourier, bound):
    """Carslaw & Jaeger 1959, §7.6: a wall stepped from 0 to 1; ten metres high and without a lid, so that the
    ends don't count. The film (Bi = 30) counts as a cylinder thicker by R/Bi, good to second order in 1/Bi."""
    made = model(geometry={"height_m": 10.0, "radius_m": 0.06}, wall_j_k=1e15, loss_w_k=0.0, top_w_m2k=1e-9)
    start = np.zeros(made.nodes)
    start[WALL] = 1.0
    start[HEATER] = 1.0
    seconds = fourier * made.geometry.radius_m**2 / made.geometry.alpha_m2_s
    after = made.shape @ made.advance(made.project @ start, 0.0, seconds)
    rings = after[PASTE + RINGS : PASTE + 2 * RINGS]  # a slice away from the bottom
    film = made.parameters.contact_w_m2k * made.geometry.radius_m / made.parameters.k_w_mk
    beta = ZEROS * film / (film + 1.0)
    middles = (np.arange(RINGS) + 0.5) / RINGS
    exact = [
        1 - 2 * np.sum(j0(beta * r) / (ZEROS * j1(ZEROS)) * np.exp(-(beta**2) * fourier)) for r in middles
    ]
    print(f"Fo {fourier}: {np.abs(rings - exact).max():.4f}")
    assert rings == pytest.approx(exact, abs=bound)


@pytest.mark.parametrize("name", NAMES)
def test_the_modes_are_the_matrix_exponential(name):
    made = model(name)
    rate = -made.conductance / made.capacity[:, None]
    start = np.linspace(10.0, 60.0, made.nodes)
    exact = expm(rate * 700.0) @ start
    assert made.shape @ made.advance(made.project @ start, 0.0, 700.0) == pytest.approx(exact, abs=1e-8)


@pytest.mark.parametrize("name", NAMES)
def test_without_loss_all_heat_stays(name):
    made = model(name, loss_w_k=1e-12, lid_share=1.0)
    after = made.shape @ made.advance(np.zeros(made.nodes), 0.4, 1800.0)
    assert made.capacity @ after == pytest.approx(0.4 * made.geometry.power_w * 1800.0, rel=1e-6)


@given(st.floats(0.1, 5_000.0), st.floats(0.1, 5_000.0), st.floats(0.0, 1.0))
@settings(max_examples=30, deadline=None)
def test_two_steps_are_one_long_step(first, second, duty):
    made = model("mat-box")
    start = made.project @ np.linspace(0.0, 50.0, made.nodes)
    two = made.advance(made.advance(start, duty, first), duty, second)
    assert two == pytest.approx(made.advance(start, duty, first + second), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_the_coarse_grid_ends_near_the_fine_steady_profile(name):
    """Shares of the wall's excess; bounds as measured (0.002 is 0.09 K at an excess of 45 K)."""
    made, fine = model(name), steady_profile(told(settings_of(name)))
    rise = made.steady_rise / made.steady_rise[WALL]
    wrong = {
        place: float(made.row(place) @ rise) - fine.share(place)
        for place in (Place.CORE, Place.MID, Place.EDGE)
    }
    coldest = min(rise[PASTE:].min(), float(made.lid_row() @ rise)) - fine.coldest
    print(name, {p.value: round(w, 5) for p, w in wrong.items()}, round(coldest, 5))
    assert all(abs(error) <= 0.002 for error in wrong.values())
    assert abs(coldest) <= 0.006


def test_places_weigh_to_one():
    made = model()
    for place in (Place.CORE, Place.MID, Place.EDGE, Place.WALL):
        assert made.row(place).sum() == pytest.approx(1.0)
    assert made.rim_rows().sum(axis=1) == pytest.approx(1.0)
    assert made.weights.sum() == pytest.approx(1.0)
