"""Alarms of a hold that concern its paste: what to do with it, and what was done, by whom, when."""

import json
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import msgspec

from holdctl.events import NoticeKind
from holdctl.food.actions import WARMED
from holdctl.hold.disposition import WINDOW, Disposal
from holdctl.record.query import Record
from holdctl.record.rows import EventRow
from holdctl.review.food import food_account
from holdctl.safety import INTERLOCKS

if TYPE_CHECKING:
    from holdctl.review.night import Night

_RAISED = (NoticeKind.TRIP, NoticeKind.ALARM)
_ENTRIES = (
    "SELECT seq, utc_ms, name, detail FROM events WHERE source = 'out' AND kind = 'disposition' "
    "AND json_extract(detail, '$.hold') = ? ORDER BY seq"
)
"""Of whatever hold: an entry may be made while a later one runs."""
_ROUNDED_S = 1.0
"""An entry made at a window's end is after it."""
_WINDOW_ENTRIES = (
    "SELECT hold, hold_ms, name, utc_ms, detail FROM events WHERE source = 'out' AND kind = 'disposition' "
    "AND json_extract(detail, '$.hold') = ? ORDER BY seq"
)


class Entry(msgspec.Struct, frozen=True):
    """What somebody entered."""

    what: str
    by: str
    entered_utc: str
    note: str


class Deviation(msgspec.Struct, frozen=True, kw_only=True):
    """An alarm that concerns the paste (HACCP: a deviation), its corrective action, and the paste's disposition."""

    alarm: str
    times: int
    first_s: float
    last_s: float
    corrective_action: str
    open: bool
    """Whether it has come since the last entry, or there is none."""
    entries: tuple[Entry, ...]
    """Oldest first; the last one counts."""


def deviations(record: Record, hold: int, events: list[EventRow] | None = None) -> tuple[Deviation, ...]:
    """Return the alarms of a hold that concern its paste, in the order in which they first came."""
    raised: dict[str, list[EventRow]] = {}
    for event in record.events(hold) if events is None else events:
        row = INTERLOCKS.get(event.name)
        restored = event.detail.get("restored") is True
        if event.source == "out" and event.kind in _RAISED and row is not None and row.paste and not restored:
            raised.setdefault(event.name, []).append(event)
    entered: dict[str, list[tuple[int, Entry]]] = {}
    for seq, utc_ms, name, detail in record.ask(_ENTRIES, hold) if raised else ():
        entered.setdefault(name, []).append((seq, _entry(utc_ms, json.loads(detail))))
    return tuple(_deviation(name, came, entered.get(name, [])) for name, came in raised.items())


def window_deviations(record: Record, night: "Night") -> tuple[Deviation, ...]:
    """Return the unsafe windows of a hold as one deviation; none where no rule of the code was broken.

    A fridge that was read too warm is one, too. It is open where no entry was made after the last window had ended, or
    after it had begun for paste that was discarded then: what lasts on after an entry was not known when it was made.
    """
    breaches = food_account(night).breaches
    began = [b.start_s for b in breaches]
    warm = [(one.at_utc_ms - night.hold.started_utc_ms) / 1000 for one in night.stored if one.over_k]
    if not began and not warm:
        return ()
    entered = [
        (hold, hold_ms, _entry(utc_ms, json.loads(detail)), utc_ms)
        for hold, hold_ms, name, utc_ms, detail in record.ask(_WINDOW_ENTRIES, night.hold.id)
        if name == WINDOW
    ]
    starts = [*began, *warm]
    last, ended = max(began, default=0.0), max((b.end_s for b in breaches), default=0.0) - _ROUNDED_S
    late = [
        (hold != night.hold.id or hold_ms >= 1000 * (last if entry.what == Disposal.DISCARDED else ended))
        and (not warm or (utc_ms - night.hold.started_utc_ms) / 1000 >= max(warm))
        for hold, hold_ms, entry, utc_ms in entered
    ]
    one = Deviation(
        alarm=WINDOW,
        times=len(starts),
        first_s=min(starts),
        last_s=max(starts),
        corrective_action=max(breaches, key=lambda b: b.length_s).action if breaches else WARMED,
        open=not any(late),
        entries=tuple(entry for _, _, entry, _ in entered),
    )
    return (one,)


def _deviation(name: str, came: list[EventRow], entered: list[tuple[int, Entry]]) -> Deviation:
    return Deviation(
        alarm=name,
        times=len(came),
        first_s=came[0].hold_ms / 1000,
        last_s=came[-1].hold_ms / 1000,
        corrective_action=INTERLOCKS[name].paste,
        open=not entered or entered[-1][0] < came[-1].seq,
        entries=tuple(entry for _, entry in entered),
    )


def _entry(utc_ms: int, detail: dict[str, object]) -> Entry:
    at = datetime.fromtimestamp(utc_ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return Entry(str(detail.get("what", "")), str(detail.get("by", "")), at, str(detail.get("note", "")))
