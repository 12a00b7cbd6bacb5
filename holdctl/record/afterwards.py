"""Entries after a hold has ended, when no daemon writes its record: made by whoever asks, with the writer's lock."""

import msgspec

from holdctl.events import Instant, Notice, RequestKind
from holdctl.hold.disposition import Disposition
from holdctl.hold.requests import note
from holdctl.record.query import Record
from holdctl.record.rows import HoldRow
from holdctl.record.spool import Filed, plain
from holdctl.record.store import Store


def enter(reader: Record, entry: Disposition, by: str, utc_ms: int) -> str:
    """Enter a disposition as request and as event of its hold; return its words.

    Raises StoreError where a daemon has begun to write meanwhile, or the record can't be written.
    """
    said = msgspec.structs.replace(entry, note=plain(entry.note))
    filed = _filed(RequestKind.DISPOSITION, said.hold, said.subject(), by, utc_ms)
    return _put(reader, said.hold, filed, said.entry(by), utc_ms)


def enter_note(reader: Record, hold_id: int, subject: str, by: str, utc_ms: int) -> str:
    """Enter a note, or what was measured, for a hold that has ended; return its words. Raises StoreError as `enter`."""
    said = plain(subject)
    filed = _filed(RequestKind.NOTE, hold_id, said, by, utc_ms)
    return _put(reader, hold_id, filed, note(said, by), utc_ms)


def _put(reader: Record, hold_id: int, filed: Filed, notice: Notice, utc_ms: int) -> str:
    hold = reader.hold(hold_id)
    now = _end(reader, hold, utc_ms)
    with Store.open(reader.path) as store:
        store.belongs_to(hold.id)
        store.request(now, filed)
        store.notice(now, notice)
    return notice.text


def _end(reader: Record, hold: HoldRow, utc_ms: int) -> Instant:
    """Return now as an instant of a hold whose own clock no longer runs."""
    last = reader.latest(hold.id)
    hold_ms = hold.ended_hold_ms if hold.ended_hold_ms is not None else last.at.hold_ms if last else 0
    return Instant(hold_ms, max(hold_ms, last.at.host_ms if last else 0), utc_ms)


def _filed(kind: RequestKind, hold_id: int, subject: str, by: str, utc_ms: int) -> Filed:
    asked = {"kind": kind.value, "by": by, "utc_ms": utc_ms, "hold": hold_id, "subject": subject}
    raw = msgspec.json.encode(asked).decode()
    return Filed(
        None, "accepted", "entered while no hold was running", raw, utc_ms, kind.value, by, subject, None
    )
