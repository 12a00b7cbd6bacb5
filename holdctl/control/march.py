"""A model driven as the hold would drive it: one step after the other, with the same governor and way to the setpoint.

The loops are taken as a wall that follows its set temperature; what an estimate would not know is in the wish's margin.
Steps are some tens of seconds to some minutes long and exact in the model.
"""

from typing import TYPE_CHECKING, Any

from holdctl.control.approach import Approach, Leg
from holdctl.control.governor import Governor
from holdctl.control.model import BASE, PASTE, SIDE, ThermalModel
from holdctl.control.wish import Wish
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

PULSE_S = 60.0
"""What the governor decides on lasts for so long."""
_GAIN = 2.0
"""Wall over paste, K/K: near the outer loop's own."""
_WRONG_K, _NEAR_K = 2.0, 0.3


class March:
    """One run of one model towards one wish; temperatures as excess over its room, K."""

    def __init__(
        self, model: ThermalModel, modes: "Floats", load: float, wish: Wish, pulse_s: float = PULSE_S
    ) -> None:
        import numpy as np

        self.model, self.modes, self.load, self.wish = model, modes, load, wish
        ambient = model.parameters.ambient_c
        rim = model.rim_rows()
        self._governor = Governor(model, np.vstack([rim, np.eye(model.nodes)[[BASE, SIDE]]]), pulse_s)
        self._limits = np.full(len(self._governor.rows), wish.wall_c)
        self._limits[: len(rim)] = wish.ceiling_c - wish.margin_k
        self._limits -= ambient
        aim = Place.MID if wish.place is Place.EDGE else wish.place
        self._approach = Approach(model, aim)
        self._share = float(model.row(aim) @ model.holding(wish.place))
        self._gain_k, self._free = model.wall_at_rest()
        self._place = model.row(wish.place) @ model.shape
        self._cells = np.vstack([model.shape[PASTE:], rim @ model.shape])
        self._setpoint = wish.setpoint_c - ambient
        self._steps: dict[float, tuple[Floats, Floats]] = {}

    @property
    def extremes(self) -> tuple[float, float]:
        """Coldest and hottest paste now, its surface at the walls among it."""
        seen = self._cells @ self.modes
        return float(seen.min()), float(seen.max())

    @property
    def place(self) -> float:
        """The setpoint's place now."""
        return float(self._place @ self.modes)

    def asked(self) -> float:
        """Return the duty that the hold would give now, 0 to 1."""
        setpoint = self._setpoint
        most = self._governor.most(self.modes, self._limits, self.load)
        if self._approach.decide(self.modes, setpoint * self._share) is Leg.RIDE:
            return most
        ambient = self.model.parameters.ambient_c
        wall = self._approach.hold_rise * setpoint * self._share
        if self._approach.leg is Leg.LOOPS:
            asked = wall + _GAIN * (setpoint - self.place) + ambient
            wall = min(max(asked, self.wish.floor_c), self.wish.loop_c) - ambient
        return min(most, max(0.0, (wall - float(self._free @ self.modes)) / self._gain_k - self.load))

    def pass_by(self, seconds: float, duty: float) -> None:
        """Let `seconds` pass at `duty`."""
        import numpy as np

        if seconds not in self._steps:
            decay = np.exp(-self.model.rates * seconds)
            self._steps[seconds] = decay, self.model.drive * (1.0 - decay) / self.model.rates
        decay, push = self._steps[seconds]
        self.modes = self.modes * decay + push * (duty + self.load)

    def stir(self, by_k: float = 0.0) -> None:
        """Even out the paste, and change all of it by `by_k`."""
        self.modes = mixed(self.model, self.modes, by_k)


def mixed(model: ThermalModel, modes: "Floats", by_k: float = 0.0) -> "Floats":
    """Return the modes after a stir that changes the paste by `by_k` beside."""
    mean = float(model.weights @ (model.shape @ modes)[PASTE:])
    return model.begin(model.mixed(modes, mean + by_k))


def reach(model: ThermalModel, wish: Wish) -> tuple[float, float]:
    """Return the range that a run has to come into, as excess over the room.

    Where a model's own steady profile misses the programme's range by less than a model can be wrong, coming near that
    profile is taken for it: whether the programme's clock runs then is for the estimate to say.
    """
    ambient = model.parameters.ambient_c
    steady = (wish.setpoint_c - ambient) * model.holding(wish.place)[PASTE:]
    coldest, hottest = float(steady.min()), float(steady.max())
    low, high = wish.low_c - ambient, wish.high_c - ambient
    if coldest > low - _WRONG_K:
        low = min(low, coldest - _NEAR_K)
    if hottest < high + _WRONG_K:
        high = max(high, hottest + _NEAR_K)
    return low, high
