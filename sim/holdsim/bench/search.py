"""A second way to the limit of a linear plant: switching times, found by running it with perfect knowledge.

Full power, then ride the ceiling (on only while switching off now would still keep the hottest paste under it), then
keep the heater, or the hottest paste, where the steady hold has it. Searched are the end of the ride and which. It
can only be slower than the programme of `limit`; the difference checks both.
"""

import numpy as np

from holdsim.bench.limit import Goal
from holdsim.bench.linear import Array, LinearModel
from holdsim.bench.score import SETPOINT_C, first_for_good

STEP_S = 10.0
TRIES = 12
CELLS = 25
CEILING_SLACK_K = 0.1
AHEAD_S = (0.0, 15.0, 30.0, 60.0, 180.0, 420.0, 900.0)


def search(model: LinearModel, start_c: Array, goal: Goal, limit_s: float) -> float | None:
    """Return the least time found, s; None when no switching time arrives within 1.6 limits."""
    run = _Run(model, start_c, goal, 1.6 * limit_s)
    least = min(_least(run, limit_s, keep_heater=keep) for keep in (True, False))
    return None if np.isinf(least) else least + model.delay_s


def _least(run: "_Run", limit_s: float, *, keep_heater: bool) -> float:
    low, high = 0.3 * limit_s, 1.2 * limit_s
    least = np.inf
    for _ in range(3):
        ends = np.linspace(low, high, TRIES)
        times = [run.arrival(float(end), keep_heater=keep_heater) for end in ends]
        best = int(np.argmin(times))
        least = min(least, times[best])
        width = float(ends[1] - ends[0])
        low, high = float(ends[best]) - width, float(ends[best]) + width
    return least


class _Run:
    def __init__(self, model: LinearModel, start_c: Array, goal: Goal, seconds: float) -> None:
        self.model, self.goal, self.seconds = model, goal, seconds
        self.start = model.modes(start_c)
        self.fall, self.gain = (part[0] for part in model.steps(np.array([STEP_S])))
        rows = model.to_nodes[model.paste]
        ahead = [np.exp(-model.rates * t) for t in AHEAD_S]
        self.paste = rows
        steady = model.steady(SETPOINT_C, goal.place)
        hot = rows[_hottest_cells(model, start_c, steady)]
        self.future_paste = np.vstack([hot * fall for fall in ahead])
        heater = model.to_nodes[model.heater]
        self.future_heater = np.vstack([heater * fall for fall in ahead])
        self.heater_c = float(steady[model.heater])
        self.hottest_c = float(steady[model.paste].max())
        self.place = model.places[goal.place] @ model.to_nodes

    def arrival(self, end_s: float, *, keep_heater: bool) -> float:
        """Return the arrival when the ride ends then; inf for none."""
        room, z = self.model.ambient_c, self.start
        track = []
        ride = (self.future_paste, self.goal.ceiling_c)
        keep = (self.future_heater, self.heater_c) if keep_heater else (self.future_paste, self.hottest_c)
        for n in range(int(self.seconds / STEP_S)):
            future, top = ride if n * STEP_S < end_s else keep
            after = self.fall * z + self.gain
            z = after if float((future @ after).max()) + room <= top else self.fall * z
            track.append(z)
        modes = np.array(track)
        paste = modes @ self.paste.T + room
        if paste.max() > self.goal.ceiling_c + CEILING_SLACK_K:
            return np.inf
        cold = paste.min(axis=1)
        place = modes @ self.place + room
        good = (cold >= self.goal.coldest_c) & (place >= self.goal.low_c) & (place <= self.goal.high_c)
        found = first_for_good(np.arange(1.0, len(modes) + 1.0) * STEP_S, good)
        return np.inf if found is None else found


def _hottest_cells(model: LinearModel, start_c: Array, steady_c: Array) -> list[int]:
    """Cells of which one is the hottest paste whenever heat comes in: under full power, or in the hold."""
    powered = model.run(start_c, np.ones(10), np.full(10, 300.0))
    profiles = [steady_c, powered[1], powered[-1]]
    return sorted({int(cell) for temps in profiles for cell in np.argsort(temps[model.paste])[-CELLS:]})
