"""What a running cooling's own curve says of the rest: the physical model's course, at the rate that is observed.

Newton's law alone would be wrong at the begin, when the core has not noticed yet that the heat is gone. So the course
of `cool_down` is laid through the last readings with three numbers free: how much quicker it goes than foretold, where
on it the paste is now, and what it cools towards. Each has a prior, from what is known before; what is left unsure of
them after the readings makes the early and the late time.
"""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from holdctl.paste.cooling import CoolingCurve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

EVERY_S, WINDOW_S = 60.0, 3_600.0
"""So close are readings kept, and so far back: what was changed before no longer counts."""
NOISE_K, NOISE_SHARE = 0.1, 0.015
"""Of a kept reading, and of how much warmer than all around it the paste is: more than a probe's noise, because what
the model gets wrong does not average out."""
RATE_SD = (0.5, 1.0)
"""Of the logarithm of the rate before any reading: where the vessel is known, and where it is not."""
COURSE_SD = (0.07, 0.3)
"""The rest of another form's course is so much quicker or slower than the part of it that was seen (logarithm)."""
TOWARDS_SD_K = 2.0
PLACE_SD_S, PLACE_SHARE = 300.0, 0.4
"""Where on its course the paste is: known by its time, to so much and this share of it."""
_ROUNDS = 12
_NODES = (-2.857, -1.356, 0.0, 1.356, 2.857)
_WEIGHTS = (0.01126, 0.22208, 0.53333, 0.22208, 0.01126)
"""Gauss and Hermite's five points of a normal variable."""
_SHARES = (0.1, 0.5, 0.9)


@dataclass(frozen=True, slots=True)
class Ahead:
    """When a temperature will be reached, s on the readings' clock: 10, 50 and 90 %; None: never, as it goes now."""

    early_s: float | None
    expected_s: float | None
    late_s: float | None


@dataclass(slots=True)
class Pace:
    """Follows one cooling in one place; begin another one where the paste is moved, spread or stirred."""

    curve: CoolingCurve
    towards_c: float
    """What it is taken to cool towards, °C."""
    began_s: float
    known: bool = True
    """Whether the course is that of this vessel; else it is a usual one's."""
    _kept: list[tuple[float, float]] = field(default_factory=list)

    def add(self, t_s: float, hottest_c: float) -> None:
        """Take the hottest paste, °C."""
        if not self._kept or t_s - self._kept[-1][0] >= EVERY_S:
            self._kept.append((t_s, hottest_c))
            while t_s - self._kept[0][0] > WINDOW_S:
                self._kept.pop(0)

    def ahead(self, *levels_c: float) -> tuple[Ahead, ...]:
        """Return when the hottest paste will be at each of these, °C; nothing before the first reading."""
        import numpy as np

        if not self._kept:
            return ()
        t, seen = np.array(self._kept).T
        fit = _Fit(self.curve, t - t[-1], seen, self.towards_c, float(t[-1]) - self.began_s, self.known)
        return tuple(_ahead(fit.arrivals(level), float(t[-1])) for level in levels_c)


class _Fit:
    """Three numbers: logarithm of the rate, place on the course, s, and what it cools towards, °C."""

    def __init__(
        self,
        curve: CoolingCurve,
        x_s: "Floats",
        seen_c: "Floats",
        towards_c: float,
        place_s: float,
        known: bool,
    ) -> None:
        import numpy as np

        self._t = np.array(curve.t_s)
        course = np.array(curve.hottest_c)
        self._start_c = float(course[0])
        self._theta = (course - course[-1]) / max(self._start_c - course[-1], 1e-9)
        self._x, self._seen = x_s, seen_c
        self._place_s, self._towards_c = place_s, towards_c
        self._course_sd = COURSE_SD[not known]
        self._sd = np.array([RATE_SD[not known], PLACE_SD_S + PLACE_SHARE * place_s, TOWARDS_SD_K])
        self._noise = NOISE_K + NOISE_SHARE * np.maximum(seen_c - towards_c, 0.0)
        self._best, self._root = self._solved()

    def arrivals(self, level_c: float) -> list[tuple[float, float]]:
        """Return (s from the last reading, weight), soonest first; infinite where it never comes."""
        import numpy as np

        nodes = np.array(np.meshgrid(_NODES, _NODES, _NODES, indexing="ij")).reshape(3, -1)
        weights = np.array(np.meshgrid(_WEIGHTS, _WEIGHTS, _WEIGHTS, indexing="ij")).reshape(3, -1).prod(0)
        rate, place, towards = self._best[:, None] + self._root @ nodes
        share = (level_c - towards) / np.maximum(self._start_c - towards, 1e-9)
        there = np.interp(-share, -self._theta, self._t)
        wait = np.where(share > max(float(self._theta[-1]), 1e-6), (there - place) / np.exp(rate), np.inf)
        order = np.argsort(wait, kind="stable")
        return list(zip(np.maximum(wait[order], 0.0).tolist(), weights[order].tolist(), strict=True))

    def _course(self, p: "Floats") -> "Floats":
        import numpy as np

        theta = np.interp(p[1] + np.exp(p[0]) * self._x, self._t, self._theta)
        course: Floats = p[2] + theta * (self._start_c - p[2])
        return course

    def _missing(self, p: "Floats") -> "Floats":
        """Return what readings and priors are off by, each in its own standard deviations."""
        import numpy as np

        rate = min(float(np.exp(p[0])), 100.0)
        priors = (p - np.array([0.0, rate * self._place_s, self._towards_c])) / (self._sd * (1.0, rate, 1.0))
        return np.concatenate([(self._course(p) - self._seen) / self._noise, priors])

    def _solved(self) -> tuple["Floats", "Floats"]:
        """Return the best numbers and a root of their covariance."""
        import numpy as np

        best = self._guess()
        off = self._missing(best)
        damping = 1e-3
        for _ in range(_ROUNDS):
            slope = self._slope(best, off)
            normal = slope.T @ slope
            move = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), slope.T @ off)
            tried = best - move
            new = self._missing(tried)
            if new @ new < off @ off:
                best, off, damping = tried, new, damping / 5
            else:
                damping *= 10
        slope = self._slope(best, off)
        covariance = np.linalg.inv(slope.T @ slope) + np.diag([self._course_sd**2, 0.0, 0.0])
        return best, np.linalg.cholesky(covariance)

    def _guess(self) -> "Floats":
        """Return where to begin: rate and place that the first and the last reading have on the course."""
        import numpy as np

        share = (self._seen - self._towards_c) / max(self._start_c - self._towards_c, 1e-9)
        inside = np.clip(share[[0, -1]], self._theta[-2], self._theta[1])
        then, now = np.interp(-inside, -self._theta, self._t)
        passed_s = -float(self._x[0])
        if passed_s < 5 * EVERY_S or now - then < 1e-3 * passed_s:
            return np.array([0.0, self._place_s, self._towards_c])
        return np.array([np.log((now - then) / passed_s), now, self._towards_c])

    def _slope(self, at: "Floats", off: "Floats") -> "Floats":
        import numpy as np

        steps = (1e-4, 1.0, 1e-3)
        columns = [(self._missing(at + step * np.eye(3)[k]) - off) / step for k, step in enumerate(steps)]
        return np.column_stack(columns)


def _ahead(arrivals: list[tuple[float, float]], now_s: float) -> Ahead:
    total = sum(weight for _, weight in arrivals)
    found: list[float | None] = []
    for share in _SHARES:
        reached = 0.0
        for wait, weight in arrivals:
            reached += weight
            if reached >= share * total:
                found.append(None if wait == float("inf") else now_s + wait)
                break
    return Ahead(*found)
