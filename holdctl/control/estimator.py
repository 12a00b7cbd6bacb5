"""What no probe sees, from the Kalman filter over the warmer's model.

Any set of probes at any place; a missing reading is left out. Time passes in whole ticks of the filter, what is left
of a second is carried. Across a gap the model runs on exactly and its uncertainty grows. A probe in the paste that
jumps by more than conduction can, twice running, means that the paste has been stirred: all of it then has that
temperature. The model begins with what is told and is replaced by what is identified.
"""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from holdctl.control.cascade import Flow
from holdctl.control.identify import Belief
from holdctl.control.jumps import JUMP_K, JUMP_SIGMA, Jumps, Paste, Shape
from holdctl.control.kalman import KalmanFilter
from holdctl.control.learning import BAD_K, Learning, from_event, second_night
from holdctl.control.model import PASTE, ThermalModel
from holdctl.control.prior import AGAIN, prior
from holdctl.control.residual import Heat, Residual
from holdctl.control.ticks import Sensor
from holdctl.control.told import Told
from holdctl.events import Estimate, Identified
from holdctl.settings import PASTE_PLACES, Place, Probe

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

_DRIFT_K, _DRIFT_SHARE = 0.2, 0.03
"""A stir is also a prediction that lags this far behind for half a minute: a paste stirred on and on while it cools.
Measured on the simulated mat box: 0.4 to 0.6 K while stirred, at most 0.03 K in a come-up."""
_STILL_TO_COME = 5.0
"""A probe that answers in a dozen seconds has said so small a part of a stir when it is first seen."""
_GAP_S, LONGEST_S = 5.0, 43_200.0
_SPREAD_EVERY = 15
"""Ticks from one reckoning of the deviations to the next."""
_LAG_S = {Place.WALL: 5.0}
"""Probes at a wall sit on metal and answer sooner than those in paste (from memory)."""
LAG_S = 12.0
"""A probe in the paste answers so late, s (from memory: 5 to 30)."""
_LEAP_K = 1.0
"""A model that would move the estimate at a probe by more than this is not taken over."""
_EARLY_S = 3_600.0
"""In the first hour the model is replaced in the hold too: a warm restart has no come-up to learn from."""


