"""Identification: the model's parameters from the record, by bounded least squares.

A stretch of record starts where the paste is known (a begin, a stir, an estimate) and is taken in steps of some
seconds. The model is simulated through it with the duty that was delivered; what the probes said less what the
model says, over the error that a good model leaves, is made small, together with the distance of each parameter from
what was believed before, over its spread (a maximum a posteriori estimate; Ljung, System Identification (1999), ch. 7,
from memory). Parameters are fitted as logarithms, so they stay positive; the room's temperature, the lid's share and
the wall's start as they are. The solver is scipy's bounded trust region.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from holdctl.control.model import LID, Layout, Parameters, ThermalModel
from holdctl.control.ticks import Sensor
from holdctl.control.told import Told
from holdctl.control.wander import UNSEEN, WANDER, shares, whitener
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

START = "start_wall_k"
"""Name of the offset of wall and heater from the paste at the start of the stretch, K."""
LINEAR = {"lid_share": (0.0, 1.0), "ambient_c": (-20.0, 50.0), START: (-80.0, 60.0)}
"""Not fitted as logarithms: lowest and highest value."""
FAR = 5.0
"""Bounds of the fit, in spreads of what was believed before."""
TOGETHER_S = 120.0
TOGETHER_IN_PASTE_S = {Place.CORE: 2400.0, Place.MID: 400.0, Place.EDGE: 120.0}
"""Errors of the model closer in time than this count as one: the deeper in a conducting paste, the slower they are."""
_BLOCK = 32
BEST_K, CLEAN_K, FIRST_K, WORST_K, MORE = 0.02, 0.05, 0.1, 0.4, 1.3
"""What a good model is thought to leave of its readings, K: at least, of clean ones, before a fit has told, at most;
and how much more than a fit has left."""


@dataclass(frozen=True, slots=True)
class Belief:
    """Parameters with their covariance: of logarithms, or of the value itself for the names in `LINEAR`."""

    parameters: Parameters
    start_wall_k: float
    names: tuple[str, ...]
    covariance: "Floats"

    def value(self, name: str) -> float:
        """Return the central value of one parameter."""
        return self.start_wall_k if name == START else float(getattr(self.parameters, name))

    def moved(self, x: "Floats") -> "tuple[Parameters, float]":
        """Return the parameters, and the wall's start, at the coordinates `x` (0: the centre)."""
        changes: dict[str, float] = {}
        for name, by in zip(self.names, x.tolist(), strict=True):
            now = self.value(name)
            if name in LINEAR:
                low, high = LINEAR[name]
                changes[name] = min(high, max(low, now + by))
            else:
                changes[name] = now * math.exp(by)
        start = changes.pop(START, self.start_wall_k)
        return replace(self.parameters, **changes), start

    def place_of(self, other: "Belief") -> "Floats":
        """Return the coordinates of another belief's centre."""
        import numpy as np

        pairs = [(name, self.value(name), other.value(name)) for name in self.names]
        return np.array([b - a if name in LINEAR else math.log(b / a) for name, a, b in pairs])


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of record in equal steps: duty delivered in each, readings at its end (NaN: none)."""

    step_s: float
    start_c: "Floats"
    """All nodes at the start, °C."""
    duty: "Floats"
    readings_c: "Floats"
    """Shape [step, probe]."""
    every: int = 1
    """Only every so many steps readings are compared: a long stretch says no more for being compared each time."""
    loose: int = LID
    """How many nodes, from the heater on, the offset of the start moves: the walls, or those that no probe sees."""

    @property
    def seconds(self) -> float:
        """Length of the stretch."""
        return self.step_s * len(self.duty)

    def compared(self, of_steps: "Floats") -> "Floats":
        """Return what is compared of something that each step has."""
        return of_steps[self.every - 1 :: self.every]


def identify(
    told: Told,
    layout: Layout,
    before: Belief,
    sensors: tuple[Sensor, ...],
    stretch: Stretch,
    start: Belief | None = None,
    error_k: float | None = None,
) -> tuple[Belief, float]:
    """Return what is believed after a stretch, and the root mean square of what the fit leaves, K.

    `error_k` is what a good model is thought to leave; None: that of clean readings, or a little more than such a fit
    leaves. The search begins at `start`. Raises ValueError where the stretch holds no reading.
    """
    if error_k is not None:
        return _fit(told, layout, before, sensors, stretch, error_k, start)
    found, rms_k = _fit(told, layout, before, sensors, stretch, CLEAN_K, start)
    wide_k = allowed_k(rms_k)
    if wide_k <= CLEAN_K:
        return found, rms_k
    return _fit(told, layout, before, sensors, stretch, wide_k, found)[0], rms_k


def allowed_k(rms_k: float) -> float:
    """Return what is allowed for after a fit has left so much, K."""
    return min(WORST_K, max(BEST_K, MORE * rms_k))


def _fit(
    told: Told,
    layout: Layout,
    before: Belief,
    sensors: tuple[Sensor, ...],
    stretch: Stretch,
    error_k: float,
    start: Belief | None,
) -> tuple[Belief, float]:
    """Fit with `error_k` as what a good model leaves; return what is believed then and what is left, K."""
    import numpy as np
    from scipy.linalg import solve_triangular
    from scipy.optimize import least_squares

    if not np.isfinite(stretch.readings_c).any():
        raise ValueError("identification needs a reading")
    root = np.linalg.cholesky(before.covariance)
    scale = np.sqrt(np.diag(before.covariance))
    low, high = _bounds(before, scale)
    apart_s = stretch.step_s * stretch.every
    together = [
        TOGETHER_S if told.stirred else TOGETHER_IN_PASTE_S.get(sensor.place, TOGETHER_S)
        for sensor in sensors
    ]
    weight = 1.0 / (error_k * np.sqrt(np.maximum(1.0, np.array(together) / apart_s)))
    seen = stretch.compared(stretch.readings_c)
    weights = np.where(np.isfinite(seen), weight, 0.0)
    known = np.nan_to_num(seen)
    unroot = solve_triangular(root, np.eye(len(root)), lower=True)

    first = (
        np.zeros(len(scale)) if start is None else np.clip(before.place_of(start), low * 0.99, high * 0.99)
    )

    white = _mains(ThermalModel(told, before.moved(first)[0], layout), sensors, stretch, weight)
    last: tuple[Floats, Floats] | None = None

    def residuals(x: "Floats") -> "Floats":
        nonlocal last
        if last is not None and np.array_equal(
            x, last[0]
        ):  # the search asks for its derivative where it stands
            return last[1]
        last = x.copy(), _residuals(x)
        return last[1]

    def _residuals(x: "Floats") -> "Floats":
        parameters, wall = before.moved(x)
        simulated = _followed(ThermalModel(told, parameters, layout), sensors, stretch, wall)
        wrong = (stretch.compared(simulated) - known) * weights
        return np.concatenate([white(wrong.ravel()), unroot.dot(x)])

    def jacobian(x: "Floats") -> "Floats":
        now = residuals(x)
        columns = []
        for index, by in enumerate(scale):
            step = 0.02 * by if x[index] + 0.02 * by <= high[index] else -0.02 * by
            moved = x.copy()
            moved[index] += step
            columns.append((_residuals(moved) - now) / step)
        return np.array(columns).T

    # The search's first step reaches as far as its start lies from nought: from a start that is nearly what was
    # believed before it would go nowhere and end. So it counts from one standard deviation below.
    found = least_squares(
        lambda y: residuals(y - scale),
        first + scale,
        jac=lambda y: jacobian(y - scale),
        bounds=(low + scale, high + scale),
        x_scale=scale,
        ftol=1e-4,
        xtol=1e-4,
        max_nfev=25,
    )
    information = found.jac.T @ found.jac
    best = found.x - scale
    parameters, wall = before.moved(best)
    after = Belief(parameters, wall, before.names, np.linalg.inv(information))
    wrong = residuals(best)[: -len(scale)].reshape(seen.shape) / weight
    there = np.isfinite(seen).sum()
    return after, math.sqrt(float((wrong**2).sum()) / max(1, int(there)))


def simulate(
    model: ThermalModel, sensors: tuple[Sensor, ...], stretch: Stretch, start_wall_k: float = 0.0
) -> "tuple[Floats, Floats]":
    """Return what the probes would read, °C [step, probe], and all nodes at the end, °C."""
    return _followed(model, sensors, stretch, start_wall_k), at_end(model, stretch, start_wall_k)


def at_end(model: ThermalModel, stretch: Stretch, start_wall_k: float) -> "Floats":
    """Return all nodes at the end of a stretch, °C."""
    ambient = model.parameters.ambient_c
    end: Floats = model.shape @ _Blocks(model, stretch, start_wall_k).end + ambient
    return end


def _followed(
    model: ThermalModel, sensors: tuple[Sensor, ...], stretch: Stretch, start_wall_k: float
) -> "Floats":
    """Return what the probes would read, °C [step, probe]."""
    import numpy as np

    rows = np.array([model.seen(sensor.place) for sensor in sensors])
    blocks = _Blocks(model, stretch, start_wall_k)
    return _lagged(blocks.seen(rows), sensors, stretch.step_s) + model.parameters.ambient_c


class _Blocks:
    """A model's course x[k+1] = e^fading x[k] + gain duty[k] through a stretch, in blocks of steps.

    From one block to the next the modes are carried; within one only what is asked for is worked out, from the modes'
    fading and the answers to the duty of the block, which is a triangular product.
    """

    def __init__(self, model: ThermalModel, stretch: Stretch, start_wall_k: float) -> None:
        import numpy as np

        fading = -model.rates * stretch.step_s
        self._gain = model.drive * (1.0 - np.exp(fading)) / model.rates
        temps = stretch.start_c - model.parameters.ambient_c
        temps[: stretch.loose] += start_wall_k
        duty = _delayed(stretch.duty, model.parameters.delay_s / stretch.step_s)
        self._steps = len(duty)
        blocks = -(-self._steps // _BLOCK)
        padded = np.zeros(blocks * _BLOCK)
        padded[: self._steps] = duty
        self._given = padded.reshape(blocks, _BLOCK)
        self._powers = np.exp(np.outer(fading, np.arange(_BLOCK + 1)))
        added = self._gain * (self._given @ self._powers[:, _BLOCK - 1 :: -1].T)
        self._carried = np.empty((blocks, len(fading)))
        whole, now = self._powers[:, _BLOCK], model.begin(temps)
        for block in range(blocks):
            self._carried[block] = now
            now = whole * now + added[block]

    def seen(self, rows: "Floats") -> "Floats":
        """Return rows · x after each step: [step, row]."""
        import numpy as np

        powers = self._powers
        pulses = np.zeros((len(rows), _BLOCK + 1))  # the last stands for what has not come yet
        pulses[:, :_BLOCK] = (rows * self._gain) @ powers[:, :_BLOCK]
        seen, ago = np.empty((self._steps, len(rows))), _ago()
        for index, (row, pulse) in enumerate(zip(rows, pulses, strict=True)):
            course = (self._carried * row) @ powers[:, 1:] + self._given @ pulse[ago].T
            seen[:, index] = course.ravel()[: self._steps]
        return seen

    @property
    def end(self) -> "Floats":
        """The modes at the end."""
        last = self._steps - (len(self._carried) - 1) * _BLOCK
        answer = self._powers[:, last - 1 :: -1] @ self._given[-1, :last]
        end: Floats = self._powers[:, last] * self._carried[-1] + self._gain * answer
        return end


@lru_cache(maxsize=1)
def _ago() -> "Floats":
    """Return for how many steps each of a block's duties has been at work at each of its steps: [step, duty]."""
    import numpy as np

    lag = np.arange(_BLOCK)[:, None] - np.arange(_BLOCK)
    ago = np.where(lag >= 0, lag, _BLOCK)
    ago.setflags(write=False)
    return ago


