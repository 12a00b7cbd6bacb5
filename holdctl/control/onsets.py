"""Since when might heat have come or gone without orders: one hypothesis for each moment of the last two hours.

A filter on a grid of time follows the readings. If from some moment on there was heat without orders, its innovations
would differ from white noise by what that heat does to them: the *mark* of the onset, which the filter's own gains
shape. Innovations are projected on the mark of every onset (the generalised likelihood ratio test of Willsky & Jones,
IEEE Trans. Autom. Control 21 (1976) 108-112, from memory), for a constant heat and for one in proportion to the duty.
What the model's parameters leave open has marks as well; they are fitted beside, each within its stated deviation, and
what they explain is not counted as heat (a partitioned least squares, Seber & Lee, Linear Regression Analysis (2003),
section 3.7, from memory).
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

THINNED = ((12, 1), (60, 4), (240, 12), (480, 24))
"""Up to so many steps old an onset is kept where its number is a multiple of the second figure."""
FORGET = 480.0
"""What readings have told fades over so many steps: two hours."""


class Onsets:
    """The hypotheses with their marks; the filter that they belong to hands in each step."""

    def __init__(self, size: int, open_now: "Floats") -> None:
        """`size`: of the state; `open_now`: what the parameters leave open of it now, [state, direction]."""
        import numpy as np

        ways = open_now.shape[1]
        self._nuisance = open_now.copy()
        self._sure, self._seen = np.zeros((ways, ways)), np.zeros(ways)
        self._mark = np.zeros((0, size, 2))
        """Error of the filter's state for each onset, for a constant heat of 1 and for one of the duty."""
        self._along, self._weight = np.zeros((0, 2)), np.zeros((0, 2, 2))
        self._shared = np.zeros((0, 2, ways))
        self._number = np.zeros(0, dtype=int)
        self._load = np.zeros(0)
        self._step = 0

    @property
    def ages(self) -> "Floats":
        """How many steps ago each onset was, the youngest last."""
        ages: Floats = self._step - self._number
        return ages

    @property
    def passed(self) -> int:
        """How many steps have passed since the begin."""
        return self._step

    @property
    def loads(self) -> "Floats":
        """The load that the filter believed in at each onset."""
        return self._load

    def begin(self, load: float) -> None:
        """Let heat possibly begin to differ from now on."""
        import numpy as np

        self._number = np.append(self._number, self._step)
        self._load = np.append(self._load, load)
        self._mark = np.concatenate([self._mark, np.zeros((1, *self._mark.shape[1:]))])
        self._along = np.concatenate([self._along, np.zeros((1, 2))])
        self._weight = np.concatenate([self._weight, np.zeros((1, 2, 2))])
        self._shared = np.concatenate([self._shared, np.zeros((1, 2, self._shared.shape[2]))])

    def advance(
        self, f: "Floats", g: "Floats", duty: float, driven: "Floats | None"
    ) -> "tuple[Floats, Floats]":
        """Carry the marks over a step of the filter; return those of before."""
        import numpy as np

        self._step += 1
        before = self._mark, self._nuisance
        self._mark = f @ self._mark + g[:, None] * np.array([1.0, duty])
        self._nuisance = f @ self._nuisance + (0.0 if driven is None else driven)
        return before

    def correct(
        self, before: "tuple[Floats, Floats]", probes: slice, gain: "Floats", sure: "Floats", wrong: "Floats"
    ) -> None:
        """Take the innovations `wrong` with their inverse covariance, and the filter's gain; readings are means."""
        marks = (before[0][:, probes] + self._mark[:, probes]) / 2.0
        doubts = (before[1][probes] + self._nuisance[probes]) / 2.0
        self._mark = self._mark - gain @ marks
        self._nuisance = self._nuisance - gain @ doubts
        weighed, doubted = sure @ marks, sure @ doubts
        keep = 1.0 - 1.0 / FORGET
        self._sure = keep * self._sure + doubts.T @ doubted
        self._seen = keep * self._seen + doubted.T @ wrong
        turned = marks.transpose(0, 2, 1)
        self._along = keep * self._along + turned @ (sure @ wrong)
        self._weight = keep * self._weight + turned @ weighed
        self._shared = keep * self._shared + turned @ doubted

    def thin(self) -> None:
        """Drop the onsets that are too close for their age."""
        import numpy as np

        ages = self.ages
        keep = np.zeros(len(ages), dtype=bool)
        young = 0
        for until, every in THINNED:
            keep |= (ages >= young) & (ages < until) & (self._number % every == 0)
            young = until
        if keep.all():
            return
        for name in ("_number", "_load", "_mark", "_along", "_weight", "_shared"):
            setattr(self, name, getattr(self, name)[keep])

    def told(self) -> "tuple[Floats, Floats]":
        """Return projections [onset, kind] and weights [onset, kind, kind], without what the parameters explain."""
        import numpy as np

        ways = len(self._seen)
        if not ways:
            return self._along, self._weight
        rest = np.linalg.inv(np.eye(ways) + self._sure)
        explained = self._shared @ rest
        along = self._along - explained @ self._seen
        weight = self._weight - explained @ self._shared.transpose(0, 2, 1)
        return along, weight
