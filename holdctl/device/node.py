"""The driver for a node that speaks the line protocol: a port, a session, and opening again after a loss."""

import math
from collections.abc import Callable

from holdctl.clock import Clock
from holdctl.device.base import Guarantees
from holdctl.device.port import READ_WAIT_MS, Port
from holdctl.device.session import NodeSession
from holdctl.errors import LinkError
from holdctl.events import Event, LinkChange

FIRST_RETRY_MS = 200
LAST_RETRY_MS = 5000


class NodeDriver:
    """A `Driver` for one node. Not for use by several threads."""

    def __init__(
        self, url: str, baud: int, clock: Clock, open_port: Callable[[str, int], Port] = Port
    ) -> None:
        self.session = NodeSession()
        self._url = url
        self._baud = baud
        self._clock = clock
        self._open_port = open_port
        self._port: Port | None = None
        self._pending: list[Event] = []
        self._retry_ms = FIRST_RETRY_MS
        self._next_try_ms = 0

    @property
    def guarantees(self) -> Guarantees | None:
        """What the protocol binds every node to, with the figures of this one; None before its hello."""
        boot = self.session.boot
        if boot is None:
            return None
        return Guarantees(
            lease_timer=True,
            max_lease_ms=boot.max_lease_ms,
            cutouts_c=boot.cutouts_c,
            watchdog=True,
            feedback_seen=self.session.feedback_seen,
        )

    def open(self) -> None:
        """Open the port. Raises LinkError, or ConfigError for an impossible URL; later losses are retried."""
        self._connect()

    def close(self) -> None:
        """Close the port; a running lease lapses in the node."""
        if self._port is not None:
            self._port.close()
        self._port = None

    def poll(self, timeout_s: float) -> list[Event]:
        """Return what came in as soon as there is any; [] after `timeout_s`, at most READ_WAIT_MS late."""
        if self._pending:
            events, self._pending = self._pending, []
            return events
        deadline_ms = self._clock.monotonic_ms() + round(timeout_s * 1000)
        if self._port is None:
            return self._reopen(deadline_ms)
        try:
            return self._listen(self._port, deadline_ms, math.ceil(timeout_s * 1000 / READ_WAIT_MS))
        except LinkError as error:
            self._lose(error)
            return self.poll(0)

    def lease(self, re: int, ms: int) -> None:
        """Answer reading `re` with `ms` of relay; a line that fails now shows in the next `poll`."""
        self._send(self.session.lease(re, ms))

    def reset_cutout(self) -> None:
        """Ask the node to clear its cut-out; it shows in the next readings whether it did."""
        self._send(self.session.reset_cutout())

    def _listen(self, port: Port, deadline_ms: int, quiet_reads: int) -> list[Event]:
        now_ms = self._clock.monotonic_ms()
        while True:
            question = self.session.due(now_ms)
            if question:
                port.write(question)
            data = port.read()
            now_ms = self._clock.monotonic_ms()
            if data:
                events = self.session.receive(data, now_ms)
                if events:
                    self._retry_ms = FIRST_RETRY_MS
                    return events
            else:
                quiet_reads -= 1  # ends the wait too: a clock that stands still must not hold us here
            if now_ms >= deadline_ms or quiet_reads <= 0:
                return []

    def _send(self, frame: bytes) -> None:
        if self._port is None or not frame:
            return
        try:
            self._port.write(frame)
        except LinkError as error:
            self._lose(error)

    def _lose(self, error: LinkError) -> None:
        self.close()
        self.session.line_lost()
        self._pending.append(LinkChange(False, str(error)))
        self._wait_longer()

    def _reopen(self, deadline_ms: int) -> list[Event]:
        while True:
            now_ms = self._clock.monotonic_ms()
            if now_ms >= self._next_try_ms:
                try:
                    self._connect()
                except LinkError:
                    self._wait_longer()
                else:
                    return self.poll(0)
            if now_ms >= deadline_ms:
                return []
            self._clock.sleep(max(1, min(self._next_try_ms, deadline_ms) - now_ms) / 1000)

    def _connect(self) -> None:
        self._port = self._open_port(self._url, self._baud)
        self._pending.append(LinkChange(True, f"port {self._url} is open"))

    def _wait_longer(self) -> None:
        self._next_try_ms = self._clock.monotonic_ms() + self._retry_ms
        self._retry_ms = min(2 * self._retry_ms, LAST_RETRY_MS)
