"""What the tuned peers are given: a relay feedback test on the plant, and a fit to its true step answer."""

import math

import numpy as np

from holdctl.settings import Place
from holdsim.bench.linear import LinearModel
from holdsim.bench.peers import Sopdt, Ultimate
from holdsim.bench.suites import PLACES, SETPOINT_C, Case

HYSTERESIS_K = 0.125
CYCLES = 3
LONGEST_S = 16 * 3600


def relay_test(case: Case, place: Place) -> Ultimate | None:
    """Let a relay swing the plant about 65 °C; None when it makes no cycles within 16 hours.

    Ku = 4d/(π √(a² - ε²)) with d = 0.5 of full duty (Åström & Hägglund 1984); the first cycle is left out.
    """
    plant, channel = case.build(SETPOINT_C), PLACES.index(place)
    on, ups, low, high = False, [], [], []
    bottom, top = math.inf, -math.inf
    for second in range(LONGEST_S):
        reading = plant.readings()[channel]
        bottom, top = min(bottom, reading), max(top, reading)
        if not on and reading < SETPOINT_C - HYSTERESIS_K:
            on = True
            ups.append(second)
            low.append(bottom)
            high.append(top)
            bottom, top = math.inf, -math.inf
            if len(ups) > CYCLES + 1:
                break
        elif on and reading > SETPOINT_C + HYSTERESIS_K:
            on = False
        plant.step(1.0 if on else 0.0)
    if len(ups) < 3:
        return None
    amplitude = 0.5 * float(np.mean(np.array(high[2:]) - np.array(low[2:])))
    root = math.sqrt(max(amplitude**2 - HYSTERESIS_K**2, 1e-4))
    return Ultimate(4.0 * 0.5 / (math.pi * root), float(np.mean(np.diff(ups[1:]))))


def fit_sopdt(model: LinearModel, place: Place) -> Sopdt:
    """Return the second-order model with dead time that fits the plant's true step answer best."""
    from scipy.optimize import least_squares

    row = model.places[place] @ model.to_nodes
    steady = row * model.to_nodes[model.heater] * model.power_w / model.rates
    gain = float(steady.sum())
    slowest = float(1.0 / model.rates[np.argmax(np.abs(steady))])
    times = np.concatenate([np.linspace(0.0, 0.3, 120)[1:], np.linspace(0.3, 4.0, 60)]) * slowest
    true = (1.0 - np.exp(-np.outer(times, model.rates))) @ steady / gain

    def answer(logs: np.ndarray) -> np.ndarray:
        tau1, tau2, theta = np.exp(logs)
        tau2 = min(tau2, 0.99 * tau1)
        t = np.maximum(times - theta, 0.0)
        return np.asarray(1.0 - (tau1 * np.exp(-t / tau1) - tau2 * np.exp(-t / tau2)) / (tau1 - tau2))

    first = np.log([slowest, 0.05 * slowest, 0.005 * slowest])
    found = least_squares(
        lambda logs: answer(logs) - true,
        first,
        bounds=(first - np.array([2.0, 4.0, 6.0]), first + np.array([2.0, 3.0, 3.5])),
    )
    tau1, tau2, theta = (float(x) for x in np.exp(found.x))
    return Sopdt(gain, tau1, min(tau2, 0.99 * tau1), theta + model.delay_s)
