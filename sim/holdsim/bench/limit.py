"""The least time that any control could need on a plant, with perfect knowledge: a linear programme.

For a given arrival time the programme finds the duty (each step 0 to 1) that misses the goal by least; the arrival
time at which the miss is zero is the limit. The heat flows in modes: the strong ones are states, the rest follow at
once. Temperatures that the heater does not cause (start, room, what nonlinear losses differ from linear ones) come
from the whole model. Only the cells of the paste that matter are constrained; others join when the whole model
shows that they break a bound. For nonlinear losses and a moving room the programme is repeated along its own
trajectory.
"""

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
from scipy.optimize import linprog

from holdctl.settings import Place
from holdsim.bench.linear import Array, LinearModel
from holdsim.bench.suites import CEILING_C

FINE, TAIL = 140, 28
"""Steps up to the arrival, and after it (each twice as long)."""
LONGEST_S = 8 * 3600.0
CELL_K = 0.02
"""A cell that breaks a bound by more joins the programme."""


@dataclass(frozen=True)
class Prelude:
    """A time before the start with another plant (lid open): what each of its steps of duty does to the start, K.

    The start temperatures belong to the duty `usual` in every step.
    """

    steps_k: Array
    """(nodes, steps), for the whole of full duty."""
    usual: float


Extra = Callable[[Array, Array], Array | None]
Factors = Callable[[Array], Array]


@dataclass(frozen=True)
class Goal:
    """What has to be reached and kept from the arrival on, °C."""

    place: Place
    low_c: float
    high_c: float
    coldest_c: float
    ceiling_c: float
    cold_always: bool = False
    """True: the coldest paste counts from the start on (a fall), not only after the arrival."""
    ceiling: tuple[Array, Array] | None = None
    """A ceiling that moves: times since the start, s, and its temperatures, °C; between them linear."""

    def ceiling_at(self, times_s: Array) -> Array:
        """Return the ceiling at these times, °C."""
        if self.ceiling is None:
            return np.full(len(times_s), self.ceiling_c)
        return np.asarray(np.interp(times_s, *self.ceiling))


@dataclass(frozen=True)
class Limit:
    """The least time, s (None: more than `LONGEST_S` or never), and the trajectory that takes it."""

    seconds: float | None
    times_s: Array = field(default_factory=lambda: np.empty(0))
    duty: Array = field(default_factory=lambda: np.empty(0))
    temps_c: Array = field(default_factory=lambda: np.empty((0, 0)))
    programmes: int = 0


def least_time(
    model: LinearModel,
    start_c: Array,
    goal: Goal,
    *,
    factors: Factors | None = None,
    extra: Extra | None = None,
    precision: float = 0.001,
    line_duty: float = 0.0,
    prelude: Prelude | None = None,
) -> Limit:
    """Return the least time from these node temperatures to `goal`, dead time included.

    `factors` gives the mains' factor at given times, `extra` the heat that the linear model misses along a
    trajectory (W at each node), None for none. `line_duty` is on its way in the dead time.
    """
    if model.delay_s > 0.0:
        start_c = model.run(start_c, np.array([line_duty]), np.array([model.delay_s]))[0]
    search = _Search(model, start_c, goal, factors, extra, prelude)
    return search.run(precision)


