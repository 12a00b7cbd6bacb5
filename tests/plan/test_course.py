"""A night run ahead: energy, stirs, and the curve's own questions, against heat balances done by hand."""

import numpy as np
import pytest

from holdctl.control.model import PASTE
from holdctl.plan.course import STIR_S, Baker, Course, Start
from holdctl.plan.night import Night
from tests.closed_loop import told


def _night(name="jacket", paste_c=20.0, cold_c: float | None = 20.0, **others) -> Night:
    return Night(told(name), Start(paste_c, paste_c - 1, paste_c + 1, cold_c, cold_c), **others)


def _run(night: Night, **how) -> Course:
    return night.runner(night.warmer().model()).run(night.baker, **how)


def _course(coldest, hottest=None, step_s=60.0) -> Course:
    cold = np.array(coldest, float)
    hot = cold if hottest is None else np.array(hottest, float)
    t = step_s * np.arange(len(cold))
    return Course(t, cold, hot, cold, cold, cold, np.full(len(cold), 0.5), None, 0.0, 100.0)


def test_times_below_and_above_are_counted_from_each_moment_to_the_next():
    course = _course([50, 56, 58, 56, 60], [60, 71, 72, 69, 60])
    assert course.below_s(57.0) == 180.0
    assert course.below_s(57.0, 52.0) == 120.0
    assert course.above_s(70.0) == 120.0
    assert course.energy_j() == pytest.approx(0.5 * 100.0 * 240.0)
    assert course.energy_j(120.0) == pytest.approx(0.5 * 100.0 * 120.0)
    assert course.at_c(90.0) == (57.0, 71.5)


def test_what_the_heater_gives_is_in_the_paste_the_walls_or_lost():
    """Of the come-up: heat stored by the model's own capacities at its end, and a loss that a bound of it covers."""
    night = _night()
    model = night.warmer().model()
    course = _run(night)
    paste_j = float(model.capacity[PASTE:].sum()) * (float(course.mean_c[-1]) - 20.0)
    walls_j = float(model.capacity[:PASTE].sum()) * (float(course.wall_c[-1]) - 20.0)
    lost_w_k = model.parameters.loss_w_k + model.parameters.top_w_m2k * np.pi * model.geometry.radius_m**2
    most_lost_j = lost_w_k * 50.0 * float(course.t_s[-1])
    assert paste_j + 0.8 * walls_j <= course.energy_j() <= paste_j + 1.2 * walls_j + most_lost_j


def test_a_stir_evens_the_paste_out_and_brings_it_into_range_sooner():
    night = _night()
    at_s = 5400.0
    alone = _run(night)
    stirred = _run(Night(night.settings, night.start, baker=Baker(stirs_s=(at_s,))))
    before, after = stirred.at_c(at_s - 60.0), stirred.at_c(at_s + STIR_S)
    assert after[1] - after[0] < 0.5 * (before[1] - before[0])
    assert stirred.band_s < alone.band_s - 600.0
    assert stirred.hottest_c.max() <= 70.2


def test_paste_that_is_stirred_takes_up_more_from_hot_walls_than_it_loses():
    """Hot jacket, lukewarm paste: a minute of new paste at the walls warms it by more than a minute at rest."""
    night = _night()
    at_s = 3600.0
    alone = _run(night)
    stirred = _run(Night(night.settings, night.start, baker=Baker(stirs_s=(at_s,))))

    def gain(course):
        means = np.interp([at_s, at_s + STIR_S], course.t_s, course.mean_c)
        return float(means[1] - means[0])

    assert gain(stirred) > gain(alone) + 0.5
    films_w_k = 2 * 500.0 * np.pi * (0.08 * 0.08 + 2 * 0.08 * 0.12)  # more than any film of it
    assert gain(stirred) < films_w_k * 50.0 * STIR_S / 5000.0


def test_what_an_open_paste_loses_while_it_is_stirred_lies_between_the_published_rules():
    night = _night("mat-box", 76.0, cold_c=None, baker=Baker(down_to_c=66.0))
    model = night.warmer().model()
    down = [night.runner(model, 0.0, at).run(night.baker).down_s for at in (-1.0, 0.0, 1.0)]
    assert down[0] > down[1] > down[2]
    assert down[0] / down[2] == pytest.approx(2.5, abs=0.8)  # docs: the rules differ by 2.5


def test_a_mix_that_is_stirred_down_spends_less_time_over_seventy():
    night = _night("mat-box", 76.0, cold_c=None)
    alone = _run(night)
    down = _run(Night(night.settings, night.start, baker=Baker(down_to_c=66.0)))
    assert alone.above_s(70.0) > 2 * 1800.0  # a core left alone stays hot for an hour and more
    assert down.above_s(70.0) < 0.5 * alone.above_s(70.0)
    assert 0.0 < down.down_s < 3600.0
    assert down.at_c(down.down_s)[1] == pytest.approx(66.0, abs=1.0)


def test_a_stirred_kettle_takes_no_stirs():
    night = _night("stirred-kettle")
    with_stirs = Night(night.settings, night.start, baker=Baker(stirs_s=(600.0, 1200.0)))
    assert _run(night).band_s == _run(with_stirs).band_s


def test_the_mix_lies_in_its_range():
    start = Start(60.0, 55.0, 62.0)
    assert [start.paste(where) for where in (-1.0, -0.5, 0.0, 0.5, 1.0)] == [55.0, 57.5, 60.0, 61.0, 62.0]
