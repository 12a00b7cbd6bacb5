"""One warmer's control as one object: readings in, duty out.

Estimator, governor, approach and the two loops together, rebuilt whenever the estimator has taken over another model.
Order within a step: estimate, ceilings, leg, loops.
"""

import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.control.approach import COAST, LOOPS, RIDE, Approach, Leg
from holdctl.control.cascade import Cascade
from holdctl.control.estimator import Estimator
from holdctl.control.forecast import Snapshot, directions
from holdctl.control.governor import Governor
from holdctl.control.march import LIFT_S, lift
from holdctl.control.model import BASE, SIDE
from holdctl.control.told import told
from holdctl.control.tuning import LoopMargins, as_identified, tuned
from holdctl.control.wish import floor_c, loop_ceiling_c, wall_most_c, wish_for
from holdctl.events import Estimate, Identified
from holdctl.settings import PASTE_PLACES, Place, Probe, Settings

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

SURE = {Place.WALL: 2.0, Place.EDGE: 2.0, Place.MID: 2.0, Place.CORE: 2.3}
TOLERATED_K = {Place.WALL: 0.5, Place.EDGE: 0.8, Place.MID: 1.5, Place.CORE: 1.0}
"""By the place nearest the heat that a probe sees: ceilings count for the estimate and so many standard deviations, of
which so many kelvins are let pass. An estimate that is sure to half a kelvin rides the ceiling itself or half a kelvin
below it, one that is sure to three stays five below it."""
HOLD_ROOM_K = 0.7
"""Over its steady temperature in the hold every part may be heated by so much, once its place is near."""
NEAR_HOLD_K = 5.0
CAREFUL_K, CAREFUL_S = 0.35, 1_800.0
"""A stirred paste that comes from above to a warmer which nobody knows, and no probe sees its wall, is met so far under
its setpoint for so long from the first heat on: until then nothing has told how much heat wall and heater hold back."""
BACK_SHARE = 0.4
"""A way back, as after something cold was stirred in, may swing less than the first way up: so much of its lift."""
FALLEN_K = 1.0
"""A place no further above its setpoint has fallen there: from here on it is held."""
_MARGIN_EVERY = 15
_MOST_EVERY = 4
"""In the hold the governor is asked so seldom: what it answers holds for twenty seconds."""


class Asked(msgspec.Struct, frozen=True):
    """Duty, 0 to 1, and the wall's set temperature, °C (None: the wall has none, only ceilings)."""

    duty: float
    wall_c: float | None


