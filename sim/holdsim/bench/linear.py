"""A plant as a linear model in its modes: what the limit is computed on.

C dT/dt = -G (T - room) + q, with G symmetric and the losses on its diagonal. In modes each decays by itself, so
steps of any length are exact for heat that is constant over a step.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from holdctl.settings import Place

Array = npt.NDArray[np.float64]
Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True)
class LinearModel:
    """Nodes, their conductances with losses (W/K), the heater's node, and the rows that read the places."""

    capacities: Array
    conductance: Array
    heater: int
    power_w: float
    ambient_c: float
    paste: slice
    places: Mapping[Place, Array]
    delay_s: float = 0.0
    rates: Array = field(init=False)
    to_nodes: Array = field(init=False)

    def __post_init__(self) -> None:
        root = np.sqrt(self.capacities)
        rates, vectors = np.linalg.eigh(self.conductance / np.outer(root, root))
        object.__setattr__(self, "rates", np.maximum(rates, 1e-12))
        object.__setattr__(self, "to_nodes", vectors / root[:, None])

    def modes(self, temps_c: Array) -> Array:
        """Return the modal state of these node temperatures."""
        return np.asarray(self.to_nodes.T @ (self.capacities * (temps_c - self.ambient_c)))

    def steps(self, dt_s: Array) -> tuple[Array, Array]:
        """Return decay and gain for full heater power of each mode over each step: (steps, modes)."""
        fall = np.exp(-np.outer(dt_s, self.rates))
        gain = (1.0 - fall) / self.rates * (self.to_nodes[self.heater] * self.power_w)
        return fall, gain

    def run(self, start_c: Array, duty: Array, dt_s: Array, extra_w: Array | None = None) -> Array:
        """Return all node temperatures, °C, at the end of each step (steps, nodes).

        `extra_w` is heat beside the heater's at each node over each step, W.
        """
        fall, gain = self.steps(dt_s)
        out = np.empty((len(dt_s), len(self.rates)))
        z = self.modes(start_c)
        for k in range(len(dt_s)):
            z = fall[k] * z + gain[k] * duty[k]
            if extra_w is not None:
                z = z + (1.0 - fall[k]) / self.rates * (extra_w[k] @ self.to_nodes)
            out[k] = z
        return np.asarray(self.ambient_c + out @ self.to_nodes.T)

    def steady(self, setpoint_c: float, place: Place) -> Array:
        """Return all node temperatures, °C, with `setpoint_c` at `place` for ever."""
        heat = np.zeros(len(self.capacities))
        heat[self.heater] = 1.0
        rise = np.linalg.solve(self.conductance, heat)
        row = self.places[place]
        return np.asarray(self.ambient_c + (setpoint_c - self.ambient_c) / (row @ rise) * rise)
