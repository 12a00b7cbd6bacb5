"""From what the programme wants to a lease: the controller, the duty it asks for, and the relay's own timing.

The last room that a reading comes to: state, interlocks and programme have had their say before.
"""

from collections.abc import Mapping

from holdctl.control import Controller, RelayTiming
from holdctl.control.relay import BRIDGE_MS
from holdctl.events import Estimate, Notice
from holdctl.hold.counsel import Counsel
from holdctl.hold.probes import Values
from holdctl.hold.programme import Want
from holdctl.settings import Settings

RIDE_CYCLE_S = 20.0
"""On the way up the relay may switch this often: the budget of switch-ons is one of the hold."""


class Drive:
    """What makes heat, and how much of it."""

    def __init__(self, settings: Settings) -> None:
        warmer = settings.warmer
        self.controller = Controller(settings)
        self.counsel = Counsel(self.controller)
        self.relay = RelayTiming(warmer.cycle_s, warmer.min_on_s, warmer.min_off_s)
        self.lease_ms = 0
        """As the last reading was answered."""
        self.duty = 0.0
        self.estimate: Estimate | None = None
        """Of wall and paste, at the last valid reading."""
        self.asked_wall_c: float | None = None
        self.setpoint_c: float | None = None
        self._cycle_s = warmer.cycle_s
        self._max_lease_ms = 5_000

    def grant(self, max_lease_ms: int) -> None:
        """Take the longest lease that the node grants."""
        self._max_lease_ms = max_lease_ms
        self.relay.bridge_ms = min(BRIDGE_MS, max_lease_ms)

    def follow(self, used_c: Mapping[int, float], passed_ms: int) -> Estimate:
        """Carry the estimate to these readings (by channel, °C), `passed_ms` after the last valid ones."""
        delivered = min(passed_ms, self.lease_ms) / passed_ms if passed_ms else 0.0
        self.estimate = self.controller.estimate(used_c, delivered, passed_ms / 1000)
        return self.estimate

    def lease(self, want: Want, values: Values, dt_s: float, now_ms: int, *, limited: bool) -> list[Notice]:
        """Set `lease_ms` for what is wanted; `limited`: no more than keeps the temperature. Return what to say."""
        if want.setpoint_c is None or self.estimate is None:
            self.rest()
            return []
        asked = self.controller.update(want.setpoint_c, self.estimate, dt_s)
        self.asked_wall_c = asked.wall_c
        self.relay.cycle_s = min(self._cycle_s, RIDE_CYCLE_S) if self.controller.riding else self._cycle_s
        most = self.controller.needed_duty if limited else 1.0
        self.give(want.setpoint_c, round(min(asked.duty, most, 1.0), 4), values, dt_s)
        return self.counsel.look(now_ms, self.duty, dt_s)

    def give(self, setpoint_c: float, duty: float, values: Values, dt_s: float) -> None:
        """Set `lease_ms` for a duty, which may not rise while a jump awaits its second reading."""
        self.setpoint_c = setpoint_c
        self.duty = min(duty, self.duty) if values.doubtful else duty
        self.lease_ms = min(self.relay.lease(self.duty, dt_s), self._max_lease_ms)

    def rest(self) -> None:
        """Relay off: forget debt and integrals."""
        self.relay.rest()
        self.lease_ms, self.duty = 0, 0.0
        self.setpoint_c = self.asked_wall_c = None
        self.controller.rest()
