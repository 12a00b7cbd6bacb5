"""Heat that comes or goes without orders, from what readings differ from the model's own course.

A filter follows a fault as it follows a disturbance, and its innovations soon look innocent. So a second filter runs
beside, on a grid of 15 s: of the same model and from the same state, with a still paste. What each moment of the last
two hours, as the one at which heat began to differ, makes of its innovations is kept (`holdctl.control.onsets`), and
what the model's parameters leave open is fitted beside (`holdctl.control.doubt`). The result for each such moment is
a heat in units of full power, with its deviation.
"""

from collections import deque
from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.doubt import Doubt, doubt_of
from holdctl.control.identify import Belief
from holdctl.control.kalman import KalmanFilter
from holdctl.control.model import PASTE
from holdctl.control.onsets import FORGET, Onsets
from holdctl.control.scatter import Misfit, Noise

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

GRID_S = 15
SHORTEST = 4
"""Steps of the grid: the youngest onset that is looked at."""
STILL = 0.03
"""Walk of walls and paste, as a share of the control filter's: there it stands for what the model gets wrong, which is
fitted here; in a paste that nobody touches heat alone walks."""
LOAD_WALK, HOLD_K = 0.0005, 45.0
"""Walk of the disturbance, in shares of the duty that holds 45 K over the room, per √s: what mains and room
do, by 2 % in twenty minutes."""
UNSURE_S, LID = 600.0, 0.3
CALM = 3.0
"""Up to so many deviations nobody has to look at each onset."""
HEATS, HEATS_DUTY = 8.0, 0.5
"""So many deviations from no heat at all, where so much was ordered: the heater has been seen to heat."""


@dataclass(frozen=True, slots=True)
class Heat:
    """What one onset shows; heats in units of full power, positive where more comes than was ordered."""

    window_s: int
    """How long ago it was."""
    heat: float
    sd: float
    duty: float
    """Delivered since on average, weighted by what the probes see of it."""
    share: float | None
    """Of the delivered heat, that is missing: the same fit for a deficit in proportion to it; None without heat."""
    before: float
    """What the filter believed of it at the onset."""
    off_k: float
    """How far a probe has left the model's own course within the shortest time, K."""
    favour: float
    """How much better a deficit in proportion to the duty explains the readings than a constant one, in χ²."""
    known_s: int
    """How long the course had been followed before the onset: what the model gets wrong shows there."""


class Residual:
    """Runs beside one filter; one tick is one second of the filter."""

    def __init__(self, source: KalmanFilter) -> None:
        self._source, self._model = source, source.model
        self._grid = max(1, round(GRID_S / source.tick_s))
        self._belief: Belief | None = None
        self._doubt: Doubt | None = None
        self._course: _Course | None = None
        self._first: _Course | None = None
        self._begun = False
        self.at_first: list[Heat] = []
        """What a look shows by what was believed at the begin, which no fit has changed: the surest onset and the
        oldest. Ends with a stir, once the heater has been seen to heat, or after two hours if it seems to."""
        self.awake = True
        """Whether every onset is asked for, sure or not: where something stands, or the model is young."""
        self._noise = [Noise(sensor) for sensor in source.sensors]
        self._misfit = Misfit(len(source.sensors))
        self._misfit_first = Misfit(len(source.sensors))
        self._told: list[Heat] = []
        self._taken: list[Heat] = []
        """What was taken for true last, until an onset since then is old enough."""
        self._begin()

    def forget(self) -> None:
        """After a stir, a gap, or a new model nothing of the past fits."""
        if self._source.model is not self._model:
            self._model, self._doubt = self._source.model, None
        else:
            self._first, self.at_first = None, []
        self._course, self._taken = None, []
        self._begin()

    def unsure(self, belief: Belief) -> None:
        """Say what is believed of the model's parameters."""
        if belief is not self._belief:
            self._belief, self._doubt, self._course = belief, None, None

    def _begin(self) -> None:
        self._count, self._duty = 0, 0.0
        for noise in self._noise:
            noise.begin()

    def tick(self, readings_c: "list[float | None]") -> bool:
        """Take one tick of the filter, after its readings; True where a step of the grid is complete."""
        if self._source.model is not self._model:
            self.forget()
        self._count += 1
        self._duty += self._source.late
        for noise, value in zip(self._noise, readings_c, strict=True):
            if value is not None:
                noise.take(value)
        return self._count >= self._grid

    def look(self) -> list[Heat]:
        """Close a step of the grid and return what each onset shows that is old enough, the youngest first.

        While not `awake`, and none is beyond `CALM` deviations, the youngest and the surest alone.
        """
        duty = self._duty / self._count
        now = self._mean()
        noise = [one.variance for one in self._noise]
        self._begin()
        if self._first is not None:
            self._first.step(duty, now, noise, self._misfit_first)
            self.at_first = [] if now is None else self._first.since_begin(self._grid)
            if _heats(self.at_first, late=self._first.passed >= FORGET):
                self._first, self.at_first = None, []
        if self._course is None:
            self._course = _Course(self._source, self._grid, self._doubted())
            self._misfit.begin()
            if not self._begun:
                self._first, self._begun = _Course(self._source, self._grid, self._doubted()), True
            return []
        self._course.step(duty, now, noise, self._misfit)
        calm = 0.0 if self.awake else CALM
        heats = [] if now is None else self._course.heats(self._grid, calm)
        if heats or now is None:
            self._taken = []
        self._told = heats or self._taken
        return self._told

    def take(self) -> None:
        """Go on from what the onsets say: a heat that is beyond doubt is no error of the course any more."""
        if self._course is not None:
            self._taken = self._told
            self._course.take()

    def _doubted(self) -> Doubt | None:
        if self._doubt is None and self._belief is not None:
            self._doubt = doubt_of(self._source, self._belief, self._grid)
        return self._doubt

    def _mean(self) -> "Floats | None":
        """Return the mean of each probe over the step, °C; None where one has said nothing."""
        import numpy as np

        means = [noise.close() for noise in self._noise]
        if any(mean is None for mean in means):
            return None
        return np.array(means, dtype=float)


