"""What a plan supposes of a warmer whose kind is told and no figures: where the kind's own figures lean to one side.

- Who tells of a lid that is on and no more has not told whether the side is wrapped. A bare side loses the most that
  one can (6 to 8 W/m²K of polished metal, 12.6 of dull: still air and radiation at 65 °C, Churchill and Chu), a wrapped
  one 1.7; nothing published says which it is, so the middle of both is taken, and the range has both in it.
- A water jacket has an outer wall, as heavy as the vessel's own.
"""

import math
from dataclasses import replace

from holdctl.control import Told, told
from holdctl.control.kinds import RHO_C, THICK_M, Vessel, prior
from holdctl.settings import Kind, Lid, Material, Settings

JACKET_M = 0.015
"""Of water between a vessel and its jacket (common practice, no source)."""


def supposed(settings: Settings) -> Told:
    """Return what is told of the warmer, with what a plan supposes. Raises ConfigError where that is too little."""
    found = told(settings)
    if settings.warmer.loss_w_k is None:
        found = replace(found, wall_loss_w_k=_loss_w_k(found))
    if settings.warmer.heat_capacity_j_k is None and found.kind is Kind.JACKET:
        found = _with_jacket(found)
    return found


def _loss_w_k(found: Told) -> float:
    """Return the middle of a bare and a wrapped side, W/K; what the kind says where that is told."""
    if found.kind is None:
        return found.wall_loss_w_k
    vessel = Vessel(found.radius_m, found.height_m, found.material, found.lid)
    wrapped = prior(found.kind, replace(vessel, lid=Lid.INSULATED), found.power_w).loss_w_k
    return math.sqrt(found.wall_loss_w_k * wrapped)


def _with_jacket(found: Told) -> Told:
    material = found.material or Material.STEEL
    outside_m2 = Vessel(found.radius_m, found.height_m, material, found.lid).outside_m2(JACKET_M)
    outer_j_k = outside_m2 * THICK_M[material] * RHO_C[material]
    heater_j_k = found.heater_share * found.wall_j_k + outer_j_k
    wall_j_k = found.wall_j_k + outer_j_k
    return replace(found, wall_j_k=wall_j_k, heater_share=heater_j_k / wall_j_k)
