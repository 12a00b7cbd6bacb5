"""What the kind of a warmer says about its heat capacities and conductances, before anything is measured.

Everything follows from the vessel's size, wall and lid with plain handbook figures, each from memory or common
practice and each with the standard deviation of its logarithm: 0.5 means a factor of 1.6 either way, two of them 2.7.
A warmer is two bodies: the *heater* (element, plate, jacket water or box lining) and the *wall* (the vessel that
touches the paste), on the two sides of the slowest step between element and paste.
"""

import math
from dataclasses import dataclass

from holdctl.settings import Kind, Lid, Material

THICK_M = {
    Material.STEEL: 0.001,
    Material.ALUMINIUM: 0.003,
    Material.GLASS: 0.004,
    Material.STONEWARE: 0.006,
    Material.PLASTIC: 0.002,
}
"""Usual wall (common practice, no source)."""
RHO_C = {
    Material.STEEL: 3.9e6,
    Material.ALUMINIUM: 2.4e6,
    Material.GLASS: 2.0e6,
    Material.STONEWARE: 2.0e6,
    Material.PLASTIC: 1.7e6,
}
"""Heat capacity, J/m³K (handbook values, from memory)."""
K_W_MK = {
    Material.STEEL: 15.0,
    Material.ALUMINIUM: 200.0,
    Material.GLASS: 1.0,
    Material.STONEWARE: 1.3,
    Material.PLASTIC: 0.2,
}
"""Conductivity, W/mK (handbook values, from memory)."""
_THICK_SD = 0.4
_ANY_J_M2K, _ANY_M2K_W, _ANY_SD = 6.0e3, 0.001, 0.6
"""A wall of unknown material: midway between sheet steel (3.9 kJ/m²K) and stoneware (12)."""

_PLATE_J_M2K, _PLATE_RIM_M, _PLATE_SD = 36e3, 0.02, 0.7
"""10 mm of cast iron (3.6 MJ/m³K), 2 cm wider than the vessel all round: 5 mm aluminium to 20 mm steel in reason."""
_PLATE_W_M2K, _PLATE_LINK_SD = 600.0, 0.6
"""Pot on plate: 0.05 mm of air (0.03 W/mK) in the mean."""

_WATER_J_M3K, _JACKET_M, _JACKET_SD = 4.1e6, 0.015, 0.5
"""15 mm of water at side and bottom, 5 to 40 mm in reason (common practice, no source)."""
_WATER_W_M2K, _WATER_LINK_SD = 500.0, 0.5
"""Free convection of warm water on a wall at a few kelvin difference."""
_ELEMENT_IN_WATER_S = 10.0
"""An element in water: its heat capacity over its film."""

_BOX_GAP_M, _LINING_J_M2K, _BOX_SD = 0.04, 3.0e3, 0.7
"""4 cm of air all round the vessel; lining of 0.75 mm steel, 2 mm plastic or the first millimetres of wood."""
_ELEMENT_J_K_W = 1.0
"""Lamp, mat or coil in air: heat capacity for each watt, J/K per W (1.5 mm of silicone at 0.4 W/cm² has 0.8)."""
_AIR_W_M2K, _AIR_LINK_SD = 10.0, 0.5
"""Still air and radiation near 65 °C: convection 4, radiation 6."""
_ELEMENT_IN_AIR_S = 60.0
_FOAM_M, _FOAM_W_MK = 0.03, 0.035
"""3 cm of foam or wood wool."""
_BOX_LOSS_SD = 0.5
"""Foam of 2 to 5 cm and 0.03 to 0.045 W/mK, a gap of 2 to 8 cm: each moves the loss by a sixth to a half."""
_EDGE, _CORNER = 0.54, 0.15
"""Shape factors of a box's edges (for each metre) and corners (for each metre of wall): Langmuir, Adams and Meikle
1913, as in heat-transfer textbooks, from memory. A small box loses a third of its heat by them."""

