"""The thermal model: heater → medium → vessel's bottom and side → paste → probes, with loss to the room.

A network of heat capacities (J/K) and conductances (W/K) that is linear in the temperatures' excess over the room:
C dT/dt = -K T + q. Both matrices are symmetric, so the network has real modes; everything here is exact in time (each
mode is a first-order lag), whatever the step. The paste is a fine grid carried by its slow modes
(`holdctl.control.paste_modes`); a stirred paste is one node.
"""

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any

from holdctl.control.paste_modes import KEPT, Cylinder, Films, Reduced, cylinder, reduce
from holdctl.control.told import CONTACT_W_M2K, PLACE_RADIUS, Told
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

HEATER, MEDIUM, BASE, SIDE, LID, PASTE = 0, 1, 2, 3, 4, 5
"""Nodes: heater, what carries its heat (water, air), bottom and side of the vessel, the lid, then the paste's cells.
The lid stores nothing: it stands between two others (`Parameters.lid_share`)."""
_EDGE_M = 0.005
"""A probe at the edge sits half a centimetre from the wall."""


@dataclass(frozen=True, slots=True)
class Parameters:
    """What is identified, in physical units."""

    heater_j_k: float
    medium_j_k: float
    vessel_j_k: float
    """Bottom and side together."""
    heater_medium_w_k: float
    heater_base_w_k: float
    film_w_m2k: float
    """Medium to vessel; 0 where nothing lies between."""
    around_w_k: float
    """From bottom to side through the vessel's own material."""
    contact_w_m2k: float
    """Vessel to the paste that touches it."""
    paste_j_m3k: float
    k_w_mk: float
    top_w_m2k: float
    """Paste's top to its lid."""
    lid_share: float
    """Where the lid's temperature lies between the room (0) and the side, or the box's air (1)."""
    loss_w_k: float
    """To the room, from the medium; without one from the side."""
    delay_s: float
    ambient_c: float
    radius_factor: float = 1.0
    """True inner radius over the one that is told; the height follows, for the mass is weighed."""


@dataclass(frozen=True, slots=True)
class Layout:
    """How a kind of warmer is put together."""

    medium: bool
    """Whether water or air lies between heater and vessel."""
    base_film: float
    """Film at the bottom as a share of that at the side."""
    lid_in_medium: bool
    """Whether the lid stands in the medium (a box) or sits on the side."""
    hot: int
    """The wall that gets hottest, and has the wall's probe: BASE or SIDE."""


