"""Kalman filter over the thermal model: what no probe sees, with its uncertainty.

State: the network's modes, one lag state per probe (a probe in paste answers late), and a disturbance in duty (mains,
lid, a wrong power: whatever heat comes or goes that the model does not know), a random walk that makes the estimate
free of offset. Readings are quantised and noisy: R = q²/12 + σ². The gain is recomputed while it still changes, then
kept. What is done with every reading says `a.dot(b)`: for arrays as small as these it takes half as long as `a @ b`.
Formulas: Anderson & Moore, Optimal Filtering (1979), ch. 3 (from memory); the tests hold the settled covariance against
the discrete algebraic Riccati equation.
"""

import math
from collections import deque
from itertools import islice
from typing import TYPE_CHECKING, Any

from holdctl.control.model import LID, PASTE, ThermalModel
from holdctl.control.ticks import Sensor, many_ticks, one_tick
from holdctl.settings import Place

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

_START_PASTE_K, _SEEN_WALL_K, _START_WALL_K, _START_HEATER_K = 0.7, 0.3, 3.0, 8.0
"""How far the first estimate may be off, K: paste by paste, a wall that a probe sees, and a wall and a heater that none
does."""
_NODE_K_S, _LOAD_DUTY_S = 0.003, 0.0004
"""Random walks: of wall and paste, K/√s, and of the disturbance, duty/√s."""
_LOAD_START, _LOAD_ADOPTED, _LOAD_CARRIED = 0.05, 0.02, 0.2
"""How far the disturbance may be off at first, and behind an identified model, and the most it brings there, duty."""
_UNSEEN_WALK, _UNSEEN_START, _UNSEEN_ADOPTED, _HOLD_K = 0.0005, 0.2, 0.03, 45.0
"""The same three as shares of the holding duty, 45 K over the room, where paste conducts and all probes are deep in
it: what mains and room do. Any more, and the filter takes for missing heat what its model gets wrong of the paste
between."""
_NEAR_WALL = (Place.WALL, Place.EDGE)
_SETTLE_EVERY, _SETTLED = 30, 1e-4
_LONGEST_DELAY_S = 600.0
_OPEN_S = 900.0


