"""The one place that reads a clock; everything else is told the time.

Control runs on the monotonic clock. UTC is recorded beside it and decides nothing but what a person reads.
"""

import time  # noqa: TID251 - here and nowhere else
from typing import Protocol


class Clock(Protocol):
    """What the shell needs of time."""

    def monotonic_ms(self) -> int:
        """Return milliseconds of a clock that never goes back (its zero means nothing)."""

    def utc_ms(self) -> int:
        """Return milliseconds since 1970-01-01 UTC as the system believes."""

    def sleep(self, seconds: float) -> None:
        """Wait."""


class SystemClock:
    """The machine's own clocks."""

    def monotonic_ms(self) -> int:
        """Return CLOCK_MONOTONIC in whole milliseconds."""
        return time.monotonic_ns() // 1_000_000

    def utc_ms(self) -> int:
        """Return the system's UTC in whole milliseconds."""
        return time.time_ns() // 1_000_000

    def sleep(self, seconds: float) -> None:
        """Block for `seconds`."""
        time.sleep(seconds)
