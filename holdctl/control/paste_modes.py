"""The conducting paste, reduced: a fine cylinder of finite volumes carried by few shapes.

The cylinder's heat equation separates in radius and height, and so do its finite volumes: the modes behind walls that
are held are products of radial and axial ones, each from a small eigenproblem. So the answers to a step of each wall
are closed sums; their leading shapes carry the model, and conductances follow by Galerkin's projection for any
conductivity and any films.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

RINGS, SLICES = 20, 16
KEPT = 20
"""Shapes."""
FIRST_S, SNAPSHOTS = 20.0, 16
"""First time at which an answer is looked at, s, and how many times, up to six of the slowest time constant."""


@dataclass(frozen=True, slots=True)
class Cylinder:
    """Edges and centres of the cells in m, areas of the rings in m²; cells run ring by ring within slice by slice."""

    r_edges: "Floats"
    z_edges: "Floats"

    @property
    def r(self) -> "Floats":
        """Radii of the rings' middles."""
        return (self.r_edges[1:] + self.r_edges[:-1]) / 2

    @property
    def z(self) -> "Floats":
        """Heights of the slices' middles."""
        return (self.z_edges[1:] + self.z_edges[:-1]) / 2

    @property
    def areas(self) -> "Floats":
        """Of the rings, m²."""
        import numpy as np

        return np.pi * np.diff(self.r_edges**2)

    @property
    def thick(self) -> "Floats":
        """Of the slices, m."""
        import numpy as np

        return np.diff(self.z_edges)

    def weights(self, r_m: float, z_m: float) -> "Floats":
        """Return the weights of all cells in the temperature at a point, by linear interpolation."""
        import numpy as np

        return np.outer(_between(self.z, z_m), _between(self.r, r_m)).ravel()


def cylinder(radius_m: float, height_m: float) -> Cylinder:
    """Return a grid that is finer at the wall, the bottom and the top."""
    import numpy as np

    s = np.linspace(0.0, 1.0, RINGS + 1)
    h = np.linspace(0.0, 1.0, SLICES + 1)
    return Cylinder(radius_m * (1.0 - (1.0 - s) ** 1.5), height_m * h**2 * (3.0 - 2.0 * h))


@dataclass(frozen=True, slots=True)
class Films:
    """What the paste touches, W/m²K: side, bottom, top."""

    side: float
    bottom: float
    top: float


@dataclass(frozen=True, slots=True)
class Reduced:
    """The paste in a few shapes: cell temperatures = shapes @ states, K.

    The shapes are orthonormal in the cells' volumes (m³), so the capacity of each state is that of a cubic metre.
    Conductances of the states for unit properties: within the paste for k = 1 W/mK, and of the three surfaces for
    1 W/m²K between the outermost cells' middles and their wall.
    """

    shapes: "Floats"
    across: "Floats"
    """Within the paste, from ring to ring."""
    upwards: "Floats"
    """Within the paste, from slice to slice."""
    surfaces: "tuple[Floats, Floats, Floats]"
    """Side, bottom, top: [state, state]."""
    touching: "Floats"
    """Of the surfaces: [surface, state], m²: what a wall at 1 K gives each state."""
    areas: "Floats"
    """Of the surfaces, m²."""
    halves: "Floats"
    """From the outermost cells' middles to the surfaces, m."""
    volumes: "Floats"
    """Of the cells, m³."""


