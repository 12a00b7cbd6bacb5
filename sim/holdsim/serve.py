"""Serving a simulated node on a line: in real time, faster, or in lockstep with its host."""

from collections.abc import Callable

from holdctl.clock import Clock
from holdsim.node import SimulatedNode
from holdsim.pty_line import PtyLine

ALONE_S = 1.0
"""Longest that a simulated second takes in lockstep once the host has stopped answering, s."""
_FAR_BEHIND_MS = 1000

BeforeTick = Callable[[int], None]
"""Called with the number of seconds simulated so far, before each second."""


def _nothing(_second: int) -> None:
    pass


class Service:
    """One node on one line. `before_tick` is where people act on the plant; `clock` only paces."""

    def __init__(
        self, node: SimulatedNode, line: PtyLine, clock: Clock, before_tick: BeforeTick = _nothing
    ) -> None:
        self._node = node
        self._line = line
        self._clock = clock
        self._before_tick = before_tick

    def lockstep(self, seconds: int | None, patience_s: float) -> None:
        """Simulate `seconds` (None: without end), each reading waiting for the lease that answers it.

        Starts with the host's first `hello?`. A host that leaves a reading unanswered for `patience_s` of
        real time is taken for gone: the node goes on alone, at least at real time, so that the lease lapses,
        until the host is back.
        """
        self._await_hello()
        wait_s = patience_s
        while seconds is None or self._node.ticks < seconds:
            self._before_tick(self._node.ticks)
            self._line.write(self._node.tick())
            if self._answered_within(wait_s):
                wait_s = patience_s
            else:
                self._line.host_is_gone()
                wait_s = min(patience_s, ALONE_S)

    def paced(self, seconds: int | None, speed: float) -> None:
        """Simulate `seconds` (None: without end) at `speed` simulated seconds for each real one."""
        period_ms = 1000 / speed
        due_ms = self._clock.monotonic_ms() + period_ms
        while seconds is None or self._node.ticks < seconds:
            self._listen_until(due_ms)
            self._before_tick(self._node.ticks)
            self._line.write(self._node.tick())
            due_ms = max(due_ms + period_ms, self._clock.monotonic_ms() - _FAR_BEHIND_MS)
        self._listen_until(due_ms)

    def _await_hello(self) -> None:
        while True:
            reply = self._node.receive(self._line.read(1.0))
            if reply:
                self._line.write(reply)
                return

    def _answered_within(self, wait_s: float) -> bool:
        deadline_ms = self._clock.monotonic_ms() + wait_s * 1000
        self._listen(wait_s)
        while not self._node.answered:
            left_ms = deadline_ms - self._clock.monotonic_ms()
            if left_ms <= 0:
                return False
            self._listen(left_ms / 1000)
        return True

    def _listen(self, wait_s: float) -> None:
        reply = self._node.receive(self._line.read(wait_s))
        if reply:
            self._line.write(reply)

    def _listen_until(self, due_ms: float) -> None:
        while (left_ms := due_ms - self._clock.monotonic_ms()) > 0:
            self._listen(left_ms / 1000)
