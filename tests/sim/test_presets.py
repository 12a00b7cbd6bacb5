"""The invented warmers: that they are as different, as well built and as fast as they are said to be."""

import tomllib

import msgspec
import numpy as np
import pytest

from holdctl.clock import SystemClock
from holdctl.settings import Lid, Place, Settings
from holdsim import PRESETS
from holdsim.bench_plant import times_real_time

HOUR = 3600
NAMES = sorted(PRESETS)


def _told(preset, **kwargs):
    return msgspec.convert(tomllib.loads(preset.settings_toml(**kwargs)), Settings)


def test_there_are_five_warmers_a_decade_apart():
    powers = [preset.warmer.power_w for preset in PRESETS.values()]
    masses = [preset.fill.mass_kg for preset in PRESETS.values()]
    assert len(PRESETS) >= 5
    assert max(powers) >= 10 * min(powers)
    assert max(masses) >= 10 * min(masses)


@pytest.mark.parametrize("name", NAMES)
def test_unstirred_paste_is_never_more_than_eight_centimetres_from_its_axis(name):
    warmer = PRESETS[name].warmer
    assert warmer.stirred or warmer.radius_m <= 0.08


@pytest.mark.parametrize("place", [Place.MID, Place.CORE])
@pytest.mark.parametrize("ambient_c", [18.0, 24.0])
@pytest.mark.parametrize("name", NAMES)
def test_the_steady_profile_stays_inside_the_band(name, ambient_c, place):
    truth = PRESETS[name].build(ambient_c=ambient_c).steady(65.0, place)
    assert 62.3 <= truth.coldest_c <= truth.hottest_c <= 66.5
    assert 0.0 < truth.power_w < 0.6 * PRESETS[name].warmer.power_w


@pytest.mark.parametrize("name", NAMES)
def test_the_wall_probe_sits_on_the_hottest_wall_that_touches_paste(name):
    plant = PRESETS[name].build()
    truth = plant.steady(65.0, Place.MID)
    assert truth.wall_c >= truth.hottest_c
    for _ in range(600):
        plant.step(1.0)
    assert plant.truth().wall_c >= plant.truth().hottest_c


@pytest.mark.parametrize("name", NAMES)
def test_without_a_lid_no_unstirred_warmer_keeps_the_band(name):
    truth = PRESETS[name].build(lid=Lid.OFF).steady(65.0, Place.MID)
    assert PRESETS[name].warmer.stirred or truth.coldest_c < 57.0


@pytest.mark.parametrize("lid", [None, Lid.OFF])
@pytest.mark.parametrize("name", NAMES)
def test_the_steady_profile_is_where_a_long_run_ends(name, lid):
    plant = PRESETS[name].build(lid=lid, start_c=65.5)
    goal = plant.steady(65.0, Place.MID)
    on_s = 10.0 * goal.power_w / plant.warmer.power_w
    slowest_s = plant._net.capacities.sum() * 45.0 / goal.power_w
    for _ in range(round(6.5 * slowest_s / 10.0)):
        plant.step(on_s, 10.0)
    end = plant.truth()
    for figure in ("coldest_c", "hottest_c", "mean_c", "wall_c", "heater_c", "power_w"):
        assert getattr(end, figure) == pytest.approx(getattr(goal, figure), abs=0.02)
    assert goal.probes[0] == pytest.approx(65.0, abs=1e-6)


def test_a_warmer_cannot_hold_what_the_room_already_is():
    plant = PRESETS["mat-box"].build(ambient_c=20.0)
    with pytest.raises(ValueError, match="can't hold"):
        plant.steady(20.0, Place.MID)
    with pytest.raises(ValueError, match="air of the room"):
        plant.steady(65.0, Place.AIR)


@pytest.mark.parametrize("name", NAMES)
def test_the_wall_answers_the_heater_within_seconds_to_two_minutes(name):
    """Time for the wall to reach 63 % of its later rate of rise, against a twin without heat."""
    hot, cold = (PRESETS[name].build(start_c=65.0) for _ in range(2))
    rise = []
    for _ in range(600):
        hot.step(1.0)
        cold.step(0.0)
        rise.append(hot.truth().wall_c - cold.truth().wall_c)
    rates = np.diff(rise)
    assert 3 <= int(np.argmax(rates >= 0.632 * rates[:300].max())) <= 120


@pytest.mark.parametrize("name", NAMES)
def test_the_baker_is_told_a_complete_file_near_the_truth(name):
    preset = PRESETS[name]
    told = _told(preset, port_url="/dev/ttyACM0")
    assert told.warmer.power_w == preset.warmer.power_w
    assert (told.warmer.stirred, told.vessel.lid) == (preset.warmer.stirred, preset.lid)
    assert [(probe.channel, probe.place) for probe in told.probe] == [(1, Place.MID), (2, Place.WALL)]
    assert told.test_rig
    assert told.port is not None


@pytest.mark.parametrize("name", [n for n in NAMES if PRESETS[n].nominal.figures])
def test_figures_that_a_baker_measured_are_near_the_truth(name):
    preset, warmer = PRESETS[name], _told(PRESETS[name]).warmer
    inner = [body for body in preset.warmer.bodies if not body.outer and body.name != "lid"]
    assert warmer.kind is None
    assert warmer.heat_capacity_j_k == pytest.approx(sum(body.capacity_j_k for body in inner), rel=0.2)
    needed = preset.build().steady(65.0, Place.MID).power_w
    assert warmer.loss_w_k == pytest.approx(needed / 45.0, rel=0.2)


def test_some_bakers_know_the_kind_and_the_material_and_no_figures():
    told = [_told(preset) for preset in PRESETS.values() if preset.nominal.figures is None]
    assert len(told) >= 2
    for settings in told:
        assert settings.warmer.kind is not None
        assert settings.vessel.material is not None
        assert (
            settings.warmer.heat_capacity_j_k is settings.warmer.loss_w_k is settings.warmer.delay_s is None
        )


@pytest.mark.parametrize("name", NAMES)
def test_the_cycle_allows_at_most_45_switch_ons_an_hour(name):
    assert HOUR / _told(PRESETS[name]).warmer.cycle_s <= 45.0


def test_the_usual_programme_is_four_hours_at_65_then_hot_holding():
    programme = _told(PRESETS["jacket"]).programme
    assert programme.every_part == (62, 67)
    assert [(step.to, step.hold_for) for step in programme.step] == [(65, "4 h")]
    assert programme.after.then == "hot-holding"


def test_another_programme_and_code_replace_the_usual_ones():
    own = '[programme]\n[[programme.step]]\nto = 60\nfor = "1 h"\n'
    told = _told(PRESETS["jacket"], food_code="uk", programme_toml=own)
    assert told.food_code == "uk"
    assert told.programme.step[0].to == 60
    assert told.port is None


def test_a_step_costs_less_than_forty_small_matrix_products():
    """Speed against a loop in the same process, so that the machine's own speed and load cancel."""
    matrix, vector, clock = np.ones((10, 106)), np.ones(106), SystemClock()

    def loop_us():
        start = clock.monotonic_ms()
        for _ in range(50_000):
            matrix @ vector
        return (clock.monotonic_ms() - start) / 50.0

    loop = min(loop_us() for _ in range(4))
    step = 1e6 / times_real_time(PRESETS["jacket"], rounds=3)
    assert step < 40.0 * loop