def _delayed(duty: "Floats", steps: float) -> "Floats":
    """Shift by a number of steps, whole or not."""
    import numpy as np

    whole, part = int(steps), steps - int(steps)
    padded = np.concatenate([np.zeros(whole + 1), duty])
    shifted: Floats = (1 - part) * padded[1 : len(duty) + 1] + part * padded[: len(duty)]
    return shifted


def _lagged(seen: "Floats", sensors: tuple[Sensor, ...], dt: float) -> "Floats":
    """First-order lag of each probe, exact for a temperature that is linear within a step."""
    import numpy as np
    from scipy.linalg.lapack import dtbtrs

    late = np.empty_like(seen)
    for index, sensor in enumerate(sensors):
        lag = max(sensor.lag_s, 0.1)
        keep = math.exp(-dt / lag)
        slope = lag / dt * (1.0 - keep)
        # T moves linearly from a to b within a step: y' = keep y + (slope - keep) a + (1 - slope) b.
        rise = seen[:, index] - seen[0, index]
        pushed = (1.0 - slope) * rise
        pushed[1:] += (slope - keep) * rise[:-1]
        # A recursion is a system of two diagonals; scipy.signal's filter would take a second to import.
        recursion = np.empty((2, len(rise)))
        recursion[0], recursion[1] = 1.0, -keep
        late[:, index] = seen[0, index] + dtbtrs(recursion, pushed[:, None], uplo="L")[0][:, 0]
    return late