class _Search:
    def __init__(
        self,
        model: LinearModel,
        start_c: Array,
        goal: Goal,
        factors: Factors | None,
        extra: Extra | None,
        prelude: Prelude | None,
    ) -> None:
        self.model, self.goal = model, goal
        self.factors = factors or (lambda times: np.ones(len(times)))
        self.extra = extra
        self.start_c, self.prelude = start_c, prelude
        self.hot: set[int] = set()
        self.cold: set[int] = set()
        self.programmes = 0
        self.known: tuple[Array, Array] | None = None
        """Times and extra heat of the last trajectory."""
        steady = model.steady(0.5 * (goal.low_c + goal.high_c), goal.place)[model.paste]
        self.hot.add(int(np.argmax(steady)))
        self.cold.add(int(np.argmin(steady)))

    def run(self, precision: float) -> Limit:
        if self._there():
            return Limit(0.0)
        guess = self._ride()
        if guess is None:
            return Limit(None)
        found = self._root(guess, precision)
        for _ in range(2):
            if found is None or not self._relinearise(found):
                break
            found = self._root(found.arrival_s, precision)
        if found is None or found.arrival_s > LONGEST_S:
            return Limit(None, programmes=self.programmes)
        delay = self.model.delay_s
        times = np.cumsum(found.dt_s) + delay
        return Limit(found.arrival_s + delay, times, found.duty, found.temps_c, self.programmes)

    def _there(self) -> bool:
        """Whether the goal holds already and the steady duty would keep it: seen with the least programme."""
        return self.solve(60.0).miss <= 0.0

    def _ride(self) -> float | None:
        """Return roughly when full power, bent at the ceiling, brings the coldest paste up, s: too early."""
        dt = np.full(round(LONGEST_S / 30.0), 30.0)
        fall, gain = self.model.steps(dt[:1])
        rows = self.model.to_nodes[self.model.paste]
        place = self.model.places[self.goal.place] @ self.model.to_nodes
        z = self.model.modes(self.start_c)
        push = rows @ gain[0]
        room = self.model.ambient_c
        for k in range(len(dt)):
            free = rows @ (fall[0] * z) + room
            top = float(self.goal.ceiling_at(np.array([30.0 * (k + 1)]))[0])
            duty = float(np.clip(np.min((top - free) / np.maximum(push, 1e-9)), 0.0, 1.0))
            if self.goal.cold_always:
                duty = 0.0
            z = fall[0] * z + gain[0] * duty
            paste = float(place @ z) + room
            cold = float(np.min(rows @ z)) + room
            if self.goal.cold_always and paste <= self.goal.high_c:
                return float((k + 1) * 30.0)
            if not self.goal.cold_always and cold >= self.goal.coldest_c and paste >= self.goal.low_c:
                return float((k + 1) * 30.0)
        return None

    def _root(self, guess_s: float, precision: float) -> "_Solution | None":
        """Return the solution at the arrival time where the miss is zero."""
        low, high = 0.97 * guess_s, 1.03 * guess_s
        good, growth = self.solve(high), 1.08
        while good.miss > 0.0:
            if high > LONGEST_S:
                return None
            low, high = high, high * growth
            growth **= 1.5
            good = self.solve(high)
        bad = self.solve(low)
        while bad.miss <= 0.0:
            good, high = bad, low
            low *= 0.9
            if low < 30.0:
                return good
            bad = self.solve(low)
        low_miss, high_miss = bad.miss, good.miss
        for _ in range(12):
            if high - low <= precision * high or high - low < 0.5:
                break
            share = low_miss / (low_miss - high_miss) if low_miss > high_miss else 0.5
            middle = low + min(0.9, max(0.1, share)) * (high - low)
            tried = self.solve(middle)
            if tried.miss <= 0.0:
                high, high_miss, good = middle, tried.miss, tried
            else:
                low, low_miss = middle, tried.miss
        return good

    def _relinearise(self, found: "_Solution") -> bool:
        """Take the extra heat along this trajectory; False when the linear model is the whole truth."""
        times = np.cumsum(found.dt_s)
        heat = self.extra(times + self.model.delay_s, found.temps_c) if self.extra else None
        if heat is None:
            return False
        self.known = (times, heat)
        return True

    def solve(self, arrival_s: float) -> "_Solution":
        """Return the duty that misses the goal by least when arriving then."""
        dt = np.concatenate([np.full(FINE, arrival_s / FINE), np.full(TAIL, 2.0 * arrival_s / FINE)])
        while True:
            solution = self._programme(arrival_s, dt)
            if not self._join(solution):
                return solution

    def _extra(self, dt: Array) -> Array | None:
        if self.known is None:
            return None
        times, heat = self.known
        at = np.searchsorted(times, np.cumsum(dt) - 0.5 * dt)
        return np.asarray(heat[np.minimum(at, len(heat) - 1)])

    def _programme(self, arrival_s: float, dt: Array) -> "_Solution":
        model, goal = self.model, self.goal
        hot, cold = sorted(self.hot), sorted(self.cold)
        cells = model.to_nodes[model.paste]
        rows = np.vstack([cells[hot], cells[cold], model.places[goal.place] @ model.to_nodes])
        extra = self._extra(dt)
        known_c = model.run(self.start_c, np.zeros(len(dt)), dt, extra)
        of_cells = known_c[:, model.paste]
        known = np.hstack([of_cells[:, hot], of_cells[:, cold], known_c @ model.places[goal.place][:, None]])
        power = self.factors(np.cumsum(dt) - 0.5 * dt + model.delay_s)
        form = _Form(model, rows, dt, power)
        start_c = self.start_c
        if self.prelude:
            form.lead(self._prelude_answers(rows, dt))
            known = known - self.prelude.usual * form.before.sum(axis=2)
        ceiling = goal.ceiling_at(np.cumsum(dt) + model.delay_s)
        duty, miss, early = form.least_miss(known, goal, ceiling, len(hot), FINE)
        if self.prelude:
            start_c = start_c + self.prelude.steps_k @ (early - self.prelude.usual)
        self.programmes += 1
        temps = model.run(start_c, duty * power, dt, extra)
        return _Solution(arrival_s, dt, duty, miss, temps)

    def _prelude_answers(self, rows: Array, dt: Array) -> Array:
        """Return what each step of the prelude does later, K: (steps, rows, steps of the prelude)."""
        if self.prelude is None:
            return np.zeros((len(dt), len(rows), 0))
        model = self.model
        fall = np.exp(-np.outer(np.cumsum(dt), model.rates))
        modes = model.to_nodes.T @ (model.capacities[:, None] * self.prelude.steps_k)
        return np.asarray(np.einsum("km,rm,mj->krj", fall, rows, modes, optimize=True))

    def _join(self, found: "_Solution") -> bool:
        """Let the cells that break a bound join; False when none does."""
        paste = found.temps_c[:, self.model.paste]
        ceiling = self.goal.ceiling_at(np.cumsum(found.dt_s) + self.model.delay_s)
        over = (paste - ceiling[:, None]).max(axis=0)
        watched = paste if self.goal.cold_always else paste[FINE - 1 :]
        under = self.goal.coldest_c - found.miss - watched.min(axis=0)
        before = len(self.hot) + len(self.cold)
        if over.max() > CELL_K:
            self.hot.add(int(np.argmax(over)))
        if under.max() > CELL_K:
            self.cold.add(int(np.argmax(under)))
        return len(self.hot) + len(self.cold) > before


