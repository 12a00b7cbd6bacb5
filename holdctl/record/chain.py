"""The chain over the record's rows: what makes a changed, removed, added or reordered row show.

Every committed row belongs to one batch, and a batch's hash is SHA-256(the hash before ‖ the batch's lines), so no row
can change without its own hash and all later ones. A line is a JSON array in the canonical form of RFC 8785, ended by
a line feed; docs/record.md has the whole definition, enough to check a record without this program. A batch spans at
most 5 s, also where hours pass in seconds and where a commit brings hours from memory.
"""

import hashlib
import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import msgspec

SINCE_FORMAT = 3
FIRST = bytes(32)
"""What stands before the first batch's hash."""
LONGEST_MS = 5_000
"""A batch spans at most so much of the hold's own time, ms."""

BEGIN = ("id", "first_seq", "started_utc_ms", "warmer", "programme", "pace", "simulated", "version", "boot_id",
         "latched", "config")  # fmt: skip
ANCHOR = ("id", "n_base", "up_base", "ack_base")
END = ("id", "ended_utc_ms", "ended_hold_ms", "state", "last_seq")
PARTS = {"begin": BEGIN, "anchor": ANCHOR, "end": END}
"""A hold's row is written in three parts, each covered by the batch that wrote it."""
TABLES = ("samples", "events", "requests")

_encode = msgspec.json.Encoder().encode
_INSERT = (
    "INSERT INTO chain (batch, last_seq, rows, began, anchored, ended, note, hash) "
    "VALUES (?, ?, ?, ?, ?, ?, ?, ?)"
)
HEAD = "SELECT batch, last_seq, rows, hash FROM chain ORDER BY batch DESC LIMIT 1"


@dataclass(frozen=True, slots=True)
class Head:
    """Where a chain stands: its last batch, highest `seq` covered, rows covered so far, hash."""

    batch: int = 0
    last_seq: int = 0
    rows: int = 0
    hash: bytes = FIRST

    @property
    def hex(self) -> str:
        """The hash as it is printed."""
        return self.hash.hex()


@dataclass(frozen=True, slots=True)
class Link:
    """One batch as its row of the table `chain` describes it, the hash apart."""

    batch: int
    last_seq: int
    rows: int
    began: int | None = None
    anchored: int | None = None
    ended: int | None = None
    note: str | None = None

    def values(self) -> tuple[Any, ...]:
        """Return the columns in the order of the table."""
        return self.batch, self.last_seq, self.rows, self.began, self.anchored, self.ended, self.note


@dataclass(slots=True)
class Batch:
    """Lines of rows that are to be hashed together, in order."""

    begins: list[tuple[int, bytes]] = field(default_factory=list)
    anchors: list[tuple[int, bytes]] = field(default_factory=list)
    rows: list[bytes] = field(default_factory=list)
    ends: list[tuple[int, bytes]] = field(default_factory=list)
    last_seq: int = 0
    first_ms: int | None = None

    def takes(self, kind: str, at_ms: int | None) -> bool:
        """Say whether a line of this kind and time still belongs here."""
        if kind in PARTS:
            return not {"begin": self.begins or self.rows, "anchor": self.anchors}.get(kind) and not self.ends
        if self.ends:
            return False
        return at_ms is None or self.first_ms is None or 0 <= at_ms - self.first_ms <= LONGEST_MS

    def add(self, kind: str, number: int, at_ms: int | None, text: bytes) -> None:
        """Take one line; `number` is its `seq`, or the hold's id for a part of a hold."""
        if kind in PARTS:
            {"begin": self.begins, "anchor": self.anchors, "end": self.ends}[kind].append((number, text))
            return
        self.rows.append(text)
        self.last_seq = max(self.last_seq, number)
        if self.first_ms is None:
            self.first_ms = at_ms

    def link(self, head: Head, note: str | None = None) -> tuple[Link, bytes]:
        """Return this batch's row and hash as the one after `head`."""
        began, anchored, ended = (max((number for number, _ in part), default=None) for part in self._parts())
        last, rows = max(head.last_seq, self.last_seq), head.rows + len(self.rows) + len(self.begins)
        made = Link(head.batch + 1, last, rows, began, anchored, ended, note)
        return made, self.hash(head.hash, made)

    def hash(self, before: bytes, link: Link) -> bytes:
        """Return the hash of these lines under the row `link`, after the hash `before`."""
        parts = ([text for _, text in part] for part in self._parts())
        begins, anchors, ends = parts
        return digest(before, link, (*begins, *anchors, *self.rows, *ends))

    def _parts(self) -> tuple[list[tuple[int, bytes]], ...]:
        return self.begins, self.anchors, self.ends