class _Course:
    """The filter on the grid, from the state of the other one at its begin."""

    def __init__(self, source: KalmanFilter, grid: int, doubt: Doubt | None) -> None:
        import numpy as np

        self._f, self._g, _ = source.over(grid)
        self._q = _walk(source, grid)
        self._ambient_c = source.model.parameters.ambient_c
        self._probes = slice(source.model.modes, source.model.modes + len(source.sensors))
        self._doubt = doubt
        self.x, self.p = source.x.copy(), source.p + _unsure(source)
        ways = 0 if doubt is None else doubt.directions
        known = source.open.shape[1] == ways
        self._onsets = Onsets(len(self.x), source.open if known else np.zeros((len(self.x), ways)))
        self._past: deque[tuple[Floats, float, Floats]] = deque(maxlen=SHORTEST)
        """States with the duty that followed, and by how much the readings were off then."""
        self._wrong: Floats = np.zeros(len(source.sensors))
        self._runs = _runs(self._f, self._g, self._probes)
        self._off_k = 0.0
        self._duty = source.late

    @property
    def passed(self) -> int:
        """How many steps it has been followed for."""
        return self._onsets.passed

    def step(self, duty: float, seen_c: "Floats | None", noise: list[float], misfit: Misfit) -> None:
        """Pass one step with the duty in it and the mean of each probe, °C (None: pass it blind)."""
        import numpy as np

        now = None if seen_c is None else seen_c - self._ambient_c

        f, g, probes, before = self._f, self._g, self._probes, self.x
        self._onsets.begin(float(before[-1]))
        self._past.append((before, duty, self._wrong))
        self.x = f.dot(before) + g * duty
        self.p = f.dot(self.p).dot(f.T) + self._q
        driven = None if self._doubt is None else self._doubt.driven(before, duty, self._duty)
        self._duty = duty
        marks = self._onsets.advance(f, g, duty, driven)
        if now is not None:
            # Readings are means over a step of the grid: so is the prediction they are set against.
            self._wrong = wrong = now - (before[probes] + self.x[probes]) / 2.0
            spread, own = self.p[probes, probes], np.array(noise)
            own += misfit.beyond(spread.diagonal() + own, wrong)
            sure = _inverse(spread + np.diag(own))
            gain = self.p[:, probes].dot(sure)
            self.x = self.x + gain.dot(wrong)
            self.p = self.p - gain.dot(self.p[probes])
            self._onsets.correct(marks, probes, gain, sure, wrong)
            self._off_k = self._off(now)
        self._onsets.thin()

    def take(self) -> None:
        """Take the heat that the onsets show for true."""
        mean, spread = self._onsets.taken()
        self.x, self.p = self.x + mean, self.p + spread

    def _off(self, now: "Floats") -> float:
        """Return how far a probe has left the course that the model takes without readings, K."""
        state, _, wrong = self._past[0]
        free, answers = self._runs[len(self._past) - 1]
        means = free.dot(state) + answers.dot([duty for _, duty, _ in self._past])
        return float(max(map(abs, (now - means - wrong).tolist())))

    def heats(self, grid: int, calm: float = 0.0) -> list[Heat]:
        """Return what each onset shows that is old enough, the youngest first.

        Where none is beyond `calm` deviations: the youngest and the surest only.
        """
        return self._told(grid, lambda old, surest, chi: range(old) if chi >= calm**2 else {old - 1, surest})

    def since_begin(self, grid: int) -> list[Heat]:
        """Return what the surest onset shows and the oldest, the younger first."""
        return self._told(grid, lambda _old, surest, _chi: {0, surest})

    def _told(self, grid: int, which: "Callable[[int, int, float], Collection[int]]") -> list[Heat]:
        """Return what some onsets show; `which` is asked by how many are old enough, the surest and its χ²."""
        import numpy as np

        ages = self._onsets.ages
        old = sum(age >= SHORTEST for age in ages)
        if not old:
            return []
        along, weight = self._onsets.told()
        constant = np.maximum(weight[0, :old], 1e-12)
        chi = along[0, :old] ** 2 / constant
        surest = int(chi.argmax())
        loads, passed = self._onsets.loads, self._onsets.passed
        return [
            self._heat(
                grid * ages[i], grid * (passed - ages[i]), loads[i], constant.item(i),
                along.item(0, i), along.item(1, i), weight.item(1, i), weight.item(2, i),
            )
            for i in sorted(which(old, surest, chi.item(surest)), reverse=True)
        ]  # fmt: skip

    def _heat(
        self, window_s: int, known_s: int, load: float, constant: float,
        along: float, along_ordered: float, both: float, ordered: float,
    ) -> Heat:  # fmt: skip
        heat = along / constant
        some = ordered > 1e-9
        return Heat(
            window_s=window_s,
            heat=heat,
            sd=constant**-0.5,
            duty=both / constant,
            share=-along_ordered / ordered if some else None,
            before=load,
            off_k=self._off_k,
            known_s=known_s,
            favour=(along_ordered**2 / ordered if some else 0.0) - heat**2 * constant,
        )