_MAT_J_M2K, _MAT_SD = 4.0e3, 0.6
"""2 mm of silicone with its wires."""
_MAT_W_M2K, _MAT_LINK_SD = 120.0, 0.6
"""Half a mat (1 mm at 0.2 W/mK) and 0.1 mm of air (0.03 W/mK)."""

_WRAPPED_W_M2K, _WRAPPED_SD = 1.7, 0.6
"""2 cm of towel or foam (0.04 W/mK) with the air film outside it: who covers the lid is taken to wrap the side."""
_UNDER_W_M2K = 2.3
"""A plate's underside: 1 cm of air or mineral wool (0.03 W/mK) with the air film outside it."""
_BARE_W_M2K, _BARE_SD = 10.0, 0.8
"""A bare outside at 65 °C: convection 5, radiation 5; partly wrapped ones lose less."""
_SHINY_W_M2K = 7.0
"""The same of metal, which radiates little: 6 to 8 at 65 °C in a room of 20 °C (Churchill and Chu on a wall of 12 cm,
emissivity 0.2, reckoned with the libraries ht and CoolProp)."""
_MOST_DUTY = 0.5
"""A heater that needs more than this to hold 65 °C would hardly ever get there: no such loss is believed."""
_HOT_K = 45.0


@dataclass(frozen=True, slots=True)
class Vessel:
    """Paste radius and height, m; material (None: unknown) and lid."""

    radius_m: float
    height_m: float
    material: Material | None
    lid: Lid

    def outside_m2(self, gap_m: float, above_m: float = 0.0) -> float:
        """Bottom and side of a shell `gap_m` around the paste and `above_m` higher than it."""
        radius = self.radius_m + gap_m
        return math.pi * radius**2 + 2 * math.pi * radius * (self.height_m + gap_m + above_m)

    @property
    def base_m2(self) -> float:
        """The bottom."""
        return math.pi * self.radius_m**2

    @property
    def touched_m2(self) -> float:
        """Bottom and side up to the paste's height."""
        return self.outside_m2(0.0)


@dataclass(frozen=True, slots=True)
class Prior:
    """Heat capacities, J/K, conductances, W/K, and lag, s, with the standard deviations of their logarithms."""

    heater_j_k: float
    heater_sd: float
    wall_j_k: float
    wall_sd: float
    heater_wall_w_k: float
    heater_wall_sd: float
    loss_w_k: float
    loss_sd: float
    element_s: float
    """Lag between relay and heater."""

    @property
    def share(self) -> float:
        """Share of the heater in heater and wall."""
        return self.heater_j_k / (self.heater_j_k + self.wall_j_k)

    @property
    def capacity_sd(self) -> float:
        """Of the logarithm of heater and wall together."""
        return math.hypot(self.share * self.heater_sd, (1.0 - self.share) * self.wall_sd)

    @property
    def share_sd(self) -> float:
        """Of the logarithm of `share`."""
        return (1.0 - self.share) * math.hypot(self.heater_sd, self.wall_sd)

    @property
    def delay_s(self) -> float:
        """From the relay to the wall: the lag of the heater behind its element and of the wall behind the heater."""
        return self.element_s + (1.0 - self.share) * self.heater_j_k / self.heater_wall_w_k


def most_loss_w_k(power_w: float) -> float:
    """Return the greatest loss that is believed of a warmer of this power, W/K."""
    return _MOST_DUTY * power_w / _HOT_K


def prior(kind: Kind, vessel: Vessel, power_w: float) -> Prior:
    """Return what a warmer of this kind and power is likely to be around this vessel."""
    wall_j_k, wall_sd = _wall(vessel)
    heater_j_k, heater_sd = _heater(kind, vessel, power_w)
    link_w_k, link_sd = _link(kind, vessel)
    loss_w_k, loss_sd = _loss(kind, vessel)
    return Prior(
        heater_j_k=heater_j_k,
        heater_sd=heater_sd,
        wall_j_k=wall_j_k,
        wall_sd=wall_sd,
        heater_wall_w_k=link_w_k,
        heater_wall_sd=link_sd,
        loss_w_k=min(loss_w_k, most_loss_w_k(power_w)),
        loss_sd=loss_sd,
        element_s={Kind.JACKET: _ELEMENT_IN_WATER_S, Kind.BOX: _ELEMENT_IN_AIR_S}.get(kind, 0.0),
    )


