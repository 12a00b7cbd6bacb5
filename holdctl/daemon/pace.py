"""Who turns the hold's clock: this host, or the node."""

from enum import StrEnum

from holdctl.clock import Clock
from holdctl.events import Event, Instant, Reading

_WRAP_MS = 1 << 32
_MOST_STEP_MS = 3_600_000
"""A longer step of the node's clock is a reboot, not an hour without a reading."""


class Pace(StrEnum):
    """`host`: the boot-time clock. `device`: differences of the node's `up`, for test rigs and accelerated nodes."""

    HOST = "host"
    DEVICE = "device"


class Stopwatch:
    """Makes the `Instant` of each event, in whole milliseconds since the start."""

    def __init__(self, clock: Clock, pace: Pace) -> None:
        self._clock, self._pace = clock, pace
        self._start_ms = clock.monotonic_ms()
        self.start_utc_ms = self._base_utc_ms = clock.utc_ms()
        self._device_ms = 0
        self._up_ms: int | None = None
        self._excused_ms = 0

    def go_on(self, hold_ms: int, host_ms: int, started_utc_ms: int, up_ms: int | None) -> None:
        """Go on with the clocks of a hold that was begun earlier, from these values at this moment."""
        self._start_ms = self._clock.monotonic_ms() - host_ms
        self._base_utc_ms, self._device_ms, self._up_ms = started_utc_ms, hold_ms, up_ms

    def now(self, event: Event | None = None) -> Instant:
        """Return the moment of `event`; in device pace time stands still between readings, UTC follows the hold."""
        host_ms = self._clock.monotonic_ms() - self._start_ms - self._excused_ms
        if self._pace is Pace.HOST:
            return Instant(host_ms, host_ms, self._clock.utc_ms())
        if isinstance(event, Reading):
            self._advance(event.up_ms)
        return Instant(self._device_ms, host_ms, self._base_utc_ms + self._device_ms)

    def excuse(self, since_ms: int) -> None:
        """In device pace leave out the host's time since `since_ms`: this program has waited for itself, nobody else.

        However slow the machine is, a simulated night is then the same night.
        """
        if self._pace is Pace.DEVICE:
            self._excused_ms += self.now().host_ms - since_ms

    def _advance(self, up_ms: int) -> None:
        if self._up_ms is not None:
            step = (up_ms - self._up_ms) % _WRAP_MS
            if step <= _MOST_STEP_MS:
                self._device_ms += step
        self._up_ms = up_ms