def digest(before: bytes, link: Link, lines: Iterable[bytes]) -> bytes:
    """Return SHA-256 over the hash before, the batch's own row and its lines."""
    hashed = hashlib.sha256(before)
    hashed.update(line("batch", link.values()))
    for text in lines:
        hashed.update(text)
    return hashed.digest()


def line(kind: str, values: Sequence[Any]) -> bytes:
    """Return the canonical line of a row: trailing NULLs left out, so that a column added later changes nothing."""
    end = len(values)
    while end and values[end - 1] is None:
        end -= 1
    try:
        return _encode((kind, *values[:end])) + b"\n"
    except (UnicodeEncodeError, OverflowError):  # only of a row that was tampered with or damaged
        text = json.dumps((kind, *values[:end]), ensure_ascii=False, separators=(",", ":"), default=repr)
        return text.encode("utf-8", "surrogateescape") + b"\n"


def at_ms(kind: str, values: Sequence[Any]) -> int | None:
    """Return the hold's time of a row of `samples` or `events`, None for what has none."""
    place = {"samples": 1, "events": 2}.get(kind)
    value = None if place is None else values[place]
    return value if isinstance(value, int) else None


def split(rows: Iterable[tuple[str, Sequence[Any], bytes]]) -> Iterator[Batch]:
    """Yield rows (table or part, values, line) that come in the order of `seq` as batches of at most 5 s."""
    batch = Batch()
    for kind, values, text in rows:
        at = at_ms(kind, values)
        if not batch.takes(kind, at):
            yield batch
            batch = Batch()
        batch.add(kind, values[0], at, text)
    if batch.rows or batch.begins or batch.anchors or batch.ends:
        yield batch


def extend(db: sqlite3.Connection, head: Head, batches: Iterable[Batch]) -> Head:
    """Write the rows of these batches into the table `chain`, inside the caller's transaction; return the new head."""
    for batch in batches:
        link, digest = batch.link(head)
        db.execute(_INSERT, (*link.values(), digest))
        head = Head(link.batch, link.last_seq, link.rows, digest)
    return head


def read_head(db: sqlite3.Connection) -> Head:
    """Return where the chain of an open file stands. Raises ValueError where its last row can't be one."""
    return as_head(db.execute(HEAD).fetchall())


def as_head(rows: Sequence[Sequence[Any]]) -> Head:
    """Return the head that the answer to `HEAD` holds. Raises ValueError where it can't be one."""
    if not rows:
        return Head()
    head = Head(*rows[0])
    numbers = (head.batch, head.last_seq, head.rows)
    if not (isinstance(head.hash, bytes) and all(isinstance(number, int) for number in numbers)):
        raise ValueError("the last row of the chain is damaged")
    return head


def take_over(db: sqlite3.Connection, note: str) -> None:
    """Begin a chain over all rows that are there, as one batch with a note, inside the caller's transaction."""
    counts = [db.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in (*TABLES, "holds")]
    if not any(counts):
        return
    last = max(db.execute(f"SELECT coalesce(max(seq), 0) FROM {table}").fetchone()[0] for table in TABLES)
    newest = db.execute("SELECT max(id) FROM holds").fetchone()[0]
    ended = db.execute("SELECT max(id) FROM holds WHERE state IS NOT NULL").fetchone()[0]
    link = Link(1, last, sum(counts), newest, newest, ended, note)
    hashed = digest(FIRST, link, _everything(db))
    db.execute(_INSERT, (*link.values(), hashed))


def _everything(db: sqlite3.Connection) -> Iterator[bytes]:
    for part in ("begin", "anchor"):
        yield from hold_lines(db, part)
    for kind, values in in_order(db):
        yield line(kind, values)
    yield from hold_lines(db, "end")


def hold_lines(db: sqlite3.Connection, part: str, hold: int | None = None) -> Iterator[bytes]:
    """Yield the lines of one part of a hold, or of all that have it, by their ids."""
    where, values = (
        ("id = ?", [hold]) if hold is not None else ("state IS NOT NULL" if part == "end" else "1", [])
    )
    for row in db.execute(f"SELECT {', '.join(PARTS[part])} FROM holds WHERE {where} ORDER BY id", values):
        yield line(part, row)


def in_order(db: sqlite3.Connection) -> Iterator[tuple[str, tuple[Any, ...]]]:
    """Yield the rows of samples, events and requests as (table, values) in the order of `seq`."""
    import heapq

    def rows(rank: int, table: str) -> Iterator[tuple[int, int, str, tuple[Any, ...]]]:
        for values in db.execute(f"SELECT * FROM {table} NOT INDEXED ORDER BY seq"):
            yield values[0], rank, table, values

    for _, _, table, values in heapq.merge(*(rows(rank, table) for rank, table in enumerate(TABLES))):
        yield table, values
