"""The plant as a whole: its account of heat, its repeatability, what people do to it."""

import dataclasses
import math

import pytest

from holdctl.settings import Lid, Place
from holdsim import PRESETS
from holdsim.probes import ProbeSpec

HOUR = 3600
NAMES = sorted(PRESETS)


def _run(plant, seconds, duty_w=0.0, dt_s=1.0):
    """Step with the heater at `duty_w` on average."""
    on_s = duty_w / plant.warmer.power_w * dt_s
    for _ in range(round(seconds / dt_s)):
        plant.step(on_s, dt_s)
    return plant


@pytest.mark.parametrize("name", NAMES)
def test_heat_is_neither_made_nor_lost_over_a_disturbed_night(name):
    plant = PRESETS[name].build(seed=5, disturbances=True, start_c=74.0)
    for second in range(4 * HOUR):
        if 1800 <= second < 1860:
            plant.stir()
        if second == 2 * HOUR:
            plant.set_lid(Lid.OFF)
        if second == 2 * HOUR + 600:
            plant.set_lid(PRESETS[name].lid)
            plant.add(50.0, 8.0)
        plant.step(1.0 if second % 80 < 2 else 0.0)
    energy = plant.energy
    temps_j = plant._net.capacities @ plant._net.temps(plant._modes)
    assert energy.heat_out_j > 100_000.0
    assert abs(energy.residual_j) < 1e-6 * energy.heat_out_j
    assert temps_j == pytest.approx(energy.stored_j, rel=1e-9)


def test_the_account_holds_while_paste_boils():
    plant = _run(PRESETS["small-pot"].build(), 2 * HOUR, duty_w=1000.0)
    energy = plant.energy
    assert plant.truth().hottest_c <= 100.0 + 1e-6
    assert energy.evaporated_g > 1000.0
    assert abs(energy.residual_j) < 1e-6 * energy.heat_out_j


@pytest.mark.parametrize("name", NAMES)
def test_heater_heat_is_power_times_time_on(name):
    plant = _run(PRESETS[name].build(), 600, duty_w=20.0)
    assert plant.energy.heat_in_j == pytest.approx(20.0 * 600, rel=1e-9)


def test_the_same_seed_gives_the_same_night_bit_for_bit():
    nights = []
    for _ in range(2):
        plant = PRESETS["mat-box"].build(seed=3, disturbances=True)
        readings = []
        for second in range(2000):
            plant.step(float(second % 7 == 0))
            readings.append(plant.readings())
        nights.append((readings, plant.truth(), plant.energy))
    assert nights[0] == nights[1]


def test_another_seed_gives_another_night():
    nights = []
    for seed in (3, 4):
        plant = PRESETS["mat-box"].build(seed=seed, disturbances=True)
        nights.append([_run(plant, 10, 15.0).readings() for _ in range(60)] + [plant.truth().ambient_c])
    assert nights[0][-1] != nights[1][-1]
    assert nights[0][:-1] != nights[1][:-1]


def test_readings_stay_until_the_next_step():
    plant = _run(PRESETS["lamp-box"].build(), 5)
    first = plant.readings()
    assert plant.readings() is first
    plant.step(0.0)
    assert plant.readings() is not first


def test_mains_and_room_stray_within_their_bounds():
    plant = PRESETS["lamp-box"].build(seed=1, disturbances=True)
    factors, rooms = [], []
    for _ in range(24 * 360):
        plant.step(10.0, 10.0)
        truth = plant.truth()
        factors.append(truth.power_w / 40.0)
        rooms.append(truth.ambient_c)
    assert 0.81 <= min(factors) < 0.99 < 1.01 < max(factors) <= 1.21
    assert 17.0 < min(rooms) < 19.7 < 20.3 < max(rooms) < 23.0


def test_an_undisturbed_world_stands_still():
    plant = _run(PRESETS["lamp-box"].build(ambient_c=22.0), 600, 10.0)
    assert plant.truth().ambient_c == 22.0
    assert plant.truth().power_w == pytest.approx(10.0)


def test_all_at_room_temperature_stays_there():
    truth = _run(PRESETS["jacket"].build(ambient_c=20.0, start_c=20.0), HOUR).truth()
    assert (truth.coldest_c, truth.hottest_c, truth.heater_c) == pytest.approx((20.0, 20.0, 20.0), abs=1e-9)


def test_a_cold_vessel_starts_cold_under_hot_paste():
    truth = PRESETS["jacket"].build(start_c=66.0, vessel_c=20.0).truth()
    assert truth.wall_c == pytest.approx(20.0, abs=1e-9)
    assert truth.mean_c == pytest.approx(66.0, abs=1e-9)


def test_stirring_makes_one_temperature_without_making_heat():
    plant = _run(PRESETS["jacket"].build(start_c=70.0), 2 * HOUR)
    before = plant.truth()
    plant.stir()
    after = plant.truth()
    assert before.hottest_c - before.coldest_c > 1.0
    assert after.hottest_c - after.coldest_c == pytest.approx(0.0, abs=1e-9)
    assert after.mean_c == pytest.approx(before.mean_c, abs=1e-9)


