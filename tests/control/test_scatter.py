"""How far probes stray by themselves, and a wall from its model: what is learnt of it from each reading."""

import math

import numpy as np
import pytest

from holdctl.control.scatter import NOISE_LOOKS, Misfit, Noise
from holdctl.control.ticks import Sensor
from holdctl.settings import Place

GRID = 15
"""Readings between two looks."""


def _noise_of(sigma_k, step_k, steps=400, seed=1):
    noise, rng = Noise(Sensor(Place.MID, step_k=step_k)), np.random.default_rng(seed)
    for _ in range(steps):
        noise.begin()
        true = rng.uniform(64.9, 65.1)
        for _ in range(GRID):
            noise.take(float(np.round((true + sigma_k * rng.standard_normal()) / step_k)) * step_k)
        noise.close()
    return noise


@pytest.mark.parametrize(("sigma_k", "step_k"), [(0.03, 0.0625), (0.03, 0.01), (0.06, 0.0625)])
def test_the_noise_of_a_flickering_probe_is_that_of_its_mean(sigma_k, step_k):
    # The mean of so many independent readings (Sheppard's correction for their steps).
    expected = (sigma_k**2 + step_k**2 / 12) / GRID
    assert _noise_of(sigma_k, step_k).variance == pytest.approx(expected, rel=0.2)


def test_a_probe_without_noise_is_off_by_its_step_for_as_long_as_it_says_the_same():
    noise = Noise(Sensor(Place.MID, step_k=0.0625))
    for at in range(400):
        noise.begin()
        for _ in range(GRID):
            noise.take(65.0 + 0.0625 * (at // 20 % 2))  # five minutes at each of two codes
        noise.close()
    one = 0.0625**2 / 12  # of a reading; the mean of twenty steps at one code knows no more
    assert noise.variance == pytest.approx(20 * one, rel=0.2)
    for _ in range(100):
        noise.begin()
        noise.take(65.0)
        noise.close()
    assert noise.variance == pytest.approx(100 * one, rel=0.05)


def test_before_it_is_known_a_probes_noise_is_what_its_kind_has():
    noise = _noise_of(0.001, 0.0625, steps=round(NOISE_LOOKS / 4) - 1)
    assert noise.variance == pytest.approx(0.0625**2 / 12 + 0.03**2 / GRID)


def test_one_wild_step_hardly_moves_what_is_known_of_the_noise():
    noise = _noise_of(0.03, 0.0625)
    before = noise.variance
    noise.begin()
    for at in range(GRID):
        noise.take(65.0 + 5.0 * (at % 2))
    assert math.isfinite(noise.close())
    assert noise.variance < 1.3 * before


def test_a_wall_that_swings_otherwise_than_the_model_is_expected_to():
    misfit, spread, rng = Misfit(1), np.array([1e-4]), np.random.default_rng(1)
    for _ in range(400):
        more = misfit.beyond(spread, 0.3 * rng.standard_normal(1))
    assert more[0] == pytest.approx(0.09, rel=0.5)


def test_what_strays_for_long_without_a_jump_is_no_misfit():
    misfit, spread, rng = Misfit(1), np.array([1e-4]), np.random.default_rng(1)
    for step in range(400):
        strayed = 0.5 * math.sin(step / 200.0) + 0.01 * rng.standard_normal(1)
        assert misfit.beyond(spread, strayed)[0] == 0.0


def test_the_first_innovation_of_a_course_is_not_set_against_the_last_of_another():
    for begun in (True, False):
        misfit, spread = Misfit(1), np.array([1e-4])
        for _ in range(2):
            misfit.beyond(spread, np.array([0.0]))
        if begun:
            misfit.begin()
        assert bool(misfit.beyond(spread, np.array([1.0]))[0] == 0.0) is begun


def test_what_is_expected_is_no_misfit_and_what_builds_up_in_minutes_is_none_yet():
    misfit, spread, rng = Misfit(1), np.array([1e-4]), np.random.default_rng(1)
    for _ in range(400):
        assert misfit.beyond(spread, 0.01 * rng.standard_normal(1))[0] == 0.0
    for step in range(8):
        assert misfit.beyond(spread, np.array([0.003 * step]))[0] == 0.0
