"""When a stir helps and how much: each computed by running the night with it and without."""

import math
from dataclasses import dataclass, replace

from holdctl.plan.bounds import MODEL_SD
from holdctl.plan.course import LONGEST_S, Baker, Course
from holdctl.plan.night import Night
from holdctl.plan.runner import Runner

WORTH_S, WORTH_K = 600.0, 2.0
"""A stir is worth a person's way to the vessel from this on: sooner in range, or less hot at its hottest."""
MOST = 3
MOST_WEIGHED = 12
"""Of more stirs than this each one's worth is not run for."""
_AFTER_MIN = (10, 20, 30, 45, 60, 80, 100, 120, 150, 180, 240)
_NEAR_MIN = tuple(range(-10, 45, 5))
"""About the best of these times it is looked for closer."""
_ENDS_S, _DEAR_S = 120.0, 600.0
"""A stir after which every part is in range so soon ends the way. One that surely does is worth waiting so long for."""


@dataclass(frozen=True, slots=True)
class Stir:
    """One stir, after those before it."""

    at_s: float
    gain_s: float
    """So much sooner every part is in range; inf where it would not be within a day without it."""
    spread_k: float
    """By how much the paste differs from part to part just before it."""
    cooler_k: float
    """So much less hot the hottest paste gets."""

    @property
    def worth(self) -> bool:
        """Whether it is worth the way."""
        return self.gain_s >= WORTH_S or self.cooler_k >= WORTH_K


def stirs(night: Night, most: int = MOST) -> tuple[Stir, ...]:
    """Return the stirs that are worth it, each where it helps most after those before it; none for a stirred paste."""
    warmer = night.warmer()
    if warmer.told.stirred:
        return ()
    runner = night.runner(warmer.model())
    before, found = runner.run(night.baker), list[Stir]()
    for _ in range(most):
        done_s = night.baker.stirs_s + tuple(stir.at_s for stir in found)
        upto = LONGEST_S if before.band_s is None else before.band_s
        first = max((before.down_s, *done_s)) + 300.0
        courses = _Courses(runner, night.baker, done_s, upto + 1800.0)
        tries = [60.0 * m for m in _AFTER_MIN if first < 60.0 * m < upto]
        if not tries:
            break
        best_s = min(tries, key=courses.end_s)
        at_s = _sure(courses, [best_s + 60.0 * m for m in _NEAR_MIN if first < best_s + 60.0 * m < upto])
        stir = _stir(at_s, before, courses.at(at_s))
        if not stir.worth:
            break
        found.append(stir)
        before = courses.at(at_s)
    return tuple(found)


class _Courses:
    """The night with one more stir at different times, each run once."""

    def __init__(self, runner: Runner, baker: Baker, done_s: tuple[float, ...], longest_s: float) -> None:
        self._runner, self._baker, self._done_s, self._longest_s = runner, baker, done_s, longest_s
        self._courses: dict[float, Course] = {}

    def at(self, at_s: float) -> Course:
        """Return the course with a stir at this time."""
        if at_s not in self._courses:
            baker = replace(self._baker, stirs_s=(*self._done_s, at_s))
            self._courses[at_s] = self._runner.run(baker, self._longest_s)
        return self._courses[at_s]

    def end_s(self, at_s: float) -> float:
        """Return when every part is in range for good."""
        return _end_s(self.at(at_s))

    def ends_it(self, at_s: float) -> bool:
        """Whether it surely brings every part into range: in a warmer that is slower by as much as a model may be, too.

        That one is as this one, stirred sooner.
        """
        return all(
            self.end_s(sooner) - sooner <= _ENDS_S for sooner in (at_s, round(at_s / (1.0 + MODEL_SD)))
        )


def _sure(courses: _Courses, near: list[float]) -> float:
    """Return the best of some times: the first that surely ends the way, where that is not much later than the soonest.

    A stir that just does or just does not bring every part into range is none to plan with.
    """
    best_s = min(near, key=courses.end_s)
    latest_s = courses.end_s(best_s) + _DEAR_S
    sure = (at_s for at_s in near if courses.end_s(at_s) <= latest_s and courses.ends_it(at_s))
    return next(sure, best_s)


def worths(night: Night) -> tuple[Stir, ...]:
    """Return what each stir that the baker will do is worth, after those before it; gains of 0 where they are many."""
    runner, times = night.runner(night.warmer().model()), sorted(night.baker.stirs_s)
    few = len(times) <= MOST_WEIGHED
    before = runner.run(replace(night.baker, stirs_s=() if few else tuple(times)))
    found = []
    for n, at_s in enumerate(times, 1):
        after = runner.run(replace(night.baker, stirs_s=tuple(times[:n]))) if few else before
        found.append(_stir(at_s, before, after))
        before = after
    return tuple(found)


def _stir(at_s: float, before: Course, after: Course) -> Stir:
    coldest, hottest = before.at_c(at_s - 30.0)  # just before: a course may have the stir in it
    saved = before.band_s is None and after.band_s is not None
    gain = math.inf if saved else _end_s(before) - _end_s(after)
    cooler = float(before.hottest_c.max() - after.hottest_c.max())
    return Stir(at_s, gain, hottest - coldest, cooler)


def _end_s(course: Course) -> float:
    return LONGEST_S if course.band_s is None else course.band_s


def every(minutes: float, upto_s: float) -> tuple[float, ...]:
    """Return the times of stirs every so many minutes, s."""
    step_s = 60.0 * minutes
    return tuple(step_s * n for n in range(1, int(upto_s // step_s) + 1))
