"""What the record says of a warmer: the last that a hold has identified of it, and in which hold. Reads the record."""

from pathlib import Path

import msgspec

from holdctl.errors import HoldctlError
from holdctl.events import Identified
from holdctl.plan.nights import TOLD
from holdctl.plan.words import day
from holdctl.record.query import Record

_LAST = (
    "SELECT e.detail, h.started_utc_ms, h.id FROM events e JOIN holds h ON h.id = e.hold WHERE e.kind = 'identified' "
    "AND e.source = 'in' AND h.warmer = ? ORDER BY e.seq DESC LIMIT 1"
)


def identified(record: Path, warmer: str) -> tuple[Identified | None, str]:
    """Return what was identified last of a warmer, and that in words; None where there is none or it can't be read."""
    if not record.is_file():
        return None, TOLD
    try:
        rows = Record(record).ask(_LAST, warmer)
        found = msgspec.json.decode(rows[0][0], type=Identified, strict=False) if rows else None
    except (HoldctlError, msgspec.DecodeError, msgspec.ValidationError):
        return None, TOLD
    if found is None:
        return None, TOLD
    return found, f"identified in hold {rows[0][2]} of {day(rows[0][1])}"
