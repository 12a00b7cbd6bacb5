"""The host's side of the talk with one node: bytes in, events out. No I/O; the caller tells the time.

Rules of docs/node-protocol.md that live here: `hello?` every second until answered and no lease before; the
numbers of commands; what counts as a reset of the node; an acknowledgement that this host never caused.
"""

from collections import Counter, deque

from holdctl.device import messages
from holdctl.device.framing import Splitter, encode
from holdctl.events import Event, ForeignAck, LinkChange, NodeBoot, Reading

HELLO_EVERY_MS = 1000
_LATE_ANSWER_MS = 2000  # a hello this soon after our question may still answer it
_WRAP_STEP_MS = 3_600_000  # a counter below its last value has wrapped only if it moved less than this on
_WRAP_STEP = 3600
_IN_FLIGHT = 64  # commands remembered until the node acknowledges one of them
_NUMBERS = 0xFFFF


class NodeSession:
    """One node as this host knows it, from the first byte on through losses of the line."""

    def __init__(self) -> None:
        self.boot: NodeBoot | None = None
        """The node's latest hello."""
        self.feedback_seen = False
        """Whether readings carry the contact's feedback."""
        self._splitter = Splitter()
        self._answered = False
        self._hello_due_ms: int | None = None
        self._asked_ms = 0
        self._questions = 0
        self._rebooted = False
        self._reported = False
        self._last: Reading | None = None
        self._ack: int | None = None
        self._number = 0
        self._in_flight: deque[int] = deque(maxlen=_IN_FLIGHT)
        self._foreign_protocol = ""

    @property
    def answered(self) -> bool:
        """Whether the node has introduced itself since it was last asked."""
        return self._answered

    @property
    def dropped(self) -> Counter[str]:
        """Lines that were dropped, by reason."""
        return self._splitter.dropped

    def line_lost(self) -> None:
        """Forget what the line's next bytes can't continue: the begun frame and the answered hello."""
        self._splitter.clear()
        self._ask_again(None)

    def due(self, now_ms: int) -> bytes:
        """Return what has to be sent now without being asked for: `hello?` or nothing."""
        if self._answered or (self._hello_due_ms is not None and now_ms < self._hello_due_ms):
            return b""
        self._hello_due_ms = now_ms + HELLO_EVERY_MS
        self._asked_ms = now_ms
        self._questions += 1
        return encode(messages.HELLO_QUESTION)

    def receive(self, data: bytes, now_ms: int) -> list[Event]:
        """Take bytes from the line; return the events that they complete, in order."""
        events: list[Event] = []
        for body in self._splitter.feed(data):
            try:
                self._take(body, now_ms, events)
            except messages.ForeignProtocolError as error:
                self._refuse(str(error), events)
            except messages.InvalidBodyError:
                self.dropped["body"] += 1
        return events

    def lease(self, re: int, ms: int) -> bytes:
        """Return the frame that leases the relay for `ms`, cut to the node's longest lease.

        Nothing (b'') before the node's hello and its first reading, and no heat before it has reported again
        after a later hello; 0 is always possible from then on.
        """
        if not self._may_command() or self.boot is None or (ms > 0 and not self._reported):
            return b""
        return encode(messages.lease(self._next_number(), re, max(0, min(ms, self.boot.max_lease_ms))))

    def reset_cutout(self) -> bytes:
        """Return the frame that asks for the cut-out to be cleared; nothing where a lease is nothing."""
        if not self._may_command():
            return b""
        return encode(messages.reset_cutout(self._next_number()))

    def _may_command(self) -> bool:
        # Only a reading tells which number an earlier run of this host used last; ours must go on from it.
        return self._answered and self._ack is not None

    def _next_number(self) -> int:
        self._number = self._number % _NUMBERS + 1
        self._in_flight.append(self._number)
        return self._number

    def _take(self, body: str, now_ms: int, events: list[Event]) -> None:
        word, found = messages.fields(body)
        if word == "r":
            self._reading(found, now_ms, events)
        elif word == "hello":
            self._hello(messages.hello(found), now_ms, events)
        else:
            self.dropped["unknown word"] += 1

    def _reading(self, found: dict[str, str], now_ms: int, events: list[Event]) -> None:
        if not self._answered or self.boot is None:
            return
        new = messages.reading(found, self.boot.probes)
        if self._last is not None and _went_back(self._last, new):
            self._rebooted = True
            self._ask_again(now_ms)
            self._last = None
            return
        self._last = new
        self._reported = True
        self._check_ack(new.ack, events)
        if new.feedback is not None:
            self.feedback_seen = True
        events.append(new)

    def _ask_again(self, now_ms: int | None) -> None:
        self._answered = False
        self._questions = 0
        self._hello_due_ms = now_ms

    def _hello(self, boot: NodeBoot, now_ms: int, events: list[Event]) -> None:
        unasked = self._rebooted or self._was_unasked(now_ms)
        if unasked:
            boot = NodeBoot(
                boot.firmware, boot.probes, boot.max_lease_ms, boot.cutouts_c, boot.cause, asked=False
            )
            self._last = None
        self._questions = max(0, self._questions - 1)
        self._rebooted = False
        self._answered = True
        self._reported = False
        self.boot = boot
        events.append(boot)

    def _was_unasked(self, now_ms: int) -> bool:
        late = now_ms - self._asked_ms > _LATE_ANSWER_MS
        return self._questions == 0 or (self._answered and late)

    def _check_ack(self, ack: int, events: list[Event]) -> None:
        if ack == self._ack:
            return
        if self._ack is None:
            self._number = self._number or ack  # go on from an earlier run of this host, never backwards
        elif ack in self._in_flight:
            while self._in_flight.popleft() != ack:
                pass
        elif ack != 0:
            events.append(ForeignAck(ack))
        self._ack = ack

    def _refuse(self, version: str, events: list[Event]) -> None:
        self.dropped["protocol"] += 1
        if version != self._foreign_protocol:
            self._foreign_protocol = version
            reason = (
                f"The node speaks version {version} of the line protocol and this holdctl version"
                f" {messages.PROTOCOL}: update the older of the two."
            )
            events.append(LinkChange(False, reason))


def _went_back(old: Reading, new: Reading) -> bool:
    """Whether the node must have booted between two readings: a counter fell without having wrapped."""
    if new.up_ms >= old.up_ms and new.n >= old.n and new.ack >= old.ack:
        return False
    return (
        _fell(old.up_ms, new.up_ms, 2**32, _WRAP_STEP_MS)
        or _fell(old.n, new.n, 2**16, _WRAP_STEP)
        or (new.ack == 0 and old.ack != 0)
        or _fell(old.ack, new.ack, _NUMBERS, _WRAP_STEP)
    )


def _fell(old: int, new: int, modulus: int, wrap_step: int) -> bool:
    return new < old and (new - old) % modulus >= wrap_step
