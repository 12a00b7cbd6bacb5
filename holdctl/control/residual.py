"""Heat that comes or goes without orders, from what readings differ from the model's own course.

A filter follows a fault as it follows a disturbance, and its innovations soon look innocent. So the readings of now
are set against the course that the model takes from a state of some minutes ago, with the heat delivered since and no
reading: what they differ by is projected on the answer to a constant heat from that moment on, weighted by all that is
uncertain meanwhile (the state then, the walk of the nodes and of the disturbance, noise and steps of the probes).
This is a generalised likelihood ratio over the time of the change (Willsky & Jones, IEEE Trans. Autom. Control 21
(1976) 108-112, from memory), with the times on a grid of windows. The result is a heat in units of full power.

Everything that depends on a window's age alone is tabled once for each model.
"""

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.kalman import KalmanFilter

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

GRID_S = 15
WINDOWS = (4, 6, 8, 12, 20, 32, 48, 72, 100, 140, 200)
"""Ages of the states that are looked back to, in steps of the grid: 1 to 50 minutes."""


@dataclass(frozen=True, slots=True)
class Heat:
    """What one window shows; heats in units of full power, positive where more comes than was ordered."""

    window_s: int
    heat: float
    sd: float
    """Of `heat`, from noise and state alone."""
    duty: float
    """Delivered in the window on average, weighted by what its probes see of it."""
    share: float | None
    """Of the delivered heat, that is missing: the same fit for a deficit in proportion to it; None without heat."""
    before: float
    """What the filter believed of it at the window's begin."""
    off_k: float
    """Largest difference of a probe from the model's own course, K."""
    favour: float
    """How much better a deficit in proportion to the duty explains the readings than a constant one, in χ²."""


@dataclass(frozen=True, slots=True)
class _Entry:
    x: "Floats"
    p: "Floats"
    open: "Floats"
    """What the parameters leave open of the state: [state, direction]."""
    duty: float
    """Arrived at the heater since the entry before."""


class Residual:
    """Keeps the states of one filter on the grid; one tick is one second of the filter."""

    def __init__(self, source: KalmanFilter) -> None:
        self._source, self._model = source, source.model
        self._entries: deque[_Entry] = deque(maxlen=WINDOWS[-1] + 1)
        self._grid = max(1, round(GRID_S / source.tick_s))
        self._table: _Table | None = None
        self._count, self._duty = 0, 0.0
        self._sums: list[float] = []
        self._seen: list[int] = []
        self.forget()

    def forget(self) -> None:
        """After a stir, a gap, or a new model nothing of the past fits."""
        if self._source.model is not self._model:
            self._model, self._table = self._source.model, None
        self._entries.clear()
        self._begin()

    def _begin(self) -> None:
        self._count, self._duty = 0, 0.0
        self._sums = [0.0] * len(self._source.sensors)
        self._seen = [0] * len(self._source.sensors)

    def tick(self, readings_c: "list[float | None]") -> bool:
        """Take one tick of the filter, after its readings; True where a step of the grid is complete."""
        if self._source.model is not self._model:
            self.forget()
        self._count += 1
        self._duty += self._source.late
        for index, value in enumerate(readings_c):
            if value is not None:
                self._sums[index] += value
                self._seen[index] += 1
        return self._count >= self._grid

    def look(self) -> list[Heat]:
        """Close a step of the grid and return what each window shows that is old enough."""
        import numpy as np

        now = self._mean()
        source = self._source
        self._entries.append(_Entry(source.x.copy(), source.p, source.open, self._duty / self._count))
        self._begin()
        if now is None:
            return []
        if self._table is None:
            self._table = _Table(self._source, self._grid)
        entries = list(self._entries)
        duties = np.array([entry.duty for entry in entries])
        old = [steps for steps in WINDOWS if steps < len(entries)]
        sure = self._sure(old, [entries[-1 - steps] for steps in old])
        return [
            self._window(steps, now, entries[-1 - steps], duties[-steps:], weight)
            for steps, weight in zip(old, sure, strict=True)
        ]

    def _mean(self) -> "Floats | None":
        """Return the mean of each probe over the step, as excess over the room; None where one has said nothing."""
        import numpy as np

        if not all(self._seen):
            return None
        ambient = self._model.parameters.ambient_c
        return np.array([s / n - ambient for s, n in zip(self._sums, self._seen, strict=True)])

    def _sure(self, steps: list[int], begins: list[_Entry]) -> "Floats":
        """Return the inverse covariance of what each window shows at its end: [window, probe, probe]."""
        import numpy as np

        table = self._table
        if table is None or not steps:
            return np.zeros((0, 0, 0))
        view = table.view[steps]
        left = view @ np.array([begin.open for begin in begins])
        state = view @ np.array([begin.p for begin in begins]) @ view.transpose(0, 2, 1)
        sure: Floats = np.linalg.inv(state + left @ left.transpose(0, 2, 1) + table.walk[steps] + table.noise)
        return sure

    def _window(self, steps: int, now: "Floats", begin: _Entry, duties: "Floats", sure: "Floats") -> Heat:
        import numpy as np

        table = self._table
        assert table is not None  # noqa: S101  # made by `look`
        delivered = table.pulse[steps - 1 :: -1].T @ duties
        off = now - table.view[steps] @ begin.x - delivered
        constant = table.step[steps]
        weight = float(constant @ sure @ constant)
        heat = float(constant @ sure @ off) / max(weight, 1e-12)
        ordered = float(delivered @ sure @ delivered)
        along = float(delivered @ sure @ off)
        duty = float(constant @ sure @ delivered) / max(weight, 1e-12)
        share = -along / ordered if ordered > 1e-9 else None
        favour = (along**2 / ordered if ordered > 1e-9 else 0.0) - heat**2 * weight
        return Heat(
            window_s=steps * self._grid,
            heat=heat,
            sd=max(weight, 1e-12) ** -0.5,
            duty=duty,
            share=share,
            before=float(begin.x[-1]),
            off_k=float(np.abs(off).max()),
            favour=favour,
        )


