"""One alarm as the book keeps it, and how what happens to it is put into a notice."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from holdctl.events import Notice, NoticeKind
from holdctl.safety.alarm_states import UNSEEN, AlarmState, Move, follow_alarm
from holdctl.safety.counting import Chatter
from holdctl.safety.interlocks import Effect, Interlock


@dataclass(slots=True)
class Entry:
    """What the book knows of one alarm."""

    row: Interlock
    state: AlarmState = AlarmState.NORMAL
    active: bool = False
    """Whether its cause is there."""
    watched: bool = False
    """Whether something tells when its cause goes; of what is only raised that is up to whoever resets it."""
    latch: bool = False
    """Whether it waits for a reset."""
    text: str = ""
    since_ms: int = 0
    """When it was raised last."""
    over_ms: int | None = None
    """When its cause went; None while it is there."""
    differs_since_ms: int | None = None
    """Since when the condition is other than `active`: what the delays count from."""
    shelved_until_ms: int = 0
    held_back: str = ""
    """Why its last raise was not told; empty where it was."""
    chatter: Chatter = field(default_factory=Chatter)

    @property
    def stands(self) -> bool:
        """Whether there is anything to look at."""
        return self.active or self.latch or self.state in UNSEEN

    @property
    def unacknowledged(self) -> bool:
        """Whether it waits for somebody to have seen it."""
        return self.state in UNSEEN

    @property
    def shelved(self) -> bool:
        """Whether it is put aside."""
        return self.state is AlarmState.SHELVED

    def move(self, *moves: Move) -> None:
        """Follow the table; a pair that it does not list changes nothing."""
        for move in moves:
            self.state = follow_alarm(self.state, move) or self.state

    def said(self, kind: NoticeKind, text: str, detail: Mapping[str, object] | None = None) -> Notice:
        """Return a notice about this alarm as it stands."""
        told: dict[str, object] = {"state": self.state.value, "priority": self.row.priority.value}
        if kind is NoticeKind.TRIP:
            told["latched"] = self.row.latched
        if self.held_back:
            told["held_back"] = self.held_back
        return Notice(kind, self.row.name, text, {**told, **(detail or {})})

    def raised(self, text: str) -> tuple[NoticeKind, str]:
        """Return the kind of notice of a raise and its words: what was seen, what follows, what to do."""
        row = self.row
        kind = NoticeKind.TRIP if row.effect is Effect.TRIP else NoticeKind.ALARM
        return kind, f"{(text or row.cause).rstrip('.')}: {row.consequence}. Next: {row.what_to_do}."

    def gone(self, text: str) -> Notice:
        """Return the notice that its cause is gone."""
        if self.latch:
            said = f"{text}; it stays until `holdctl reset {self.row.name}`"
            return self.said(NoticeKind.RETURNED, said)
        trip = self.row.effect is Effect.TRIP
        return self.said(NoticeKind.TRIP_CLEARED if trip else NoticeKind.ALARM_CLEARED, text)

    def unshelved(self, why: str, detail: Mapping[str, object] | None = None) -> Notice:
        """Take it back from where it was put aside."""
        back, still = Move.UNSHELVE, "it is over"
        if self.active:
            back, still = Move.UNSHELVE_ACTIVE, "its cause is still there"
        elif self.latch:
            back, still = Move.UNSHELVE_LATCHED, "it waits for its reset"
        self.move(back)
        self.held_back = ""
        text = f"{self.row.name} is no longer put aside ({why}): {still}"
        return self.said(NoticeKind.UNSHELVED, text, detail)