def test_stirring_loses_more_than_standing_and_only_while_stirred():
    stirred, left = (PRESETS["small-pot"].build() for _ in range(2))
    for _ in range(60):
        stirred.stir()
        stirred.step(0.0)
        left.step(0.0)
    lost = stirred.energy.heat_out_j, left.energy.heat_out_j
    assert lost[0] > 2 * lost[1]
    stirred.step(0.0)
    assert stirred.energy.heat_out_j - lost[0] < 10.0


@pytest.mark.parametrize("name", NAMES)
def test_only_open_paste_dries_and_at_the_rate_of_a_warm_pool(name):
    covered, open_ = (PRESETS[name].build(start_c=65.0, lid=lid) for lid in (None, Lid.OFF))
    pool_g = (
        3261.0 / HOUR * math.pi * covered.warmer.radius_m**2
    )  # 3.261 kg/(m² h): evap_ashrae in tests/data
    covered.step(0.0)
    open_.step(0.0)
    assert covered.energy.evaporated_g == 0.0
    assert open_.energy.evaporated_g == pytest.approx(pool_g, rel=2e-3)
    _run(open_, 9)
    assert 0.5 * 10 * pool_g < open_.energy.evaporated_g < 10 * pool_g  # the surface cools meanwhile
    assert open_.energy.heat_out_j > covered.energy.heat_out_j


def test_a_lid_that_comes_back_stops_the_drying():
    plant = _run(PRESETS["small-pot"].build(lid=Lid.OFF), 60)
    plant.set_lid(Lid.ON)
    dried = plant.energy.evaporated_g
    _run(plant, 60)
    assert plant.energy.evaporated_g == dried


def test_cold_malt_cools_the_paste_by_its_share():
    plant = PRESETS["mat-box"].build(start_c=66.0)
    plant.add(100.0, 20.0)
    assert plant.truth().mean_c == pytest.approx((66.0 * 1.0 + 20.0 * 0.1) / 1.1, abs=1e-9)
    assert plant.fill.mass_kg == pytest.approx(1.1)


def test_impossible_steps_and_masses_are_refused():
    plant = PRESETS["mat-box"].build()
    for on_s, dt_s in ((-0.1, 1.0), (1.1, 1.0), (0.0, 0.0), (0.0, 11.0), (float("nan"), 1.0)):
        with pytest.raises(ValueError, match="can't be on"):
            plant.step(on_s, dt_s)
    with pytest.raises(ValueError, match="can't add"):
        plant.add(-1.0, 20.0)


def test_every_place_can_carry_a_probe():
    spots = tuple(ProbeSpec(place, noise_k=0.0) for place in Place)
    preset = dataclasses.replace(PRESETS["small-pot"], probes=spots)
    plant = _run(preset.build(ambient_c=19.0), 600, 400.0)
    core, mid, edge, wall, air = plant.truth().probes
    assert core < mid < edge < wall
    assert wall == pytest.approx(plant.truth().wall_c, abs=1e-9)
    assert air == 19.0


UNSTIRRED = [name for name in NAMES if not PRESETS[name].warmer.stirred]


def _worst(name, start_c, share):
    """Largest differences, K, to a grid with 21 rings and layers in one hour at `share` of the holding power."""
    usual = PRESETS[name]
    fine = dataclasses.replace(usual, warmer=dataclasses.replace(usual.warmer, cells=(21, 21)))
    plants = [preset.build(start_c=start_c) for preset in (usual, fine)]
    duty_w = share * plants[0].steady(65.0, Place.MID).power_w
    worst = dict.fromkeys(("coldest_c", "hottest_c", "mean_c", "wall_c", "heater_c", "mid"), 0.0)
    for _ in range(12):
        one, other = ({**vars(now), "mid": now.probes[0]} for now in _truths(plants, duty_w))
        worst = {key: max(so_far, abs(one[key] - other[key])) for key, so_far in worst.items()}
    return worst


def _truths(plants, duty_w):
    return [_run(plant, 300, duty_w, dt_s=5.0).truth() for plant in plants]


@pytest.mark.parametrize(("start_c", "share"), [(74.0, 0.0), (66.0, 1.0)])
@pytest.mark.parametrize("name", UNSTIRRED)
def test_settling_and_holding_are_within_a_tenth_of_a_kelvin_of_a_fine_grid(name, start_c, share):
    assert max(_worst(name, start_c, share).values()) < 0.1


@pytest.mark.parametrize("name", UNSTIRRED)
def test_come_up_is_within_a_tenth_of_a_kelvin_of_a_fine_grid_except_in_the_hottest_corner(name):
    worst = _worst(name, 60.0, 2.0)
    assert worst.pop("hottest_c") < 0.2
    assert max(worst.values()) < 0.1
