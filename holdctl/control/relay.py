"""Time-proportioned relay: a duty becomes leases.

The relay owes the heater `duty × time`. It is switched on at most once a cycle, when it has at least the minimum
on-time to give; it goes off, to the millisecond, when the debt has come down to a line that rises with slope
`duty` through zero at `duty × cycle`, since a lease may end between two readings. So each pulse is exactly
duty × cycle in steady state, an error is gone after one cycle, and the duty is averaged over the cycle, not sampled
at its start (sampling aliases the noise of the reading into the paste). Without the slope, going off at a debt of
zero turns an error into -duty/(1 - duty) of itself each cycle: over half duty, long and short pulses in turn.
"""

import math
from dataclasses import dataclass, field

BRIDGE_MS = 2_500


@dataclass(slots=True)
class RelayTiming:
    """Turns a stream of duties into leases; all times in seconds but the lease, which is in milliseconds."""

    cycle_s: float
    min_on_s: float
    min_off_s: float
    tick_s: float = 1.0
    """Nominal time between readings."""
    bridge_ms: int = BRIDGE_MS
    """Lease while the relay stays on: bridges one lost reading, so that a dropped frame is not a switch-off."""
    _owed_s: float = field(default=0.0, init=False)
    _lease_s: float = field(default=0.0, init=False)
    _on_s: float = field(default=0.0, init=False)
    """How long the relay has been on; 0 while it is off."""
    _off_s: float = field(default=math.inf, init=False)
    _since_on_s: float = field(default=math.inf, init=False)
    switch_ons: int = field(default=0, init=False)

    def rest(self) -> None:
        """Relay off now, by whatever outranks the duty; the debt is forgotten."""
        if self._on_s > 0:
            self._off_s = 0.0
        self._owed_s = self._lease_s = self._on_s = 0.0

    def lease(self, duty: float, dt_s: float) -> int:
        """Return the lease in ms for `duty` (0…1), `dt_s` after the last one. Raises ValueError on a bad number."""
        if not (0.0 <= duty <= 1.0 and 0.0 <= dt_s < math.inf):
            raise ValueError(f"duty {duty!r} must lie in 0…1 and dt {dt_s!r} must be finite and not negative")
        self._settle(duty, dt_s)
        if self._on_s > 0:
            return self._stay_or_end(duty)
        if self._may_switch_on(duty):
            self.switch_ons += 1
            self._since_on_s = 0.0
            return self._stay_or_end(duty)
        self._lease_s = 0.0
        return 0

    def _settle(self, duty: float, dt_s: float) -> None:
        """Book what was owed and what the last lease delivered."""
        delivered = min(dt_s, self._lease_s)
        most = self.min_on_s + self.min_off_s
        self._owed_s = max(-most, min(self.cycle_s, self._owed_s + duty * dt_s - delivered))
        self._since_on_s += dt_s
        if self._lease_s > dt_s:
            self._on_s += delivered
            if self._since_on_s >= self.cycle_s:  # on through the cycle's end: the next one begins
                self._since_on_s %= self.cycle_s
        elif self._lease_s > 0:
            self._on_s, self._off_s = 0.0, dt_s - self._lease_s
        else:
            self._off_s += dt_s

    def _may_switch_on(self, duty: float) -> bool:
        # The cycle has half a tick of grace, or jitter would slip the grid by a tick each cycle; the rest has none.
        due = self._since_on_s + self.tick_s / 2 >= self.cycle_s
        rested = self._off_s + 1e-9 >= self.min_off_s
        return due and rested and self._left_s(duty, 0.0) >= self.min_on_s and duty > 0

    def _left_s(self, duty: float, since_s: float) -> float:
        """Return the on-time still to come, s, `since_s` into a cycle; endless where too little is left to go off."""
        left = self._owed_s + duty * (duty * self.cycle_s - since_s)
        return math.inf if since_s + left >= self.cycle_s - self.min_off_s else left

    def _stay_or_end(self, duty: float) -> int:
        left = max(self._left_s(duty, self._since_on_s), self.min_on_s - self._on_s)
        if left <= 0:
            self._off_s, self._on_s, self._lease_s = 0.0, 0.0, 0.0
            return 0
        ms = self.bridge_ms if left > 1.5 * self.tick_s else min(self.bridge_ms, max(1, round(left * 1000)))
        self._lease_s = ms / 1000
        self._on_s = max(self._on_s, 1e-6)
        return ms
