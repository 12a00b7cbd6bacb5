"""The thermal model: against the series of the cylinder, the matrix exponential, and its own books."""

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm
from scipy.special import j0, j1, jn_zeros

from holdctl.control import steady_profile, told
from holdctl.control.model import BASE, HEATER, PASTE, SIDE, ThermalModel
from holdctl.control.prior import LAYOUTS, model_of
from holdctl.settings import Place
from holdsim import PRESETS
from tests.closed_loop import told as settings_of

ZEROS = jn_zeros(0, 60)
NAMES = sorted(PRESETS)


def model(name="jacket", geometry=None, **changes):
    shape = dataclasses.replace(told(settings_of(name)), **(geometry or {}))
    made = model_of(shape)
    return ThermalModel(shape, dataclasses.replace(made.parameters, **changes), made.layout)


@pytest.mark.parametrize(
    ("fourier", "bound"), [(0.02, 0.004), (0.05, 0.004), (0.1, 0.004), (0.2, 0.004), (0.4, 0.004)]
)
def test_the_shapes_follow_the_series_of_the_infinite_cylinder(fourier, bound):
    """Carslaw & Jaeger 1959, §7.6: walls stepped from 0 to 1; ten metres high and without a lid, so that the ends
    don't count, at half the height. The film (Bi = h R / k) counts as a cylinder thicker by R/Bi."""
    made = model(
        geometry={"height_m": 10.0, "radius_m": 0.06, "top_w_m2k": 1e-9}, vessel_j_k=1e15, loss_w_k=0.0,
        heater_j_k=1e15, medium_j_k=1e15, contact_w_m2k=5000.0, top_w_m2k=1e-9,
    )  # fmt: skip
    start = np.zeros(made.nodes)
    start[:PASTE] = 1.0
    seconds = fourier * made.geometry.radius_m**2 / made.geometry.alpha_m2_s
    after = made.shape @ made.advance(made.begin(start), 0.0, seconds)
    film = made.parameters.contact_w_m2k * made.geometry.radius_m / made.parameters.k_w_mk
    beta = ZEROS * film / (film + 1.0)
    for place, r in ((Place.CORE, 0.0), (Place.MID, 0.5), (Place.EDGE, 1 - 0.005 / 0.06)):
        exact = 1 - 2 * np.sum(j0(beta * r) / (ZEROS * j1(ZEROS)) * np.exp(-(beta**2) * fourier))
        found = float(made.row(place) @ after)
        print(f"Fo {fourier} {place.value}: {found:.4f}, series {exact:.4f}")
        assert found == pytest.approx(exact, abs=bound)


@pytest.mark.parametrize("name", NAMES)
def test_the_modes_are_the_matrix_exponential(name):
    made = model(name)
    rate = -made.stiffness / made.mass[:, None]
    start = np.linspace(10.0, 60.0, len(made.mass))
    exact = expm(rate * 700.0) @ start
    assert made.states @ made.advance(made.back @ start, 0.0, 700.0) == pytest.approx(exact, abs=1e-7)


@pytest.mark.parametrize("name", NAMES)
def test_without_loss_all_heat_stays(name):
    made = model(name, loss_w_k=1e-12, lid_share=1.0)
    after = made.shape @ made.advance(np.zeros(made.modes), 0.4, 1800.0)
    assert made.capacity @ after == pytest.approx(0.4 * made.geometry.power_w * 1800.0, rel=1e-6)


@given(st.floats(0.1, 5_000.0), st.floats(0.1, 5_000.0), st.floats(0.0, 1.0))
@settings(max_examples=30, deadline=None)
def test_two_steps_are_one_long_step(first, second, duty):
    made = model("mat-box")
    start = made.begin(np.linspace(0.0, 50.0, made.nodes))
    two = made.advance(made.advance(start, duty, first), duty, second)
    assert two == pytest.approx(made.advance(start, duty, first + second), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize("name", NAMES)
def test_conductances_are_those_of_a_network(name):
    """Symmetric, and nothing gains heat from a colder room."""
    made = model(name)
    assert made.stiffness == pytest.approx(made.stiffness.T, abs=1e-9)
    assert np.linalg.eigvalsh(made.stiffness).min() > 0
    assert made.steady_rise.min() > 0


@pytest.mark.parametrize("name", [n for n in NAMES if not PRESETS[n].warmer.stirred])
def test_the_shapes_end_at_the_steady_profile_of_a_finite_cylinder(name):
    """An independent solution of the stationary heat equation, 16 × 16 cells, one wall all round, the same films.

    Bounds as measured: 0.004 is 0.18 K at an excess of 45 K."""
    shape = told(settings_of(name))
    fine = steady_profile(shape)
    base = model(name)
    layout = dataclasses.replace(LAYOUTS[None], lid_in_medium=False)
    made = ThermalModel(
        shape,
        dataclasses.replace(
            base.parameters, around_w_k=1e6, contact_w_m2k=250.0, film_w_m2k=0.0, heater_base_w_k=10.0
        ),
        layout,
    )
    rise = made.steady_rise / made.steady_rise[SIDE]
    wrong = {p: float(made.row(p) @ rise) - fine.share(p) for p in (Place.CORE, Place.MID)}
    coldest = rise[PASTE:].min() - fine.coldest
    print(name, {p.value: round(w, 5) for p, w in wrong.items()}, round(coldest, 5))
    assert all(abs(error) <= 0.004 for error in wrong.values())
    assert abs(coldest) <= 0.008


@pytest.mark.parametrize("wider", [0.95, 1.05])
def test_a_radius_that_is_learnt_is_a_radius_that_was_told(wider):
    """The same paste in a vessel told wider, its height from the same mass; the shapes were made for another radius.

    Bound as measured: 0.15 K of a wall that rises by 60 K and more."""
    base = model("mat-box")
    g = base.geometry
    learnt = model("mat-box", radius_factor=wider)
    wide = ThermalModel(
        dataclasses.replace(g, radius_m=g.radius_m * wider, height_m=g.height_m / wider**2),
        base.parameters,
        base.layout,
    )
    for hours in (0.25, 0.5, 1.0, 3.0):
        ends = [m.shape @ m.advance(np.zeros(m.modes), 1.0, 3600 * hours) for m in (learnt, wide, base)]
        for place in (Place.CORE, Place.MID, Place.WALL):
            found, exact, untold = (
                float(m.row(place) @ end) for m, end in zip((learnt, wide, base), ends, strict=True)
            )
            print(f"{hours} h {place.value}: {found:.3f}, told {exact:.3f}, not told {untold:.3f}")
            assert found == pytest.approx(exact, abs=0.15)
    assert learnt.capacity.sum() == pytest.approx(base.capacity.sum())


def test_places_weigh_to_one():
    made = model()
    for place in (Place.CORE, Place.MID, Place.EDGE, Place.WALL):
        assert made.row(place).sum() == pytest.approx(1.0)
    assert made.rim_rows().sum(axis=1) == pytest.approx(1.0)
    assert made.weights.sum() == pytest.approx(1.0)


def test_bottom_and_side_start_where_they_are_put():
    made = model()
    temps = np.full(made.nodes, 5.0)
    temps[HEATER], temps[BASE], temps[SIDE] = 30.0, 20.0, 10.0
    again = made.shape @ made.begin(temps)
    assert again[[HEATER, BASE, SIDE]] == pytest.approx([30.0, 20.0, 10.0])
    assert again[PASTE:] == pytest.approx(5.0, abs=1e-3)
