"""What no probe sees, from the Kalman filter over the told model.

Any set of probes at any place; a missing reading is left out. Time passes in whole ticks of the filter, what is left
of a second is carried. Across a gap the model runs on exactly and its uncertainty grows. A probe in the paste that
jumps by more than conduction can, twice running, means that the paste has been stirred: all of it then has that
temperature.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from holdctl.control.cascade import Flow
from holdctl.control.kalman import KalmanFilter, Sensor
from holdctl.control.model import HEATER, PASTE, WALL, Parameters, ThermalModel, nominal
from holdctl.control.told import Told
from holdctl.events import Estimate
from holdctl.settings import PASTE_PLACES, Place, Probe

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

_MIXED_K, _MIXED_SIGMA = 1.0, 6.0
"""A reading this far from its prediction, in K and in standard deviations, twice running, is a stir."""
_DRIFT_K, _DRIFT_SHARE = 0.2, 0.03
"""So is a prediction that lags this far behind for half a minute: a paste stirred on and on while it cools. Measured on
the simulated mat box: 0.4 to 0.6 K while stirred, at most 0.03 K in a come-up."""
_GAP_S, _LONGEST_S = 5.0, 43_200.0
_LAG_S = {Place.WALL: 5.0}
"""Probes at a wall sit on metal and answer sooner than those in paste (from memory)."""


class Estimator:
    """One warmer's filter with its probes; readings come by channel, °C."""

    def __init__(self, told: Told, probes: tuple[Probe, ...], parameters: Parameters | None = None) -> None:
        self._told = told
        self._probes = tuple(probe for probe in probes if probe.place is not Place.AIR)
        self._paste = next(probe for probe in self._probes if probe.place in PASTE_PLACES)
        self._paste_at = self._probes.index(self._paste)
        sensors = tuple(Sensor(probe.place, _LAG_S.get(probe.place, 12.0)) for probe in self._probes)
        self.model = ThermalModel(told, parameters or nominal(told))
        self.filter = KalmanFilter(self.model, sensors)
        self._owed_s = 0.0
        self._jumped = 0
        self._drift = 0.0
        self._network()

    def update(self, seen_c: Mapping[int, float], duty: float, dt_s: float) -> Estimate:
        """Take the readings of one moment, `dt_s` after the last, with the duty delivered since."""
        readings: list[float | None] = [seen_c.get(probe.channel) for probe in self._probes]
        if not self.filter.started:
            self.filter.start(readings)
        elif dt_s > _GAP_S:
            self.filter.cross(min(dt_s, _LONGEST_S), duty, readings)
            self._owed_s, self._jumped, self._drift = 0.0, 0, 0.0
        else:
            self._pass(max(dt_s, 0.0), duty, readings)
        return self._estimate(seen_c[self._paste.channel])

    def flow(self) -> Flow:
        """Return how heat leaves the wall now: into paste and lid, and to the room."""
        to = self._seen[-1] / self._from_wall_w_k + self.model.parameters.ambient_c
        return Flow(
            self._from_wall_w_k, to, self._to_room_w_k, self.model.parameters.ambient_c, self._told.power_w
        )

    def _network(self) -> None:
        """Stack the rows that turn the filter's modes into all that is asked of them, as excess over the room."""
        import numpy as np

        model = self.model
        outflow = -model.conductance[WALL].copy()
        outflow[WALL] = outflow[HEATER] = 0.0
        self._from_wall_w_k, self._to_room_w_k = float(outflow.sum()), float(model.room_w_k[WALL])
        rim = model.rim_rows()
        mean = np.concatenate([np.zeros(PASTE), model.weights])
        rows = np.vstack([np.eye(model.nodes)[WALL:], rim, model.lid_row(), mean, outflow])
        self._rows = rows @ model.shape
        self._rims = slice(model.nodes - WALL, model.nodes - WALL + len(rim))
        self._seen: list[float] = []

    def _pass(self, dt_s: float, duty: float, readings: list[float | None]) -> None:
        """Let whole ticks pass; the readings belong to the last of them."""
        self._owed_s += dt_s
        ticks = round(self._owed_s / self.filter.tick_s)
        self._owed_s -= ticks * self.filter.tick_s
        if ticks == 0:
            return
        for _ in range(ticks):
            self.filter.predict(duty)
        paste_c = readings[self._paste_at]
        if paste_c is not None and self._stirred(paste_c):
            self.filter.mixed(paste_c)
        self.filter.correct(readings)

    def _stirred(self, paste_c: float) -> bool:
        wrong, spread = self.filter.innovation(self._paste_at, paste_c)
        far = abs(wrong) > max(_MIXED_K, _MIXED_SIGMA * spread)
        self._jumped = self._jumped + 1 if far else 0
        self._drift += (wrong - self._drift) * _DRIFT_SHARE
        if self._jumped < 2 and abs(self._drift) < _DRIFT_K:
            return False
        self._jumped, self._drift = 0, 0.0
        return True

    def _estimate(self, paste_c: float) -> Estimate:
        ambient = self.model.parameters.ambient_c
        self._seen = seen = (self._rows @ self.filter.modes).tolist()
        rims = seen[self._rims]
        nodes, lid = seen[1 : self._rims.start], seen[-3]
        return Estimate(
            wall_c=seen[0] + ambient,
            paste_c=paste_c,
            coldest_c=min(min(*nodes, *rims, lid) + ambient, paste_c),
            hottest_c=max(max(*nodes, *rims) + ambient, paste_c),
            mean_c=seen[-2] + ambient,
        )
