"""The alarms of one hold: which stand, who has seen them, which are put aside, and what is told of it.

Pure: times are passed in, in milliseconds of the hold; what happened comes back as notices. A notice of a raise or of
a cause that is gone is given for every change, so that the record has them all and the hold can let the effect
follow; `held_back` in its detail says why a screen or a mail should keep it to itself (shelved, chattering, flood).
"""

from collections.abc import Iterable, Iterator, KeysView, Mapping

from holdctl.events import Notice, NoticeKind
from holdctl.safety.alarm_entry import Entry
from holdctl.safety.alarm_states import (
    CHATTER,
    FLOOD_BEGINS,
    FLOOD_ENDS,
    LONGEST_SHELVE_MS,
    NEVER_HELD_BACK,
    AlarmState,
    Move,
)
from holdctl.safety.counting import Flood
from holdctl.safety.interlocks import INTERLOCKS, Effect, of

FLOOD = "alarm-flood"
_RAISED = (NoticeKind.ALARM, NoticeKind.TRIP)
_CLEARED = (NoticeKind.ALARM_CLEARED, NoticeKind.TRIP_CLEARED)


class AlarmBook(Mapping[str, bool]):
    """As a mapping: what stands, by name, and whether it has been acknowledged (put aside counts as such)."""

    def __init__(self) -> None:
        self._entries: dict[str, Entry] = {}
        self._flood = Flood()
        self.first_out = ""
        """Which alarm came first since none waited to be seen; empty where none does."""

    def __getitem__(self, name: str) -> bool:
        entry = self._entries[name]
        if not entry.stands:
            raise KeyError(name)
        return not entry.unacknowledged

    def __iter__(self) -> Iterator[str]:
        return (name for name, entry in self._entries.items() if entry.stands)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    @property
    def known(self) -> KeysView[str]:
        """The alarms of which anything is kept: to one that is not known the absence of its cause is no news."""
        return self._entries.keys()

    def active(self, name: str) -> bool:
        """Return whether the cause of an alarm is there."""
        entry = self._entries.get(name)
        return entry is not None and entry.active

    def state(self, name: str) -> AlarmState:
        """Return the state of one alarm."""
        entry = self._entries.get(name)
        return AlarmState.NORMAL if entry is None else entry.state

    @property
    def entries(self) -> Mapping[str, Entry]:
        """What is known of each alarm that stands or is put aside, in the order in which they came; to read only."""
        return {name: e for name, e in self._entries.items() if e.stands or e.shelved}

    @property
    def flood(self) -> bool:
        """Whether more alarms come than anybody can read."""
        return self._flood.on

    # What is watched -------------------------------------------------------------------------------------------

    def condition(self, name: str, active: bool, now_ms: int, text: str = "") -> tuple[Notice, ...]:
        """Take what one look says of a watched row; the row's delays count from the first look that differs.

        A condition stands until another is told: what delays it is complete at the next `tick` at the latest.
        """
        entry = self._entries.get(name)
        if active == (entry is not None and entry.active):
            if entry is not None:
                entry.differs_since_ms = None
            return ()
        entry = entry or self._entry(name)
        entry.watched = True
        entry.text = text or entry.text if active else entry.text
        if entry.differs_since_ms is None:
            entry.differs_since_ms = now_ms
        return self._delayed(entry, now_ms)

    def raise_now(self, name: str, text: str, now_ms: int, *, over: bool = False) -> tuple[Notice, ...]:
        """Raise an alarm without delay; nothing where its cause is there already.

        `text` is what was seen, the row adds what follows and what to do. `over`: the cause is gone as soon as told
        (an event, a trip of an earlier hold), so that a reset is possible.
        """
        if self.active(name):
            return ()
        kind, said = self._entry(name).raised(text)
        return self._raise(Notice(kind, name, said), text or of(name).cause, now_ms, over)

    def clear_now(self, name: str, text: str, now_ms: int) -> tuple[Notice, ...]:
        """Say that the cause of an alarm is gone; nothing where it was not there."""
        entry = self._entries.get(name)
        if entry is None or not entry.active:
            return ()
        entry.active, entry.over_ms, entry.differs_since_ms = False, now_ms, None
        entry.move(Move.LATCH if entry.latch else Move.RETURN)
        return (entry.gone(text or f"{name}: gone"),)

    def take(self, notice: Notice, now_ms: int) -> tuple[Notice, ...]:
        """Take an alarm, or its end, that somebody else has put into words; other notices pass."""
        if notice.kind in _RAISED:
            self.clear_now(notice.name, "", now_ms)  # said anew it has come anew
            over = notice.detail.get("restored") is True
            return self._raise(notice, notice.text, now_ms, over)
        if notice.kind in _CLEARED:
            return self.clear_now(notice.name, notice.text, now_ms)
        return (notice,)

    def tick(self, now_ms: int) -> tuple[Notice, ...]:
        """Let time pass: delays that are complete, shelves that end, a flood that ebbs."""
        notices: list[Notice] = []
        for entry in tuple(self._entries.values()):
            if entry.differs_since_ms is not None:
                notices += self._delayed(entry, now_ms)
            if entry.shelved and now_ms >= entry.shelved_until_ms:
                notices += self._unshelved(entry, "its time is over")
            if (
                not (entry.stands or entry.shelved)
                and entry.differs_since_ms is None
                and entry.chatter.quiet(now_ms)
            ):
                del self._entries[entry.row.name]
        if self._flood.ebbs(now_ms):
            text = (
                f"fewer than {FLOOD_ENDS} alarms within ten minutes; {self._flood.held_back} were held back"
            )
            notices += self.clear_now(FLOOD, text, now_ms)
        return tuple(notices)

    # What a person does ----------------------------------------------------------------------------------------

    def acknowledge(self, name: str, by: str) -> tuple[Notice, ...]:
        """Let one alarm, or all of them ("") be seen by somebody; nothing where none waits for that."""
        seen = [e for e in self._entries.values() if e.unacknowledged and name in ("", e.row.name)]
        for entry in seen:
            entry.move(Move.ACKNOWLEDGE)
        self._first_seen()
        return tuple(
            e.said(NoticeKind.ACKNOWLEDGED, f"{e.row.name} acknowledged by {by}", {"by": by}) for e in seen
        )

    def reset(self, name: str, by: str = "", text: str = "") -> tuple[Notice, ...]:
        """Take off one alarm by name, seen by whoever does it.

        Nothing where none stands, and where it latches and its cause is seen to be there still: `why_not_reset`.
        """
        entry = self._entries.get(name)
        if entry is None or not (entry.latch or entry.active) or self.why_not_reset(name):
            return ()
        gone = Move.LATCH if entry.latch else Move.RETURN
        entry.move(
            Move.ACKNOWLEDGE, *([gone] if entry.active else []), *([Move.RESET] if entry.latch else [])
        )
        entry.latch = entry.active = False
        entry.differs_since_ms = None
        self._first_seen()
        return (entry.said(NoticeKind.RESET, text or f"{name} reset by {by}", {"by": by}),)

    def why_not_reset(self, name: str) -> str:
        """Return why an alarm can't be taken off now; empty where it can."""
        entry = self._entries.get(name)
        there = entry is not None and entry.latch and entry.active and entry.watched
        return f"its cause is still there: {of(name).cause}" if there else ""

    def why_not_shelved(self, name: str, for_ms: int) -> str:
        """Return why an alarm can't be put aside for so long; empty where it can."""
        row = INTERLOCKS.get(name)
        if row is None:
            return f"there is no alarm “{name}”"
        if name in NEVER_HELD_BACK:
            return f"{name} is never put aside"
        longest = LONGEST_SHELVE_MS[row.priority]
        if not 0 < for_ms <= longest:
            return (
                f"an alarm of {row.priority.value} priority is put aside for {longest // 60_000} min at most"
            )
        return ""

    def shelve(self, name: str, by: str, for_ms: int, now_ms: int) -> tuple[Notice, ...]:
        """Put an alarm aside for a time: it is not told, its effect stays. Nothing where that can't be."""
        if self.why_not_shelved(name, for_ms):
            return ()
        entry = self._entry(name)
        entry.move(Move.SHELVE)
        entry.shelved_until_ms = now_ms + for_ms
        self._first_seen()
        text = f"{name} put aside for {for_ms / 60_000:g} min by {by}"
        if entry.row.effect is Effect.TRIP:
            text += "; it takes the heat away all the same"
        return (entry.said(NoticeKind.SHELVED, text, {"by": by, "for_ms": for_ms}),)

    def unshelve(self, name: str, by: str) -> tuple[Notice, ...]:
        """Take an alarm back from where it was put aside; nothing where it was not."""
        entry = self._entries.get(name)
        return self._unshelved(entry, f"taken back by {by}", by=by) if entry and entry.shelved else ()

    # Within ----------------------------------------------------------------------------------------------------

    def _entry(self, name: str) -> Entry:
        return self._entries.setdefault(name, Entry(of(name)))

    @property
    def _quiet(self) -> bool:
        return not any(entry.unacknowledged for entry in self._entries.values())

    def _delayed(self, entry: Entry, now_ms: int) -> tuple[Notice, ...]:
        """Let a condition that differs take effect once it has lasted."""
        delay_s = entry.row.off_delay_s if entry.active else entry.row.on_delay_s
        if entry.differs_since_ms is None or now_ms - entry.differs_since_ms < delay_s * 1000:
            return ()
        if entry.active:
            return self.clear_now(entry.row.name, "", now_ms)
        return self.raise_now(entry.row.name, entry.text, now_ms)

    def _raise(self, notice: Notice, text: str, now_ms: int, over: bool) -> tuple[Notice, ...]:
        quiet, entry = self._quiet, self._entry(notice.name)
        self._entries[notice.name] = self._entries.pop(notice.name)  # in the order in which they came
        entry.active, entry.latch, entry.over_ms = not over, entry.row.latched, now_ms if over else None
        entry.text, entry.since_ms, entry.differs_since_ms = text, now_ms, None
        entry.move(Move.RAISE, *([Move.LATCH if entry.latch else Move.RETURN] if over else []))
        if quiet and entry.unacknowledged:
            self.first_out = notice.name
        more = self._counted(entry, now_ms)
        first = {"first_out": True} if self.first_out == notice.name else {}
        return (entry.said(notice.kind, notice.text, {**notice.detail, **first}), *more)

    def _counted(self, entry: Entry, now_ms: int) -> list[Notice]:
        """Count a raise, decide whether it is told, and say what the counting shows."""
        name = entry.row.name
        notices: list[Notice] = []
        entry.held_back = ""
        if name == FLOOD:
            return notices
        if entry.chatter.count(now_ms):
            text = f"{name} has come {CHATTER} times within a minute: it chatters, each time is in the record"
            notices.append(entry.said(NoticeKind.CHATTERING, text))
        if entry.shelved or entry.chatter.on:
            entry.held_back = "shelved" if entry.shelved else "chattering"
        elif self._flood.count(now_ms):
            begun = f"more than {FLOOD_BEGINS} alarms within ten minutes, first {self.first_out or name}"
            notices += self.raise_now(FLOOD, begun, now_ms)
        if not entry.held_back and self._flood.hides(entry.row):
            entry.held_back = "flood"
        if name in NEVER_HELD_BACK:
            entry.held_back = ""
        self._flood.held_back += entry.held_back == "flood"
        return notices

    def _unshelved(self, entry: Entry, why: str, **detail: object) -> tuple[Notice, ...]:
        quiet = self._quiet
        notice = entry.unshelved(why, detail)
        if quiet and entry.unacknowledged:
            self.first_out = entry.row.name
        return (notice,)

    def _first_seen(self) -> None:
        if self._quiet:
            self.first_out = ""


def told(notices: Iterable[Notice]) -> list[Notice]:
    """Return what a person should hear of: everything that is not held back."""
    return [notice for notice in notices if not notice.detail.get("held_back")]
