"""Early and late of a foretold night: what other warmers, another mix and prompts that nobody answers make of it."""

import math
from collections.abc import Sequence

from holdctl.plan.course import LONGEST_S, Course
from holdctl.plan.legs import extra_s
from holdctl.settings import Programme

EARLY, LATE = 0.1, 0.9
MODEL_SD = 0.06
"""A forecast is not surer than this share of what it foretells: measured on simulated warmers, see docs/plan.md."""
_GOLDEN = 0.6180339887498949
"""Multiples of it fill a range evenly, in an order that goes with nothing else that is drawn."""

Three = tuple[float, float, float]


def open_at(runs: int) -> list[float]:
    """Return where an open surface's loss lies in each of so many runs: evenly over its range, in a mixed order."""
    return [2.0 * ((n * _GOLDEN) % 1.0) - 1.0 for n in range(1, runs + 1)]


def band(
    own: Programme, course: Course, others: list[Course], mixes: list[Course], longest_s: float
) -> Three | None:
    """Return early, expected and late, s; other warmers and other mixes count beside each other, in squares."""
    expected = course.band_s
    if expected is None:
        return None
    came, mixed = ([longest_s if o.band_s is None else o.band_s for o in some] for some in (others, mixes))
    known = 1.2816 * MODEL_SD * expected
    early = expected - off(known, expected - quantile(came, EARLY), expected - min(mixed))
    late = expected + off(known, quantile(came, LATE) - expected, max(mixed) - expected)
    return max(0.0, early), expected, late + _unanswered_s(own, course, before=True)


def ready(own: Programme, come: Three | None, course: Course, others: list[Course]) -> Three | None:
    """Return the end of the last step: all that follows once every part is in range and the baker is done, added."""
    after_s = _after_s(course)
    if come is None or after_s is None:
        return None
    ways = _three(course.way_s, [other.way_s for other in others])
    rests = _three(after_s, [LONGEST_S if one is None else one for one in map(_after_s, others)])
    late_s = _unanswered_s(own, course, before=False)
    early, expected, late = (max(c, w) + r for c, w, r in zip(come, ways, rests, strict=True))
    return early, expected, late + late_s


def _three(expected: float, others: Sequence[float]) -> Three:
    """Return early, expected and late of what others make of it."""
    if not len(others):
        return expected, expected, expected
    return min(expected, quantile(others, EARLY)), expected, max(expected, quantile(others, LATE))


def off(*parts: float) -> float:
    """Return by how much independent parts move a figure together; one that moves it the other way counts not."""
    return math.hypot(*(max(0.0, part) for part in parts))


def quantile(values: Sequence[float], share: float) -> float:
    """Return the value that so great a share of them is not above; NaN of none."""
    import numpy as np

    return float(np.quantile(values, share)) if len(values) else math.nan


def _after_s(course: Course) -> float | None:
    """Return how long the programme goes on once every part is in range and the baker is done, s; None: not done."""
    if course.band_s is None or course.end_s is None:
        return None
    return course.end_s - max(course.band_s, course.way_s)


def _unanswered_s(own: Programme, course: Course, *, before: bool) -> float:
    """Return how much longer prompts may take, s, that nobody answers and that the programme then leaves."""
    band_s = course.band_s or 0.0
    asked = [span for span in course.spans if span.number and not span.skipped]
    extra = [
        extra_s(own.step[span.number - 1])
        for span in asked
        if own.step[span.number - 1].prompt is not None and (span.entered_s < band_s) == before
    ]
    return sum(one for one in extra if one < math.inf)
