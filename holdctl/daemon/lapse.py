"""Whether this process stood still, or the wall clock was moved: seen by looking at both clocks in every turn.

A turn of the loop waits a quarter of a second for readings and answers them. Where far more has passed since the last
look, the process was suspended, the computer slept, or something starved it; what comes in then had to wait, and must
not be answered as if it were fresh.
"""

from collections.abc import Iterable

from holdctl.clock import Clock
from holdctl.events import ClockJump, Event, Late, Reading

LATE_MS = 1_500
"""A reading that may have waited longer is answered too late: the node reports every second."""
JUMP_MS = 2_000
"""The wall clock was set where it differs by more than this from one look to the next; a slewed one stays far below."""


class Lapse:
    """Both clocks at the last look."""

    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self._seen_ms, self._utc_ms = clock.monotonic_ms(), clock.utc_ms()
        self._stood_ms = 0

    def look(self, events: Iterable[Event]) -> list[Event]:
        """Return what has to be stepped before `events`: standing still is told once a reading is there to be late."""
        now_ms, utc_ms = self._clock.monotonic_ms(), self._clock.utc_ms()
        passed, jump = now_ms - self._seen_ms, (utc_ms - self._utc_ms) - (now_ms - self._seen_ms)
        self._seen_ms, self._utc_ms = now_ms, utc_ms
        found: list[Event] = [ClockJump(jump)] if abs(jump) > JUMP_MS else []
        if passed > LATE_MS:
            self._stood_ms = max(self._stood_ms, passed)
        if self._stood_ms and any(isinstance(event, Reading) for event in events):
            found.append(Late(self._stood_ms))
            self._stood_ms = 0
        return found
