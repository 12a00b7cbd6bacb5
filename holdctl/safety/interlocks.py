"""The table of interlocks, and which of them stand.

Code, screens and docs use this one table. A trip takes the relay off (lease 0). A latched trip stays through
restarts until a person resets it by name, and can be reset only once its cause is gone.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Interlock:
    """One row: what is watched, why, and what the baker does."""

    name: str
    cause: str
    consequence: str
    what_to_do: str
    latched: bool = False


_ROWS = (
    Interlock(
        "no-reading",
        "no valid reading for 3 s",
        "the relay is off; the paste cools until readings return",
        "check the cable and the node's power",
    ),
    Interlock(
        "link-down",
        "the serial line is gone",
        "the relay falls with its lease; the paste cools",
        "plug the node in again; it is picked up by itself",
    ),
    Interlock(
        "probe-fault",
        "a fitted probe is open, shorted or out of range",
        "the relay is off until every fitted probe reads again",
        "check that probe's plug and cable",
    ),
    Interlock(
        "high-limit",
        "paste or wall above its high limit",
        "the relay is off until it is reset by name",
        "find out why it ran hot, let it fall 2 K below the limit, then `holdctl reset high-limit`",
        latched=True,
    ),
    Interlock(
        "node-cutout",
        "the node's own cut-out has opened the relay",
        "the node keeps the relay off, through reboots, until it is cleared",
        "find out why it ran hot, let it fall 5 K below the cut-out, then `holdctl reset node-cutout`",
    ),
    Interlock(
        "other-host",
        "the node obeyed a command that this program never sent",
        "the relay is off: two hosts must not share one relay",
        "find and stop the other program, then `holdctl reset other-host`",
        latched=True,
    ),
    Interlock(
        "unanswered",
        "a prompt was not answered in time",
        "the relay is off, as the programme says",
        "look at the paste, then `holdctl next`",
    ),
)

INTERLOCKS = {row.name: row for row in _ROWS}
"""Every interlock by name."""


@dataclass(slots=True)
class Standing:
    """Which trips stand, in the order in which they came."""

    _since_ms: dict[str, int] = field(default_factory=dict)

    @classmethod
    def restored(cls, latched: Iterable[str]) -> "Standing":
        """Return the trips that an earlier hold left latched; unknown names are kept: off is the right side."""
        return cls(dict.fromkeys(latched, 0))

    def __contains__(self, name: str) -> bool:
        return name in self._since_ms

    def __bool__(self) -> bool:
        return bool(self._since_ms)

    def __iter__(self) -> Iterator[str]:
        return iter(self._since_ms)

    def trip(self, name: str, now_ms: int) -> bool:
        """Let `name` stand; True where it is new."""
        new = name not in self._since_ms
        self._since_ms.setdefault(name, now_ms)
        return new

    def clear(self, name: str) -> bool:
        """Let `name` fall; True where it stood. Latched trips are cleared by a reset only: see the hold."""
        return self._since_ms.pop(name, None) is not None

    @property
    def latched(self) -> bool:
        """Whether a trip stands that needs a deliberate reset."""
        return any(name not in INTERLOCKS or INTERLOCKS[name].latched for name in self._since_ms)
