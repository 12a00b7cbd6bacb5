"""One hold on a bench: readings and other events by hand, second by second."""

from typing import Any

import msgspec

from holdctl.events import Decision, Event, Notice, NoticeKind, Request, RequestKind
from holdctl.hold import Hold
from holdctl.settings import After, Programme, Settings, Step
from tests.closed_loop import instant, reading, told

HOLD = Step(to=65.0, hold_for="1 min")
LONG = Step(to=65.0, hold_for="4 h")


def stirred(*steps: Step, after: After | None = None, **changes: Any) -> Settings:
    """A stirred kettle (every part is what the probe says): limits 78 and 90 °C, range 62…67 °C."""
    programme = Programme(step=steps or (LONG,), after=after or After())
    return msgspec.structs.replace(told("stirred-kettle"), programme=programme, **changes)


class Bench:
    """A hold and its clock; `seen` keeps every decision."""

    def __init__(self, settings: Settings | None = None, latched: tuple[str, ...] = ()) -> None:
        self.hold = Hold(settings or stirred(), latched)
        self.ms = self.n = 0
        self.seen: list[Decision] = []

    def read(self, *temps: Any, after_ms: int = 1000, **kwargs: Any) -> Decision:
        """Take one reading `after_ms` after the last event."""
        self.ms += after_ms
        self.n += 1
        return self._step(reading(self.n, *(temps or (65.0, 65.2)), **kwargs))

    def reads(self, seconds: int, *temps: Any) -> Decision:
        for _ in range(seconds):
            decision = self.read(*temps)
        return decision

    def event(self, event: Event, after_ms: int = 0) -> Decision:
        self.ms += after_ms
        return self._step(event)

    def ask(self, kind: RequestKind, subject: str = "") -> Decision:
        return self.event(Request(kind, "a baker", subject))

    def notices(self, kind: NoticeKind | None = None) -> list[Notice]:
        every = [notice for decision in self.seen for notice in decision.notices]
        return every if kind is None else [notice for notice in every if notice.kind is kind]

    def names(self, kind: NoticeKind) -> list[str]:
        return [notice.name for notice in self.notices(kind)]

    def _step(self, event: Event) -> Decision:
        decision = self.hold.step(event, instant(self.ms))
        self.seen.append(decision)
        return decision
