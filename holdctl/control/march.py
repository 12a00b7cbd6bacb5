"""A model driven as the hold would drive it: one step after the other, with the same governor and way to the setpoint.

The loops are taken as a wall that follows its set temperature; what an estimate would not know is in the wish's margin.
Steps are some tens of seconds to some minutes long and exact in the model.
"""

import math
from typing import TYPE_CHECKING, Any

from holdctl.control.approach import COAST, LOOPS, RIDE, Approach
from holdctl.control.governor import Governor
from holdctl.control.model import BASE, PASTE, SIDE, ThermalModel
from holdctl.control.tuning import as_identified, inner_gains, outer_gains
from holdctl.control.wish import Wish
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

PULSE_S = 60.0
"""What the governor decides on lasts for so long."""
AHEAD_S = 240.0
"""The wall is brought to its set temperature in about so long: near the inner loop's own speed."""
LIFT_K, LAG_K = 0.3, 0.4
"""While the coldest paste is further than `LAG_K` below its steady value its place is held higher by `LIFT_K` …"""
LIFT_S = 3_600.0
"""… for an hour after the way up at most: an estimate may be wrong for good."""
_WRONG_K, _NEAR_K = 2.0, 0.3


class March:
    """One run of one model towards one wish; temperatures as excess over its room, K."""

    def __init__(
        self,
        model: ThermalModel,
        modes: "Floats",
        load: float,
        wish: Wish,
        cycle_s: float = 80.0,
        pulse_s: float = PULSE_S,
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
        fades = np.exp(-model.rates * AHEAD_S)
        self._wall_free = model.shape[model.wall] * fades
        self._wall_gain_k = float(model.shape[model.wall] @ (model.drive * (1.0 - fades) / model.rates))
        self._place = model.row(wish.place) @ model.shape
        self._cells = np.vstack([model.shape[PASTE:], rim @ model.shape])
        self._mean = model.weights @ model.shape[PASTE:]
        self._setpoint = wish.setpoint_c - ambient
        learnt = as_identified(model.geometry, model.parameters)
        self._gain = outer_gains(learnt, wish.place, inner_gains(learnt, cycle_s)[1]).kc
        self._since_way_s = math.inf
        self._steps: dict[float, tuple[Floats, Floats]] = {}
        self._looked: Floats | None = None
        """The modes that the extremes are of: others are another array."""
        self._extremes = (0.0, 0.0)

    @property
    def extremes(self) -> tuple[float, float]:
        """Coldest and hottest paste now, its surface at the walls among it."""
        if self._looked is not self.modes:
            self._looked, seen = self.modes, self._cells.dot(self.modes)
            self._extremes = seen.item(seen.argmin()), seen.item(seen.argmax())
        return self._extremes

    @property
    def mean(self) -> float:
        """All paste in the mean now."""
        return float(self._mean @ self.modes)

    @property
    def wall(self) -> float:
        """The hottest wall now."""
        return float(self.model.shape[self.model.wall] @ self.modes)

    @property
    def place(self) -> float:
        """The setpoint's place now."""
        return float(self._place.dot(self.modes))

    def asked(self) -> float:
        """Return the duty that the hold would give now, 0 to 1."""
        aim = (self._setpoint + self._lift()) * self._share
        most = self._governor.most(self.modes, self._limits, self.load)
        leg = self._approach.decide(self.modes, aim)
        if leg is not LOOPS:
            self._since_way_s = 0.0
        if leg is RIDE:
            return most
        hold = self._approach.hold_rise * aim
        wall = hold if leg is COAST else self._looped(hold, aim)
        return min(
            most, max(0.0, (wall - float(self._wall_free.dot(self.modes))) / self._wall_gain_k - self.load)
        )

    def _looped(self, hold: float, aim: float) -> float:
        """Return the wall that the paste's loop asks for."""
        ambient = self.model.parameters.ambient_c
        floor, most = self.wish.floor_c - ambient, self.wish.loop_c - ambient
        if self._approach.may_fall(self.modes, aim):
            return floor
        return min(max(hold + self._gain * (aim / self._share - self.place), floor), most)

    def _lift(self) -> float:
        if self.model.geometry.stirred or self._since_way_s > LIFT_S:
            return 0.0
        return lift(self._setpoint * self._share * self._approach.coldest_rise - self.extremes[0])

    def pass_by(self, seconds: float, duty: float) -> None:
        """Let `seconds` pass at `duty`."""
        import numpy as np

        if seconds not in self._steps:
            decay = np.exp(-self.model.rates * seconds)
            self._steps[seconds] = decay, self.model.drive * (1.0 - decay) / self.model.rates
        decay, push = self._steps[seconds]
        self.modes = self.modes * decay + push * (duty + self.load)
        self._since_way_s += seconds

    def stir(self, by_k: float = 0.0) -> None:
        """Even out the paste, and change all of it by `by_k`."""
        self.modes = mixed(self.model, self.modes, by_k)

    def chill_top(self, joules: float) -> None:
        """Take so much heat from the paste's top, J: a lid that was put on cold."""
        self.modes = chilled(self.model, self.modes, joules)


def lift(lag_k: float) -> float:
    """Return how much higher the place is held while the coldest paste is `lag_k` below its steady value, K."""
    return LIFT_K * min(1.0, max(0.0, (lag_k - LAG_K / 2) / (LAG_K / 2)))


def mixed(model: ThermalModel, modes: "Floats", by_k: float = 0.0) -> "Floats":
    """Return the modes after a stir that changes the paste by `by_k` beside."""
    mean = float(model.weights @ (model.shape @ modes)[PASTE:])
    return model.begin(model.mixed(modes, mean + by_k))


def chilled(model: ThermalModel, modes: "Floats", joules: float) -> "Floats":
    """Return the modes after `joules` have left the paste's top; of paste that is stirred, all of it."""
    temps = model.shape @ modes
    first = PASTE if model.grid is None else model.nodes - len(model.grid.areas)
    temps[first:] -= joules / float(model.capacity[first:].sum())
    return model.begin(temps)


def reach(model: ThermalModel, wish: Wish) -> tuple[float, float]:
    """Return the range that a run has to come into, as excess over the room.

    Where a model's own steady profile misses the programme's range by less than a model can be wrong, coming near that
    profile is taken for it: whether the programme's clock runs then is for the estimate to say.
    """
    ambient = model.parameters.ambient_c
    rest = (wish.setpoint_c - ambient) * model.holding(wish.place)
    most = (wish.loop_c - ambient) / max(float(rest[model.wall]), 1e-9)  # the loops ask for no hotter wall
    steady = min(1.0, most) * rest[PASTE:]
    coldest, hottest = float(steady.min()), float(steady.max())
    low, high = wish.low_c - ambient, wish.high_c - ambient
    if coldest > low - _WRONG_K:
        low = min(low, coldest - _NEAR_K)
    if hottest < high + _WRONG_K:
        high = max(high, hottest + _NEAR_K)
    return low, high