class KalmanFilter:
    """One warmer's filter; temperatures in °C at its edges, excesses over the room inside."""

    def __init__(self, model: ThermalModel, sensors: tuple[Sensor, ...], tick_s: float = 1.0) -> None:
        import numpy as np

        self.sensors, self.tick_s = sensors, tick_s
        self._variances = [sensor.variance for sensor in sensors]
        self.x: Floats = np.zeros(0)
        self.p: Floats = np.zeros((0, 0))
        self._inputs: deque[float] = deque([0.0], maxlen=round(_LONGEST_DELAY_S / tick_s))
        self._late = 0.0
        self._kept_s = 0.0
        """Since another model has been adopted."""
        self._delay = 0
        self._sds: list[float] = []
        """Of what each reading differs from its prediction, K, while the gains are kept."""
        self._open: Floats = np.zeros((0, 0))
        """What the parameters leave open: [mode, direction]."""
        self._use(model)

    @property
    def started(self) -> bool:
        """Whether a first reading has come."""
        return len(self.x) > 0

    @property
    def nodes(self) -> "Floats":
        """Temperatures of all nodes, °C."""
        return self.model.shape @ self.modes + self.model.parameters.ambient_c

    @property
    def modes(self) -> "Floats":
        """The network's modes: what a prediction starts from."""
        return self.x[: self._n]

    @property
    def load(self) -> float:
        """The disturbance, in duty: negative where heat is missing."""
        return float(self.x.item(-1))

    @property
    def modes_after_delay(self) -> "Floats":
        """The modes once all heat has come that is on its way."""
        after: Floats = self.x[: self._n] * self._fade + self._coming
        return after

    def start(self, readings_c: "list[float | None]") -> None:
        """Begin from the first readings: the paste all at its probe, wall and heater at the wall's."""
        import numpy as np

        paste, wall = self._first(readings_c)
        temps = np.full(self.model.nodes, paste)
        temps[:LID] = wall
        known = wall != paste or self._has_wall(readings_c)
        self._begin(temps, readings_c, _SEEN_WALL_K if known else _START_WALL_K)

    def adopt(self, model: ThermalModel, temps_c: "Floats", spread: "Floats") -> None:
        """Go on with another model from these node temperatures.

        `spread` is what its parameters leave open: [node, direction], K, one standard deviation along each direction.
        It is kept apart from the filter's covariance: a wrong parameter goes on being wrong, so that readings which
        have already been used to identify it must not be counted again.
        """
        import numpy as np

        # More than mains and lids do was the old model's error: the new one has been fitted to what was delivered.
        load = self.load if abs(self.load) <= _LOAD_CARRIED else 0.0
        lags = self.x[self.model.modes : -1] + self.model.parameters.ambient_c
        self._use(model)
        n, m = model.modes, len(self.sensors)
        self.x = np.zeros(n + m + 1)
        self.x[:n] = model.begin(temps_c - model.parameters.ambient_c)
        self.x[n:-1] = lags - model.parameters.ambient_c
        self.x[-1] = load
        self._open = np.array([model.begin(column) for column in spread.T]).T
        self._kept_s = 0.0
        self.p = np.zeros((n + m + 1, n + m + 1))
        self.p[:n, :n] = self._noise * 120.0
        for index, sensor in enumerate(self.sensors):
            self.p[n + index, n + index] = sensor.variance
        self.p[-1, -1] = self._load_adopted**2

    def cross(self, seconds: float, duty: float, readings_c: "list[float | None]") -> None:
        """Pass a gap of any length at once, uncertainty growing as if tick by tick, then take the readings."""
        ticks = max(1, round(seconds / self.tick_s))
        f, q = self._over(ticks)
        pushed = self.model.advance(0.0 * self.modes, duty, ticks * self.tick_s)
        self.x = f @ self.x
        self.x[: self.model.modes] += pushed
        self.x[self.model.modes : -1] += self._seen @ pushed
        self.p = f @ self.p @ f.T + q
        self._inputs.clear()
        self._inputs.extend([duty] * min(ticks, self._delay + 1))
        self._coming = self._on_its_way()
        self._settled = False
        self.correct(readings_c)

    @property
    def late(self) -> float:
        """The duty that reached the heater in the last tick, behind the dead time."""
        return self._late

    @property
    def open(self) -> "Floats":
        """What a new model's parameters leave open of the state it began with: [state, direction].

        The readings since have put most of it right: it fades.
        """
        import numpy as np

        fade = math.exp(-self._kept_s / _OPEN_S)
        rest = np.zeros((len(self.x) - len(self._open), self._open.shape[1]))
        return np.vstack([self._open * fade, rest])

    def widen(self, paste_k: float) -> None:
        """Something has moved the paste by so much in places, K: let the next readings say where."""
        self.restore(self.x, self.p, 0.0, paste_k)

    def over(self, ticks: int) -> "tuple[Floats, Floats, Floats]":
        """Return transition, input and noise over so many ticks of a constant duty at the heater."""
        _, q = self._over(ticks)
        f, g = many_ticks(self._f, self._g, ticks)
        return f, g, q

    def _over(self, ticks: int) -> "tuple[Floats, Floats]":
        """Return transition and noise over many ticks, by doubling."""
        import numpy as np

        f, q = np.eye(len(self._f)), np.zeros_like(self._q)
        step_f, step_q = self._f, self._q
        while ticks:
            if ticks & 1:
                f, q = step_f @ f, step_f @ q @ step_f.T + step_q
            step_f, step_q = step_f @ step_f, step_f @ step_q @ step_f.T + step_q
            ticks >>= 1
        return f, q

    def step(self, duty: float, readings_c: "list[float | None]") -> None:
        """Pass one tick at `duty` delivered, then take the readings (None: missing)."""
        self.predict(duty)
        self.correct(readings_c)

    def predict(self, duty: float) -> None:
        """Pass one tick at `duty` delivered."""
        inputs, delay = self._inputs, self._delay
        inputs.append(duty)
        late = self._late = inputs[-1 - delay] if len(inputs) > delay else 0.0
        if delay:
            coming = self._decay * self._coming
            if duty:
                coming += self._gain if duty == 1.0 else self._gain * duty
            if late:
                coming -= self._arrived if late == 1.0 else self._arrived * late
            self._coming = coming
        self.x = self.advanced(self.x)
        if not self._settled:
            self.p = self._f.dot(self.p).dot(self._f.T) + self._q

    def advanced(self, x: "Floats") -> "Floats":
        """Return a state one tick on, with the heat that the last prediction was given."""
        after: Floats = self._f.dot(x)
        late = self._late
        if late:
            after += self._g if late == 1.0 else self._g * late
        return after

    def answered(self, x: "Floats") -> "Floats":
        """Return the answer to full power from now on, one tick on: state for one unit of duty, from rest."""
        after: Floats = self._f.dot(x) + self._g
        return after

    def restore(self, x: "Floats", p: "Floats", passed_s: float, paste_k: float = 0.0) -> None:
        """Go back to an earlier covariance and to what a state has run on to since, `passed_s` later.

        `paste_k` is added to what each part of the paste may be off.
        """
        n = self.model.modes
        self.x, self.p = x.copy(), p + self._q * (passed_s / self.tick_s)
        if paste_k > 0.0:
            self.p[:n, :n] += self._spread_of(paste_k, 0.0, 0.0, common=0.0)
        self._settled, self._kept = False, 0

    def correct(self, readings_c: "list[float | None]") -> None:
        """Take the readings of this moment (None: missing)."""
        self._kept += 1
        self._kept_s += self.tick_s
        n, ambient_c, x = self._n, self._ambient_c, self.x
        for index, value in enumerate(readings_c):  # a probe's lag state is what it measures
            if value is not None and math.isfinite(value):
                kept = self._gains[index] if self._settled else None
                gain = self._gain_of(index) if kept is None else kept
                x = x + gain * (value - ambient_c - x.item(n + index))
        self.x = x
        if not self._settled and self._kept % _SETTLE_EVERY == 0:
            self._judge()

    def mixed(self, paste_c: float, unsure_k: float = 0.0) -> None:
        """The paste has been stirred: all of it is at `paste_c`; wall, heater and load go on.

        All together it may be elsewhere by `unsure_k`, K: a probe that is still on its way there has not said it yet.
        The walls are known no better than before.
        """
        import numpy as np

        temps, load, n = self.nodes, self.load, self.model.modes
        temps[PASTE:] = paste_c
        wall = self.model.shape[self.model.wall]
        wall_k = math.sqrt(max(0.0, float(wall @ self.p[:n, :n] @ wall)))
        left = np.zeros((self.model.nodes, self._open.shape[1]))
        left[:PASTE] = self.model.shape[:PASTE] @ self._open
        self._begin(temps, [None] * len(self.sensors), max(_SEEN_WALL_K, wall_k), share=0.4)
        self.p[:n, :n] += self._spread_of(unsure_k, 0.0, 0.0, common=1.0)
        self.x[-1] = load
        self._open = np.array([self.model.begin(column) for column in left.T]).T

    def probe_c(self, index: int, x: "Floats | None" = None) -> float:
        """Return what a probe would read in this state, or in another one, °C."""
        state = self.x if x is None else x
        return float(state.item(self._n + index)) + self._ambient_c

    def innovation(self, index: int, value_c: float) -> tuple[float, float]:
        """Return what a reading differs from what is predicted for now, K, and the standard deviation of that."""
        at = self._n + index
        wrong = value_c - self._ambient_c - self.x.item(at)
        if not self._settled:
            return wrong, self._reading_sd(index)
        if not self._sds:  # the same from now on, with the gains
            self._sds = [self._reading_sd(i) for i in range(len(self.sensors))]
        return wrong, self._sds[index]

    def _reading_sd(self, index: int) -> float:
        """Return the standard deviation of what a reading differs from its prediction, K."""
        at = self._n + index
        return math.sqrt(max(self.p.item(at, at) + self._variances[index], 1e-9))

    def deviations(self, rows: "Floats") -> "Floats":
        """Return the standard deviations of weighted sums of modes, K; `rows` are [sum, mode]."""
        import numpy as np

        n = self._n
        variance = (rows.dot(self.p[:n, :n]) * rows).sum(axis=1) + (rows.dot(self._open) ** 2).sum(axis=1)
        spread: Floats = np.sqrt(np.maximum(variance, 0.0))
        return spread

    def _use(self, model: ThermalModel) -> None:
        """Build the discrete system for one tick, exact for the modes."""
        import numpy as np

        self.model = model
        n, m, dt = model.modes, len(self.sensors), self.tick_s
        self._n, self._ambient_c = n, model.parameters.ambient_c
        self._sds = []
        self._f, self._g = f, g = one_tick(model, self.sensors, dt)
        self._seen = np.array([model.seen(sensor.place) for sensor in self.sensors]).reshape(m, n)
        size = n + m + 1
        self._noise = _NODE_K_S**2 * dt * self._spread_of(1.0, 1.0, 1.0, common=0.3)
        q = np.zeros((size, size))
        q[:n, :n] = self._noise
        q[-1, -1] = self._loads(model) ** 2 * dt
        self._q = q
        self._gains: list[Floats | None] = [None] * m
        self._last: list[Floats | None] = [None] * m
        self._settled, self._kept = False, 0
        self._open = np.zeros((n, 1))
        self._delay = min(round(model.parameters.delay_s / dt), round(_LONGEST_DELAY_S / dt) - 1)
        self._decay, self._gain = f.diagonal()[:n].copy(), g[:n].copy()
        self._fade = np.exp(-model.rates * dt * self._delay)
        self._arrived = self._gain * self._fade
        self._coming = self._on_its_way()

    def _on_its_way(self) -> "Floats":
        """Return what the heat behind the dead time will have made of the modes once all of it has come."""
        import numpy as np

        pending = list(islice(reversed(self._inputs), self._delay))
        ticks = np.arange(len(pending))  # the newest comes last and has no time to fade
        after: Floats = (
            np.exp(-np.outer(self.model.rates * self.tick_s, ticks)) * self._gain[:, None]
        ) @ np.array(pending, dtype=float)
        return after

    def _loads(self, model: ThermalModel) -> float:
        """Set what may be believed of the disturbance; return its walk, duty/√s."""
        self._load_start, self._load_adopted = _LOAD_START, _LOAD_ADOPTED
        if model.grid is None or any(sensor.place in _NEAR_WALL for sensor in self.sensors):
            return _LOAD_DUTY_S
        hold = min(1.0, _HOLD_K / float(model.weights @ model.steady_rise[PASTE:]))
        self._load_start, self._load_adopted = _UNSEEN_START * hold, _UNSEEN_ADOPTED * hold
        return _UNSEEN_WALK * hold

    def _spread_of(self, paste_k: float, wall_k: float, heater_k: float, common: float = 0.5) -> "Floats":
        """Return the covariance of the modes: `common` of the paste's variance is the same in all of it."""
        import numpy as np

        unit = self.model.uniform
        states = np.zeros((4 + len(unit), 4 + len(unit)))
        states[:4, :4] = np.diag([heater_k, heater_k, wall_k, wall_k]) ** 2
        states[4:, 4:] = paste_k**2 * (
            common * np.outer(unit, unit) + (1.0 - common) * np.eye(len(unit)) * (unit @ unit) / len(unit)
        )
        spread: Floats = self.model.back @ states @ self.model.back.T
        return spread

    def _begin(
        self, temps_c: "Floats", readings_c: "list[float | None]", wall_k: float, share: float = 1.0
    ) -> None:
        import numpy as np

        model = self.model
        n, m = model.modes, len(self.sensors)
        excess = temps_c - model.parameters.ambient_c
        self.x = np.zeros(n + m + 1)
        self.x[:n] = model.begin(excess)
        self.p = np.zeros((n + m + 1, n + m + 1))
        self.p[:n, :n] = self._spread_of(_START_PASTE_K * share, wall_k, _START_HEATER_K * share)
        for index, sensor in enumerate(self.sensors):
            value = readings_c[index]
            seen = float(model.row(sensor.place) @ excess)
            self.x[n + index] = seen if value is None else value - model.parameters.ambient_c
            self.p[n + index, n + index] = sensor.variance
        self.p[-1, -1] = self._load_start**2
        self._settled, self._kept = False, 0

    def _first(self, readings_c: "list[float | None]") -> tuple[float, float]:
        paste = wall = None
        for sensor, value in zip(self.sensors, readings_c, strict=True):
            if value is None or sensor.place is Place.AIR:
                continue
            if sensor.place is Place.WALL:
                wall = value
            elif paste is None:
                paste = value
        paste = paste if paste is not None else wall
        if paste is None:
            raise ValueError("the filter starts from a reading of paste or wall")
        return paste, paste if wall is None else wall

    def _has_wall(self, readings_c: "list[float | None]") -> bool:
        return any(
            s.place is Place.WALL and v is not None for s, v in zip(self.sensors, readings_c, strict=True)
        )

    def _gain_of(self, index: int) -> "Floats":
        """Let the covariance take a reading of one probe; return the gain."""
        at = self._n + index
        column = self.p[:, at].copy()
        gain: Floats = column / (column.item(at) + self._variances[index])
        self.p -= gain[:, None].dot(column[None, :])
        self._gains[index] = gain
        return gain

    def _judge(self) -> None:
        """Keep the gains once they no longer change."""
        import numpy as np

        change = 0.0
        for index, gain in enumerate(self._gains):
            before = self._last[index]
            if gain is None or before is None:
                change = math.inf
            else:
                change = max(change, float(np.abs(gain - before).max() / (np.abs(gain).max() + 1e-12)))
            self._last[index] = None if gain is None else gain.copy()
        self._settled, self._sds = change < _SETTLED * _SETTLE_EVERY, []
