"""What can still be read of a damaged record, in a fresh one. The damaged file is only ever read.

Rows are taken page by page, so that a damaged page costs its own rows and no others; indexes, the pages that lead to
others and the file's header are not needed.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from holdctl.errors import StoreError
from holdctl.events import NoticeKind, State
from holdctl.record import backup, chain, files, pages, rejoin, schema

_INT, _TEXT = int, str
_NULL = type(None)
_ANY_INT, _ANY_TEXT = (int, _NULL), (str, _NULL)

_SHAPES: dict[str, tuple[Any, ...]] = {
    "holds": (_INT, _ANY_INT, _INT, _ANY_INT, _ANY_INT, _ANY_TEXT, _TEXT, _TEXT, _TEXT, _INT, _TEXT, _TEXT, _TEXT,
              _TEXT, _INT, _INT, _INT),
    "samples": (*(_INT,) * 6, *(_ANY_INT,) * 4, *(_INT,) * 6, *(_ANY_INT,) * 2, _INT, *(_ANY_INT,) * 5, _INT, _ANY_INT),
    "events": (_INT, _INT, _INT, _INT, _TEXT, _TEXT, _TEXT, _TEXT, _TEXT),
    "requests": (_ANY_INT, _INT, _ANY_INT, _ANY_TEXT, _ANY_TEXT, _ANY_TEXT, _TEXT, _TEXT, _TEXT),
    "chain": (_INT, _INT, _ANY_INT, _ANY_INT, _ANY_INT, _ANY_TEXT, bytes),
}  # fmt: skip
"""Types of the columns after the first, which is the row's number; no two tables look alike."""
_OLDER = {"samples": 1}
"""Columns that rows of an older format lack at the end."""
_HOLD = (
    "id", "first_seq", "last_seq", "started_utc_ms", "ended_utc_ms", "ended_hold_ms", "state", "warmer",
    "programme", "pace", "simulated", "version", "boot_id", "latched", "config", "n_base", "up_base", "ack_base",
)  # fmt: skip
SALVAGED = "salvaged"


@dataclass(frozen=True, slots=True)
class Salvage:
    """What came over."""

    path: Path
    rows: dict[str, int]
    """Rows that were read, by table."""
    refused: int
    """Rows that were read but can't be right, and were left out."""
    lost: list[tuple[int, int]]
    """Ranges of `seq` that are missing below the highest one that was seen, samples, events and requests together."""
    made_up_holds: tuple[int, ...]
    """Holds whose own row was lost: what is known of them from their events stands in its place."""
    proven: int
    """Rows of the old chain's batches that were all there and had the old hash."""
    old_head: str
    """Hash of the last batch of the old chain that could be read; empty where there was none."""
    old_rows: int
    head: str = ""
    head_rows: int = 0
    rejoined: dict[str, int] = field(default_factory=dict)
    """Rows put in from files that a failing disk had left, by file."""


@dataclass
class _Found:
    rows: dict[str, dict[int, tuple[Any, ...]]] = field(
        default_factory=lambda: {name: {} for name in _SHAPES}
    )


def salvage(source: Path, target: Path, left: Sequence[Path] = ()) -> Salvage:
    """Write what can be read of `source`, and of the files `left` of it, into the new record `target`.

    Raises ConfigError where `target` is there already, StoreError where nothing of a record is found or it can't be
    read or written; no `target` is left then.
    """
    found = _read(source)
    proven = _proven(found)
    rejoined = {str(path): rejoin.rejoin(found.rows, rejoin.read(path)) for path in left}
    backup.create(target)
    try:
        with files.in_plain_words(target), closing(sqlite3.connect(target, isolation_level=None)) as db:
            db.execute("PRAGMA synchronous = OFF")  # it is brought to the disk once it is whole
            schema.migrate(db)
            done = _write(db, source, target, found, sum(rejoined.values()))
        backup.flush(target)
        return replace(done, proven=proven, rejoined=rejoined)
    except BaseException:
        backup.remove(target)
        raise


def _read(source: Path) -> _Found:
    found = _Found()
    try:
        image = pages.image(source)
        for rowid, values in image.rows():
            name = _table(values)
            if name and 0 < rowid < 2**62:
                found.rows[name][rowid] = _better(found.rows[name].get(rowid), values[1:])
    except OSError as error:
        raise StoreError(
            f"{source} can't be read ({error.strerror}): check the disk, or copy the file first."
        ) from error
    if not any(found.rows[name] for name in ("holds", "samples", "events", "requests")):
        raise StoreError(f"Nothing of a holdctl record can be read in {source}: is it the right file?")
    return found


