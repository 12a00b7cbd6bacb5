"""Rows that a failing disk left in a file beside the record, put back where they belong.

The daemon that came after them may have counted on from what was on the disk, so that its rows bear their numbers:
those then move up by as many as are put in. What the record says itself is never changed by what a file says.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from holdctl.errors import StoreError
from holdctl.record import chain, codec, ring

Values = tuple[Any, ...]
Tables = dict[str, dict[int, Values]]
"""Rows by table and number, each without its number."""

_HOLD = (
    "first_seq", "last_seq", "started_utc_ms", "ended_utc_ms", "ended_hold_ms", "state", "warmer", "programme", "pace",
    "simulated", "version", "boot_id", "latched", "config", "n_base", "up_base", "ack_base",
)  # fmt: skip
"""Columns of a hold after its number."""
_N, _UP, _ACK = (codec.COLUMNS.index(name) - 1 for name in ("n_off", "up_off", "ack_off"))


@dataclass(frozen=True, slots=True)
class Left:
    """What one file holds."""

    path: Path
    rows: Tables
    parts: dict[str, dict[int, Values]]
    """Parts of holds by kind, as `chain.PARTS` has them, each without the hold's number."""

    @property
    def count(self) -> int:
        """Number of readings, events and requests in it."""
        return sum(map(len, self.rows.values()))


def read(path: Path) -> Left:
    """Return the rows of a file that `left.leave` wrote. Raises StoreError where it is none or can't be read."""
    left = Left(path, {name: {} for name in chain.TABLES}, {part: {} for part in chain.PARTS})
    try:
        for line in path.read_bytes().splitlines():
            kind, (number, *rest) = ring.values(line)
            place = left.parts if kind in chain.PARTS else left.rows
            place[kind][int(number)] = tuple(rest)
    except OSError as error:
        raise StoreError(
            f"{path} can't be read ({error.strerror}): check the disk and its permissions."
        ) from error
    except (msgspec.DecodeError, ValueError, TypeError, LookupError) as error:
        raise StoreError(f"{path} holds no rows of a record: give a .jsonl file as it was left.") from error
    return left


def rejoin(tables: Tables, left: Left) -> int:
    """Put the rows of a file into the record's; return how many were not in it yet. Raises StoreError."""
    _begin(tables, left)
    new = {
        name: {seq: _whole(name, row) for seq, row in rows.items() if not _same(tables[name].get(seq), row)}
        for name, rows in left.rows.items()
    }
    numbers = [seq for rows in new.values() for seq in rows]
    if not numbers:
        return 0
    _make_room(tables, min(numbers), max(numbers))
    for name, rows in new.items():
        tables[name].update(rows)
    _anchor_and_end(tables, left, new["samples"])
    return len(numbers)


def _begin(tables: Tables, left: Left) -> None:
    """Take a hold that the record does not know; another one under its number is another record's."""
    for number, begin in left.parts["begin"].items():
        told = dict(zip(chain.BEGIN[1:], begin, strict=False))
        known = tables["holds"].get(number)
        if known is None:
            told |= {"n_base": 0, "up_base": 0, "ack_base": 0}
            tables["holds"][number] = tuple(told.get(name) for name in _HOLD)
        elif known[_HOLD.index("started_utc_ms")] != told["started_utc_ms"]:
            raise StoreError(
                f"{left.path} belongs to another hold {number} than this record's: give the record that it was left by."
            )


def _make_room(tables: Tables, first: int, last: int) -> None:
    """Let rows of the record from `first` on, written later, follow `last`."""
    by = last - first + 1
    if not any(seq >= first for name in chain.TABLES for seq in tables[name]):
        return
    holds = {number: dict(zip(_HOLD, row, strict=True)) for number, row in tables["holds"].items()}
    ends = min((h["first_seq"] for h in holds.values() if h["first_seq"] > first), default=1 << 62)
    for name in chain.TABLES:
        moved = {}
        for seq, row in tables[name].items():
            same_hold = name == "samples" and first <= seq < ends
            moved[seq + by if seq >= first else seq] = _counted_on(row, by) if same_hold else row
        tables[name] = moved
    for number, hold in holds.items():
        if hold["first_seq"] > first:
            hold["first_seq"] += by
        if hold["last_seq"] is not None and hold["last_seq"] >= first:
            hold["last_seq"] += by
        tables["holds"][number] = tuple(hold.values())


def _counted_on(row: Values, by: int) -> Values:
    """Return a reading whose number has grown by `by` within its hold: its counters are counted from that."""
    values = list(row)
    for place in (_N, _ACK):
        values[place] = (values[place] - by + 32768 & 65535) - 32768
    return tuple(values)


def _anchor_and_end(tables: Tables, left: Left, samples: dict[int, Values]) -> None:
    for number, row in tables["holds"].items():
        hold = dict(zip(_HOLD, row, strict=True))
        anchor, end = left.parts["anchor"].get(number), left.parts["end"].get(number)
        if anchor is not None:
            bases = ("n_base", "up_base", "ack_base")
            if not any(hold[name] for name in bases):
                hold |= dict(zip(bases, anchor, strict=True))
            else:  # a later start has anchored the hold anew
                by = [a - hold[name] for a, name in zip(anchor, bases, strict=True)]
                tables["samples"] |= {seq: _based(sample, by) for seq, sample in samples.items()}
        if end is not None and hold["state"] is None:
            hold |= dict(zip(chain.END[1:], end, strict=True))
        tables["holds"][number] = tuple(hold.values())


def _based(row: Values, by: list[int]) -> Values:
    """Return a reading counted from other bases, each lower by `by`."""
    values = list(row)
    for place, more in zip((_N, _UP, _ACK), by, strict=True):
        values[place] += more
    for place in (_N, _ACK):
        values[place] = (values[place] + 32768 & 65535) - 32768
    return tuple(values)


def _same(known: Values | None, row: Values) -> bool:
    return known is not None and _trimmed(known) == _trimmed(row)


def _trimmed(row: Iterable[Any]) -> Values:
    values = list(row)
    while values and values[-1] is None:
        values.pop()
    return tuple(values)


def _whole(name: str, row: Values) -> Values:
    return codec.whole((None, *row))[1:] if name == "samples" else row
