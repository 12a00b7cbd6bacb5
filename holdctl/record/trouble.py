"""A record that can't be written while a hold runs: an alarm once for each cause, and when to try again."""

import sqlite3
from collections import deque

from holdctl.errors import StoreError
from holdctl.events import Notice, NoticeKind

DISK_FULL, FAILING = "disk-full", "record-failing"
CAUSES = (DISK_FULL, FAILING)
"""Names of the alarms."""
_FIRST_RETRY_MS, _LONGEST_RETRY_MS = 1_000, 30_000
_MOST_NEWS = 100

_GOES_ON = "The hold goes on and the heat stays on; readings wait in memory, a day of them at most."


class Trouble:
    """What stands between memory and disk, if anything does."""

    def __init__(self) -> None:
        self._standing: dict[str, str] = {}
        self._news: deque[Notice] = deque(maxlen=_MOST_NEWS)
        self._retry_ms = 0
        self._wait_ms = _FIRST_RETRY_MS

    def __bool__(self) -> bool:
        return bool(self._standing)

    def due(self, now_ms: int) -> bool:
        """Say whether it is time to try to write (again)."""
        return not self._standing or now_ms >= self._retry_ms

    def failed(self, error: Exception, said: StoreError, now_ms: int) -> None:
        """Take note of a failure; a cause that does not stand yet is news."""
        name = DISK_FULL if is_full(error) else FAILING
        if name not in self._standing:
            self._standing[name] = str(said)
            self._news.append(Notice(NoticeKind.ALARM, name, f"{said} {_GOES_ON}"))
        self._retry_ms = now_ms + self._wait_ms
        self._wait_ms = min(2 * self._wait_ms, _LONGEST_RETRY_MS)

    def over(self, text: str) -> None:
        """Take note that everything is written: each cause is cleared."""
        for name in self._standing:
            self._news.append(Notice(NoticeKind.ALARM_CLEARED, name, text))
        self._standing.clear()
        self._wait_ms = _FIRST_RETRY_MS

    def say(self, notice: Notice) -> None:
        """Let a notice be announced."""
        self._news.append(notice)

    def news(self) -> list[Notice]:
        """Return what has not been announced yet."""
        found = list(self._news)
        self._news.clear()
        return found


def is_full(error: BaseException | None) -> bool:
    """Say whether an error, or what it came from, means that the disk is full."""
    import errno

    while error is not None:
        if isinstance(error, sqlite3.Error) and getattr(error, "sqlite_errorname", "") == "SQLITE_FULL":
            return True
        if isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT):
            return True
        error = error.__cause__
    return False
