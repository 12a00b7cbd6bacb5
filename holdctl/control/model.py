"""The thermal model: heater → wall → paste in a grid of rings and slices → probes, with loss to the room.

A network of heat capacities (J/K) and conductances (W/K) that is linear in the temperatures' excess over the room:
C dT/dt = -K T + q. C is diagonal and K symmetric, so the network has real modes; everything here is exact in time
(each mode is a first-order lag), whatever the step. The paste's grid follows the heat equation in the cylinder by
finite volumes; a stirred paste is one node.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.told import CONTACT_W_M2K, PLACE_RADIUS, Told
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

RINGS, SLICES = 5, 4
HEATER, WALL, PASTE = 0, 1, 2
"""Nodes: the heater, the wall, then the paste ring by ring within slice by slice from the bottom."""


@dataclass(frozen=True, slots=True)
class Parameters:
    """What is identified, in physical units."""

    heater_j_k: float
    heater_wall_w_k: float
    wall_j_k: float
    contact_w_m2k: float
    paste_j_m3k: float
    k_w_mk: float
    top_w_m2k: float
    """Paste's top to its lid."""
    lid_share: float
    """Where the lid's temperature lies between the room (0) and the wall (1)."""
    loss_w_k: float
    delay_s: float
    ambient_c: float


def nominal(model: Told) -> Parameters:
    """Return where identification starts: what is told, a third of the heat capacity in the heater itself."""
    heater = model.wall_j_k / 3
    lag_s = max(model.delay_s, 5.0)
    return Parameters(
        heater_j_k=heater,
        heater_wall_w_k=heater / lag_s,
        wall_j_k=model.wall_j_k - heater,
        contact_w_m2k=CONTACT_W_M2K,
        paste_j_m3k=model.rho_cp_j_m3k,
        k_w_mk=model.k_w_mk,
        top_w_m2k=model.top_w_m2k,
        lid_share=model.lid_share,
        loss_w_k=model.wall_loss_w_k,
        delay_s=lag_s / 4,
        ambient_c=model.ambient_c,
    )