class ThermalModel:
    """The network of one warmer with its modes. Temperatures are excesses over the room, K, unless named `_c`.

    A fit makes dozens: what it does not ask of each (all that names nodes) is worked out when it is first asked for.
    """

    def __init__(self, geometry: Told, parameters: Parameters, layout: Layout) -> None:
        import numpy as np

        self.geometry, self.parameters, self.layout = geometry, parameters, layout
        self.grid: Cylinder | None = None
        self.paste: Reduced | None = None
        if not geometry.stirred:
            self.grid, self.paste = _shapes(geometry)
        capacity, stiffness = self._walls()
        paste = self._stirred if self.grid is None else self._conducting
        mass, matrix = paste(capacity, stiffness)
        root = np.sqrt(mass)
        rates, vectors = np.linalg.eigh(matrix / np.outer(root, root))
        self.rates = np.maximum(rates, 1e-9)
        self.mass, self.stiffness = mass, matrix
        """Of the states (four walls, then the paste's): J/K and W/K."""
        self.states = states = vectors / root[:, None]
        """States = states @ modes."""
        self.back = states.T * mass
        """Modes = back @ (four walls, paste's states)."""
        self.drive = states[HEATER] * geometry.power_w
        """Growth of each mode at full power, 1/s."""
        self.modes = len(rates)
        """Number of modes."""

    @cached_property
    def spread(self) -> "Floats":
        """Nodes = spread @ (four walls, paste's states)."""
        import numpy as np

        shapes = np.ones((1, 1)) if self.paste is None else self.paste.shapes
        cells, kept = shapes.shape
        spread = np.zeros((PASTE + cells, 4 + kept))
        spread[:4, :4] = np.eye(4)
        spread[LID, :4] = self._touch()[2]
        spread[PASTE:, 4:] = shapes
        return spread

    @cached_property
    def capacity(self) -> "Floats":
        """Of the nodes, J/K; the lid stores nothing."""
        import numpy as np

        cells = self.mass[4:] if self.paste is None else self.parameters.paste_j_m3k * self.paste.volumes
        return np.concatenate([self.mass[:4], [0.0], cells])

    @cached_property
    def shape(self) -> "Floats":
        """Temperatures = shape @ modes."""
        shape: Floats = self.spread @ self.states
        return shape

    @cached_property
    def steady_rise(self) -> "Floats":
        """Steady excess of every node at full power, K."""
        rise: Floats = self.shape @ (self.drive / self.rates)
        return rise

    @property
    def nodes(self) -> int:
        """Number of nodes."""
        return len(self.capacity)

    @property
    def wall(self) -> int:
        """The node of the hottest wall: what a probe at the wall sees and the wall's loop controls."""
        return self.layout.hot

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
            row[self.wall] = 1.0
        elif place is not Place.AIR:
            row[PASTE:] = self._paste_row(place)
        return row

    def seen(self, place: Place) -> "Floats":
        """Return the weights of all modes in the temperature at a place in the paste, or at the hot wall."""
        if place is Place.WALL:
            wall: Floats = self.states[self.wall]
            return wall
        paste: Floats = _seen_shapes(self.geometry, place) @ self.states[4:]
        return paste

    def rim_rows(self) -> "Floats":
        """Return rows for the surface of the paste at side and bottom: where it is hottest while it is heated."""
        import numpy as np

        if self.grid is None:
            return self.row(Place.CORE)[None, :]
        rings, slices = len(self.grid.areas), len(self.grid.thick)
        side, bottom = self._film
        rows = [self._mix(piece * rings + rings - 1, SIDE, side) for piece in range(0, slices, 3)]
        rows += [self._mix(ring, BASE, bottom) for ring in (0, rings // 2, rings - 1)]
        return np.array(rows)

    def advance(self, modes: "Floats", duty: float, dt_s: float) -> "Floats":
        """Return the modes after `dt_s` at constant `duty` (at the heater: dead time is the caller's)."""
        import numpy as np

        decay = np.exp(-self.rates * dt_s)
        after: Floats = modes * decay + self.drive * duty * (1.0 - decay) / self.rates
        return after

    def begin(self, temps: "Floats") -> "Floats":
        """Return the modes of these node temperatures: walls exactly, the paste as well as the kept modes can."""
        return self.back @ self.from_nodes(temps)

    def from_nodes(self, temps: "Floats") -> "Floats":
        """Return the states (four walls, then the paste's) of these node temperatures."""
        import numpy as np

        walls = temps[:LID]
        if self.paste is None:
            return np.append(walls, temps[PASTE])
        return np.concatenate([walls, self.paste.shapes.T @ (temps[PASTE:] * self.paste.volumes)])

    def mixed(self, modes: "Floats", paste: float) -> "Floats":
        """Return the node temperatures after the paste has been stirred to `paste`."""
        temps: Floats = self.shape @ modes
        temps[PASTE:] = paste
        return temps

    def holding(self, place: Place) -> "Floats":
        """Return the steady excess of every node for an excess of 1 K at a place."""
        steady: Floats = self.steady_rise / float(self.row(place) @ self.steady_rise)
        return steady

    def wall_at_rest(self) -> "tuple[float, Floats]":
        """Return how far full power would raise the hot wall while the paste stands still, K, and where it would stand
        without power, as weights of the modes.
        """
        import numpy as np

        answer = np.linalg.inv(self.stiffness[:4, :4])[self.wall]
        free: Floats = -answer @ self.stiffness[:4, 4:] @ self.states[4:]
        return float(answer[HEATER]) * self.geometry.power_w, free

    @property
    def uniform(self) -> "Floats":
        """The paste's states for paste of 1 K throughout."""
        import numpy as np

        if self.paste is None:
            return np.ones(1)
        unit: Floats = self.paste.shapes.T @ self.paste.volumes
        return unit

    @property
    def lid_node(self) -> int:
        """The node whose heat the lid shares."""
        return MEDIUM if self.layout.lid_in_medium else SIDE

    def _mix(self, cell: int, wall: int, share: float) -> "Floats":
        import numpy as np

        row = np.zeros(self.nodes)
        row[wall], row[PASTE + cell] = share, 1.0 - share
        return row

    def _paste_row(self, place: Place) -> "Floats":
        import numpy as np

        told = self.geometry
        return np.ones(1) if self.grid is None else _seen_at(told.radius_m, told.height_m, place)

    @property
    def _areas(self) -> tuple[float, float]:
        """Bottom and side that touch the paste, m²."""
        g, wider = self.geometry, self.parameters.radius_factor
        return math.pi * (g.radius_m * wider) ** 2, 2 * math.pi * g.radius_m * g.height_m / wider

    def _walls(self) -> "tuple[Floats, Floats]":
        """Return capacities and conductances of the four walls without the paste."""
        import numpy as np

        p = self.parameters
        base_m2, side_m2 = self._areas
        base = p.vessel_j_k * base_m2 / (base_m2 + side_m2)
        matrix = np.zeros((4, 4))

        def join(a: int, b: int, w_k: float) -> None:
            matrix[a, a] += w_k
            matrix[b, b] += w_k
            matrix[a, b] -= w_k
            matrix[b, a] -= w_k

        join(HEATER, MEDIUM, p.heater_medium_w_k)
        join(HEATER, BASE, p.heater_base_w_k)
        join(MEDIUM, BASE, p.film_w_m2k * self.layout.base_film * base_m2)
        join(MEDIUM, SIDE, p.film_w_m2k * side_m2)
        join(BASE, SIDE, p.around_w_k)
        room = MEDIUM if self.layout.medium else SIDE
        matrix[room, room] += p.loss_w_k
        return np.array([p.heater_j_k, p.medium_j_k, base, p.vessel_j_k - base]), matrix

    def _touch(self) -> "Floats":
        """Return what side, bottom and lid are in terms of the four walls."""
        import numpy as np

        touch = np.zeros((3, 4))
        touch[0, SIDE] = touch[1, BASE] = 1.0
        touch[2, self.lid_node] = self.parameters.lid_share
        return touch

    def _stirred(self, capacity: "Floats", stiffness: "Floats") -> "tuple[Floats, Floats]":
        """Mixed paste: one node behind three films."""
        import numpy as np

        p = self.parameters
        base_m2, side_m2 = self._areas
        films = np.array([p.contact_w_m2k * side_m2, p.contact_w_m2k * base_m2, p.top_w_m2k * base_m2])
        cell = p.paste_j_m3k * base_m2 * self.geometry.height_m / p.radius_factor**2
        touch = self._touch()
        matrix = np.zeros((5, 5))
        matrix[:4, :4] = stiffness + np.diag(films @ touch)
        matrix[:4, 4] = matrix[4, :4] = -films @ touch
        matrix[4, 4] = films.sum()
        return np.append(capacity, cell), matrix

    def _conducting(self, capacity: "Floats", stiffness: "Floats") -> "tuple[Floats, Floats]":
        """Paste that conducts, in a few shapes behind side, bottom and lid."""
        import numpy as np

        p, paste = self.parameters, self.paste
        if paste is None:
            raise RuntimeError("a stirred paste does not conduct")
        films = np.array([p.contact_w_m2k, p.contact_w_m2k, p.top_w_m2k])
        # The same cells in a wider vessel: as large, but flatter. Side, bottom, top.
        wider = p.radius_factor
        halves = paste.halves * np.array([wider, wider**-2, wider**-2])
        through = np.array([1.0 / wider, wider**2, wider**2]) / (1.0 / films + halves / p.k_w_mk)
        self._film = (films / (films + p.k_w_mk / halves))[:2]
        touch = self._touch()
        kept = paste.shapes.shape[1]
        into = (through[:, None] * paste.touching).T @ touch
        matrix = np.zeros((4 + kept, 4 + kept))
        matrix[:4, :4] = stiffness + np.diag((through * paste.areas) @ touch)
        matrix[4:, :4] = -into
        matrix[:4, 4:] = -into.T
        matrix[4:, 4:] = p.k_w_mk * (paste.across / wider**2 + paste.upwards * wider**4) + sum(
            g * surface for g, surface in zip(through, paste.surfaces, strict=True)
        )
        return np.concatenate([capacity, np.full(kept, p.paste_j_m3k)]), matrix


@lru_cache(maxsize=8)
def _shapes_of(
    radius_m: float, height_m: float, rho_cp: float, k: float, top: float
) -> tuple[Cylinder, Reduced]:
    # Made for the nominal film; they carry others as well.
    grid = cylinder(radius_m, height_m)
    return grid, reduce(grid, rho_cp, k, Films(CONTACT_W_M2K, CONTACT_W_M2K, top))


def _shapes(told: Told) -> tuple[Cylinder, Reduced]:
    """Return the shapes of this paste; they depend on what is told, never on what is identified."""
    return _shapes_of(told.radius_m, told.height_m, told.rho_cp_j_m3k, told.k_w_mk, told.top_w_m2k)


@lru_cache(maxsize=64)
def _seen_at(radius_m: float, height_m: float, place: Place) -> "Floats":
    """Return the weights of the paste's cells in the temperature at a place; an identification asks for them often."""
    edge = max(radius_m / 2, radius_m - _EDGE_M)
    at = edge if place is Place.EDGE else PLACE_RADIUS[place] * radius_m
    row: Floats = cylinder(radius_m, height_m).weights(at, height_m / 2)
    row.setflags(write=False)
    return row


@lru_cache(maxsize=64)
def _seen_shapes(told: Told, place: Place) -> "Floats":
    """Return the weights of the paste's states in the temperature at a place in it."""
    import numpy as np

    if told.stirred or place is Place.AIR:
        return np.full(1 if told.stirred else KEPT, 0.0 if place is Place.AIR else 1.0)
    row: Floats = _seen_at(told.radius_m, told.height_m, place) @ _shapes(told)[1].shapes
    row.setflags(write=False)
    return row
