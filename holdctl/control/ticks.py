"""The model with its probes as one matrix: modes exactly, behind them each probe with its lag, then the disturbance.

State: modes, one lag state for each probe, the disturbance in duty, which stays and heats like a duty.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.model import ThermalModel
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Sensor:
    """One probe as the filter sees it: place, lag in s, noise and smallest step in K."""

    place: Place
    lag_s: float = 12.0
    noise_k: float = 0.03
    step_k: float = 0.0625

    @property
    def variance(self) -> float:
        """Variance of one reading, K²: quantisation and noise."""
        return self.noise_k**2 + self.step_k**2 / 12


def one_tick(model: ThermalModel, sensors: tuple[Sensor, ...], tick_s: float) -> "tuple[Floats, Floats]":
    """Return transition and answer to full power at the heater over one tick of `tick_s`."""
    import numpy as np

    n, size = model.modes, model.modes + len(sensors) + 1
    decay = np.exp(-model.rates * tick_s)
    gain = model.drive * (1 - decay) / model.rates
    f, g = np.zeros((size, size)), np.zeros(size)
    f[np.arange(n), np.arange(n)] = decay
    f[:n, -1], g[:n] = gain, gain
    for index, sensor in enumerate(sensors, start=n):
        keep = math.exp(-tick_s / max(sensor.lag_s, 0.1))
        row = (1 - keep) * model.seen(sensor.place)
        f[index, :n] = row * decay
        f[index, index] = keep
        f[index, -1] = g[index] = row @ gain
    f[-1, -1] = 1.0
    return f, g


def many_ticks(f: "Floats", g: "Floats", ticks: int) -> "tuple[Floats, Floats]":
    """Return transition and answer over so many ticks of a constant duty, by doubling."""
    import numpy as np

    over_f, over_g = np.eye(len(f)), np.zeros_like(g)
    while ticks:
        if ticks & 1:
            over_f, over_g = f @ over_f, f @ over_g + g
        f, g = f @ f, f @ g + g
        ticks >>= 1
    return over_f, over_g
