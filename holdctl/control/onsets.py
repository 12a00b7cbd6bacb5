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
_WITHIN = 0.5
"""Of a step, that an onset may lie before or after."""
_ROOM = 52
"""Places for onsets; what the ages above keep is 49 at most."""
_BOTH = 2 * _ROOM
"""Each place has two kinds: a constant heat, and one in proportion to the duty."""


class Onsets:
    """The hypotheses with their marks; the filter that they belong to hands in each step.

    Each has a place of its own in arrays that never change their size, and behind all places come the directions that
    the parameters leave open: a step is a handful of products then.
    """

    def __init__(self, size: int, open_now: "Floats") -> None:
        """`size`: of the state; `open_now`: what the parameters leave open of it now, [state, direction]."""
        import numpy as np

        ways = open_now.shape[1]
        self._mark = np.hstack([np.zeros((size, _BOTH)), open_now])
        """Error of the filter's state, for a constant heat of 1 at each place, then for one of the duty, then for each
        direction."""
        self._along = np.zeros(_BOTH + ways)
        self._shared = np.zeros((_BOTH + ways, ways))
        self._sure, self._seen = self._shared[_BOTH:], self._along[_BOTH:]
        self._prior = np.eye(ways)
        self._weight = np.zeros((3, _ROOM))
        """Of constant with constant, constant with ordered, ordered with ordered."""
        self._driven = np.ones(_BOTH)
        self._load = np.zeros(_ROOM)
        self._place: dict[int, int] = {}
        """Where the onset of each number is, the oldest first."""
        self._free = list(range(_ROOM))
        self._step = 0
        self._chi = self._count = 0.0
        """The innovations' weighted square, and how many there were."""

    @property
    def ages(self) -> list[int]:
        """How many steps ago each onset was, the youngest last."""
        return [self._step - number for number in self._place]

    @property
    def passed(self) -> int:
        """How many steps have passed since the begin."""
        return self._step

    @property
    def loads(self) -> list[float]:
        """The load that the filter believed in at each onset."""
        loads = self._load.tolist()
        return [loads[at] for at in self._place.values()]

    def begin(self, load: float) -> None:
        """Let heat possibly begin to differ from now on."""
        at = self._free.pop()
        self._place[self._step] = at
        self._load[at] = load
        both = slice(at, _BOTH, _ROOM)
        self._mark[:, both] = self._along[both] = self._shared[both] = self._weight[:, at] = 0.0

    def advance(self, f: "Floats", g: "Floats", duty: float, driven: "Floats | None") -> "Floats":
        """Carry the marks over a step of the filter; return those of before."""
        self._step += 1
        before, self._mark = self._mark, f.dot(self._mark)
        self._driven[_ROOM:] = duty
        self._mark[:, :_BOTH] += g[:, None] * self._driven
        if driven is not None:
            self._mark[:, _BOTH:] += driven
        return before

    def correct(
        self, before: "Floats", probes: slice, gain: "Floats", sure: "Floats", wrong: "Floats"
    ) -> None:
        """Take the innovations `wrong` with their inverse covariance, and the filter's gain; readings are means."""
        marks = (before[probes] + self._mark[probes]) / 2.0
        self._mark -= gain.dot(marks)
        weighed = sure.dot(marks)
        keep = 1.0 - 1.0 / FORGET
        self._chi = keep * self._chi + float(wrong.dot(sure).dot(wrong))
        self._count = keep * self._count + len(wrong)
        for kept, more in (
            (self._along, wrong.dot(weighed)),
            (self._shared, marks.T.dot(weighed[:, _BOTH:])),
            (self._weight, _weights(marks, weighed)),
        ):
            kept *= keep
            kept += more

    def thin(self) -> None:
        """Drop the onsets that have become too close for their age."""
        for (until, _), (_, every) in zip(THINNED, (*THINNED[1:], (0, 0)), strict=True):
            number = self._step - until
            if number in self._place and (not every or number % every):
                self._free.append(self._place.pop(number))

    def taken(self) -> "tuple[Floats, Floats]":
        """Take what the onsets say for true, and begin to look anew; return what it adds to the filter's state.

        Of that: mean and covariance, each onset as likely as it explains the readings. What it has made of the
        innovations is taken out of what the parameters explain.
        """
        import numpy as np

        along, weight = self.told()
        places = list(self._place.values())
        constant = np.maximum(weight[0], 1e-12)
        heat, chi = along[0] / constant, along[0] ** 2 / constant
        likely = np.exp((chi - chi.max()) / 2.0)
        likely /= likely.sum()
        marks = self._mark[:, places]
        marks[-1] += 1.0  # the heat goes on: from now on it is the filter's load
        added = marks * heat
        mean = added @ likely
        apart = added - mean[:, None]
        # It began anywhere within a step: of a young onset, that is much of what it has done.
        within = added * (_WITHIN / np.maximum(self.ages, 1))
        spread = (apart * likely) @ apart.T + (marks * (likely / constant)) @ marks.T
        spread += (within * likely) @ within.T
        self._seen -= (likely * heat) @ self._shared[places]
        explained = 2.0 * heat * self._along[places] - heat**2 * self._weight[0, places]
        self._chi = max(0.0, self._chi - float(likely @ explained))
        self._place.clear()
        self._free = list(range(_ROOM))
        return mean, spread

    def told(self) -> "tuple[Floats, Floats]":
        """Return projections [kind, onset] and weights [3, onset], without what the parameters explain.

        The weights: of a constant heat with itself, with one in proportion to the duty, and of that with itself.
        """
        import numpy as np

        places = np.fromiter(self._place.values(), dtype=int, count=len(self._place))
        along = self._along[:_BOTH].reshape(2, _ROOM).take(places, axis=1)
        weight = self._weight.take(places, axis=1)
        left = self._chi
        if len(self._seen):
            rest = np.linalg.inv(self._prior + self._sure)
            constant = self._shared.take(places, axis=0)
            ordered = self._shared[_ROOM:].take(places, axis=0)
            explained, less = constant.dot(rest), np.empty((3, *constant.shape))
            np.multiply(explained, constant, out=less[0])
            np.multiply(explained, ordered, out=less[1])
            np.multiply(ordered.dot(rest), ordered, out=less[2])
            gone = rest.dot(self._seen)
            left -= float(gone.dot(self._seen))
            along[0] -= constant.dot(gone)
            along[1] -= ordered.dot(gone)
            weight -= less.sum(axis=2)
        scatter = self._scatter(left, along[0], weight[0])
        return (along, weight) if scatter == 1.0 else (along / scatter, weight / scatter)

    def _scatter(self, left: float, along: "Floats", weight: "Floats") -> float:
        """Return by how much what no onset explains scatters more than it should, in variance; 1 at least."""
        import numpy as np

        chi = along**2 / np.maximum(weight, 1e-12)
        best = float(chi.item(chi.argmax())) if len(chi) else 0.0
        return max(1.0, (left - best) / max(self._count, 1.0))


def _weights(marks: "Floats", weighed: "Floats") -> "Floats":
    """Return what one step adds to the weights of all places: [constant², both, ordered²; place]."""
    import numpy as np

    by = np.empty((len(marks), 3, _ROOM))
    np.multiply(marks[:, :_ROOM], weighed[:, :_ROOM], out=by[:, 0])
    np.multiply(marks[:, :_ROOM], weighed[:, _ROOM:_BOTH], out=by[:, 1])
    np.multiply(marks[:, _ROOM:_BOTH], weighed[:, _ROOM:_BOTH], out=by[:, 2])
    added: Floats = by.sum(axis=0)
    return added
