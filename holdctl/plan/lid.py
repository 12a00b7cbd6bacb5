"""A lid that has been off comes back cold, and takes heat from paste and vessel until it is warm again.

The thermal model has a lid without heat capacity; what it lacks stands here, as one number: by how much the lid is
colder than it would be at rest. Its metal, glass or stoneware is taken as thick as the vessel's usual wall. It is
warmed by the paste under it and, where it sits, by the vessel's rim.
"""

import math

from holdctl.control.kinds import K_W_MK, RHO_C, THICK_M
from holdctl.control.told import Told
from holdctl.settings import Lid, Material

AIR_W_M2K = 10.0
"""A side of a lid that lies beside the vessel, to the room: convection 4, radiation 6 (from memory)."""
SIDES = {Lid.OFF: 0.0, Lid.ON: 2.0, Lid.INSULATED: 1.0, Lid.BOXED: 0.0}
"""How many sides it loses by: a padded one only by its inner; one in a box stays in the box's warm air."""
OUTSIDE_W_M2K = 2.0
"""What a lid that is on gets from beside and above it: little (from memory, order of magnitude)."""
SEAT_M, GAP_W_M2K = 0.005, 300.0
"""It sits on so wide a ring, with 0.1 mm of air (0.03 W/mK) in the mean between (common practice, no source)."""
SKIRT_M = 0.015
"""And its edge is bent or reaches down so far (common practice, no source)."""

_NONE_K = 0.01


def lid_m2(radius_m: float) -> float:
    """Return one side of a lid, seat and skirt among it, m²."""
    edge_m = radius_m + SEAT_M
    return math.pi * edge_m**2 + 2.0 * math.pi * edge_m * SKIRT_M


def rim_w_k(radius_m: float, material: Material) -> float:
    """Return the conductance from the vessel's rim into a lid of the vessel's own stuff, to the lid's mean, W/K.

    A disc that takes up heat evenly is colder than its edge by q R²/8kt in the mean, so 8πkt (conduction in a plate, by
    integration); before it lies the air in the seat.
    """
    seat = 2.0 * math.pi * radius_m * SEAT_M * GAP_W_M2K
    plate = 8.0 * math.pi * K_W_MK[material] * THICK_M[material]
    return 1.0 / (1.0 / seat + 1.0 / plate)


class LidHeat:
    """One lid; K below what it has at rest over this paste."""

    def __init__(self, told: Told) -> None:
        material = told.material or Material.STEEL
        area_m2 = lid_m2(told.radius_m)
        self._top_w_k = math.pi * told.radius_m**2 * told.top_w_m2k
        self._rim_w_k = rim_w_k(told.radius_m, material)
        self._outside_w_k = area_m2 * OUTSIDE_W_M2K
        self._j_k = area_m2 * THICK_M[material] * RHO_C[material]
        self._off_w_k = area_m2 * SIDES[told.lid] * AIR_W_M2K
        self._room_c = told.ambient_c
        self.short_k = 0.0

    def off(self, paste_c: float, seconds: float) -> None:
        """Let it lie beside the vessel for so long."""
        most_k = paste_c - self._room_c
        kept = math.exp(-self._off_w_k * seconds / self._j_k)
        self.short_k = most_k + (self.short_k - most_k) * kept

    def on(self, seconds: float) -> tuple[float, float]:
        """Let it lie on the vessel for so long; return the heat that it took from the paste and from the rim, J."""
        if self.short_k < _NONE_K:
            self.short_k = 0.0
            return 0.0, 0.0
        rate = (self._top_w_k + self._rim_w_k + self._outside_w_k) / self._j_k
        fallen_k = self.short_k * (1.0 - math.exp(-rate * seconds))
        self.short_k -= fallen_k
        return self._top_w_k * fallen_k / rate, self._rim_w_k * fallen_k / rate
