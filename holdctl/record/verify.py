"""Whether a record still holds what was written: every batch's hash computed anew from the rows that are there.

A chain shows what was changed, removed, added or reordered; it can't show that its end was cut off, nor that all of it
was written anew. For that a head noted elsewhere, say on a printed review, is compared with the chain.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from holdctl.errors import StoreError
from holdctl.record import chain, codec, schema
from holdctl.record.query import Record

_LINKS = "SELECT batch, last_seq, rows, began, anchored, ended, note, hash FROM chain ORDER BY batch"
_HOLD_COLUMNS = tuple(dict.fromkeys((*chain.BEGIN, *chain.ANCHOR, *chain.END)))


@dataclass(frozen=True, slots=True)
class Fault:
    """The first thing that does not hold, in words, and where it is; None where that is not known."""

    text: str
    batch: int | None = None
    hold: int | None = None
    first_seq: int | None = None
    last_seq: int | None = None
    from_hold_ms: int | None = None
    to_hold_ms: int | None = None
    from_utc_ms: int | None = None
    to_utc_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """What verifying found."""

    rows: int
    """Rows that the chain covers."""
    head: str
    batches: int
    broken: int
    """Batches that do not hold."""
    notes: tuple[str, ...]
    """What the chain says of itself: taken over, salvaged."""
    fault: Fault | None = None

    @property
    def good(self) -> bool:
        """Whether everything holds."""
        return self.fault is None


@dataclass
class _Walk:
    """The rows in the order of `seq`, taken batch by batch."""

    rows: Iterator[tuple[str, tuple[Any, ...]]]
    next: tuple[str, tuple[Any, ...]] | None = None
    taken: int = 0
    seqs: list[int] = field(default_factory=list)

    def upto(self, last_seq: int) -> Iterator[bytes]:
        """Yield the lines up to a number, counting them."""
        self.taken, self.seqs = 0, []
        while (self.next or self.step()) and self.next and self.next[1][0] <= last_seq:
            kind, values = self.next
            self.taken += 1
            if len(self.seqs) < 100_000:
                self.seqs.append(values[0])
            self.next = None
            yield chain.line(kind, values)

    def step(self) -> bool:
        """Look at the next row; False at the end."""
        self.next = next(self.rows, None)
        return self.next is not None


def verify(path: Path, head: str = "", rows: int | None = None) -> Verdict:
    """Check every row of a record against its chain, and a noted `head` with its number of `rows` against both.

    Raises StoreError where the file is no record, has no chain yet, or is too damaged to be asked.
    """
    record = Record(path)
    quiet = not record.has_log()
    verdict = _once(record, head, rows)
    if not verdict.good and quiet and record.has_log():
        verdict = _once(
            record, head, rows
        )  # a hold was started meanwhile, on a file that was read as one at rest
    return verdict


def _once(record: Record, head: str, rows: int | None) -> Verdict:
    with record.snapshot() as db:
        if db.execute("PRAGMA user_version").fetchone()[0] < chain.SINCE_FORMAT:
            raise StoreError(
                f"The record {record.path} is of an older format without a chain: the next `holdctl run` takes it over."
            )
        db.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
        verdict = _Verifier(db).verdict()
        fault = verdict.fault or _noted(db, head, rows)
    return Verdict(verdict.rows, verdict.head, verdict.batches, verdict.broken, verdict.notes, fault)


class _Verifier:
    """One pass over an open record."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db
        self._holds: dict[int, dict[str, Any]] = {}
        self._covered: dict[str, dict[int, int]] = {}
        self._links = 0
        self._broken = 0
        self._notes: list[str] = []
        self._head = chain.Head()
        self._fault: Fault | None = None

    def verdict(self) -> Verdict:
        """Return what there is to say."""
        try:
            self._parts()
            self._batches()
            self._structure()
        except (sqlite3.Error, ValueError, TypeError, LookupError, ArithmeticError) as error:
            self._fail(self._unreadable(error))
        head = self._head
        return Verdict(head.rows, head.hex, self._links, self._broken, tuple(self._notes), self._fault)

    def _unreadable(self, error: Exception) -> Fault:
        head = self._head
        if not self._links:
            return Fault(f"the tables of holds and of the chain can't be read ({error})")
        fault = Fault(f"batch {head.batch + 1} can't be read ({error})", head.batch + 1)
        try:
            return self._place(fault, head, chain.Link(head.batch + 1, head.last_seq + 1, 0))
        except (sqlite3.Error, ValueError, TypeError, LookupError, ArithmeticError):
            return fault

    def _fail(self, fault: Fault) -> None:
        self._fault = self._fault or fault

    def _structure(self) -> None:
        """Check that tables and views are those of this format, and that SQLite finds nothing wrong in the file."""
        odd = sorted({name for _, name, _ in _wanted() ^ _schema(self._db)})
        if odd:
            self._fail(Fault(f"its tables and views are not those of a record: {', '.join(odd)}"))
        told = self._db.execute("PRAGMA integrity_check(1)").fetchone()[0]
        if told != "ok":
            text = " ".join(told.replace("*** in database main ***", "").split())
            self._fail(Fault(f"SQLite finds the file damaged ({text})"))

    def _parts(self) -> None:
        """Read holds, and which batch covers which part of each."""
        self._holds = {
            row[0]: dict(zip(_HOLD_COLUMNS, row, strict=True))
            for row in self._db.execute(f"SELECT {', '.join(_HOLD_COLUMNS)} FROM holds ORDER BY id")
        }
        for part, column in (("begin", "began"), ("anchor", "anchored"), ("end", "ended")):
            rows = self._db.execute(
                f"SELECT {column}, batch FROM chain WHERE {column} IS NOT NULL AND note IS NULL"
            )
            self._covered[part] = dict(rows.fetchall())

    def _batches(self) -> None:
        walk = _Walk(chain.in_order(self._db))
        before = chain.Head()
        for *values, stored in self._db.execute(_LINKS):
            link = chain.Link(*values)
            self._links += 1
            if link.batch != before.batch + 1:
                self._broken += 1
                self._fail(
                    self._place(Fault(f"batch {before.batch + 1} is missing", before.batch + 1), before, link)
                )
            lines = (*self._lines("begin", link), *self._lines("anchor", link))
            hashed = chain.digest(before.hash, link, self._joined(lines, walk, link))
            if hashed != stored:
                self._broken += 1
                self._fail(self._describe(before, link, walk))
            if link.note:
                self._notes.append(link.note)
            before = self._head = chain.as_head([(link.batch, link.last_seq, link.rows, stored)])
        self._beyond(walk, before)

    def _joined(self, first: tuple[bytes, ...], walk: _Walk, link: chain.Link) -> Iterator[bytes]:
        yield from first
        yield from walk.upto(link.last_seq)
        yield from self._lines("end", link)

    def _lines(self, part: str, link: chain.Link) -> list[bytes]:
        newest = {"begin": link.began, "anchor": link.anchored, "end": link.ended}[part]
        if newest is None:
            return []
        ids = [newest] if link.note is None else self._taken_over(part, newest)
        return [
            chain.line(part, [self._holds[hold][name] for name in chain.PARTS[part]])
            for hold in ids
            if hold in self._holds
        ]

    def _taken_over(self, part: str, newest: int) -> list[int]:
        """Return the holds whose part a batch over all that was there covers: those that no later batch wrote."""
        known = [h for h in self._holds if h <= newest and h not in self._covered[part]]
        return [h for h in known if part != "end" or self._holds[h]["state"] is not None]

    def _describe(self, before: chain.Head, link: chain.Link, walk: _Walk) -> Fault:
        wanted = link.rows - before.rows - (link.began is not None and link.note is None)
        lost = [h for h in (link.began, link.anchored, link.ended) if h is not None and h not in self._holds]
        first, last = before.last_seq + 1, link.last_seq
        if lost:
            text = f"the row of hold {lost[0]} is missing"
        elif link.note is not None:
            text = f"one or more of the rows {first} to {last} ({link.note}) are not what they were"
        elif walk.taken < wanted:
            missing = sorted(set(range(first, last + 1)) - set(walk.seqs)) if last - first < 100_000 else []
            text = f"{wanted - walk.taken} of {wanted} rows are missing ({_ranges(missing)})"
        elif walk.taken > wanted:
            text = f"{walk.taken - wanted} rows too many among {_ranges(walk.seqs)}"
        else:
            what = f"rows {_ranges(walk.seqs)}" if walk.seqs else "the row of a hold"
            text = f"{what}, or the batch's own row, are not what they were"
        return self._place(Fault(f"batch {link.batch}: {text}", link.batch, None, first, last), before, link)

    def _place(self, fault: Fault, before: chain.Head, link: chain.Link) -> Fault:
        """Return the fault with its hold and the time that it lies in."""
        first, last = before.last_seq + 1, link.last_seq
        begun = [h for h, row in self._holds.items() if _is_at_most(row["first_seq"], max(first, 1))]
        hold = link.began or link.ended or (max(begun) if begun else None)
        times = [t for t in (self._time(hold, seq) for seq in self._around(first, last)) if t]
        return Fault(
            fault.text, link.batch if fault.batch is None else fault.batch, hold, first, last,
            *((min(t[0] for t in times), max(t[0] for t in times)) if times else (None, None)),
            *((min(t[1] for t in times), max(t[1] for t in times)) if times else (None, None)),
        )  # fmt: skip

    def _around(self, first: int, last: int) -> list[int]:
        """Return the numbers of the rows at both ends of a batch, and their neighbours where the ends are gone."""
        found = []
        for table in ("samples", "events"):
            for sql, at in (
                ("max(seq) FROM {} WHERE seq <= ?", first),
                ("min(seq) FROM {} WHERE seq >= ?", last),
            ):
                seq = self._db.execute(f"SELECT {sql.format(table)}", (at,)).fetchone()[0]
                if seq is not None and first - 1 <= seq <= last + 1:
                    found.append(seq)
        return found

    def _time(self, hold: int | None, seq: int) -> tuple[int, int] | None:
        """Return hold time and UTC of a row, ms, as its hold's begin has them."""
        event = self._db.execute("SELECT hold, hold_ms, utc_ms FROM events WHERE seq = ?", (seq,)).fetchone()
        if event is not None:
            return (event[1], event[2]) if event[0] == hold else None
        if hold not in self._holds:
            return None
        row = self._db.execute("SELECT * FROM samples WHERE seq = ?", (seq,)).fetchone()
        base = codec.Anchor(*(self._holds[hold][n] for n in ("first_seq", "started_utc_ms")))
        at = codec.decode(codec.whole(row), base)[1] if row and seq >= base.first_seq else None
        return (at.hold_ms, at.utc_ms) if at else None

    def _beyond(self, walk: _Walk, head: chain.Head) -> None:
        """Look for rows and parts of holds that no batch covers."""
        seqs = [walk.next[1][0]] if walk.next else []
        seqs += [values[0] for _, values in walk.rows]
        if seqs:
            text = f"{len(seqs)} rows are in no batch ({_ranges(sorted(seqs))})"
            self._fail(Fault(text, None, None, min(seqs), max(seqs)))
        taken = self._db.execute("SELECT began, anchored, ended FROM chain WHERE note IS NOT NULL").fetchone()
        for hold, row in self._holds.items():
            for place, part in enumerate(chain.PARTS):
                covered = hold in self._covered[part] or (taken and (taken[place] or 0) >= hold)
                if not covered and any(row[name] for name in chain.PARTS[part][1:]):
                    self._fail(Fault(f"the {part} of hold {hold} is in no batch", None, hold))
        if head.batch == 0 and self._holds:
            self._fail(Fault("the chain is empty"))


