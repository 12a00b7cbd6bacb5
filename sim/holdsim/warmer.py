"""What a warmer is made of, as data, and the network that it becomes with its paste and its lid.

Every warmer has the bodies `heater`, `base`, `side` (vessel bottom and vessel wall) and `lid`; more (a box,
a casing) as it likes. With the lid off, the lid lies beside the vessel, in the room or in the box, and the
paste is open to the room.
"""

from dataclasses import dataclass, field

import numpy as np

from holdctl.paste import paste_properties
from holdctl.settings import Flour, Lid, Place
from holdsim.losses import Surface
from holdsim.network import Array, Network
from holdsim.paste_grid import PasteGrid

_MATERIAL_C = 65.0
_EDGE_M = 0.005


@dataclass(frozen=True)
class Body:
    """A part with one temperature; `outer` parts start at the room's temperature."""

    name: str
    capacity_j_k: float
    outer: bool = False


@dataclass(frozen=True)
class Link:
    """A conductance between two bodies, W/K; without value when one of them is the lid and the lid is off."""

    one: str
    other: str
    w_k: float


@dataclass(frozen=True)
class Cover:
    """What joins the lid's inside to the body outside it (a blanket, a box), W/K, for each cover."""

    outside: str
    on_w_k: float
    insulated_w_k: float


@dataclass(frozen=True)
class Warmer:
    """One warmer with its vessel; lengths in m, powers in W."""

    power_w: float
    radius_m: float
    bodies: tuple[Body, ...]
    links: tuple[Link, ...]
    surfaces: tuple[Surface, ...]
    cover: Cover
    hot_wall: str = "base"
    """The hottest wall that touches the paste: `base` or `side`."""
    contact_w_m2k: float = 500.0
    """Film between paste and wall; of a stirred vessel the film of its scraped, moving paste."""
    headspace_w_m2k: float = 12.0
    """From the paste's surface to the lid: air, radiation, and vapour that condenses there and drips back."""
    stirred: bool = False
    cells: tuple[int, int] = (13, 13)

    def index(self, name: str) -> int:
        """Return the node number of a body."""
        return [body.name for body in self.bodies].index(name)


@dataclass(frozen=True)
class Fill:
    """The paste in the vessel."""

    flour: Flour
    ratio: float
    mass_kg: float


@dataclass(frozen=True)
class Assembly:
    """A warmer, its fill and its lid as one network, with the rows that read it."""

    warmer: Warmer
    grid: PasteGrid
    network: Network
    lid: Lid
    paste: slice
    top_nodes: list[int]
    surface_nodes: list[int] = field(default_factory=list)

    def place_row(self, place: Place) -> Array:
        """Return the weights over all nodes that give the true temperature at a place."""
        row = np.zeros(len(self.network.capacities))
        if place is Place.WALL:
            row[self.warmer.index(self.warmer.hot_wall)] = 1.0
            return row
        radius, half = self.grid.radius_m, 0.5 * self.grid.height_m
        where = {Place.CORE: 0.0, Place.MID: 0.5 * radius, Place.EDGE: radius - _EDGE_M}
        row[self.paste] = self.grid.weights(where[place], half)
        return row


def assemble(warmer: Warmer, fill: Fill, lid: Lid) -> Assembly:
    """Build the network of this warmer with this paste under this lid."""
    grid = _grid(warmer, fill)
    first = len(warmer.bodies)
    capacities = np.concatenate([[body.capacity_j_k for body in warmer.bodies], grid.capacities])
    links = _body_links(warmer, lid) + [(first + a, first + b, g) for a, b, g in grid.links()]
    links += _paste_links(warmer, grid, lid)
    top = [first + cell for cell, _ in grid.top(1.0)]
    surfaces = [warmer.index(surface.body) for surface in warmer.surfaces]
    return Assembly(warmer, grid, Network(capacities, links), lid, slice(first, None), top, surfaces)


def _grid(warmer: Warmer, fill: Fill) -> PasteGrid:
    stuff = paste_properties(fill.flour, fill.ratio, _MATERIAL_C)
    height = fill.mass_kg / stuff.rho_kg_m3 / (np.pi * warmer.radius_m**2)
    k = 1e3 if warmer.stirred else stuff.k_w_mk
    n_r, n_z = (1, 1) if warmer.stirred else warmer.cells
    return PasteGrid(warmer.radius_m, float(height), k, stuff.rho_kg_m3 * stuff.cp_j_kgk, n_r, n_z)


def _body_links(warmer: Warmer, lid: Lid) -> list[tuple[int, int, float]]:
    cover = warmer.cover
    through = cover.insulated_w_k if lid is Lid.INSULATED else cover.on_w_k
    links = [link for link in warmer.links if lid is not Lid.OFF or "lid" not in (link.one, link.other)]
    links.append(Link("lid", cover.outside, through))
    return [(warmer.index(link.one), warmer.index(link.other), link.w_k) for link in links]


def _paste_links(warmer: Warmer, grid: PasteGrid, lid: Lid) -> list[tuple[int, int, float]]:
    first = len(warmer.bodies)
    touching = [("side", grid.side(warmer.contact_w_m2k)), ("base", grid.bottom(warmer.contact_w_m2k))]
    if lid is not Lid.OFF:
        touching.append(("lid", grid.top(warmer.headspace_w_m2k)))
    return [(warmer.index(body), first + cell, g) for body, film in touching for cell, g in film]