def reduce(grid: Cylinder, rho_cp: float, k: float, films: Films) -> Reduced:
    """Return the shapes that the paste of `rho_cp` (J/m³K) and `k` (W/mK) takes after a step of each of its walls.

    Shapes are the leading ones of those answers at times from seconds to the steady state (proper orthogonal
    decomposition: Sirovich, Quart. Appl. Math. 45 (1987) 561–571, from memory), with the uniform paste among them.
    """
    import numpy as np

    areas, thick = grid.areas, grid.thick
    volumes = np.outer(thick, areas).ravel()
    across, side = _radial(grid, k, films.side)
    up, bottom, top = _axial(grid, k, films)
    lam, v = _modes(across, areas)
    mu, w = _modes(up, thick)
    rates = (mu[:, None] + lam[None, :]).ravel() / rho_cp
    modes = (w[:, None, :, None] * v[None, :, None, :]).reshape(len(mu) * len(lam), -1)
    touched = _touched(areas, thick)
    into = touched * np.array([side / (2 * np.pi * grid.r_edges[-1]), bottom, top])
    seen = (modes.T @ into) / rho_cp / rates[:, None]
    times = np.geomspace(FIRST_S, 6.0 / rates.min(), SNAPSHOTS)
    answers = [modes @ (seen * (1.0 - np.exp(-rates * t))[:, None]) for t in times]
    answers += [modes @ seen, 3.0 * np.ones((len(volumes), 1))]
    root = np.sqrt(volumes)[:, None]
    shapes = np.linalg.svd(np.hstack(answers) * root, full_matrices=False)[0][:, :KEPT] / root
    surfaces = tuple((shapes.T * touched[:, wall]) @ shapes for wall in range(3))
    return Reduced(
        shapes=shapes,
        across=shapes.T @ _across(grid) @ shapes,
        upwards=shapes.T @ _upwards(grid) @ shapes,
        surfaces=(surfaces[0], surfaces[1], surfaces[2]),
        touching=touched.T @ shapes,
        areas=touched.sum(axis=0),
        halves=np.array([grid.r_edges[-1] - grid.r[-1], grid.z[0], grid.z_edges[-1] - grid.z[-1]]),
        volumes=volumes,
    )


def _touched(areas: "Floats", thick: "Floats") -> "Floats":
    """Return the areas of the cells that touch side, bottom and top, m²: [cell, surface]."""
    import numpy as np

    radius = np.sqrt(areas.sum() / np.pi)
    touched = np.zeros((len(thick), len(areas), 3))
    touched[:, -1, 0] = 2 * np.pi * radius * thick
    touched[0, :, 1] = areas
    touched[-1, :, 2] = areas
    return touched.reshape(-1, 3)


def _across(grid: Cylinder) -> "Floats":
    """Return the conductances from ring to ring of all cells for k = 1 W/mK, no films."""
    import numpy as np

    between = 2 * np.pi * grid.r_edges[1:-1] / np.diff(grid.r)
    return np.kron(np.diag(grid.thick), _chain(between, 0.0, 0.0))


def _upwards(grid: Cylinder) -> "Floats":
    """Return the conductances from slice to slice of all cells for k = 1 W/mK, no films."""
    import numpy as np

    return np.kron(_chain(1.0 / np.diff(grid.z), 0.0, 0.0), np.diag(grid.areas))


def _radial(grid: Cylinder, k: float, film: float) -> "tuple[Floats, float]":
    """Return the conductance of a metre of height between rings, W/mK, and that to the wall."""
    import numpy as np

    between = 2 * np.pi * grid.r_edges[1:-1] * k / np.diff(grid.r)
    side = 2 * np.pi * grid.r_edges[-1] / (1.0 / film + (grid.r_edges[-1] - grid.r[-1]) / k)
    return _chain(between, 0.0, side), float(side)


def _axial(grid: Cylinder, k: float, films: Films) -> "tuple[Floats, float, float]":
    """Return the conductance of a square metre between slices, W/m²K, and those to bottom and lid."""
    import numpy as np

    bottom = 1.0 / (1.0 / films.bottom + grid.z[0] / k)
    top = 1.0 / (1.0 / films.top + (grid.z_edges[-1] - grid.z[-1]) / k)
    return _chain(k / np.diff(grid.z), bottom, top), bottom, top


def _chain(between: "Floats", first: float, last: float) -> "Floats":
    import numpy as np

    matrix = np.diag(np.append(between, last) + np.insert(between, 0, first))
    chain: Floats = matrix - np.diag(between, 1) - np.diag(between, -1)
    return chain


def _modes(matrix: "Floats", weights: "Floats") -> "tuple[Floats, Floats]":
    """Return values and vectors of K v = λ diag(w) v, normed to vᵀ diag(w) v = 1."""
    import numpy as np

    root = np.sqrt(weights)
    values, vectors = np.linalg.eigh(matrix / np.outer(root, root))
    return values, vectors / root[:, None]


def _between(centres: "Floats", at: float) -> "Floats":
    """Return weights of linear interpolation between centres; outside them the outermost counts."""
    import numpy as np

    weights = np.zeros(len(centres))
    right = int(np.clip(np.searchsorted(centres, at), 1, len(centres) - 1))
    share = float(np.clip((at - centres[right - 1]) / (centres[right] - centres[right - 1]), 0.0, 1.0))
    weights[right - 1], weights[right] = 1.0 - share, share
    return weights
