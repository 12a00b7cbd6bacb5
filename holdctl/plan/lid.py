"""A lid that has been off comes back cold, and takes heat from the paste's top until it is warm again.

The thermal model has a lid without heat capacity; what it lacks stands here, as one number: by how much the lid is
colder than it would be at rest. Its metal, glass or stoneware stores as much as a sheet of the vessel's usual wall.
"""

import math

from holdctl.control.kinds import RHO_C, THICK_M
from holdctl.control.told import Told
from holdctl.settings import Lid, Material

AIR_W_M2K = 10.0
"""A side of a lid that lies beside the vessel, to the room: convection 4, radiation 6 (from memory)."""
SIDES = {Lid.OFF: 0.0, Lid.ON: 2.0, Lid.INSULATED: 1.0, Lid.BOXED: 0.0}
"""How many sides it loses by: a padded one only by its inner; one in a box stays in the box's warm air."""
OUTSIDE_W_M2K = 2.0
"""What a lid that is on gets from beside and above it: little (from memory, order of magnitude)."""

_NONE_K = 0.01


class LidHeat:
    """One lid; K below what it has at rest over this paste."""

    def __init__(self, told: Told) -> None:
        material = told.material or Material.STEEL
        self._area_m2 = math.pi * told.radius_m**2
        self._top_w_m2k, self._room_c = told.top_w_m2k, told.ambient_c
        self._j_m2k = THICK_M[material] * RHO_C[material]
        self._off_w_m2k = SIDES[told.lid] * AIR_W_M2K
        self.short_k = 0.0

    def off(self, paste_c: float, seconds: float) -> None:
        """Let it lie beside the vessel for so long."""
        most_k = paste_c - self._room_c
        kept = math.exp(-self._off_w_m2k * seconds / self._j_m2k)
        self.short_k = most_k + (self.short_k - most_k) * kept

    def on(self, seconds: float) -> float:
        """Let it lie on the vessel for so long; return the heat that it took from the paste, J."""
        if self.short_k < _NONE_K:
            self.short_k = 0.0
            return 0.0
        rate = (self._top_w_m2k + OUTSIDE_W_M2K) / self._j_m2k
        fallen_k = self.short_k * (1.0 - math.exp(-rate * seconds))
        self.short_k -= fallen_k
        return self._area_m2 * self._top_w_m2k * fallen_k / rate
