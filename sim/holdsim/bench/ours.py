"""Ours, through its public door only: settings in, readings in, leases out."""

from holdctl.events import Decision, Instant, NoticeKind, Reading
from holdctl.hold import Hold
from holdctl.settings import Settings


class Ours:
    """A hold on the first night with an unknown warmer, one reading a second."""

    def __init__(self, settings: Settings) -> None:
        self.hold = Hold(settings)
        self.trips: list[str] = []
        self.last: Decision | None = None
        self._second = 0
        self._left_ms = 0

    def step(self, readings: tuple[float, ...]) -> float:
        """Give the hold its reading and follow its lease for a second."""
        ms = 1000 * self._second
        temps = tuple([round(t, 2) for t in readings])
        on = self._left_ms > 0
        event = Reading(self._second % 65536, ms, temps, 250, on, self._left_ms, 0, 0, False)
        now = Instant(ms, ms, 1_760_000_000_000 + ms)
        task = self.hold.due()
        if task is not None:
            self.hold.step(task(), now)
        decision = self.hold.step(event, now)
        if decision.notices:
            self.trips += [n.name for n in decision.notices if n.kind is NoticeKind.TRIP]
        lease = self._left_ms if decision.lease_ms is None else decision.lease_ms
        self._left_ms = max(0, lease - 1000)
        self._second += 1
        self.last = decision
        return min(lease, 1000) / 1000
