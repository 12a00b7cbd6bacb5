"""The way to the setpoint: all the power that the ceilings allow until what is stored will do the rest.

A come-up is won by when the heat is first taken back, not by gains (Koppel & Latour, Ind. Eng. Chem. Fund. 4 (1965):
time optimal control of overdamped plants is two-positioned). Well below its setpoint the paste gets what the governor
allows; every few seconds the model answers one question: *if the wall were let go to its holding temperature now, how
high would the setpoint's place rise?* Once that reaches the setpoint, the wall is let go.

Both parts of the answer are closed sums of modes: first the whole network without heat until the wall is down, then the
paste alone behind a wall that is held.
"""

from enum import StrEnum
from typing import TYPE_CHECKING, Any

from holdctl.control.model import BASE, PASTE, SIDE, ThermalModel
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

FAR_K = 1.0
"""Closer to the setpoint than this the two loops do the work, once they have it."""
NEAR_K = 0.4
CHILL_K = 0.25
"""Near the setpoint no heat is cut for which the coldest paste would fall so far under its steady temperature."""
AIM_K = 0.1
"""How far over the setpoint its place may swing."""
SHORT_K = 0.5
"""Let go too early: a predicted peak this far under the setpoint takes the way up again."""
CREEP_K = 0.03
"""Predicted to go over the setpoint by no more than this: it is not going there, it only creeps up to it."""
_EVERY = 4
_FALL_S = 5_400.0
_POINTS = 40


class Leg(StrEnum):
    """Which part of the way is being gone."""

    RIDE = "ride"
    """All the power that the ceilings allow."""
    COAST = "coast"
    """The wall at its holding temperature; the paste evens out."""
    LOOPS = "loops"
    """The two loops hold."""


RIDE, COAST, LOOPS = Leg
"""By name once: up to Python 3.11 `Leg.RIDE` takes ten times as long as a name of the module, with every reading."""


class Approach:
    """Decides the leg for one model and one place; temperatures as excess over the room."""

    def __init__(self, model: ThermalModel, place: Place, leg: Leg = LOOPS) -> None:
        import numpy as np

        self._model, self.leg = model, leg
        self._tick = 0
        self._place = model.row(place) @ model.shape
        self._wall = model.shape[model.wall]
        self._cells = model.shape[PASTE:]
        holding = model.holding(place)
        self.hold_rise = float(holding[model.wall])
        """Excess of the wall in the hold for 1 K at the place."""
        self.coldest_rise = float(holding[PASTE:].min())
        """Excess of the coldest paste in the hold for 1 K at the place."""
        times = np.geomspace(5.0, _FALL_S, _POINTS)
        self._decay = np.exp(-np.outer(times, model.rates))
        self._wall_falls, self._place_falls = self._decay * self._wall, self._decay * self._place
        """Wall and place without heat: [time, mode]."""
        self._behind_wall(times, holding, place)

    def next(self, modes: "Floats", setpoint: float) -> Leg:
        """Return the leg for the state once all heat on its way has come, setpoint as excess over the room."""
        if self._tick % _EVERY == 0:
            self.decide(modes, setpoint)
        self._tick += 1
        return self.leg

    def decide(self, modes: "Floats", setpoint: float) -> Leg:
        """Decide anew, at once."""
        below = setpoint - float(self._place.dot(modes))
        if self.leg is not LOOPS or below > FAR_K:
            self.leg = self._decide(modes, setpoint, below)
        return self.leg

    def peak(self, modes: "Floats", setpoint: float) -> float:
        """Return how high the place will rise if the wall is let go to its holding temperature now."""
        hold = self.hold_rise * setpoint
        if float(self._wall.dot(modes)) <= hold:
            swing, start = -1e9, modes
        else:
            down = self._wall_falls.dot(modes) <= hold
            first = int(down.argmax())
            first = first if down[first] else len(down) - 1
            way = self._place_falls[: first + 1].dot(modes)
            swing, start = float(way[way.argmax()]), self._decay[first] * modes
        after = self._after(start, setpoint)
        return max(swing, setpoint + float(after[after.argmax()]))

    def may_fall(self, modes: "Floats", setpoint: float) -> bool:
        """Whether a place well above its setpoint may go on without heat: warmed later, it still does not undershoot.

        The wall is given the time that full power needs to bring it back to its holding temperature.
        """
        above = float(self._place.dot(modes)) - setpoint
        if above <= NEAR_K:
            return False
        import numpy as np

        model = self._model
        missing = max(0.0, self.hold_rise * setpoint - float(self._wall @ modes))
        lead_s = missing * float(model.mass[:4].sum()) / model.geometry.power_w
        later = modes * np.exp(-model.rates * min(lead_s, _FALL_S))
        chilled = float((self._cells @ later).min()) < self.coldest_rise * setpoint - CHILL_K
        if above <= FAR_K and chilled:
            return False  # the loops take it out without the paste along the wall going cold
        return setpoint + float(self._after(later, setpoint).min()) >= setpoint - AIM_K

    def _after(self, modes: "Floats", setpoint: float) -> "Floats":
        """Return the place's way behind a wall that is held from here on, over the setpoint."""
        way: Floats = self._held.dot(modes) - setpoint * self._held_rest
        return way

    def _decide(self, modes: "Floats", setpoint: float, below: float) -> Leg:
        if below <= NEAR_K:
            return LOOPS
        short = setpoint - self.peak(modes, setpoint)
        if self.leg is COAST:
            # What only creeps up to the setpoint behind a wall that is held has been let go too early as well.
            creeps = below > FAR_K and short > -CREEP_K
            return RIDE if creeps or short > SHORT_K else COAST
        return COAST if short < -AIM_K else RIDE

    def _behind_wall(self, times: "Floats", holding: "Floats", place: Place) -> None:
        """The paste and the other wall alone, the hot wall and what heats it held."""
        import numpy as np

        model = self._model
        other = SIDE if model.wall == BASE else BASE
        free = np.array([other, *range(4, len(model.mass))])
        root = np.sqrt(model.mass[free])
        block = model.stiffness[np.ix_(free, free)]
        rates, vectors = np.linalg.eigh(block / np.outer(root, root))
        steady = model.from_nodes(holding)
        spread = model.spread[:, free]
        seen = (model.row(place) @ spread / root) @ vectors
        grid = np.concatenate([[0.0], times, times[-1] * np.geomspace(1.2, 6.0, 8)])
        later = (np.exp(-np.outer(grid, np.maximum(rates, 0.0))) * seen) @ (vectors.T * root)
        self._held, self._held_rest = later @ model.states[free], later @ steady[free]