def _noted(db: sqlite3.Connection, head: str, rows: int | None) -> Fault | None:
    """Return what is wrong with a head that was noted elsewhere."""
    if not head:
        return None
    sql = "SELECT batch, rows FROM chain WHERE lower(hex(hash)) LIKE ? || '%'"
    found = db.execute(sql, (head.lower(),)).fetchone()
    if found is None:
        return Fault("the head that was noted is not in the chain: the record was cut short, or written anew")
    if rows is not None and found[1] != rows:
        return Fault(f"at the head that was noted the chain has {found[1]} rows, not {rows}", found[0])
    return None


@cache
def _wanted() -> set[tuple[str, str, str]]:
    """Return what a new record has."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as model:
        schema.migrate(model)
        return _schema(model)


def _schema(db: sqlite3.Connection) -> set[tuple[str, str, str]]:
    sql = "SELECT type, name, coalesce(sql, '') FROM sqlite_master WHERE name NOT LIKE 'sqlite_stat%'"
    return {(kind, name, " ".join(text.split())) for kind, name, text in db.execute(sql)}


def _is_at_most(value: Any, limit: int) -> bool:
    return isinstance(value, int) and value <= limit


def _ranges(numbers: list[int]) -> str:
    """Return rising numbers in words: 3, 7–9; the first few of many."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    words = [f"{a}" if a == b else f"{a}–{b}" for a, b in runs[:6]]
    return ", ".join(words) + (f" and {len(runs) - 6} more" if len(runs) > 6 else "")
