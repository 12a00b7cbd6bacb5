"""Probes: exact lag (closed form; tests/data/physics.json probe_…), noise, bias, resolution."""

import math

import numpy as np
import pytest

from holdctl.settings import Place
from holdsim.probes import Probe, ProbeSpec

QUIET = {"resolution_k": 1e-4, "noise_k": 0.0}


def _probe(start_c=20.0, **spec):
    return Probe(ProbeSpec(Place.MID, **spec), start_c, np.random.default_rng(1))


def test_one_second_of_a_ten_second_lag_covers_the_exact_share():
    probe = _probe(0.0, lag_s=10.0, **QUIET)
    probe.true_c = 1.0  # the step has happened; now the truth stands still
    probe.advance(1.0, 1.0)
    assert probe.lagged_c == pytest.approx(0.0951625820, abs=1e-9)


def test_the_lag_does_not_depend_on_the_step():
    fine, coarse = _probe(lag_s=7.0, **QUIET), _probe(lag_s=7.0, **QUIET)
    for second in range(1, 11):
        fine.advance(20.0 + 0.3 * second, 1.0)
    coarse.advance(23.0, 10.0)
    assert fine.lagged_c == pytest.approx(coarse.lagged_c, abs=1e-12)


@pytest.mark.parametrize(("lag_s", "behind_k"), [(10.0, 0.1667), (30.0, 0.5)])
def test_a_ramp_of_a_kelvin_a_minute_is_read_rate_times_lag_late(lag_s, behind_k):
    probe = _probe(lag_s=lag_s, **QUIET)
    for second in range(1, 601):
        probe.advance(20.0 + second / 60.0, 1.0)
    assert probe.true_c - probe.lagged_c == pytest.approx(behind_k, abs=1e-4)


def test_ninety_percent_takes_2_3_lags():
    probe = _probe(0.0, lag_s=10.0, **QUIET)
    probe.true_c = 1.0
    probe.advance(1.0, 10.0 * math.log(10.0))
    assert probe.lagged_c == pytest.approx(0.9, abs=1e-12)


def test_no_lag_reads_the_truth():
    probe = _probe(lag_s=0.0, **QUIET)
    probe.advance(65.0, 1.0)
    assert probe.read() == 65.0


@pytest.mark.parametrize(("resolution_k", "expected"), [(0.01, 65.13), (0.0625, 65.125), (0.1, 65.1)])
def test_readings_come_in_steps_of_the_resolution(resolution_k, expected):
    assert _probe(65.128, resolution_k=resolution_k, noise_k=0.0).read() == expected


def test_a_bias_shifts_every_reading():
    assert _probe(65.0, bias_k=0.4, **QUIET).read() == pytest.approx(65.4, abs=1e-9)


def test_noise_has_the_stated_deviation_and_no_mean():
    probe = _probe(65.0, noise_k=0.05, resolution_k=1e-4)
    readings = np.array([probe.read() for _ in range(20_000)])
    assert readings.mean() == pytest.approx(65.0, abs=4 * 0.05 / math.sqrt(20_000))
    assert readings.std() == pytest.approx(0.05, rel=0.03)


def test_the_first_reading_is_of_the_place_where_it_sits():
    assert _probe(66.0, lag_s=60.0, **QUIET).read() == 66.0
