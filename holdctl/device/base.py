"""The seam between the daemon and any hardware that carries probes and a relay."""

from dataclasses import dataclass
from typing import Protocol

from holdctl.events import Event


@dataclass(frozen=True, slots=True)
class Guarantees:
    """What the hardware does by itself, without any host."""

    lease_timer: bool
    """The relay falls when its lease lapses."""
    max_lease_ms: int
    """Longest lease that the hardware takes, ms."""
    cutouts_c: tuple[float | None, ...]
    """The latched cut-out of each fitted probe, °C; None where that probe has none."""
    watchdog: bool
    """A hardware watchdog restarts it, relay off, when its program hangs."""
    feedback_seen: bool
    """Readings tell whether there is voltage behind the relay's contact."""


class Driver(Protocol):
    """One warmer's probes and relay."""

    @property
    def guarantees(self) -> Guarantees | None:
        """What the hardware guarantees; None until it has said so."""

    def open(self) -> None:
        """Open the line. Raises LinkError when that can't be done now."""

    def close(self) -> None:
        """Close the line; a lease that is still running is left to lapse."""

    def poll(self, timeout_s: float) -> list[Event]:
        """Return what has come in, as soon as there is anything; [] after about `timeout_s` seconds."""

    def lease(self, re: int, ms: int) -> None:
        """Answer the reading numbered `re`: the relay may be on for `ms` from now, 0 for off.

        Nothing is sent while the line is down or the hardware has not introduced itself.
        """

    def reset_cutout(self) -> None:
        """Ask the hardware to clear its latched cut-out."""
