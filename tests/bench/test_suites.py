"""The drawn plants: stated bounds, seeds, and the two-node plant's own physics."""

import numpy as np
import pytest

from holdctl.settings import Lid, Place
from holdsim.bench import suites, told, warmers
from holdsim.bench.conducting import Conducting
from holdsim.bench.field import named
from holdsim.bench.identify import fit_sopdt
from holdsim.bench.peers import OnOff, Ultimate, Window
from holdsim.bench.suites import SUITES, draw
from holdsim.bench.trace import night
from holdsim.bench.two_node import TwoNode
from holdsim.bench.world import World


def within(value: float, bounds: tuple[float, float]) -> bool:
    return bounds[0] * (1 - 1e-9) <= value <= bounds[1] * (1 + 1e-9)


@pytest.mark.parametrize("number", range(40))
def test_two_node_plants_lie_within_the_stated_bounds(number: int) -> None:
    plant = draw("two-node", number, 5).build(20.0)
    assert isinstance(plant, TwoNode)
    slow, fast = plant.spec.times_s
    assert within(slow, suites.TAU1_S)
    assert within(fast, suites.TAU2_S)
    assert within(plant.spec.delay_s, suites.DELAY_S)
    assert within(45.0 / plant.spec.gain_k, suites.DUTY)
    assert within(plant.paste_kg, suites.MASS_KG)
    assert plant.spec.wall_paste_w_k > 0
    assert plant.spec.wall_loss_w_k > 0


@pytest.mark.parametrize("number", range(6))
def test_unstirred_plants_lie_within_the_stated_bounds_and_can_hold(number: int) -> None:
    for suite in ("unstirred", "nonlinear"):
        case = draw(suite, number, 5)
        plant = case.build(20.0)
        assert isinstance(plant, Conducting)
        assert within(plant.warmer.radius_m, warmers.RADIUS_M)
        for place in (Place.CORE, Place.MID, Place.EDGE):
            steady = plant.steady(65.0, place)
            assert steady.hottest_c <= suites.STEADY_HOTTEST_C + 0.01
            assert steady.coldest_c >= suites.STEADY_COLDEST_C - 0.01
        assert within(plant.steady(65.0, Place.MID).power_w / plant.power_w, warmers.HOLD_DUTY)
        known = case.known
        assert known.power_w == pytest.approx(plant.power_w, rel=told.POWER_ERROR)
        assert known.mass_kg == pytest.approx(plant.paste_kg, rel=told.MASS_ERROR)
        assert known.diameter_m == pytest.approx(2 * plant.warmer.radius_m, abs=told.DIAMETER_ERROR_M)


@pytest.mark.parametrize("suite", SUITES)
def test_a_seed_gives_the_same_plant_and_the_same_night(suite: str) -> None:
    def run(seed: int) -> np.ndarray:
        return night(draw(suite, 2, seed).build(20.0), OnOff(1), 400, 5).places_c

    assert np.array_equal(run(7), run(7))
    assert not np.array_equal(run(7), run(8))


def test_what_is_told_does_not_depend_on_the_controller() -> None:
    case = draw("nonlinear", 0, 3)
    one, two = (case.settings(places) for places in ((Place.CORE,), (Place.MID, Place.WALL)))
    assert one.warmer == two.warmer
    assert [probe.channel for probe in two.probe] == [2, 4]


def test_two_node_plant_settles_at_its_steady_profile() -> None:
    plant = draw("two-node", 1, 1).build(65.0)
    steady = plant.steady(65.0, Place.MID)
    plant.set_temps(np.array([steady.wall_c, 65.0]))
    for _ in range(3 * 3600):
        plant.step(steady.power_w / plant.power_w)
    # The dead time starts empty: up to 50 s of holding power are missing, which the losses work off.
    assert plant.truth().coldest_c == pytest.approx(65.0, abs=1.0)
    model = plant.linear()
    assert model.steady(65.0, Place.MID) == pytest.approx([steady.wall_c, 65.0])


