"""The least time for a control that must learn its warmer from one probe: the limit under what nobody can know.

`limit` knows the plant. Whoever is only told what a baker can tell knows the hottest paste no better than the readings
so far allow. For a model that is right in everything but its parameters, the Bayesian Cramér–Rao bound (Van Trees,
Detection, Estimation and Modulation Theory I (1968), ch. 2.4, from memory) gives the least variance that any estimate
of them can have: the inverse of what was believed before plus what each reading adds. Carried to the cells at bottom
and side it says how far under the ceiling a control has to stay to be inside it on 95 of 100 such plants; the linear
programme then gives the least time with that room. The bound follows the trajectory and the trajectory the bound, so
both are repeated. Errors of the model itself, which real pastes add, are left out: it is a lower bound.
"""

from dataclasses import dataclass, replace

import numpy as np

from holdctl.control.identify import Belief, Stretch, simulate
from holdctl.control.model import Layout, ThermalModel
from holdctl.control.prior import prior
from holdctl.control.ticks import Sensor
from holdctl.control.told import Told, told
from holdctl.settings import Place
from holdsim.bench.disturb import limit_from
from holdsim.bench.limit import Limit, goal_for
from holdsim.bench.linear import Array
from holdsim.bench.suites import ROOM_C, SETPOINT_C, Case

STEP_S = 10.0
LOOK_S = 120.0
"""How often the room under the ceiling is reckoned."""
NOISE_K = float(np.hypot(0.03, 0.0625 / np.sqrt(12.0)))
"""Of one reading: noise and steps; ten of them make one step."""
SURE = 1.645
"""Standard deviations on one side that 95 of 100 keep."""
ROUNDS = 4
LAG_S = {Place.WALL: 5.0}


@dataclass(frozen=True)
class Informed:
    """The limit with perfect knowledge, the one under the bound, and the bound itself."""

    perfect: Limit
    limit: Limit
    times_s: Array
    room_k: Array
    """How far over the estimate the hottest paste may be, one side, 95 %."""


def informed_limit(case: Case, places: tuple[Place, ...], slack_k: float = 1.5) -> Informed:
    """Return the least come-up from cold with these probes, the first of them the setpoint's."""
    plant = case.build(ROOM_C)
    coldest = plant.steady(SETPOINT_C, places[0]).coldest_c
    goal = goal_for(coldest, places[0], "cold", ROOM_C)
    perfect = found = limit_from(plant, goal)
    bound = Bound(told(case.settings(places)), places)
    times, room = np.zeros(1), np.zeros(1)
    for _ in range(ROUNDS):
        if found.seconds is None:
            break
        times, room = bound.along(found)
        found = limit_from(plant, replace(goal, ceiling=_under(goal.ceiling_c + slack_k, times, room)))
    return Informed(perfect, found, times, room)


def _under(ceiling_c: float, times_s: Array, room_k: Array) -> tuple[Array, Array]:
    return times_s, ceiling_c - room_k


class Bound:
    """What readings leave open of the cells at bottom and side."""

    def __init__(self, about: Told, places: tuple[Place, ...]) -> None:
        self._told = about
        self._sensors = tuple(Sensor(place, LAG_S.get(place, 12.0)) for place in places)
        self._belief, self._layout = prior(about, ROOM_C)

    def along(self, found: Limit) -> tuple[Array, Array]:
        """Return times, s, and the room that the ceiling needs there, K, along a trajectory."""
        steps = max(2, round(found.times_s[-1] / STEP_S))
        grid = STEP_S * np.arange(steps)
        duty = found.duty[np.minimum(np.searchsorted(found.times_s, grid, side="right"), len(found.duty) - 1)]
        every = round(LOOK_S / STEP_S)
        centre = _Answer(self._told, self._layout, self._sensors, self._belief, duty)
        scale = np.sqrt(np.diag(self._belief.covariance))
        moved = [
            _Answer(self._told, self._layout, self._sensors, self._belief, duty, 0.1 * unit * by)
            for unit, by in zip(np.eye(len(scale)), scale, strict=True)
        ]
        seen = np.stack([(m.seen - centre.seen) / 0.1 for m in moved], axis=-1)  # [step, probe, parameter]
        rims = np.stack([(m.rims - centre.rims) / 0.1 for m in moved], axis=-1)
        known = np.eye(len(scale))  # in units of what was believed before
        weight = STEP_S / NOISE_K**2
        times, room = [], []
        for first in range(0, steps, every):
            now = min(first + every, steps) - 1
            part = seen[first : now + 1].reshape(-1, len(scale))
            known += weight * part.T @ part
            open_k = np.linalg.solve(known, rims[now].T)
            sd = np.sqrt(np.maximum((rims[now].T * open_k).sum(axis=0), 0.0))
            top = centre.rims[now]
            times.append(grid[now] + STEP_S)
            room.append(float((top + SURE * sd).max() - top.max()))
        return np.array(times), np.array(room)


class _Answer:
    """Readings and rim temperatures of one model along a course of duty."""

    def __init__(
        self,
        about: Told,
        layout: Layout,
        sensors: tuple[Sensor, ...],
        belief: Belief,
        duty: Array,
        by: Array | None = None,
    ) -> None:
        from scipy.signal import lfilter  # a second to load

        parameters, start_k = belief.moved(np.zeros(len(belief.names)) if by is None else by)
        model = ThermalModel(about, parameters, layout)
        start = np.full(model.nodes, ROOM_C)
        nothing = np.zeros((len(duty), len(sensors)))
        loose = 3 if any(s.place is Place.WALL for s in sensors) else 5
        stretch = Stretch(STEP_S, start, duty, nothing, loose=loose)
        self.seen = simulate(model, sensors, stretch, start_k)[0]
        decay = np.exp(-model.rates * STEP_S)
        gain = model.drive * (1.0 - decay) / model.rates
        grid = np.arange(len(duty), dtype=float)
        pushed = np.interp(grid - parameters.delay_s / STEP_S, grid, duty, left=0.0)
        excess = start - parameters.ambient_c
        excess[:loose] += start_k
        modes = model.begin(excess)
        path = np.array(
            [
                lfilter([g], [1.0, -d], pushed, zi=[d * m])[0]
                for g, d, m in zip(gain, decay, modes, strict=True)
            ]
        ).T
        self.rims = path @ (model.rim_rows() @ model.shape).T + parameters.ambient_c
