"""Evidence from the node's own report: the relay against the lease, acknowledgements, the node's clock.

Nothing here needs a model. Each condition must be seen in several readings running, so that a contact on its way and a
frame lost on the line are not taken for a fault.
"""

from dataclasses import dataclass

from holdctl.events import Reading

SEEN = 3
"""Readings running that show the contact against the lease."""
UNHEARD = 5
"""Readings running without an acknowledgement."""
_LAPSED_MS = 6_000
"""After so long without a lease of ours no lease can still run: the longest is 5 s."""


@dataclass(slots=True)
class Contact:
    """The relay's contact: driven or closed where it must be open, open where it is driven."""

    _closed: int = 0
    _open: int = 0
    _leased_ms: int | None = None

    def leased(self, lease_ms: int, now_ms: int) -> None:
        """Note a lease that was given."""
        if lease_ms > 0:
            self._leased_ms = now_ms

    def look(self, reading: Reading, now_ms: int) -> tuple[str, str]:
        """Return why the contact counts as closed against orders, and why as open against them; empty: it does not."""
        lapsed = self._leased_ms is None or now_ms - self._leased_ms > _LAPSED_MS
        driven = reading.relay and reading.left_ms == 0 and lapsed
        closed = reading.feedback is True and not reading.relay
        self._closed = self._closed + 1 if driven or closed else 0
        self._open = self._open + 1 if reading.feedback is False and reading.relay else 0
        welded = ""
        if self._closed >= SEEN:
            welded = (
                "there is voltage behind a contact that should be open"
                if closed
                else "the node drives its relay without a lease"
            )
        dead = "no voltage behind a contact that should be closed" if self._open >= SEEN else ""
        return welded, dead


@dataclass(slots=True)
class Acknowledgements:
    """Whether the node goes on obeying: `ack` must move, since every reading is answered."""

    _ack: int | None = None
    _unmoved: int = 0
    _unobeyed: int = 0
    _moves: bool = False

    def forget(self) -> None:
        """Start anew after a gap or a boot."""
        self._ack, self._unmoved, self._unobeyed = None, 0, 0

    def look(self, reading: Reading, lease_ms: int) -> bool:
        """Take a reading and the lease given on the one before; True while the node does not acknowledge."""
        moved = self._ack is not None and reading.ack != self._ack
        self._moves = self._moves or moved
        self._unmoved = 0 if moved or self._ack is None else self._unmoved + 1
        self._ack = reading.ack
        obeyed = lease_ms == 0 or reading.relay or reading.left_ms > 0
        self._unobeyed = 0 if obeyed or moved else self._unobeyed + 1
        if self._unobeyed >= UNHEARD:
            self._moves = (
                True  # from here on only a moving `ack` counts: under lease 0 nothing else can show it
            )
        return self._moves and self._unmoved >= UNHEARD


_SPAN_MS = 600_000
_APART, _JITTER_MS = 0.01, 1_500


@dataclass(slots=True)
class NodeClock:
    """The node's milliseconds against the host's, over ten minutes: a lease lasts as long as the node's clock says."""

    _from: tuple[int, int] | None = None
    _apart: float = 0.0

    def forget(self) -> None:
        """Start anew after a boot of the node or a gap."""
        self._from = None

    def look(self, up_ms: int, host_ms: int) -> float:
        """Return by what share the node's clock is fast, as last measured; 0 within 1 %."""
        if self._from is None:
            self._from = (up_ms, host_ms)
        up, host = (up_ms - self._from[0]) % 2**32, host_ms - self._from[1]
        if host >= _SPAN_MS:
            beyond = abs(up - host) > _APART * host + _JITTER_MS
            self._apart = (up - host) / host if beyond else 0.0
            self._from = (up_ms, host_ms)
        return self._apart