def _better(old: tuple[Any, ...] | None, new: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return the later version of a row, unless the earlier one says more: only a hold's row is ever changed."""
    if old is None or len(old) != len(new):
        return new
    return old if sum(v is None for v in old) < sum(v is None for v in new) else new


def _table(values: tuple[pages.Value, ...]) -> str | None:
    """Return the table that a row belongs to by the number and types of its values."""
    if not values or values[0] is not None:  # the row's number is not stored with it
        return None
    rest = values[1:]
    for name, shape in _SHAPES.items():
        if 0 <= len(shape) - len(rest) <= _OLDER.get(name, 0) and all(map(isinstance, rest, shape)):
            return name
    return None


def _write(db: sqlite3.Connection, source: Path, target: Path, found: _Found, rejoined: int) -> Salvage:
    db.execute("BEGIN IMMEDIATE")
    made_up = _missing_holds(found)
    rows = {}
    refused = 0
    for name in ("holds", "samples", "events", "requests"):
        rows[name] = 0
        for row in _sorted(found, name):
            try:
                db.execute(f"INSERT INTO {name} VALUES ({', '.join('?' * len(row))})", row)
                rows[name] += 1
            except (sqlite3.Error, ValueError):
                refused += 1
    old = max(found.rows["chain"].items(), default=None)
    old_head, old_rows = (old[1][-1].hex(), old[1][1]) if old else ("", 0)
    lost = _lost(found)
    _mark(db, source, rows, lost, rejoined)
    was = f"; its head was {old_head}, {old_rows} rows" if old_head else ""
    chain.take_over(db, f"salvaged from {source.name}{was}")
    db.execute("COMMIT")
    head = chain.read_head(db)
    return Salvage(target, rows, refused, lost, made_up, 0, old_head, old_rows, head.hex, head.rows)


def _sorted(found: _Found, name: str) -> Iterator[tuple[Any, ...]]:
    width = len(_SHAPES[name])
    for rowid in sorted(found.rows[name]):
        values = found.rows[name][rowid]
        yield (rowid, *values, *(None,) * (width - len(values)))


def _missing_holds(found: _Found) -> tuple[int, ...]:
    """Put a row in place of each hold that only its events speak of; return their numbers."""
    holds = found.rows["holds"]
    first: dict[int, tuple[int, int]] = {}
    for seq in sorted(found.rows["events"]):
        hold, _, host_ms, utc_ms, *_ = found.rows["events"][seq]
        if hold not in holds and hold > 0:
            first.setdefault(hold, (seq, utc_ms - host_ms))
    if not (holds or first):
        first[1] = (1, 0)
    for hold, (seq, started) in first.items():
        ends = [row[0] - 1 for number, row in sorted(holds.items()) if number > hold]
        last = min(ends, default=max((*found.rows["samples"], *found.rows["events"])))
        holds[hold] = (
            seq, last, started, started, 0, State.ABORTED.value, "unknown", "its row was lost", "host", 0,
            "", "", "[]", "{}", 0, 0, 0,
        )  # fmt: skip
    return tuple(sorted(first))


def _lost(found: _Found) -> list[tuple[int, int]]:
    """Return the ranges of numbers that no row has, from the lowest possible to the highest seen in any table."""
    seqs = sorted({seq for name in chain.TABLES for seq in found.rows[name]})
    ends = [row[1] for row in found.rows["holds"].values() if row[1] is not None]
    ends += [row[0] for row in found.rows["chain"].values()]
    gaps, expected = [], 1
    for seq in (*seqs, max((*ends, *seqs)) + 1):
        if seq > expected:
            gaps.append((expected, seq - 1))
        expected = seq + 1
    return gaps


def _proven(found: _Found) -> int:
    """Return how many rows lie in batches of the old chain whose hash still comes out."""
    lines: dict[int, bytes] = {}
    for name in chain.TABLES:
        for row in _sorted(found, name):
            lines[row[0]] = chain.line(name, row)
    holds = [dict(zip(_HOLD, row, strict=True)) for row in _sorted(found, "holds")]
    parts = {
        part: {hold["id"]: chain.line(part, [hold[name] for name in names]) for hold in holds}
        for part, names in chain.PARTS.items()
    }
    count = 0
    links = found.rows["chain"]
    for batch, (last, rows, began, anchored, ended, note, stored) in links.items():
        before = links.get(batch - 1, (0, 0, chain.FIRST) if batch == 1 else None)
        if before is None or note is not None or not 0 <= last - before[0] < 100_000:
            continue
        ids = (began, anchored, ended)
        held = [parts[p].get(i, b"") if i is not None else b"" for p, i in zip(chain.PARTS, ids, strict=True)]
        inside = [lines[seq] for seq in range(before[0] + 1, last + 1) if seq in lines]
        link = chain.Link(batch, last, rows, began, anchored, ended, note)
        if chain.digest(before[-1], link, (*held[:2], *inside, held[2])) == stored:
            count += len(inside)
    return count


def _mark(
    db: sqlite3.Connection, source: Path, rows: dict[str, int], lost: list[tuple[int, int]], rejoined: int
) -> None:
    """Leave an event in the last hold that says what this record is."""
    hold, utc_ms, hold_ms = db.execute(
        "SELECT id, coalesce(ended_utc_ms, started_utc_ms), coalesce(ended_hold_ms, 0) FROM holds "
        "ORDER BY id DESC LIMIT 1"
    ).fetchone()
    seq = (
        max(db.execute(f"SELECT coalesce(max(seq), 0) FROM {name}").fetchone()[0] for name in chain.TABLES)
        + 1
    )
    seq = max(seq, max((last for _, last in lost), default=0) + 1)
    text = f"this record was salvaged from {source.name}: {sum(rows.values())} rows, "
    text += f"{sum(b - a + 1 for a, b in lost)} numbers missing"
    text += f"; {rejoined} of them are from a file that a failing disk had left" if rejoined else ""
    detail = chain.line("", [rows[name] for name in rows]).decode()
    db.execute(
        "INSERT INTO events VALUES (?, ?, ?, ?, ?, 'out', ?, ?, ?, ?)",
        (seq, hold, hold_ms, hold_ms, utc_ms, NoticeKind.INFO.value, SALVAGED, text, detail),
    )
