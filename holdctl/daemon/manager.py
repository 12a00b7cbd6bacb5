"""What a service manager is told (the protocol of sd_notify(3)): ready, what goes on, alive, stopping.

It is told by the loop itself and never by a timer's thread: a loop that hangs has to be seen hanging. What it says is
a datagram that is never waited for.
"""

import os
import socket
from collections.abc import Mapping
from contextlib import suppress

DEADLINE_MS = 1_500
"""A turn of the loop that took longer has missed its deadline: a reading comes every second."""
FOLLOWING_S = 60
"""While an interrupted hold is followed from its begin the start may last so long beyond each word of it."""
_FEEDS = 4
"""So often is the watchdog fed within its time at most; the manual page asks for two."""


class Manager:
    """The service manager that started this process; nobody where none did."""

    def __init__(self, environ: Mapping[str, str] | None = None) -> None:
        """Read where it listens and how long its watchdog waits from the environment.

        Both are taken out of this process's own: what it starts (a sleep inhibitor, a command) has no word there.
        """
        if environ is None:
            names = ("NOTIFY_SOCKET", "WATCHDOG_USEC", "WATCHDOG_PID")
            environ = {name: os.environ.pop(name, "") for name in names}
        self._address = _address(environ.get("NOTIFY_SOCKET", ""))
        self._every_ms = _every_ms(environ)
        self._fed_ms: int | None = None
        self._status = ""

    @property
    def watchdog_ms(self) -> int:
        """Time after which the watchdog bites, ms; 0 without one."""
        return self._every_ms * _FEEDS

    def following(self, inputs: int) -> None:
        """The start goes on: so many inputs of an interrupted hold have been followed."""
        status = f"following the record of the interrupted hold, {inputs} readings and events so far"
        self._send(f"EXTEND_TIMEOUT_USEC={FOLLOWING_S * 1_000_000}", f"STATUS={status}")

    def ready(self, status: str) -> None:
        """The hold has begun."""
        self._status = status
        self._send("READY=1", f"STATUS={status}")

    def turned(self, status: str, now_ms: int, took_ms: int, *, decided: bool) -> None:
        """Feed the watchdog after a turn that met its deadline with a decision; say `status` where it has changed."""
        words = [] if status == self._status else [f"STATUS={status}"]
        if decided and took_ms <= DEADLINE_MS and self._due(now_ms):
            self._fed_ms = now_ms
            words.append("WATCHDOG=1")
        if words:
            self._status = status
            self._send(*words)

    def stopping(self, status: str) -> None:
        """The hold is about to end."""
        self._send("STOPPING=1", f"STATUS={status}")

    def _due(self, now_ms: int) -> bool:
        return self._every_ms > 0 and (self._fed_ms is None or now_ms - self._fed_ms >= self._every_ms)

    def _send(self, *words: str) -> None:
        if not self._address:
            return
        text = "\n".join(word.replace("\n", " ") for word in words)
        with (
            suppress(OSError),
            socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as line,
        ):
            line.setblocking(False)
            line.sendto(text.encode("utf-8", "replace"), self._address)


def _address(name: str) -> str:
    """Return the socket's address; `@` begins an abstract one."""
    if name.startswith("@"):
        return "\0" + name[1:]
    return name if name.startswith("/") else ""


def _every_ms(environ: Mapping[str, str]) -> int:
    """Return how often to feed, ms; 0 where no watchdog is set, or where it is another process's."""
    usec, pid = environ.get("WATCHDOG_USEC", ""), environ.get("WATCHDOG_PID", "")
    if not usec.isdigit() or (pid and pid != str(os.getpid())):
        return 0
    return int(usec) // 1000 // _FEEDS
