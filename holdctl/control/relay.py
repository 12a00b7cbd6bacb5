"""Time-proportioned relay: a duty becomes leases.

The relay owes the heater `duty × time`. It is switched on at most once a cycle, when it owes at least the minimum
on-time; it stays on until the debt is paid, to the millisecond, since a lease may end between two readings. In
steady state this gives on-times of exactly duty × cycle, and the duty is averaged over the cycle, not sampled at
its start (sampling aliases the noise of the reading into the paste).
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
        self._owed_s = max(-self.min_on_s, min(self.cycle_s, self._owed_s + duty * dt_s - delivered))
        self._since_on_s += dt_s
        if self._lease_s > dt_s:
            self._on_s += delivered
        elif self._lease_s > 0:
            self._on_s, self._off_s = 0.0, dt_s - self._lease_s
        else:
            self._off_s += dt_s

    def _may_switch_on(self, duty: float) -> bool:
        # The cycle has half a tick of grace, or jitter would slip the grid by a tick each cycle; the rest has none.
        on_time = self._owed_s / max(1.0 - duty, 1e-9)
        due = self._since_on_s + self.tick_s / 2 >= self.cycle_s
        rested = self._off_s + 1e-9 >= self.min_off_s
        return due and rested and on_time >= self.min_on_s and duty > 0

    def _stay_or_end(self, duty: float) -> int:
        left = self._owed_s / (1.0 - duty) if duty < 1.0 else math.inf
        left = max(left, self.min_on_s - self._on_s)
        if left <= 0:
            self._off_s, self._on_s, self._lease_s = 0.0, 0.0, 0.0
            return 0
        ms = self.bridge_ms if left > 1.5 * self.tick_s else min(self.bridge_ms, max(1, round(left * 1000)))
        self._lease_s = ms / 1000
        self._on_s = max(self._on_s, 1e-6)
        return ms
