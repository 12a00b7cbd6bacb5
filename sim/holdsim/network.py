"""A network of heat capacities and conductances, advanced exactly.

C dT/dt = -K T + q, with K symmetric, is brought to its modes once (symmetric eigenproblem of C^-½ K C^-½).
Each mode then decays by itself and a heat flow that is constant over a step enters it exactly:

    z' = exp(-λ dt) z + (1 - exp(-λ dt)) / λ · Wᵀ q

That equals the matrix exponential, needs no small steps however thin a cell is, and costs one
multiplication per mode and port instead of one per pair of nodes. Modes with λ = 0 carry the energy: each
connected part has one.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
_ZERO_RATE = 1e-11  # 1/s; a mode slower than 3000 years is a connected part's mean temperature


@dataclass(frozen=True)
class Propagator:
    """One step of `dt` seconds: z' = decay · z + gain q."""

    decay: Array
    gain: Array


class Network:
    """Nodes with `capacities` in J/K, joined by `links` (node, node, W/K)."""

    def __init__(self, capacities: Array, links: list[tuple[int, int, float]]) -> None:
        self.capacities = np.asarray(capacities, dtype=float)
        self.conductance = _laplacian(len(self.capacities), links)
        root = np.sqrt(self.capacities)
        rates, vectors = np.linalg.eigh(self.conductance / np.outer(root, root))
        self.rates = np.where(rates < _ZERO_RATE, 0.0, rates)
        self.to_nodes = vectors / root[:, None]
        self._to_modes = vectors.T * root[None, :]
        self.energy_row = self.capacities @ self.to_nodes

    def modes(self, temps_c: Array) -> Array:
        """Return the modal state of these node temperatures."""
        modes: Array = self._to_modes @ temps_c
        return modes

    def temps(self, modes: Array) -> Array:
        """Return the node temperatures, °C, of a modal state."""
        temps: Array = self.to_nodes @ modes
        return temps

    def energy_j(self, modes: Array) -> float:
        """Return the stored energy against 0 °C, J."""
        return float(self.energy_row @ modes)

    def propagator(self, dt_s: float, ports: list[int]) -> Propagator:
        """Return the step of `dt_s` seconds for heat that enters at the nodes `ports`, W."""
        moving = self.rates > 0.0
        safe = np.where(moving, self.rates, 1.0)
        held = np.where(moving, -np.expm1(-safe * dt_s) / safe, dt_s)
        return Propagator(np.exp(-self.rates * dt_s), held[:, None] * self.to_nodes[ports].T)


def _laplacian(size: int, links: list[tuple[int, int, float]]) -> Array:
    matrix = np.zeros((size, size))
    for a, b, g in links:
        matrix[a, a] += g
        matrix[b, b] += g
        matrix[a, b] -= g
        matrix[b, a] -= g
    return matrix
