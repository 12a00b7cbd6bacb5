"""Entries after a hold has ended, when no daemon writes its record: made by whoever asks, with the writer's lock."""

import msgspec

from holdctl.events import Instant, RequestKind
from holdctl.hold.disposition import Disposition
from holdctl.record.query import Record
from holdctl.record.rows import HoldRow
from holdctl.record.spool import Filed
from holdctl.record.store import Store


def enter(reader: Record, entry: Disposition, by: str, utc_ms: int) -> str:
    """Enter a disposition as request and as event of its hold; return its words.

    Raises StoreError where a daemon has begun to write meanwhile, or the record can't be written.
    """
    hold = reader.hold(entry.hold)
    now, notice = _end(reader, hold, utc_ms), entry.entry(by)
    with Store.open(reader.path) as store:
        store.belongs_to(hold.id)
        store.request(now, _filed(entry, by, utc_ms))
        store.notice(now, notice)
    return notice.text


def _end(reader: Record, hold: HoldRow, utc_ms: int) -> Instant:
    """Return now as an instant of a hold whose own clock no longer runs."""
    last = reader.latest(hold.id)
    hold_ms = hold.ended_hold_ms if hold.ended_hold_ms is not None else last.at.hold_ms if last else 0
    return Instant(hold_ms, max(hold_ms, last.at.host_ms if last else 0), utc_ms)


def _filed(entry: Disposition, by: str, utc_ms: int) -> Filed:
    asked = {"kind": RequestKind.DISPOSITION.value, "by": by, "utc_ms": utc_ms, "hold": entry.hold}
    raw = msgspec.json.encode({**asked, "subject": entry.subject()}).decode()
    reason = "entered while no hold was running"
    return Filed(
        None, "accepted", reason, raw, utc_ms, RequestKind.DISPOSITION.value, by, entry.subject(), None
    )