def _runs(f: "Floats", g: "Floats", probes: slice) -> "list[tuple[Floats, Floats]]":
    """Return what the model alone makes of the mean over the last of 1, 2, … `SHORTEST` steps, at the probes.

    For each number of steps: from the state at their begin, [probe, state], and from the duty in each, [probe, step].
    """
    import numpy as np

    runs, state, answers = [], np.eye(len(f)), np.zeros((0, len(f)))
    for _ in range(SHORTEST):
        before = state, np.vstack([answers, 0.0 * g])
        state, answers = f @ state, np.vstack([answers @ f.T, g])
        runs.append(((before[0] + state)[probes] / 2.0, (before[1] + answers)[:, probes].T / 2.0))
    return runs


def _inverse(matrix: "Floats") -> "Floats":
    """Return the inverse; of the two rows that two probes make by hand, which is several times quicker."""
    import numpy as np

    if len(matrix) != 2:
        inverse: Floats = np.linalg.inv(matrix)
        return inverse
    (a, b), (c, d) = matrix.tolist()
    det = a * d - b * c
    return np.array([[d / det, -b / det], [-c / det, a / det]])


def _heats(found: list[Heat], *, late: bool) -> bool:
    """Whether one shows beyond doubt that more than half of what was ordered comes; late, whether the surest does."""
    for one in found:
        comes = one.before + one.heat + one.duty
        if one.duty >= HEATS_DUTY and comes > max(one.duty / 2.0, HEATS * one.sd):
            return True
    best = max(found, key=lambda one: abs(one.heat) / one.sd, default=None)
    return late and best is not None and best.before + best.heat > -best.duty / 2.0


def _hold(source: KalmanFilter) -> float:
    """Return the duty that holds the paste 45 K over the room."""
    model = source.model
    return min(1.0, HOLD_K / float(model.weights @ model.steady_rise[PASTE:]))


def _unsure(source: KalmanFilter) -> "Floats":
    """Return what the control filter may have wrong where a course begins: something has happened there.

    Walls and paste as much as it has let them walk in ten minutes, heat by as much as a lid: a third of the hold's.
    """
    _, _, unsure = source.over(1)
    unsure = unsure * (UNSURE_S / source.tick_s)
    unsure[-1, -1] = (LID * _hold(source)) ** 2
    return unsure


def _walk(source: KalmanFilter, grid: int) -> "Floats":
    """Return what walks within a step of the grid: heat as mains and room do, walls and paste a little."""
    import numpy as np

    f, _, q = source.over(1)
    tick = q * STILL**2
    tick[-1, -1] = (LOAD_WALK * _hold(source)) ** 2 * source.tick_s
    walk = np.zeros_like(q)
    for _ in range(grid):
        walk = f @ walk @ f.T + tick
    return walk
