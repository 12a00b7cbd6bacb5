"""Ours, through its public door only: settings in, readings in, leases out."""

from dataclasses import dataclass

from holdctl.control.forecast import foresee
from holdctl.events import Decision, Identified, Instant, NoticeKind, Reading, Request, RequestKind
from holdctl.hold import Hold
from holdctl.settings import Settings

FORETOLD_S = (1800, 3600, 7200, 10_800, 14_400, 21_600)
"""When a forecast is asked for, to be scored later."""


@dataclass(frozen=True)
class Foretold:
    """What was said at one moment: seconds of the night, early, expected and late; None: not within a day."""

    at_s: int
    band_s: tuple[float, float, float] | None


class Ours:
    """A hold with an unknown warmer, or one that an earlier night has identified, one reading a second."""

    def __init__(self, settings: Settings, known: Identified | None = None) -> None:
        self.hold = Hold(settings)
        self.trips: list[str] = []
        self.last: Decision | None = None
        self.identified: Identified | None = None
        """The last that was learnt."""
        self.foretold: list[Foretold] = []
        self._second = 0
        self._left_ms = 0
        if known is not None:
            self.hold.step(known, self._now())

    def step(self, readings: tuple[float, ...]) -> float:
        """Give the hold its reading and follow its lease for a second."""
        now = self._now()
        task = self.hold.due()
        if task is not None:
            self.identified = task()
            self.hold.step(self.identified, now)
        ms = now.hold_ms
        temps = tuple([round(100.0 * t) / 100.0 for t in readings])
        on = self._left_ms > 0
        event = Reading(self._second % 65536, ms, temps, 250, on, self._left_ms, 0, 0, False)
        decision = self.hold.step(event, now)
        if decision.notices:
            self.trips += [n.name for n in decision.notices if n.kind is NoticeKind.TRIP]
        lease = self._left_ms if decision.lease_ms is None else decision.lease_ms
        self._left_ms = max(0, lease - 1000)
        self._second += 1
        self.last = decision
        if self._second in FORETOLD_S:
            self._foretell()
        return min(lease, 1000) / 1000

    def ask(self, kind: RequestKind) -> None:
        """Let a person ask for something."""
        self.hold.step(Request(kind, "baker"), self._now())

    def _now(self) -> Instant:
        ms = 1000 * self._second
        return Instant(ms, ms, 1_760_000_000_000 + ms)

    def _foretell(self) -> None:
        shot = self.hold.drive.controller.snapshot(None)
        if shot is None:
            return
        band = foresee(shot).band_ms
        seconds = None if band is None else (band[0] / 1000, band[1] / 1000, band[2] / 1000)
        self.foretold.append(Foretold(self._second, seconds))
