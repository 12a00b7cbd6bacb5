"""The one place that reads a clock; everything else is told the time.

Control runs on the boot-time clock: it never goes back and, unlike the plain monotonic one, it goes on while the
computer sleeps, so that a suspended night shows as a gap. UTC is recorded beside it and decides nothing but what a
person reads.
"""

import contextlib
import os
import time  # noqa: TID251 - here and nowhere else
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Protocol
from zoneinfo import ZoneInfo

_CLOCK = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)
"""Linux; elsewhere (macOS) CLOCK_MONOTONIC itself counts sleep (from memory)."""


class Clock(Protocol):
    """What the shell needs of time."""

    def monotonic_ms(self) -> int:
        """Return milliseconds of a clock that never goes back and counts sleep; its zero is that of this boot."""

    def utc_ms(self) -> int:
        """Return milliseconds since 1970-01-01 UTC as the system believes."""

    def sleep(self, seconds: float) -> None:
        """Wait."""


class SystemClock:
    """The machine's own clocks."""

    def monotonic_ms(self) -> int:
        """Return CLOCK_BOOTTIME in whole milliseconds."""
        return time.clock_gettime_ns(_CLOCK) // 1_000_000

    def utc_ms(self) -> int:
        """Return the system's UTC in whole milliseconds."""
        return time.time_ns() // 1_000_000

    def sleep(self, seconds: float) -> None:
        """Block for `seconds`."""
        time.sleep(seconds)


def boot_id() -> str:
    """Return the kernel's name for this boot, "" where it has none: then no clock reaches across a restart."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except OSError:
        return ""


def local_zone() -> tzinfo:
    """Return this computer's time zone with its rules, so that a night in which the clock is set has its hours.

    Where the system names none, the offset of this moment.
    """
    name = os.environ.get("TZ", "").removeprefix(":")
    with contextlib.suppress(OSError, ValueError):
        if name and not name.startswith("/"):
            return ZoneInfo(name)
        with Path(name or "/etc/localtime").open("rb") as file:
            return ZoneInfo.from_file(file, key="local")
    return datetime.now().astimezone().tzinfo or UTC
