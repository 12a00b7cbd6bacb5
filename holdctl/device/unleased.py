"""A driver whose relay is never leased: for a cooling, where a node is a thermometer.

What it answers a reading with is a lease of 0: that also takes back what an earlier program may have left running.
"""

from holdctl.device.base import Driver, Guarantees
from holdctl.events import Event


class Unleased:
    """Passes on what the node says, and never a permission to its relay."""

    def __init__(self, driver: Driver) -> None:
        self._driver = driver

    @property
    def guarantees(self) -> Guarantees | None:
        """What the hardware guarantees; None until it has said so."""
        return self._driver.guarantees

    def open(self) -> None:
        """Open the line. Raises LinkError when that can't be done now."""
        self._driver.open()

    def close(self) -> None:
        """Close the line."""
        self._driver.close()

    def poll(self, timeout_s: float) -> list[Event]:
        """Return what has come in, as soon as there is anything; [] after about `timeout_s` seconds."""
        return self._driver.poll(timeout_s)

    def lease(self, re: int, ms: int) -> None:
        """Answer the reading numbered `re` with 0, whatever is asked."""
        self._driver.lease(re, min(ms, 0))

    def reset_cutout(self) -> None:
        """Send nothing."""
