"""When a stir helps and how much: each computed by running the night with it and without."""

import math
from dataclasses import dataclass, replace

from holdctl.plan.course import LONGEST_S, Course
from holdctl.plan.night import Night

WORTH_S, WORTH_K = 600.0, 2.0
"""A stir is worth a person's way to the vessel from this on: sooner in range, or less hot at its hottest."""
MOST = 3
MOST_WEIGHED = 12
"""Of more stirs than this each one's worth is not run for."""
_AFTER_MIN = (10, 20, 30, 45, 60, 80, 100, 120, 150, 180, 240)


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
        tries = [60.0 * m for m in _AFTER_MIN if first < 60.0 * m < upto]
        courses = {
            t: runner.run(replace(night.baker, stirs_s=(*done_s, t)), longest_s=upto + 1800.0) for t in tries
        }
        if not courses:
            break
        at_s = min(courses, key=lambda t: _end_s(courses[t]))
        stir = _stir(at_s, before, courses[at_s])
        if not stir.worth:
            break
        found.append(stir)
        before = courses[at_s]
    return tuple(found)


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
