"""What a night teaches about its warmer: the stretch of record, when to identify, and what the fit leaves open.

The tick keeps a stretch of the record in steps of ten seconds. Now and then (early and often in a come-up, seldom
later) a task is due: a least squares fit that somebody runs away from the tick; its result comes back as an
`Identified` event. Taking it over costs one simulation for each parameter.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from holdctl.control.identify import (
    CLEAN_K,
    FIRST_K,
    LINEAR,
    START,
    Belief,
    Stretch,
    allowed_k,
    at_end,
    identify,
)
from holdctl.control.model import LID, MEDIUM, PASTE, Layout, Parameters, ThermalModel
from holdctl.control.ticks import Sensor
from holdctl.control.told import Told
from holdctl.events import Identified
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

STEP_S = 10.0
FIRST_S, GROWTH, SELDOM = 60.0, 1.35, 1.8
"""The first task is due after a minute, the next when the stretch is longer by the first factor, in the hold by the
second: what is learnt then serves the next night only."""
LEARNT_S, AGAIN_S = 3_600.0, 600.0
"""Where an hour has been learnt from, the first task after a stir is due only then: two minutes teach nothing that the
hour has not, and another model just then would let go of the way back at the wrong moment."""
MOST_COMPARED = 400
"""Readings of a stretch that are compared at most, evenly spread."""
LONGEST_S = 12 * 3600.0
_TOO_SHORT_S = 300.0
WIDER, _AGAIN_K = 1.3, 1.5
"""From one stretch to the next beliefs get wider by this factor; the walls' start is known so well at best, K."""
BAD_K = 0.5
"""A fit that leaves more than this is no fit: something happened that the model can't tell of."""
ABSURD_SD = 12.0
"""No fit gets this far from what was believed at first: such parameters come from a damaged record."""
FILM, FILM_AGAIN = "contact_w_m2k", 0.5
"""On another night the film to the paste is as told again, but only so much as open as on the first: beside a warmer
that has been learnt it is the loosest of all, and a fit would put down to it whatever the model has wrong, until paste
at a hot wall is believed kelvins colder than it is."""
MAIN = 4
"""Directions in which a forecast looks at what the parameters leave open."""


@dataclass(slots=True)
class Stored:
    """The stretch as it grows: one entry each ten seconds."""

    start_c: "Floats"
    duty: list[float]
    readings: list[list[float]]


@dataclass(frozen=True, slots=True)
class Offer:
    """A model to take over: its nodes at the end of the stretch beside those of the model before, °C."""

    belief: Belief
    error_k: float | None
    model: ThermalModel
    now_c: "Floats"
    old_c: "Floats"
    spread: "Floats"
    """How far the parameters leave the nodes open: [node, direction], K."""
    others: list[ThermalModel]
    main: "Floats"


