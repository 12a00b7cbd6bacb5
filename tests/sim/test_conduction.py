"""The paste's finite volumes against the analytic series of a cylinder cooling in a fluid.

Values: tests/data/physics.json, series of 200 terms (Carslaw and Jaeger; Incropera eq. 5.42, 5.50, 5.51, section
5.8), first eigenvalues of Çengel table 4-2. θ = (T - T∞) / (Tstart - T∞).
"""

import json
from pathlib import Path

import numpy as np
import pytest
from scipy.linalg import expm
from scipy.special import j0, j1

from holdsim.network import Network
from holdsim.paste_grid import PasteGrid

TABLE = json.loads((Path(__file__).parent.parent / "data" / "physics.json").read_text(encoding="utf-8"))
BY_ID = {entry["id"]: entry for entry in TABLE}
INFINITE = [entry for entry in TABLE if entry["id"].startswith("trans_cyl_")]
FINITE = [entry for entry in TABLE if entry["id"].startswith("trans_finite_cyl")]
FLUID_J_K = 1e15  # so much that it stays at θ = 0


def _cool(grid, films, seconds, steps=1):
    """Let a grid at θ = 1 stand in a fluid at 0 behind these films; return θ of the cells."""
    cells = len(grid.capacities)
    links = grid.links() + [(cell, cells, g) for cell, g in films]
    network = Network(np.append(grid.capacities, FLUID_J_K), links)
    state = network.modes(np.append(np.ones(cells), 0.0))
    decay = network.propagator(seconds / steps, [0]).decay
    for _ in range(steps):
        state = decay * state
    return network.temps(state)[:cells]


def _infinite(biot, fourier, n_r):
    """A unit cylinder of unit properties, one layer high: (centre, surface, mean)."""
    grid = PasteGrid(1.0, 1.0, 1.0, 1.0, n_r, 1)
    theta = _cool(grid, grid.side(biot), fourier)
    inner, next_ = grid.r_centres[:2] ** 2
    centre = (theta[0] * next_ - theta[1] * inner) / (next_ - inner)
    towards = 1.0 / (1.0 - grid.r_centres[-1])
    surface = theta[-1] * towards / (towards + biot)
    return centre, surface, np.average(theta, weights=grid.capacities)


@pytest.mark.parametrize("entry", INFINITE, ids=lambda entry: entry["id"])
def test_an_infinite_cylinder_cools_as_the_series_says(entry):
    got = _infinite(entry["inputs"]["Bi"], entry["inputs"]["Fo"], n_r=80)
    expected = [entry["expected"][name] for name in ("centre", "surface", "mean")]
    assert got == pytest.approx(expected, abs=2e-4)


@pytest.mark.parametrize("entry", INFINITE, ids=lambda entry: entry["id"])
def test_the_usual_thirteen_rings_are_within_a_two_hundredth(entry):
    got = _infinite(entry["inputs"]["Bi"], entry["inputs"]["Fo"], n_r=13)
    expected = [entry["expected"][name] for name in ("centre", "surface", "mean")]
    assert got == pytest.approx(expected, abs=5e-3)


@pytest.mark.parametrize("biot", [0.1, 0.5, 1, 2, 5, 10])
def test_the_slowest_mode_has_cengels_eigenvalue(biot):
    grid = PasteGrid(1.0, 1.0, 1.0, 1.0, 80, 1)
    cells = len(grid.capacities)
    links = grid.links() + [(cell, cells, g) for cell, g in grid.side(float(biot))]
    rates = np.sort(Network(np.append(grid.capacities, FLUID_J_K), links).rates)
    zeta, _ = BY_ID[f"eig_cyl_{biot}"]["expected"]["table"]
    assert np.sqrt(rates[1]) == pytest.approx(zeta, abs=2e-4)
    assert zeta * j1(zeta) == pytest.approx(biot * j0(zeta), abs=4e-4 * (1 + biot))


@pytest.mark.parametrize("entry", FINITE, ids=lambda entry: entry["id"])
def test_a_finite_cylinder_is_the_product_of_cylinder_and_slab(entry):
    coarse, fine = (_finite(entry["inputs"], cells) for cells in (12, 24))
    centre, corner, mean = (
        4.0 * fine - coarse
    ) / 3.0  # Richardson: the error falls as the square of the cell
    expected = entry["expected"]
    assert mean == pytest.approx(expected["mean"], abs=5e-5)
    assert centre == pytest.approx(expected["centre"], abs=5e-5)
    assert corner == pytest.approx(expected["corner"], abs=2e-4)
    assert (coarse[2] - expected["mean"]) / (fine[2] - expected["mean"]) == pytest.approx(4.0, abs=0.4)


