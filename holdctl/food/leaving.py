"""When paste that begins in cold holding leaves it: where a time that starts there begins to run.

It begins there if the hottest paste, errors counted, is shown at or below the temperature within ten minutes of the
record's begin. It leaves at the first moment that shows it warmer; a gap may hide that it had left.
"""

from holdctl.food.worst_case import GAP_S, Curve

SETTLES_S = 600.0
"""A probe put into cold paste shows how cold it is within this time; this project's choice."""


def left_s(curve: Curve, limit_c: float) -> float | None:
    """Return when paste may have left a temperature, s: the end where it never did, None where it began warmer."""
    at = curve.first_at_most(limit_c)
    if at is None or at - curve.start_s > SETTLES_S:
        return None
    hidden = curve.cut(curve.start_s, at).unrecorded()
    rises = (*hidden, *curve.cut(at, curve.end_s).above(limit_c))
    return rises[0].start_s if rises else curve.end_s


class Leaving:
    """The same while the samples come in."""

    def __init__(self, limit_c: float, never_above_c: float | None = None) -> None:
        self.limit_c, self._top_c = limit_c, never_above_c
        self.cold = False
        """Whether it was shown to begin cold."""
        self.left_s: float | None = None
        """When it may have left; None: not yet, or not cold."""
        self.too_warm_s: float | None = None
        """When it may have passed the upper temperature, if there is one."""
        self._hidden_s: float | None = None
        self._first_s: float | None = None
        self._last: tuple[float, bool] | None = None

    def add(self, t_s: float, high: float | None) -> None:
        """Take the hottest paste, worst case, None without a valid reading."""
        gap_s = self._gap_s(t_s)
        self._last = (t_s, high is not None)
        self._first_s = t_s if self._first_s is None else self._first_s
        if not self.cold and not self._begins(t_s, high, gap_s):
            return
        lost = gap_s if self._hidden_s is None else self._hidden_s
        if self.left_s is None:
            self.left_s = _since(lost, t_s, high, self.limit_c)
        if self._top_c is not None and self.too_warm_s is None:
            self.too_warm_s = _since(lost, t_s, high, self._top_c)

    def _begins(self, t_s: float, high: float | None, gap_s: float | None) -> bool:
        self._hidden_s = gap_s if self._hidden_s is None else self._hidden_s
        late = self._first_s is not None and t_s - self._first_s > SETTLES_S
        self.cold = high is not None and high <= self.limit_c and not late
        return self.cold

    def _gap_s(self, t_s: float) -> float | None:
        """Return when the gap that ends here began, s; None without one."""
        if self._last is None:
            return None
        was_s, known = self._last
        return None if known and t_s - was_s <= GAP_S else was_s


def _since(lost_s: float | None, t_s: float, high: float | None, limit_c: float) -> float | None:
    if lost_s is not None:
        return lost_s
    return t_s if high is not None and high > limit_c else None