def _wall(vessel: Vessel) -> tuple[float, float]:
    """Vessel up to the paste's height, and its lid of the same stuff."""
    area = vessel.touched_m2 + vessel.base_m2
    if vessel.material is None:
        return area * _ANY_J_M2K, _ANY_SD
    return area * THICK_M[vessel.material] * RHO_C[vessel.material], _THICK_SD


def _heater(kind: Kind, vessel: Vessel, power_w: float) -> tuple[float, float]:
    match kind:
        case Kind.PLATE:
            return _plate_m2(vessel) * _PLATE_J_M2K, _PLATE_SD
        case Kind.JACKET:
            return vessel.touched_m2 * _JACKET_M * _WATER_J_M3K, _JACKET_SD
        case Kind.BOX:
            return _box_m2(vessel) * _LINING_J_M2K + power_w * _ELEMENT_J_K_W, _BOX_SD
        case Kind.MAT:
            return vessel.touched_m2 / 2 * _MAT_J_M2K, _MAT_SD


def _link(kind: Kind, vessel: Vessel) -> tuple[float, float]:
    """Film in series with half the vessel's wall."""
    film, area, sd = {
        Kind.PLATE: (_PLATE_W_M2K, vessel.base_m2, _PLATE_LINK_SD),
        Kind.JACKET: (_WATER_W_M2K, vessel.touched_m2, _WATER_LINK_SD),
        Kind.BOX: (_AIR_W_M2K, vessel.touched_m2 + vessel.base_m2, _AIR_LINK_SD),
        Kind.MAT: (_MAT_W_M2K, vessel.touched_m2 / 2, _MAT_LINK_SD),
    }[kind]
    half = _ANY_M2K_W if vessel.material is None else THICK_M[vessel.material] / K_W_MK[vessel.material] / 2
    return area / (1.0 / film + half), sd


def _loss(kind: Kind, vessel: Vessel) -> tuple[float, float]:
    if kind is Kind.BOX:
        return _through_box_w_k(vessel), _BOX_LOSS_SD
    wrapped = vessel.lid in (Lid.BOXED, Lid.INSULATED)
    metal = vessel.material in (Material.STEEL, Material.ALUMINIUM)
    bare = (_SHINY_W_M2K if metal else _BARE_W_M2K, _BARE_SD)
    film, sd = (_WRAPPED_W_M2K, _WRAPPED_SD) if wrapped else bare
    if kind is Kind.PLATE:
        return (vessel.touched_m2 - vessel.base_m2) * film + _plate_m2(vessel) * _UNDER_W_M2K, sd
    return vessel.outside_m2(_JACKET_M if kind is Kind.JACKET else 0.0) * film, sd


def _plate_m2(vessel: Vessel) -> float:
    return math.pi * (vessel.radius_m + _PLATE_RIM_M) ** 2


def _through_box_w_k(vessel: Vessel) -> float:
    """Square box about the vessel: its walls, edges and corners, in series with the film outside."""
    wide = 2 * (vessel.radius_m + _BOX_GAP_M)
    high = vessel.height_m + 2 * _BOX_GAP_M
    walls = (2 * wide**2 + 4 * wide * high) / _FOAM_M
    edges = _EDGE * (8 * wide + 4 * high)
    through = _FOAM_W_MK * (walls + edges + 8 * _CORNER * _FOAM_M)
    out_wide, out_high = wide + 2 * _FOAM_M, high + 2 * _FOAM_M
    return 1.0 / (1.0 / through + 1.0 / (_AIR_W_M2K * (2 * out_wide**2 + 4 * out_wide * out_high)))


def _box_m2(vessel: Vessel) -> float:
    """Inside of a closed box `_BOX_GAP_M` away all round."""
    radius = vessel.radius_m + _BOX_GAP_M
    return vessel.outside_m2(_BOX_GAP_M, _BOX_GAP_M) + math.pi * radius**2
