"""The paste as a conducting cylinder: finite volumes in radius and height.

Cells shrink towards wall, bottom and surface (sine and cosine spacing), where the gradients are and where
the coldest and the hottest paste sit: with thirteen cells over 7 cm the outermost is half a millimetre
thick, so its temperature is the surface's. Cells are numbered with the radius running fastest, from the
bottom up.
"""

from dataclasses import dataclass

import numpy as np

from holdsim.network import Array


@dataclass(frozen=True)
class PasteGrid:
    """A cylinder of paste, `radius_m` by `height_m`, of uniform material."""

    radius_m: float
    height_m: float
    k_w_mk: float
    rho_cp_j_m3k: float
    n_r: int
    n_z: int

    @property
    def r_edges(self) -> Array:
        """Radii of the cells' edges, m, from the axis to the wall."""
        return self.radius_m * np.sin(0.5 * np.pi * np.arange(self.n_r + 1) / self.n_r)

    @property
    def z_edges(self) -> Array:
        """Heights of the cells' edges, m, from the bottom to the surface."""
        return 0.5 * self.height_m * (1.0 - np.cos(np.pi * np.arange(self.n_z + 1) / self.n_z))

    @property
    def r_centres(self) -> Array:
        """Radii of the cells' middles, m."""
        return _middles(self.r_edges)

    @property
    def z_centres(self) -> Array:
        """Heights of the cells' middles, m."""
        return _middles(self.z_edges)

    @property
    def ring_areas(self) -> Array:
        """Horizontal areas of the rings, m²."""
        return np.pi * np.diff(self.r_edges**2)

    @property
    def capacities(self) -> Array:
        """Heat capacity of each cell, J/K."""
        return (np.outer(np.diff(self.z_edges), self.ring_areas) * self.rho_cp_j_m3k).ravel()

    def cell(self, i_r: int, i_z: int) -> int:
        """Return the number of the cell in ring `i_r` and layer `i_z`."""
        return i_z * self.n_r + i_r

    def links(self) -> list[tuple[int, int, float]]:
        """Return the conductances between neighbours as (cell, cell, W/K)."""
        around = 2.0 * np.pi * self.r_edges[1:-1] * self.k_w_mk / np.diff(self.r_centres)
        upward = self.ring_areas * self.k_w_mk
        heights, gaps = np.diff(self.z_edges), np.diff(self.z_centres)
        out = [
            (self.cell(i, j), self.cell(i + 1, j), around[i] * heights[j])
            for j in range(self.n_z)
            for i in range(self.n_r - 1)
        ]
        out += [
            (self.cell(i, j), self.cell(i, j + 1), upward[i] / gaps[j])
            for j in range(self.n_z - 1)
            for i in range(self.n_r)
        ]
        return out

    def side(self, h_w_m2k: float) -> list[tuple[int, float]]:
        """Return (cell, W/K) from the outermost cells to a side wall behind a film of `h_w_m2k`."""
        depth = self.radius_m - self.r_centres[-1]
        area = 2.0 * np.pi * self.radius_m * np.diff(self.z_edges)
        return [(self.cell(self.n_r - 1, j), self._through(area[j], depth, h_w_m2k)) for j in range(self.n_z)]

    def bottom(self, h_w_m2k: float) -> list[tuple[int, float]]:
        """Return (cell, W/K) from the lowest cells to a bottom behind a film of `h_w_m2k`."""
        depth = self.z_centres[0]
        return [(i, self._through(self.ring_areas[i], depth, h_w_m2k)) for i in range(self.n_r)]

    def top(self, h_w_m2k: float) -> list[tuple[int, float]]:
        """Return (cell, W/K) from the highest cells to a lid behind a film of `h_w_m2k`."""
        depth = self.height_m - self.z_centres[-1]
        last = self.n_z - 1
        return [
            (self.cell(i, last), self._through(self.ring_areas[i], depth, h_w_m2k)) for i in range(self.n_r)
        ]

    def weights(self, r_m: float, z_m: float) -> Array:
        """Return one weight per cell that interpolates (bilinear) the temperature at a point."""
        layers, rings = _between(self.z_centres, z_m), _between(self.r_centres, r_m)
        return np.outer(layers, rings).ravel()

    def _through(self, area_m2: float, depth_m: float, h_w_m2k: float) -> float:
        if h_w_m2k == 0.0:
            return 0.0
        return float(area_m2 / (1.0 / h_w_m2k + depth_m / self.k_w_mk))


def _middles(edges: Array) -> Array:
    return 0.5 * (edges[1:] + edges[:-1])


def _between(grid: Array, x: float) -> Array:
    """Weights of linear interpolation at `x`; outside the outermost middles the outermost cell counts."""
    return np.array([np.interp(x, grid, unit) for unit in np.eye(len(grid))])