@dataclass(frozen=True)
class _Solution:
    arrival_s: float
    dt_s: Array
    duty: Array
    miss: float
    temps_c: Array


class _Form:
    """The whole model's answer, at some rows, to each step of the duty: one dense matrix per row."""

    def __init__(self, model: LinearModel, rows: Array, dt: Array, power: Array) -> None:
        fine = dt[0]
        # The tail's steps are two fine ones, so one pulse answer serves all.
        ticks = np.round(np.cumsum(dt) / fine).astype(int)
        _, gain = model.steps(np.array([fine]))
        powers = np.exp(-np.outer(np.arange(ticks[-1]), model.rates * fine))
        pulse = (powers * gain[0]) @ rows.T
        summed = np.vstack([np.zeros(len(rows)), np.cumsum(pulse, axis=0)])
        begin = np.concatenate([[0], ticks[:-1]])
        # Answer at tick k to a step that lasts from `begin` to `end`: a difference of two step answers.
        ago_begin = np.maximum(ticks[:, None] - begin[None, :], 0)
        ago_end = np.maximum(ticks[:, None] - ticks[None, :], 0)
        self.before = np.zeros((len(dt), len(rows), 0))
        self.answer = (summed[ago_begin] - summed[ago_end]) * power[None, :, None]

    def lead(self, answers: Array) -> None:
        """Let the duty of a prelude count too."""
        self.before = answers

    def least_miss(
        self, known: Array, goal: Goal, ceiling_c: Array, hot: int, fine: int
    ) -> tuple[Array, float, Array]:
        """Return the duty, the least miss (K; negative where there is room to spare), the prelude's duty."""
        steps, n_rows = known.shape
        upper, lower = _bounds(goal, ceiling_c, steps, n_rows, hot, fine)
        parts, right = [], []
        for sign, bound in ((1.0, upper), (-1.0, lower)):
            k, row = np.nonzero(np.isfinite(bound))
            # Ceilings are hard; everything else may miss by the same amount.
            slack = np.where(row >= hot, -1.0, 0.0)
            parts.append(np.column_stack([sign * self.answer[k, :, row], sign * self.before[k, row], slack]))
            right.append(sign * (bound[k, row] - known[k, row]))
        early = self.before.shape[2]
        cost = np.zeros(steps + early + 1)
        cost[-1] = 1.0
        found = linprog(
            cost,
            A_ub=np.vstack(parts),
            b_ub=np.concatenate(right),
            bounds=[(0.0, 1.0)] * (steps + early) + [(-0.45, None)],
            method="highs",
        )
        if found.status != 0:
            return np.zeros(steps), 99.0, np.zeros(early)
        duty = np.clip(found.x[:-1], 0.0, 1.0)
        return duty[:steps], float(found.x[-1]), duty[steps:]


def _bounds(goal: Goal, ceiling_c: Array, steps: int, rows: int, hot: int, fine: int) -> tuple[Array, Array]:
    upper, lower = np.full((steps, rows), np.inf), np.full((steps, rows), -np.inf)
    upper[:, :hot] = ceiling_c[:, None]
    lower[0 if goal.cold_always else fine - 1 :, hot:-1] = goal.coldest_c
    upper[fine - 1 :, -1] = goal.high_c
    lower[fine - 1 :, -1] = goal.low_c
    return upper, lower


def goal_for(steady_coldest_c: float, place: Place, start: str, start_c: float, band_k: float = 0.5) -> Goal:
    """Return the goal of the come-up, or of the fall from a hot start, with the set temperature 65 °C."""
    ceiling = max(CEILING_C, start_c)
    if start == "hot":
        floor = min(63.0, steady_coldest_c) - 0.5
        return Goal(place, 65.0 - band_k, 65.0 + band_k, floor, ceiling + 0.05, cold_always=True)
    return Goal(place, 65.0 - band_k, 65.0 + band_k, steady_coldest_c - 0.5, ceiling)


__all__ = ["Goal", "Limit", "goal_for", "least_time"]
