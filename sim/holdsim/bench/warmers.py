"""Unstirred warmers by chance: pot on a plate, pot in a water jacket, pot in a heated box.

Bodies and links as in `holdsim.presets`, sized by the drawn vessel. Ranges are common practice, no source; each
stands in docs/benchmark.md.
"""

from dataclasses import dataclass, replace

import numpy as np

from holdctl.paste import USUAL_RATIO, paste_properties
from holdctl.settings import Flour, Lid, Place
from holdsim.bench.conducting import LinearSurface
from holdsim.losses import Facing, Surface
from holdsim.steady import steady_state
from holdsim.warmer import Body, Cover, Fill, Link, Warmer, assemble

KINDS = ("plate", "jacket", "box")
RADIUS_M = (0.04, 0.14)
HEIGHT_TO_DIAMETER = (0.3, 0.8)
HOLD_DUTY = (0.03, 0.4)
RATIO_FACTOR = (0.9, 1.1)
MATERIALS = {
    "steel": (0.001, 3.9e6, 15.0),
    "aluminium": (0.003, 2.4e6, 200.0),
    "glass": (0.004, 2.0e6, 1.0),
    "stoneware": (0.006, 2.0e6, 1.3),
}
"""Thickness m, heat capacity J/m³K, conductivity W/mK (handbook values, from memory)."""


@dataclass(frozen=True)
class Drawn:
    """A warmer with its fill and lid, and the duty that holds 65 °C."""

    kind: str
    material: str
    warmer: Warmer
    fill: Fill
    lid: Lid
    duty: float


@dataclass(frozen=True)
class _Vessel:
    radius_m: float
    height_m: float
    thick_m: float
    rho_c: float
    k_w_mk: float

    @property
    def base_m2(self) -> float:
        return float(np.pi * self.radius_m**2)

    @property
    def side_m2(self) -> float:
        return float(2.0 * np.pi * self.radius_m * self.height_m)

    @property
    def base_j_k(self) -> float:
        return self.base_m2 * self.thick_m * self.rho_c

    @property
    def side_j_k(self) -> float:
        return self.side_m2 * self.thick_m * self.rho_c

    @property
    def around_w_k(self) -> float:
        """From bottom to side, through the metal: half the height and a third of the radius."""
        way = 0.5 * self.height_m + self.radius_m / 3.0
        return float(2.0 * np.pi * self.radius_m * self.thick_m * self.k_w_mk / way)


def draw_warmer(rng: np.random.Generator, *, linear: bool) -> Drawn:
    """Draw kind, vessel, paste, lid and power; the power follows from the drawn duty of the hold."""
    kind = str(rng.choice(KINDS))
    material = "aluminium" if kind == "plate" else str(rng.choice(list(MATERIALS)))
    radius = float(rng.uniform(*RADIUS_M))
    vessel = _Vessel(radius, 2.0 * radius * float(rng.uniform(*HEIGHT_TO_DIAMETER)), *MATERIALS[material])
    fill = _fill(rng, vessel)
    lid = Lid.BOXED if kind == "box" else Lid.INSULATED
    make = {"plate": _plate, "jacket": _jacket, "box": _box}[kind]
    warmer = make(rng, vessel, fill)
    if linear:
        surfaces = tuple(
            LinearSurface(s.body, s.area_m2, s.length_m, s.facing, s.emissivity) for s in warmer.surfaces
        )
        warmer = replace(warmer, surfaces=surfaces)
    duty = float(np.exp(rng.uniform(*np.log(HOLD_DUTY))))
    _, hold_w = steady_state(assemble(warmer, fill, lid), 65.0, Place.MID, 20.0)
    warmer = replace(warmer, power_w=hold_w / duty)
    return Drawn(kind, material, warmer, fill, lid, duty)


def _fill(rng: np.random.Generator, vessel: _Vessel) -> Fill:
    flour = Flour(str(rng.choice([f.value for f in Flour])))
    ratio = round(USUAL_RATIO[flour] * float(rng.uniform(*RATIO_FACTOR)), 2)
    rho = paste_properties(flour, ratio, 65.0).rho_kg_m3
    return Fill(flour, ratio, rho * vessel.base_m2 * vessel.height_m)


def _paste_j_k(fill: Fill) -> float:
    return fill.mass_kg * paste_properties(fill.flour, fill.ratio, 65.0).cp_j_kgk


def _lid(rng: np.random.Generator, vessel: _Vessel) -> tuple[Body, Link, float]:
    rim = 2.0 * np.pi * vessel.radius_m
    lid = Body("lid", vessel.base_m2 * float(rng.uniform(3e3, 9e3)))
    return lid, Link("side", "lid", float(rim * rng.uniform(0.3, 2.0))), float(rng.uniform(10.0, 15.0))