def _finite(given, cells):
    """(centre, corner, mean) of a cylinder in a fluid on all sides; an odd count has a middle layer."""
    stuff = given["k"], given["k"] / given["alpha"]
    grid = PasteGrid(given["R_m"], 2 * given["half_height_m"], *stuff, cells, cells)
    film = given["h"]
    theta = _cool(grid, grid.side(film) + grid.bottom(film) + grid.top(film), given["t_s"])
    field = theta.reshape(cells, cells)
    inner, next_ = grid.r_centres[:2] ** 2
    axis = (field[:, 0] * next_ - field[:, 1] * inner) / (next_ - inner)
    half = cells // 2
    centre = axis[half] if cells % 2 else _top_of_parabola(grid.z_centres, axis, half)
    outward = 1.0 + film * (grid.radius_m - grid.r_centres[-1]) / given["k"]
    upward = 1.0 + film * (grid.height_m - grid.z_centres[-1]) / given["k"]
    return np.array([centre, field[-1, -1] / outward / upward, np.average(theta, weights=grid.capacities)])


def _top_of_parabola(z, axis, half):
    """Temperature in the middle between four symmetric layers."""
    near, far = (z[half] - z[half - 1]) ** 2, (z[half + 1] - z[half - 2]) ** 2
    return (axis[half] * far - axis[half + 1] * near) / (far - near)


def test_halving_the_cells_quarters_the_error():
    expected = BY_ID["trans_cyl_Bi1_Fo0.2"]["expected"]["mean"]
    errors = [abs(_infinite(1.0, 0.2, n)[2] - expected) for n in (5, 10, 20)]
    orders = np.log2(np.array(errors[:-1]) / np.array(errors[1:]))
    assert orders == pytest.approx([2.0, 2.0], abs=0.25)


def test_a_step_equals_the_matrix_exponential():
    rng = np.random.default_rng(7)
    capacities = rng.uniform(1.0, 50.0, 9)
    links = [(i, j, rng.uniform(0.01, 5.0)) for i in range(9) for j in range(i)]
    network, dt, ports = Network(capacities, links), 3.0, [0, 4]
    start, heat = rng.uniform(20.0, 70.0, 9), np.array([120.0, -30.0])
    inward = np.zeros((9, 2))
    inward[ports, [0, 1]] = 1.0 / capacities[ports]
    block = np.zeros((11, 11))
    block[:9, :9], block[:9, 9:] = -network.conductance / capacities[:, None], inward
    expected = (expm(block * dt) @ np.concatenate([start, heat]))[:9]
    step = network.propagator(dt, ports)
    got = network.temps(step.decay * network.modes(start) + step.gain @ heat)
    assert got == pytest.approx(expected, abs=1e-9)


def test_ten_steps_of_one_second_equal_one_of_ten():
    grid = PasteGrid(0.06, 0.1, 0.5, 3.8e6, 6, 6)
    films = grid.side(30.0)
    assert _cool(grid, films, 10.0, steps=10) == pytest.approx(_cool(grid, films, 10.0), abs=1e-12)


def test_a_lump_cools_exponentially():
    entry = BY_ID["lumped_cool"]
    given = entry["inputs"]
    network = Network(np.array([given["m"] * given["cp"], FLUID_J_K]), [(0, 1, given["h"] * given["A"])])
    start = network.modes(np.array([given["T0"], given["Tamb"]], dtype=float))
    got = network.temps(network.propagator(given["t_s"], [0]).decay * start)[0]
    assert got == pytest.approx(entry["expected"]["T"], abs=1e-4)
    assert 1.0 / network.rates.max() == pytest.approx(entry["expected"]["tau_s"], abs=0.01)


def test_cells_fill_the_cylinder():
    grid = PasteGrid(0.07, 0.05, 0.5, 3.6e6, 10, 10)
    assert grid.capacities.sum() == pytest.approx(np.pi * 0.07**2 * 0.05 * 3.6e6, rel=1e-12)
    assert grid.ring_areas.sum() == pytest.approx(np.pi * 0.07**2, rel=1e-12)


def test_a_place_reads_a_linear_field_exactly():
    grid = PasteGrid(0.07, 0.05, 0.5, 3.6e6, 10, 12)
    field = (40.0 + 100.0 * grid.r_centres[None, :] + 300.0 * grid.z_centres[:, None]).ravel()
    assert grid.weights(0.035, 0.02) @ field == pytest.approx(40.0 + 3.5 + 6.0, abs=1e-9)
    assert grid.weights(0.0, 0.025).sum() == pytest.approx(1.0, abs=1e-12)