class _Table:
    """What depends on a window's age alone, by steps of the grid: [age, probe, …]."""

    def __init__(self, source: KalmanFilter, grid: int) -> None:
        import numpy as np

        most, probes = WINDOWS[-1], len(source.sensors)
        f, g, q = source.over(grid)
        first = source.model.modes
        view = np.zeros((most + 1, probes, len(f)))
        view[0] = np.eye(len(f))[first : first + probes]
        for age in range(1, most + 1):
            view[age] = view[age - 1] @ f
        # Readings are means over a step of the grid: so are the predictions they are set against.
        self.view = view.copy()
        self.view[1:] = (view[1:] + view[:-1]) / 2.0
        pulse = view @ g
        self.pulse = pulse.copy()
        self.pulse[1:] = (pulse[1:] + pulse[:-1]) / 2.0
        self.pulse[0] = pulse[0] / 2.0
        self.step = np.vstack([np.zeros(probes), np.cumsum(self.pulse, axis=0)])[: most + 1]
        walks = np.einsum("aij,jk,alk->ail", self.view, q, self.view)
        self.walk = np.concatenate([np.zeros((1, probes, probes)), np.cumsum(walks, axis=0)])[: most + 1]
        self.noise = np.diag([s.step_k**2 / 12 + s.noise_k**2 / grid for s in source.sensors])


def least_delay(source: KalmanFilter, change: float, sigmas: float) -> float | None:
    """Return the least time, s, in which a constant change of heat stands out by so many standard deviations.

    The bound for any detector with these probes that does not know when the change came but is told to look from there:
    the filter's own covariance now, the model taken as exact. None where it is longer than the longest window.
    """
    import numpy as np

    grid = max(1, round(GRID_S / source.tick_s))
    table = _Table(source, grid)
    for steps in range(1, WINDOWS[-1] + 1):
        spread = table.view[steps] @ source.p @ table.view[steps].T + table.walk[steps] + table.noise
        weight = table.step[steps] @ np.linalg.inv(spread) @ table.step[steps]
        if abs(change) * float(weight) ** 0.5 >= sigmas:
            return steps * grid * source.tick_s
    return None