def _covered(rng: np.random.Generator, vessel: _Vessel) -> tuple[Body, Surface, Cover]:
    area = 1.6 * vessel.base_m2
    body = Body("cover", area * 1500.0, outer=True)
    surface = Surface("cover", area, 0.5 * vessel.radius_m, Facing.UP, emissivity=0.8)
    through = float(rng.uniform(0.8, 2.0)) * vessel.base_m2
    return body, surface, Cover("cover", on_w_k=20.0 * vessel.base_m2, insulated_w_k=through)


def _plate(rng: np.random.Generator, vessel: _Vessel, fill: Fill) -> Warmer:
    lid, rim, headspace = _lid(rng, vessel)
    cover, top, over = _covered(rng, vessel)
    outside = 1.3 * vessel.side_m2
    return Warmer(
        power_w=1.0,
        radius_m=vessel.radius_m,
        bodies=(
            Body("heater", float(rng.uniform(0.05, 0.4)) * _paste_j_k(fill)),
            Body("base", vessel.base_j_k),
            Body("side", vessel.side_j_k),
            lid,
            cover,
            Body("casing", 2000.0 * outside, outer=True),
        ),
        links=(
            Link("heater", "base", float(rng.uniform(400.0, 1500.0)) * vessel.base_m2),
            Link("base", "side", vessel.around_w_k),
            rim,
            Link("side", "casing", float(rng.uniform(0.5, 2.5)) * vessel.side_m2),
            Link("heater", "casing", float(rng.uniform(1.0, 5.0)) * vessel.base_m2),
        ),
        surfaces=(Surface("casing", outside, vessel.height_m), top),
        cover=over,
        hot_wall="base",
        contact_w_m2k=float(rng.uniform(200.0, 600.0)),
        headspace_w_m2k=headspace,
    )


def _jacket(rng: np.random.Generator, vessel: _Vessel, fill: Fill) -> Warmer:
    lid, rim, headspace = _lid(rng, vessel)
    cover, top, over = _covered(rng, vessel)
    touched = vessel.base_m2 + vessel.side_m2
    outside = 1.5 * touched
    film = float(rng.uniform(250.0, 600.0))
    return Warmer(
        power_w=1.0,
        radius_m=vessel.radius_m,
        bodies=(
            Body("heater", float(rng.uniform(0.02, 0.1)) * _paste_j_k(fill)),
            Body("jacket", float(rng.uniform(0.2, 0.9)) * _paste_j_k(fill)),
            Body("base", vessel.base_j_k),
            Body("side", vessel.side_j_k),
            lid,
            cover,
            Body("casing", 2000.0 * outside, outer=True),
        ),
        links=(
            Link("heater", "jacket", float(rng.uniform(300.0, 1000.0)) * touched),
            Link("jacket", "base", film * vessel.base_m2),
            Link("jacket", "side", film * vessel.side_m2),
            Link("base", "side", vessel.around_w_k),
            rim,
            Link("jacket", "casing", float(rng.uniform(0.7, 3.0)) * outside),
        ),
        surfaces=(Surface("casing", outside, vessel.height_m), top),
        cover=over,
        hot_wall="side",
        contact_w_m2k=float(rng.uniform(200.0, 600.0)),
        headspace_w_m2k=headspace,
    )


def _box(rng: np.random.Generator, vessel: _Vessel, fill: Fill) -> Warmer:
    del fill
    lid, rim, headspace = _lid(rng, vessel)
    outside = 2.5 * (2.0 * vessel.base_m2 + vessel.side_m2)
    air = float(rng.uniform(8.0, 14.0))
    return Warmer(
        power_w=1.0,
        radius_m=vessel.radius_m,
        bodies=(
            Body("heater", float(rng.uniform(500.0, 3000.0)) * vessel.base_m2 * 4.0),
            Body("base", vessel.base_j_k),
            Body("side", vessel.side_j_k),
            lid,
            Body("box", 2500.0 * outside),
            Body("casing", 2000.0 * outside, outer=True),
        ),
        links=(
            Link("heater", "box", float(rng.uniform(15.0, 40.0)) * vessel.base_m2 * 4.0),
            Link("heater", "base", float(rng.uniform(2.0, 40.0)) * vessel.base_m2),
            Link("box", "base", 0.4 * air * vessel.base_m2),
            Link("box", "side", air * vessel.side_m2),
            Link("base", "side", vessel.around_w_k),
            rim,
            Link("box", "casing", float(rng.uniform(0.5, 1.2)) * outside),
        ),
        surfaces=(Surface("casing", outside, 2.0 * vessel.height_m),),
        cover=Cover("box", on_w_k=air * vessel.base_m2, insulated_w_k=0.3 * air * vessel.base_m2),
        hot_wall="base",
        contact_w_m2k=float(rng.uniform(200.0, 600.0)),
        headspace_w_m2k=headspace,
    )