def _mains(
    model: ThermalModel, sensors: tuple[Sensor, ...], stretch: Stretch, weight: "Floats"
) -> "Callable[[Floats], Floats]":
    """Return what takes wandering mains out of the weighted residuals of probes at wall and edge.

    Deeper in the paste the errors of the model are slower than the mains' (`TOGETHER_IN_PASTE_S`).
    """
    import numpy as np

    places = {sensor.place for sensor in sensors}
    if model.grid is None or places.isdisjoint({Place.EDGE, Place.WALL}):
        return lambda residuals: residuals
    ambient = model.parameters.ambient_c
    rest = np.full(model.nodes, ambient)
    seen = stretch.compared(stretch.readings_c)
    answers = []
    for duty in shares(stretch.duty, stretch.step_s):
        share = Stretch(stretch.step_s, rest, duty, stretch.readings_c)
        alone = _followed(model, sensors, share, 0.0) - ambient
        answers.append((np.where(np.isfinite(seen), stretch.compared(alone), 0.0) * weight).ravel())
    return whitener(np.array(answers).T, WANDER if Place.WALL in places else UNSEEN)


def _bounds(before: Belief, scale: "Floats") -> "tuple[Floats, Floats]":
    import numpy as np

    low, high = -FAR * scale, FAR * scale
    for index, name in enumerate(before.names):
        if name in LINEAR:
            now = before.value(name)
            low[index] = max(low[index], LINEAR[name][0] - now - 1e-9)
            high[index] = min(high[index], LINEAR[name][1] - now + 1e-9)
    return low, np.maximum(high, low + 1e-6)