class Estimator:
    """One warmer's filter with its probes; readings come by channel, °C."""

    def __init__(self, told: Told, probes: tuple[Probe, ...]) -> None:
        self._told = told
        self._probes = tuple(probe for probe in probes if probe.place is not Place.AIR)
        self._paste = next(probe for probe in self._probes if probe.place in PASTE_PLACES)
        self._paste_at = self._probes.index(self._paste)
        sensors = tuple(Sensor(probe.place, _LAG_S.get(probe.place, LAG_S)) for probe in self._probes)
        self._known: Belief | None = None
        self._sensors = sensors
        self._sees_wall = any(probe.place is Place.WALL for probe in self._probes)
        belief, layout = prior(told, told.ambient_c, sees_wall=self._sees_wall)
        self.learning = Learning(told, layout, belief, sensors)
        self.model = ThermalModel(told, belief.parameters, layout)
        self.filter = KalmanFilter(self.model, sensors)
        self._owed_s = 0.0
        self._jumped = 0
        self._drift = 0.0
        self._away = False
        self._waiting: Identified | None = None
        self.jumps = Jumps(self._paste_at)
        self.residual = Residual(self.filter)
        self.heats: list[Heat] = []
        """What the last complete look back says of heat without orders; empty where nothing can be said."""
        self.stirs = 0
        """How often the paste has been found stirred."""
        self.additions = 0
        """How often something colder or hotter has been stirred in."""
        self.moves = 0
        """How often the paste's probe has been put elsewhere in it."""
        self.seconds = 0.0
        """Since the first reading."""
        self.learnt = False
        """Whether the model has been identified, tonight or before."""
        self.changed = 0
        """How often the model has been replaced."""
        self._network()

    @property
    def knows(self) -> bool:
        """Whether an earlier night has told of this warmer."""
        return self._known is not None

    def update(self, seen_c: Mapping[int, float], duty: float, dt_s: float) -> Estimate:
        """Take the readings of one moment, `dt_s` after the last, with the duty delivered since."""
        readings: list[float | None] = [seen_c.get(probe.channel) for probe in self._probes]
        self.seconds += dt_s
        if not self.filter.started:
            self._start(readings)
        elif dt_s > _GAP_S:
            self.jumps.forget()
            self.residual.forget()
            self.filter.cross(min(dt_s, LONGEST_S), duty, self._in_paste(readings))
            if dt_s > LONGEST_S:
                self.learning.open = False
            self._ended_step(self.learning.tick(duty, readings, dt_s))
            self._owed_s, self._jumped, self._drift = 0.0, 0, 0.0
        else:
            self._pass(max(dt_s, 0.0), duty, readings)
        seen = seen_c[self._paste.channel]
        return self._estimate(
            self.filter.probe_c(self._paste_at) if self._paste_at in self.jumps.out else seen
        )

    def due(self) -> Callable[[], Identified] | None:
        """Return a task of identification, where one is due."""
        return None if self._away else self.learning.due()

    def identified(self, found: Identified) -> None:
        """Take identified parameters; they take effect at the next whole step of the stretch.

        Before the first reading they are an earlier night's, and what is believed at its start.
        """
        try:
            belief = from_event(found)
        except ValueError:
            return  # a damaged record or a fit gone wild: the model stays as it is
        if not self.filter.started:
            self._known = belief
        elif self.learning.stale(found) or not self.learning.plausible(belief):
            return
        elif found.rms_k <= BAD_K:
            self._waiting = found
            self.learning.fitted(found)
        else:
            self._learn_again()

    def trust(self, seen_c: Mapping[int, float]) -> None:
        """A person says that every probe is in its place: begin anew from these readings, by channel, °C."""
        self.jumps.trust()
        self.filter.start([seen_c.get(probe.channel) for probe in self._probes])
        self._away, self._waiting = False, None
        self._learn_again()
        self.residual.forget()

    def touched(self, by_k: float) -> None:
        """What the probes show is no heat: the paste has been moved a little, by so much in places, K."""
        self.filter.widen(by_k)
        self.residual.forget()

    def forget(self) -> None:
        """Begin from the next readings: nobody knows how much time has passed."""
        self.filter = KalmanFilter(self.model, self._sensors)
        self.jumps, self.residual = Jumps(self._paste_at), Residual(self.filter)
        self._owed_s, self._jumped, self._drift, self._waiting = 0.0, 0, 0.0, None

    def pause(self, paused: bool) -> None:
        """Learn nothing while the baker is at work in the paste; afterwards start anew from the estimate."""
        if self.learning.paused and not paused and self.filter.started:
            self._learn_again()
        self.learning.paused = paused

    def flow(self) -> Flow:
        """Return how the wall answers to power while the paste stands still."""
        free = float(self._wall_free.dot(self.filter.modes)) + self.model.parameters.ambient_c
        return Flow(free, self._wall_gain_k)

    def _start(self, readings: list[float | None]) -> None:
        paste = next(
            v for p, v in zip(self._probes, readings, strict=True) if v is not None and p is self._paste
        )
        belief, layout = prior(self._told, paste, sees_wall=self._sees_wall)
        self.learning = Learning(self._told, layout, belief, self._sensors)
        if self._known is not None:
            again = second_night(self._known, belief, AGAIN)
            if self.learning.plausible(again):
                belief, self.learnt = again, True
                self.learning = Learning(self._told, layout, belief, self._sensors)
        self._use(ThermalModel(self._told, belief.parameters, layout))
        self.filter = KalmanFilter(self.model, self._sensors)
        self.filter.start(readings)
        self.jumps.trust()
        self.residual = Residual(self.filter)
        self.learning.begin(self.filter.nodes)

    def _use(self, model: ThermalModel) -> None:
        self.model = model
        self.changed += 1
        self._network()

    def _ended_step(self, ended: bool) -> None:
        """At the end of a step of the stretch take over what has been identified."""
        if not ended or self._waiting is None or (self.learning.settled and self.learning.seconds > _EARLY_S):
            return
        found, self._waiting = self._waiting, None
        before, offer = self.filter.nodes, self.learning.weigh(found)
        model, leap = offer.model, offer.now_c - before
        if any(abs(float(model.row(s.place) @ leap)) > _LEAP_K for s in self._sensors):
            return  # it may fit the whole, but not what is seen now
        self.learning.accept(offer)
        self.learnt = True
        # What the filter had put right against the old model's own course stays put right.
        self.filter.adopt(model, offer.now_c + (before - offer.old_c), offer.spread)
        self._drift, self._jumped = 0.0, 0
        self._use(model)

    def _network(self) -> None:
        """Stack the rows that turn the filter's modes into all that is asked of them, as excess over the room."""
        import numpy as np

        model = self.model
        wall = np.eye(model.nodes)[model.wall]
        mean = np.concatenate([np.zeros(PASTE), model.weights])
        rim = model.rim_rows()
        cells = np.eye(model.nodes)[PASTE:]
        self._rows = np.vstack([wall, mean, rim, cells]) @ model.shape
        self._cells = 2 + len(rim)
        self._wall_gain_k, self._wall_free = model.wall_at_rest()
        self._since_spread = _SPREAD_EVERY
        self._spread = (0.0, 0.0, 0.0, 0.0)

    def _pass(self, dt_s: float, duty: float, readings: list[float | None]) -> None:
        """Let whole ticks pass; the readings belong to the last of them."""
        self._owed_s += dt_s
        ticks = round(self._owed_s / self.filter.tick_s)
        self._owed_s -= ticks * self.filter.tick_s
        if ticks == 0:
            return
        for _ in range(ticks):
            self.filter.predict(duty)
            self.jumps.advance()
        for index, shape in self.jumps.look(
            self.filter, readings, ticks * self.filter.tick_s, self._paste_of
        ):
            self._shaped(index, shape)
        readings = self._in_paste(readings)
        paste_c = readings[self._paste_at]
        if paste_c is not None and (self._stirred(paste_c) or self.jumps.confirmed):
            self.filter.mixed(paste_c, _STILL_TO_COME * self.jumps.moved_k(paste_c))
            self._waiting = None
            self.stirs += not self.jumps.watching
            self._learn_again()
            self.residual.forget()
        self.filter.correct(readings)
        if self.residual.tick(readings):
            self.heats = self.residual.look()
        self._learn(duty, readings, float(ticks))

    def _learn_again(self) -> None:
        """Begin another stretch from the estimate, which knows the walls as well as it says."""
        wall_sd_k = float(self.filter.deviations(self._rows[:1]).item())
        self.learning.begin_again(self.filter.nodes, wall_sd_k)

    def _learn(self, duty: float, readings: list[float | None], ticks: float) -> None:
        """Keep the stretch, but for the time a probe is outside the paste: it is begun anew once it is back."""
        away = bool(self.jumps.out)
        if self._away and not away:
            self._waiting = None
            self._learn_again()
            self.residual.forget()
        self._away = away
        if not away:
            self._ended_step(self.learning.tick(duty, readings, ticks))

    def _shaped(self, index: int, shape: Shape) -> None:
        """Act on what a jump has turned out to be."""
        self.residual.forget()
        if shape in (Shape.STIRRED, Shape.ADDITION):
            self.stirs += shape is Shape.STIRRED
            self.additions += shape is Shape.ADDITION
            if index == self._paste_at:  # the probe has come to rest: from here on the paste is known
                self._waiting = None
                self._learn_again()
        else:  # the paste is not what the reading made of it: the filter has been put back
            self.moves += shape is Shape.MOVED
            self._jumped, self._drift = 0, 0.0
            if index == self._paste_at:
                self._waiting = None
                self._learn_again()

    def _in_paste(self, readings: list[float | None]) -> list[float | None]:
        """Return the readings without those of probes that are outside the paste."""
        if not self.jumps.out:
            return readings
        return [None if index in self.jumps.out else value for index, value in enumerate(readings)]

    def _paste_of(self, modes: "Floats") -> Paste:
        ambient = self.model.parameters.ambient_c
        seen = self._rows @ modes + ambient
        cells = seen[self._cells :]
        return Paste(float(cells.min()), float(cells.max()), float(seen[1]), self._spread[1])

    def _stirred(self, paste_c: float) -> bool:
        wrong, spread = self.filter.innovation(self._paste_at, paste_c)
        far = abs(wrong) > max(JUMP_K, JUMP_SIGMA * spread)
        self._jumped = self._jumped + 1 if far else 0
        self._drift += (wrong - self._drift) * _DRIFT_SHARE
        if self._jumped < 2 and abs(self._drift) < max(_DRIFT_K, 3.0 * spread):
            return False
        self._jumped, self._drift = 0, 0.0
        return True

    def _estimate(self, paste_c: float) -> Estimate:
        ambient = self.model.parameters.ambient_c
        seen = self._rows.dot(self.filter.modes)
        coldest = self._cells + int(seen[self._cells :].argmin())
        hottest = 2 + int(seen[2:].argmax())
        self._since_spread += 1
        if self._since_spread >= _SPREAD_EVERY:
            self._since_spread = 0
            rows = self._rows[[0, 1, coldest, hottest]]
            self._spread = tuple(self.filter.deviations(rows).tolist())
        wall_sd, mean_sd, coldest_sd, hottest_sd = self._spread
        return Estimate(
            wall_c=seen.item(0) + ambient,
            paste_c=paste_c,
            coldest_c=min(seen.item(coldest) + ambient, paste_c),
            hottest_c=max(seen.item(hottest) + ambient, paste_c),
            mean_c=seen.item(1) + ambient,
            wall_sd_k=wall_sd,
            coldest_sd_k=coldest_sd,
            hottest_sd_k=hottest_sd,
            mean_sd_k=mean_sd,
        )