class ThermalModel:
    """The network of one warmer with its modes. Temperatures are excesses over the room, K, unless named `_c`."""

    def __init__(self, geometry: Told, parameters: Parameters) -> None:
        import numpy as np

        self.geometry, self.parameters = geometry, parameters
        self.rings, self.slices = (1, 1) if geometry.stirred else (RINGS, SLICES)
        capacity, conductance, room = self._network()
        self.capacity, self.conductance, self.room_w_k = capacity, conductance, room
        root = np.sqrt(capacity)
        rates, vectors = np.linalg.eigh(conductance / np.outer(root, root))
        self.rates = np.maximum(rates, 1e-9)
        self.shape = vectors / root[:, None]
        """Temperatures = shape @ modes."""
        self.project = vectors.T * root[None, :]
        """Modes = project @ temperatures."""
        self.drive = self.shape[HEATER] * geometry.power_w
        """Growth of each mode at full power, 1/s."""
        self.steady_rise = self.shape @ (self.drive / self.rates)
        """Steady excess of every node at full power, K."""

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.capacity)

    @property
    def weights(self) -> "Floats":
        """Share of each paste node in the mean paste."""
        paste: Floats = self.capacity[PASTE:] / self.capacity[PASTE:].sum()
        return paste

    def row(self, place: Place) -> "Floats":
        """Return the weights of all nodes in the temperature at a place."""
        import numpy as np

        row = np.zeros(self.nodes)
        if place is Place.WALL:
            row[WALL] = 1.0
        elif place is not Place.AIR:
            row[PASTE:] = self._paste_row(PLACE_RADIUS[place])
        return row

    def rim_rows(self) -> "Floats":
        """Return rows for the paste that touches wall and bottom: where it is hottest while it is heated."""
        import numpy as np

        if self.geometry.stirred:
            return self.row(Place.CORE)[None, :]
        side = self._film_share(self.geometry.radius_m / self.rings / 2)
        bottom = self._film_share(self.geometry.height_m / self.slices / 2)
        rows = []
        for piece in range(self.slices):
            rows.append(self._mix(piece * self.rings + self.rings - 1, side))
        for ring in range(self.rings):
            rows.append(self._mix(ring, bottom))
        return np.array(rows)

    def lid_row(self) -> "Floats":
        """Return the row of the paste's top surface where it is coldest while the lid loses heat."""
        import numpy as np

        row = np.zeros(self.nodes)
        if self.geometry.stirred:
            row[PASTE] = 1.0
            return row
        half = self.geometry.height_m / self.slices / 2
        k, top = self.parameters.k_w_mk, self.parameters.top_w_m2k
        share = top / (k / half + top)
        row[PASTE + (self.slices - 1) * self.rings] = 1.0 - share
        row[WALL] = share * self.parameters.lid_share
        return row

    def advance(self, modes: "Floats", duty: float, dt_s: float) -> "Floats":
        """Return the modes after `dt_s` at constant `duty` (at the heater: dead time is the caller's)."""
        import numpy as np

        decay = np.exp(-self.rates * dt_s)
        after: Floats = modes * decay + self.drive * duty * (1.0 - decay) / self.rates
        return after

    def _mix(self, node: int, share: float) -> "Floats":
        import numpy as np

        row = np.zeros(self.nodes)
        row[WALL], row[PASTE + node] = share, 1.0 - share
        return row

    def _film_share(self, half_m: float) -> float:
        film, inside = self.parameters.contact_w_m2k, self.parameters.k_w_mk / half_m
        return film / (film + inside)

    def _paste_row(self, radius: float) -> "Floats":
        """Interpolate between ring centres, and between the two middle slices."""
        import numpy as np

        row = np.zeros((self.slices, self.rings))
        at = min(max(radius * self.rings - 0.5, 0.0), self.rings - 1.0)
        inner = min(int(at), max(self.rings - 2, 0))
        outer = min(inner + 1, self.rings - 1)
        for piece in {(self.slices - 1) // 2, self.slices // 2}:
            row[piece, inner] += 1.0 - (at - inner)
            row[piece, outer] += at - inner
        weights: Floats = row.ravel() / row.sum()
        return weights

    def _network(self) -> "tuple[Floats, Floats, Floats]":
        import numpy as np

        p, g = self.parameters, self.geometry
        count = PASTE + self.rings * self.slices
        capacity, matrix, room = np.empty(count), np.zeros((count, count)), np.zeros(count)
        capacity[HEATER], capacity[WALL] = p.heater_j_k, p.wall_j_k

        def join(a: int, b: int, w_k: float) -> None:
            matrix[a, a] += w_k
            matrix[b, b] += w_k
            matrix[a, b] -= w_k
            matrix[b, a] -= w_k

        join(HEATER, WALL, p.heater_wall_w_k)
        room[WALL] = p.loss_w_k
        dr, dz = g.radius_m / self.rings, g.height_m / self.slices
        for piece in range(self.slices):
            for ring in range(self.rings):
                node = PASTE + piece * self.rings + ring
                area = math.pi * dr**2 * (2 * ring + 1)
                capacity[node] = p.paste_j_m3k * area * dz
                if ring + 1 < self.rings:
                    join(node, node + 1, p.k_w_mk * 2 * math.pi * (ring + 1) * dz)
                else:
                    join(node, WALL, self._through(2 * math.pi * g.radius_m * dz, p.contact_w_m2k, dr / 2))
                if piece + 1 < self.slices:
                    join(node, node + self.rings, p.k_w_mk * area / dz)
                else:
                    top = self._through(area, p.top_w_m2k, dz / 2)
                    room[node] += top * (1.0 - p.lid_share)
                    join(node, WALL, top * p.lid_share)
                if piece == 0:
                    join(node, WALL, self._through(area, p.contact_w_m2k, dz / 2))
        matrix[np.diag_indices(count)] += room
        return capacity, matrix, room

    def _through(self, area_m2: float, film_w_m2k: float, half_m: float) -> float:
        """Return the conductance of a film and half a cell in series; a stirred paste has the film alone."""
        inside = 0.0 if self.geometry.stirred else half_m / self.parameters.k_w_mk
        return area_m2 / (1.0 / film_w_m2k + inside)
