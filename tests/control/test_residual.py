"""Heat without orders, found on the model's own plant: what is put in must come out."""

import numpy as np
import pytest

from holdctl.control import Controller
from holdctl.control.kalman import KalmanFilter
from holdctl.control.residual import Residual, least_delay
from tests.closed_loop import told


def _night(extra, minutes=40, duty=lambda t: 0.3, noise_k=0.03):
    """A warmer that is exactly the filter's model, with `extra` duty from minute 20 on; returns the last looks."""
    estimator = Controller(told("stirred-kettle")).estimator
    source = KalmanFilter(estimator.model, estimator._sensors)
    truth = KalmanFilter(estimator.model, estimator._sensors)
    source.start([60.0, 61.0])
    truth.start([60.0, 61.0])
    residual, rng, heats = Residual(source), np.random.default_rng(3), []
    for second in range(minutes * 60):
        ordered = duty(second)
        fault = extra(second, ordered) if second >= 1200 else 0.0
        truth.predict(ordered + fault)
        source.predict(ordered)
        readings = [truth.probe_c(i) + noise_k * rng.standard_normal() for i in range(len(source.sensors))]
        source.correct(readings)
        if residual.tick(readings):
            heats = residual.look() or heats
            yield second, heats


@pytest.mark.parametrize("heat", [0.5, -0.3])
def test_heat_that_comes_without_orders_is_measured(heat):
    for second, heats in _night(lambda _s, _d: heat, minutes=30):
        if second > 1200 + 300:
            found = next(h for h in heats if h.window_s == 300)
            assert found.before + found.heat == pytest.approx(heat, abs=0.1)
            break


def test_without_a_fault_looks_stay_within_their_deviation():
    sigmas = [
        abs(h.heat) / h.sd for second, heats in _night(lambda _s, _d: 0.0) if second > 900 for h in heats
    ]
    assert max(sigmas) < 4.0


def test_a_deficit_in_proportion_to_the_duty_is_told_from_a_constant_one():
    def swinging(second):
        return 0.2 if second < 1500 else 0.7

    favours = {}
    for name, extra in (("heater", lambda _s, d: -0.5 * d), ("loss", lambda _s, _d: -0.2)):
        for second, heats in _night(extra, minutes=32, duty=swinging):
            if second > 1890:
                favours[name] = next(h.favour for h in heats if h.window_s == 720)
                break
    assert favours["heater"] > 16.0
    assert favours["loss"] < -16.0


def test_the_least_delay_falls_with_the_heat_and_is_none_for_too_little():
    estimator = Controller(told("stirred-kettle")).estimator
    source = KalmanFilter(estimator.model, estimator._sensors)
    source.start([65.0, 65.2])
    for _ in range(1200):
        source.step(0.2, [65.0, 65.2])
    slow, quick = least_delay(source, 0.1, 6.0), least_delay(source, 0.8, 6.0)
    assert quick is not None
    assert slow is not None
    assert quick <= slow
    assert least_delay(source, 1e-6, 6.0) is None


def test_a_probe_that_says_nothing_makes_no_look():
    estimator = Controller(told("stirred-kettle")).estimator
    source = KalmanFilter(estimator.model, estimator._sensors)
    source.start([65.0, 65.2])
    residual = Residual(source)
    for _ in range(400):
        source.step(0.2, [None, 65.2])
        if residual.tick([None, 65.2]):
            assert residual.look() == []
