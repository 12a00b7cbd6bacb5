"""A stir as it is done: new paste at hot walls again and again, an open surface, and a lid that comes back cold."""

import math

from holdctl.control.march import March
from holdctl.control.model import PASTE, SIDE, ThermalModel
from holdctl.paste.evaporation import DISTURBED, Surface, open_w_m2
from holdctl.plan.lid import LidHeat

MIX_S = 3.0
"""One round of the spoon: after it the paste is even, and hot walls have new paste at them, which takes up more heat
than paste at rest."""


class Spoon:
    """What stirring does to one run of one model; `open_at` is where the open surface's loss lies between the rules."""

    def __init__(self, model: ThermalModel, open_at: float = 0.0) -> None:
        self._model, self._open = model, open_at
        self._room_c = model.parameters.ambient_c
        self.lid = LidHeat(model.geometry)

    def stir(self, march: March, seconds: float, duty: float) -> None:
        """Let a stir take its time: the paste is evened out again and again, the lid beside the vessel."""
        self.lid.off(march.mean + self._room_c, seconds)
        for _ in range(max(1, round(seconds / MIX_S))):
            march.stir(self._change_k(march, MIX_S))
            march.pass_by(MIX_S, duty)
        march.stir()

    def rest(self, march: March, seconds: float) -> None:
        """Let the lid lie on the vessel for so long, and take from paste and rim what it lacks."""
        if self.lid.short_k <= 0.0:
            return
        top_j, rim_j = self.lid.on(seconds)
        march.chill_top(top_j)
        temps = self._model.shape @ march.modes
        temps[SIDE] -= rim_j / float(self._model.capacity[SIDE])
        march.modes = self._model.begin(temps)

    def _change_k(self, march: March, seconds: float) -> float:
        """Return by how much a stir of some seconds changes the paste beside evening it out, K."""
        area_m2 = math.pi * self._model.geometry.radius_m**2
        least, most = open_w_m2(min(99.0, march.mean + self._room_c), Surface(area_m2, self._room_c))
        between = math.sqrt(least * most) * math.exp(0.5 * self._open * math.log(most / least))
        lost_w = DISTURBED * area_m2 * between
        return -lost_w * seconds / float(self._model.capacity[PASTE:].sum())