def test_linear_model_follows_the_unstirred_plant() -> None:
    plant = draw("unstirred", 2, 1).build(20.0)
    model, start = plant.linear(), plant.temps()
    for _ in range(1800):
        plant.step(0.5)
    found = model.run(start, np.full(30, 0.5), np.full(30, 60.0))[-1]
    # Surfaces lose heat on what they were a second before; nothing else differs.
    assert found == pytest.approx(plant.temps(), abs=0.01)


def test_linear_surfaces_lose_in_proportion_with_the_lid_on() -> None:
    plant = draw("unstirred", 0, 1).build(20.0)
    steady = [plant.steady(at, Place.MID).power_w for at in (42.5, 65.0)]
    assert steady[1] / steady[0] == pytest.approx(2.0, rel=1e-6)


def test_mains_step_once_an_hour_on_average_and_stay_within_bounds() -> None:
    hours, steps = 0.0, 0
    for seed in range(10):
        world = World(np.random.default_rng(seed), 20.0, disturbed=True)
        times = np.arange(0.0, 50 * 3600.0, 10.0)
        power, room = world.factors(times), world.rooms(times)
        # The wander moves by 0.0013 (sd) in ten seconds; a step of sd 0.03 shows when it exceeds 0.007.
        steps += int(np.sum(np.abs(np.diff(power)) > 0.007))
        hours += 50.0
        assert np.abs(power - 1.0).max() <= 0.15
        assert np.abs(room - 20.0).max() <= 1.0
    # 500 expected, differences of two levels (sd 0.042) hide below 0.007 in 13 of 100; Poisson sd 22.
    assert steps == pytest.approx(0.87 * hours, abs=80)


def test_open_lid_cools_and_cold_mass_mixes() -> None:
    plant = draw("two-node", 3, 1).build(65.0)
    mass = plant.paste_kg
    plant.add(100.0 * mass, 20.0)
    assert plant.truth().mean_c == pytest.approx((65.0 + 0.1 * 20.0) / 1.1)
    shut, opened = (draw("two-node", 3, 1).build(65.0) for _ in range(2))
    opened.set_lid(Lid.OFF)
    for _ in range(600):
        shut.step(0.0)
        opened.step(0.0)
    assert opened.truth().mean_c < shut.truth().mean_c


def test_window_gives_its_duty_on_average() -> None:
    for duty in (0.0, 0.1, 0.37, 0.85, 1.0):
        window = Window()
        assert sum(window.on(duty) for _ in range(2000)) / 2000 == pytest.approx(duty, abs=1e-9)


def test_ultimate_rules_match_published_settings() -> None:
    # 4 e^(-3.5 s)/(7 s + 1): Ku 0.9517, Pu 11.974; ZN PID 0.571, 5.99, 1.50, TL PID 0.433, 26.34, 1.90 (the
    # ultimate values are Seborg's example, 0.95 and 12).
    test = Ultimate(0.9517, 11.974)
    for (kc, ki, kd), (gain, ti, td) in (
        (test.ziegler_nichols(), (0.571, 5.99, 1.50)),
        (test.tyreus_luyben(), (0.433, 26.34, 1.90)),
    ):
        assert (kc, kc / ki, kd / kc) == pytest.approx((gain, ti, td), rel=5e-3)


def test_sopdt_fit_of_a_two_node_plant_is_exact() -> None:
    plant = draw("two-node", 0, 1).build(20.0)
    assert isinstance(plant, TwoNode)
    fit = fit_sopdt(plant.linear(), Place.MID)
    slow, fast = plant.spec.times_s
    assert (fit.gain_k, fit.tau1_s, fit.tau2_s) == pytest.approx((plant.spec.gain_k, slow, fast), rel=0.02)
    assert fit.theta_s == pytest.approx(plant.delay_s, abs=5.0)


def test_controllers_are_named_by_group() -> None:
    assert {entry.name for entry in named(["ours"])} == {"ours-core", "ours-mid", "ours-edge", "ours-two"}
    with pytest.raises(ValueError, match="no controller"):
        named(["nobody"])