class Controller:
    """Holds one warmer; built from its settings."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._told = told(settings)
        self._main = next(p for p in settings.probe if p.place in PASTE_PLACES)
        self._place = self._main.place
        self.sees_wall = any(probe.place is Place.WALL for probe in settings.probe)
        """Whether a probe sits at the heated wall."""
        self.estimator = Estimator(self._told, settings.probe)
        self._cascade: Cascade | None = None
        self._cascade_for: float | None = None
        self._seen_change = -1
        seen = Place.WALL if self.sees_wall else self._place
        self._sure, self._tolerated_k = SURE[seen], TOLERATED_K[seen]
        self._ceiling_c: float | None = None
        self._leg = LOOPS
        self._setpoint_c: float | None = None
        self._since_way_s = math.inf
        self._held_at_c = math.inf
        """The setpoint that was asked for last, °C."""
        self._been_there = False
        """Whether a way up has ended in a hold of an hour: from there on the way is one back."""
        self.margin_k = 0.0
        """How far under its ceiling the hottest paste is kept for what is not known, K."""
        self.limited = False
        """Whether ceilings hold power back."""
        self._fallen = False
        """Whether the paste has come from above, before any heat."""
        self._heats = False
        """Whether the last step has asked for heat."""
        self._heated_s = 0.0
        """Since the first heat."""
        self._since_margin = _MARGIN_EVERY
        self._most_duty = 1.0
        """The governor's last answer."""
        self.margins: LoopMargins | None = None
        """Of the loops as they are tuned now."""
        self._build()

    @property
    def leg(self) -> Leg:
        """Which part of the way is being gone."""
        return self._leg

    @property
    def riding(self) -> bool:
        """Whether power is limited by ceilings alone."""
        return self._leg is RIDE

    @property
    def power_w(self) -> float:
        """Rated power, W."""
        return self._told.power_w

    @property
    def ceiling_c(self) -> float | None:
        """The hottest that any paste may get, °C; None before the first reading."""
        return self._ceiling_c

    @property
    def main_probe(self) -> Probe:
        """The probe whose place the setpoint means."""
        return self._main

    @property
    def needed_duty(self) -> float:
        """What the setpoint's place needs to keep its temperature of now, by the model, in duty."""
        return max(0.0, float(self._per_duty.dot(self.estimator.filter.modes)))

    @property
    def asked_c(self) -> float | None:
        """The setpoint that was asked for last, °C; None before the first."""
        return self._setpoint_c

    def expected_apart_k(self, one: Place, other: Place) -> float:
        """Return by how much `other` is hotter than `one` in a hold at the present setpoint, K."""
        model = self.estimator.model
        apart = self._apart.get((one, other))
        if apart is None:  # for 1 K of the setpoint over the room; the model changes seldom
            apart = float((model.row(other) - model.row(one)) @ model.holding(self._place))
            self._apart[one, other] = apart
        ambient_c = model.parameters.ambient_c
        return apart * ((self._setpoint_c or ambient_c) - ambient_c)

    def snapshot(self, left_s: float | None) -> Snapshot | None:
        """Return what a forecast starts from; None while nothing is asked. `left_s` is what has still to be earned."""
        if self._setpoint_c is None or self._ceiling_c is None:
            return None
        # The margin shrinks on the way.
        wish = wish_for(self._settings, self._setpoint_c, self._ceiling_c, self.margin_k / 2)
        model, modes = self.estimator.model, self.estimator.filter.modes.copy()
        learning = self.estimator.learning
        main = learning.main
        return Snapshot(
            models=(model, *learning.others),
            modes=(modes, *(() if main is None else directions(model, modes, learning.others, main))),
            load=self.estimator.filter.load,
            wish=wish,
            left_s=left_s,
        )

    def estimate(self, seen_c: Mapping[int, float], duty: float, dt_s: float) -> Estimate:
        """Carry the estimate to these readings (by channel, °C), `dt_s` after the last, at the duty delivered since."""
        estimate = self.estimator.update(seen_c, duty, dt_s)
        if self.estimator.changed != self._seen_change:
            self._build()
        if self._ceiling_c is None:
            self._ceiling_c = max(self._settings.programme.ceiling, estimate.hottest_c)
        return estimate

    def _settled(self, asked_c: float, paste_c: float) -> bool:
        """Whether the paste is held: paste that has still to fall is not, what is learnt on the way serves there.

        Not where a probe sees the wall, which tells of the fall all that it needs.
        Paste that has been held and rises by itself is no new fall: a fit would explain what heats it.
        """
        held = self.estimator.learning.settled and asked_c >= self._held_at_c
        self._held_at_c = asked_c
        return self._leg is LOOPS and (held or self.sees_wall or paste_c - asked_c <= FALLEN_K)

    def update(self, setpoint_c: float, estimate: Estimate, dt_s: float) -> Asked:
        """Return what is asked for one step of `dt_s` seconds. Raises ValueError where an input is not finite."""
        asked_c = setpoint_c
        ambient = self.estimator.model.parameters.ambient_c
        ahead = self.estimator.filter.modes_after_delay
        near = setpoint_c - estimate.paste_c <= NEAR_HOLD_K
        most = self._most(ahead, setpoint_c if near else None)
        self.limited = self._leg is RIDE and most < 1.0
        self._setpoint_c = setpoint_c
        self._since_way_s = 0.0 if self._leg is not LOOPS else self._since_way_s + dt_s
        careful_k = self._careful(setpoint_c, estimate.paste_c, dt_s)
        setpoint_c -= careful_k
        setpoint_c += self._lift(setpoint_c - ambient, estimate.coldest_c - ambient)
        aim = (setpoint_c - ambient) * self._aim_share
        if not careful_k:  # else the loops do it: what is known is not enough for full power
            self._leg = self._approach.next(ahead, aim)
        self.estimator.learning.settled = self._settled(asked_c, estimate.paste_c)
        if self._leg is RIDE:
            if self._cascade is not None:
                self._cascade.reset()
            self._heats = most > 0.0
            return Asked(most, None)
        cascade = self._cascade_at(asked_c)
        hold_c = ambient + self._approach.hold_rise * aim
        asked = cascade.update(
            setpoint_c=setpoint_c,
            paste_c=estimate.paste_c,
            wall_c=estimate.wall_c,
            wall_feed_c=hold_c,
            flow=self.estimator.flow(),
            dt_s=dt_s,
            given_c=self._given(ahead, setpoint_c, hold_c),
            most=most,
        )
        self._heats = asked.duty > 0.0
        return Asked(asked.duty, asked.wall_c)

    def rest(self) -> None:
        """The relay is off by another's will: forget both integrals."""
        self._setpoint_c = None
        self.limited = False
        if self._cascade is not None:
            self._cascade.reset()

    def due(self) -> Callable[[], Identified] | None:
        """Return the identification that is due, if one is; it may run anywhere."""
        return self.estimator.due()

    def identified(self, found: Identified) -> None:
        """Take identified parameters; before the first reading they are those of an earlier night."""
        self.estimator.identified(found)

    def _build(self) -> None:
        import numpy as np

        model = self.estimator.model
        self._seen_change = self.estimator.changed
        self._apart: dict[tuple[Place, Place], float] = {}
        place = model.row(self._place) @ model.shape
        self._per_duty = place / float(place @ (model.drive / model.rates))
        rim = model.rim_rows()
        walls = np.eye(model.nodes)[[BASE, SIDE]]
        rows = np.vstack([rim, walls])
        self._governor = Governor(model, rows)
        self._needed = rows @ model.holding(self._place)
        self._rims = len(rim)
        # At the edge the setpoint is there long before the paste is: the way up goes by the middle of it.
        aim = Place.MID if self._place is Place.EDGE else self._place
        self._aim_share = float(model.row(aim) @ model.holding(self._place))
        self._approach = Approach(model, aim, self._leg)
        self._since_margin = _MARGIN_EVERY
        if self._leg is not LOOPS:
            self._cascade = None

    def _given(self, ahead: "Floats", setpoint_c: float, hold_c: float) -> float | None:
        """Return what is asked of the wall whatever the outer loop says, °C; None: the outer loop decides."""
        if self._leg is COAST:
            return hold_c
        aim = (setpoint_c - self.estimator.model.parameters.ambient_c) * self._aim_share
        falls = self._approach.may_fall(ahead, aim)
        return floor_c(self._settings, setpoint_c) if falls else None

    def _careful(self, setpoint_c: float, paste_c: float, dt_s: float) -> float:
        """Return how far under its setpoint a paste from above is met, K."""
        if not self._told.stirred or self.sees_wall or self.estimator.knows:
            return 0.0
        if self._heated_s == 0.0:
            self._fallen = self._fallen or paste_c > setpoint_c + NEAR_HOLD_K
        if self._heated_s > 0.0 or self._heats:
            self._heated_s += dt_s
        return CAREFUL_K if self._fallen and self._heated_s < CAREFUL_S else 0.0

    def _lift(self, setpoint: float, coldest: float) -> float:
        """Return how much higher the place is held while the coldest paste lags; setpoint and coldest over the room."""
        if self._told.stirred:
            return 0.0
        if self._since_way_s > LIFT_S:
            self._been_there = self._been_there or self._since_way_s < math.inf
            return 0.0
        share = BACK_SHARE if self._been_there else 1.0
        return share * lift(setpoint * self._aim_share * self._approach.coldest_rise - coldest)

    def _most(self, ahead: "Floats", hold_c: float | None) -> float:
        """Return the most duty that keeps paste and walls under their ceilings; `hold_c` is a setpoint that is near."""
        self._since_margin += 1
        if self._leg is LOOPS and self._since_margin % _MOST_EVERY and self._since_margin < _MARGIN_EVERY:
            return self._most_duty
        if self._since_margin >= _MARGIN_EVERY:
            self._since_margin = 0
            self._limits = self._under_ceilings(hold_c)
        self._most_duty = self._governor.most(ahead, self._limits, self.estimator.filter.load)
        return self._most_duty

    def _under_ceilings(self, hold_c: float | None) -> "Floats":
        """Return what each row of the governor may get, over the room, less what is not known of it."""
        import numpy as np

        ambient = self.estimator.model.parameters.ambient_c
        spread = self._sure * self.estimator.filter.deviations(self._governor.rows)
        margin = np.maximum(spread - self._tolerated_k, 0.0)
        self.margin_k = float(margin[: self._rims].max())
        ceilings = np.full(len(margin), wall_most_c(self._settings))
        ceilings[: self._rims] = self._ceiling_c
        limits: Floats = ceilings - margin - ambient
        if hold_c is not None:  # however little is known: else a hold would never be reached
            needed = (hold_c - ambient) * self._needed + HOLD_ROOM_K
            limits = np.minimum(ceilings - ambient, np.maximum(limits, needed))
        return limits

    def _cascade_at(self, setpoint_c: float) -> Cascade:
        """Return the loops for this setpoint; a new setpoint starts them anew."""
        if self._cascade is None or self._cascade_for != setpoint_c:
            ceiling = loop_ceiling_c(self._settings, setpoint_c)
            learnt = as_identified(self._told, self.estimator.model.parameters)
            cycle_s = self._settings.warmer.cycle_s
            outer, inner, self.margins = tuned(self.estimator.model, learnt, self._place, cycle_s)
            self._cascade = Cascade(outer, inner, floor_c(self._settings, setpoint_c), ceiling)
            self._cascade_for = setpoint_c
        return self._cascade
