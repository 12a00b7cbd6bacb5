"""A baker who follows a plan to the second: stirs a hot mix down, stirs on the way, answers each prompt when done."""

from holdctl.events import RequestKind
from holdctl.plan.course import STIR_S, Baker
from holdctl.settings import Lid
from holdsim.bench.ours import Ours
from holdsim.plant import Plant


class Stirrer:
    """`act` does what is due at a second; the hold hears of it only by its prompt's answer."""

    def __init__(self, plant: Plant, hold: Ours, baker: Baker) -> None:
        self._plant, self._hold = plant, hold
        self._down_to_c = baker.down_to_c
        self._due_s = [] if plant.warmer.stirred else sorted(baker.stirs_s)
        self._until_s = 0
        self._lid = plant.lid
        self._busy = False

    def act(self, second: int) -> None:
        """Stir where it is time to, else put the lid back on and answer."""
        if self._stirs_down() or self._on_the_way(second):
            self._stir()
        elif self._busy:
            self._busy = False
            self._plant.set_lid(self._lid)
            self._hold.ask(RequestKind.NEXT)

    def _stir(self) -> None:
        self._busy = True
        self._plant.set_lid(Lid.OFF)
        self._plant.stir()

    def _stirs_down(self) -> bool:
        if self._down_to_c is None:
            return False
        if self._plant.truth().mean_c > self._down_to_c:
            return True
        self._down_to_c = None
        if self._lid is not Lid.OFF:
            self._hold.ask(RequestKind.NEXT)  # the prompt for the lid comes after it
        return False

    def _on_the_way(self, second: int) -> bool:
        if self._due_s and second >= self._due_s[0]:
            self._due_s.pop(0)
            self._until_s = second + round(STIR_S)
        return second < self._until_s