class Learning:
    """Keeps the stretch of one hold and hands out the tasks."""

    def __init__(self, told: Told, layout: Layout, prior: Belief, sensors: tuple[Sensor, ...]) -> None:
        self.told, self.layout, self.prior, self.sensors = told, layout, prior, sensors
        self.first = prior
        """What was believed at the begin of the hold; `prior` is what was at the begin of this stretch."""
        self.belief = prior
        sees_wall = any(s.place is Place.WALL for s in sensors)
        self._loose = MEDIUM + 1 if sees_wall else LID
        self._error_k = FIRST_K if sees_wall else None
        """What a good model is thought to leave. A probe at the wall has much to say that is the wall's own: a fit that
        takes it at its word trades the film to the paste for it. Without one nothing is traded, and each fit finds out
        anew: what a stiff belief has left must not make the next one stiffer."""
        self.open = True
        """False after a gap of half a day, or once the stretch is that long: nothing more is learnt in this hold."""
        self.others: list[ThermalModel] = []
        """Models half a standard deviation away in the main directions that the parameters leave open."""
        self.main: Floats | None = None
        """What each makes of the nodes by now, K: [node, model]."""
        self.settled = False
        """True while the hold runs."""
        self.paused = False
        """True while the baker is at work in the paste: nothing fits then."""
        self._stored: Stored | None = None
        self._first_s = FIRST_S
        """When the first task of a stretch is due."""
        self._duty, self._seconds, self._due_s = 0.0, 0.0, FIRST_S

    def begin(self, nodes_c: "Floats") -> None:
        """Start the stretch with all nodes at these temperatures, °C."""
        self._stored = Stored(nodes_c.copy(), [], [])
        self._duty, self._seconds, self._due_s = 0.0, 0.0, self._first_s

    def begin_again(self, nodes_c: "Floats", wall_k: float = 0.0) -> None:
        """Start the next stretch from here, °C, as after a stir: with what is believed now.

        `wall_k` is how far the walls may be off, K.
        """
        import numpy as np

        if self._stored is not None and self.seconds < _TOO_SHORT_S:
            self.begin(nodes_c)  # stirred on and on: nothing has been learnt meanwhile
            return
        if self.seconds >= LEARNT_S and self.belief is not self.prior:
            self._first_s = AGAIN_S
        names = self.belief.names
        scale = np.sqrt(np.diag(self.belief.covariance)) * WIDER
        by = WIDER * np.minimum(1.0, np.sqrt(np.diag(self.first.covariance)) / scale)
        covariance = self.belief.covariance * np.outer(by, by)
        at = names.index(START)
        covariance[at, :] = covariance[:, at] = 0.0
        covariance[at, at] = max(_AGAIN_K, wall_k) ** 2
        self.prior = self.belief = Belief(self.belief.parameters, 0.0, names, np.array(covariance))
        self.begin(nodes_c)

    def tick(self, duty: float, readings: Sequence[float | None], seconds: float = 1.0) -> bool:
        """Take one tick; True where it ends a step of the stretch."""
        stored = self._stored
        if stored is None or not self.open or self.paused:
            return False
        self._duty += duty * seconds
        self._seconds += seconds
        if self._seconds < STEP_S:
            return False
        steps = round(self._seconds / STEP_S)
        stored.duty += [self._duty / self._seconds] * steps
        nothing = [float("nan")] * len(readings)
        stored.readings += [nothing] * (steps - 1)
        stored.readings.append([float("nan") if value is None else value for value in readings])
        self._duty = self._seconds = 0.0
        if len(stored.duty) * STEP_S > LONGEST_S:
            self.open = False
        return True

    @property
    def seconds(self) -> float:
        """Length of the stretch so far."""
        return STEP_S * len(self._stored.duty) if self._stored else 0.0

    def moved(self) -> dict[str, float]:
        """Return how far each parameter has moved since the hold began, in standard deviations of what it was."""
        import numpy as np

        scale = np.sqrt(np.diag(self.first.covariance))
        return dict(zip(self.first.names, (self.first.place_of(self.belief) / scale).tolist(), strict=True))

    def due(self) -> "Callable[[], Identified] | None":
        """Return the task that is due, once; it is pure and may run anywhere."""
        if not self.open or self.paused or self.seconds < self._due_s:
            return None
        self._due_s = max(self.seconds * (SELDOM if self.settled else GROWTH), self.seconds + FIRST_S)
        told, layout, prior, sensors = self.told, self.layout, self.prior, self.sensors
        start, stretch, error_k = self.belief, self.stretch(), self._error_k
        upto = round(1000 * self.seconds)

        def task() -> Identified:
            belief, rms_k = identify(told, layout, prior, sensors, stretch, start, error_k)
            return as_event(belief, rms_k, upto)

        return task

    def stretch(self) -> Stretch:
        """Return what has been stored; of a long stretch every so many readings are compared."""
        import numpy as np

        stored = self._stored
        if stored is None or not stored.duty:
            raise ValueError("nothing has been recorded yet")
        return Stretch(
            step_s=STEP_S,
            start_c=stored.start_c,
            duty=np.array(stored.duty),
            readings_c=np.array(stored.readings),
            every=max(1, -(-len(stored.duty) // MOST_COMPARED)),
            loose=self._loose,
        )

    def plausible(self, belief: Belief) -> bool:
        """Whether a belief is of this warmer at all: what is fitted not absurdly far off, all else as it was."""
        import numpy as np

        first = self.first
        if set(belief.names) != set(first.names):
            return False
        if any(
            belief.value(n) != first.value(n) for n in Parameters.__dataclass_fields__ if n not in first.names
        ):
            return False
        if any(belief.value(n) <= 0.0 for n in first.names if n not in LINEAR):
            return False
        far = np.abs(first.place_of(belief)) > ABSURD_SD * np.sqrt(np.diag(first.covariance))
        return not any(off for off, name in zip(far, first.names, strict=True) if name != START)

    def stale(self, found: Identified) -> bool:
        """Whether a fit is of an earlier stretch: it was under way when the paste was stirred."""
        return found.upto_ms > round(1000 * self.seconds)

    def fitted(self, found: Identified) -> None:
        """Let no task be due that this fit has answered: a night that is followed from its record asks for none."""
        upto_s = found.upto_ms / 1000
        self._due_s = max(self._due_s, GROWTH * upto_s, upto_s + FIRST_S)

    def weigh(self, found: Identified) -> Offer:
        """Return what taking over identified parameters would mean, by one simulation for each of them."""
        import numpy as np

        before = self.belief
        stretch = self.stretch()
        was = ThermalModel(self.told, before.parameters, self.layout)
        old = at_end(was, stretch, before.start_wall_k)
        belief = from_event(found)
        model = ThermalModel(self.told, belief.parameters, self.layout)
        now = at_end(model, stretch, belief.start_wall_k)
        root = np.linalg.cholesky(belief.covariance)
        columns = []
        for direction in root.T:
            parameters, start = belief.moved(0.5 * direction)
            there = ThermalModel(self.told, parameters, self.layout)
            columns.append((at_end(there, stretch, start) - now) / 0.5)
        spread = np.array(columns).T
        left = self._unseen(model, spread)
        root, spread = root @ left, spread @ left
        # The few directions that move the paste most carry a forecast's early and late.
        turned = np.linalg.svd(spread[PASTE:], full_matrices=False)[2][:MAIN]
        others = [ThermalModel(self.told, belief.moved(0.5 * root @ way)[0], self.layout) for way in turned]
        error_k = None if self._error_k is None else allowed_k(found.rms_k)
        return Offer(belief, error_k, model, now, old, spread, others, 0.5 * spread @ turned.T)

    def _unseen(self, model: ThermalModel, spread: "Floats") -> "Floats":
        """Return what the readings of now leave of each direction: [direction, direction].

        Where a probe sits the temperature is known whatever the parameters are: the root of I − Hᵀ(HHᵀ + R)⁻¹H, with H
        the probes' part of `spread` (the measurement update of a Kalman filter, in the parameters' own coordinates).
        """
        import numpy as np

        seen = np.array([model.row(sensor.place) for sensor in self.sensors]) @ spread
        errors = np.diag([sensor.variance + CLEAN_K**2 for sensor in self.sensors])
        inner = np.eye(spread.shape[1]) - seen.T @ np.linalg.inv(seen @ seen.T + errors) @ seen
        values, vectors = np.linalg.eigh(inner)
        left: Floats = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
        return left

    def accept(self, offer: Offer) -> None:
        """Believe what has been offered."""
        self.belief, self._error_k = offer.belief, offer.error_k
        self.others, self.main = offer.others, offer.main


def as_event(belief: Belief, rms_k: float, upto_ms: int) -> Identified:
    """Return a belief as the event that carries it."""
    values = {name: float(getattr(belief.parameters, name)) for name in Parameters.__dataclass_fields__}
    values[START] = belief.start_wall_k
    rows = tuple(tuple(float(v) for v in row) for row in belief.covariance)
    return Identified(upto_ms, values, belief.names, rows, rms_k)


def from_event(found: Identified) -> Belief:
    """Return the belief that an event carries. Raises ValueError where it is none: not there, not finite, negative."""
    import numpy as np

    values = dict(found.parameters)
    start = values.pop(START, 0.0)
    values.setdefault("radius_factor", 1.0)  # older records took the radius as it is told
    missing = set(Parameters.__dataclass_fields__) - set(values)
    if missing:
        raise ValueError(f"identified parameters lack {', '.join(sorted(missing))}")
    wanted = {name: float(values[name]) for name in Parameters.__dataclass_fields__}
    covariance = np.array(found.covariance, dtype=float)
    size = len(found.names)
    if (
        covariance.shape != (size, size)
        or not np.isfinite([*wanted.values(), start, *covariance.ravel()]).all()
    ):
        raise ValueError("identified parameters are not finite numbers with a square covariance")
    if not set(found.names) <= {*wanted, START}:
        raise ValueError("identified parameters have names that no model has")
    if any(value <= 0.0 for name, value in wanted.items() if name not in LINEAR and name != "film_w_m2k"):
        raise ValueError("identified parameters are not positive")
    covariance = (covariance + covariance.T) / 2
    if size == 0 or np.linalg.eigvalsh(covariance).min() <= 0.0:
        raise ValueError("the covariance of identified parameters is none")
    return Belief(Parameters(**wanted), start, found.names, covariance)


def second_night(stored: Belief, fresh: Belief, widen: "dict[str, float]") -> Belief:
    """Return what is believed at the start of another night on the same warmer.

    The warmer's own parameters keep what was learnt; those of the fill, the room and the start are as told anew, the
    film the surer of them. `widen` adds standard deviations to the names in it.
    """
    import numpy as np

    anew = {"paste_j_m3k", "k_w_mk", FILM, "ambient_c", START}
    kept = [n for n in fresh.names if n in stored.names and n not in anew]
    changes = {name: getattr(stored.parameters, name) for name in kept}
    covariance = fresh.covariance.copy()
    for i, name in enumerate(fresh.names):
        if name == FILM:
            covariance[i, i] *= FILM_AGAIN**2
        if name not in kept:
            continue
        for j, other in enumerate(fresh.names):
            if other in kept:
                covariance[i, j] = stored.covariance[stored.names.index(name), stored.names.index(other)]
            else:
                covariance[i, j] = covariance[j, i] = 0.0
        covariance[i, i] += widen.get(name, 0.0) ** 2
    return Belief(replace(fresh.parameters, **changes), fresh.start_wall_k, fresh.names, np.array(covariance))
