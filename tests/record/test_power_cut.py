"""Power that fails at any moment of a commit or a checkpoint: what was confirmed is there, and the chain holds.

Between two confirmed commits a disk may have written any of the sectors that changed, or garbage in their place: the
log up to its flush, then (at a checkpoint) the file while the flushed log still has all of it. What lies beside a write
in the same sector is left alone, as SQLite takes for granted of a disk ("powersafe overwrite").
"""

import random
import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from holdctl.events import Silence
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.record.verify import verify

from .conftest import HOLD, START_UTC_MS, night

SECTOR = 512


@dataclass
class Moment:
    """Both files before and after one commit, and the highest number that had been confirmed before it."""

    before: tuple[bytes, bytes]
    after: tuple[bytes, bytes]
    confirmed: int


class Watched(sqlite3.Connection):
    watch: Callable[[bool], None] | None = None

    def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
        if sql != "COMMIT" or self.watch is None:
            return super().execute(sql.replace("synchronous = FULL", "synchronous = OFF"), *args)
        self.watch(True)
        cursor = super().execute(sql, *args)
        self.watch(False)
        return cursor


def moments(path: Path) -> list[Moment]:
    """Write a night with a checkpoint every few commits and return every commit's before and after."""
    found: list[Moment] = []
    confirmed = 0

    def watch(before: bool) -> None:
        files = path.read_bytes(), path.with_name(path.name + "-wal").read_bytes()
        if before:
            found.append(Moment(files, files, confirmed))
        else:
            found[-1].after = files

    def make(file: Path) -> sqlite3.Connection:
        connection = sqlite3.connect(file, isolation_level=None, factory=Watched)
        connection.execute("PRAGMA wal_autocheckpoint = 30")
        return connection

    with Store.open(path, batch_ms=2000, make=make) as store:
        store._keeper.writer.db.watch = watch  # type: ignore[attr-defined]
        store.begin_hold(**HOLD)
        confirmed = store._next_seq - 1
        for k, row in enumerate(night(120)):
            store.sample(*row)
            if k % 4 == 0:
                store.event(row[0], Silence())
            if not len(store._ring):
                confirmed = store._next_seq - 1
        store._keeper.writer.db.watch = None  # type: ignore[attr-defined]
    return found


def mixed(old: bytes, new: bytes, rng: random.Random) -> bytes:
    """Return a file of which each changed sector is old, new or garbage, cut at a random one of its new sectors."""
    length = rng.choice(
        (len(old), len(new), rng.randrange(min(len(old), len(new)), max(len(old), len(new)) + 1))
    )
    kinds = rng.choice((("old", "new"), ("new",), ("old", "new", "garbage"), ("garbage",)))
    out = bytearray(max(old, new, key=len))
    for at in range(0, len(out), SECTOR):
        a, b = old[at : at + SECTOR], new[at : at + SECTOR]
        if a == b:
            out[at : at + SECTOR] = b
            continue
        kind = rng.choice(kinds)
        kept = next((k for k, (x, y) in enumerate(zip(a, b, strict=False)) if x != y), min(len(a), len(b)))
        garbage = (b or a)[:kept] + rng.randbytes(max(len(a), len(b)) - kept)
        chosen = {"old": a or bytes(len(b)), "new": b or a, "garbage": garbage}[kind]
        out[at : at + len(chosen)] = chosen
    return bytes(out[:length])


def check(path: Path, files: tuple[bytes, bytes], confirmed: int) -> None:
    for left in path.parent.glob("cut.*"):
        left.unlink()
    path.write_bytes(files[0])
    path.with_name(path.name + "-wal").write_bytes(files[1])
    with Store.open(path) as store:
        store.close_open_holds(START_UTC_MS)
    record = Record(path)
    if confirmed:
        seqs = {s.seq for s in record.samples(1)} | {e.seq for e in record.events(1)}
        assert seqs >= set(range(1, confirmed + 1))
    assert verify(path).good


def test_power_cut_at_any_commit_or_checkpoint_loses_nothing_confirmed(path: Path) -> None:
    rng = random.Random(7)
    cut = path.with_name("cut.db")
    checkpoints = 0
    for moment in moments(path):
        (db, wal), (db_after, wal_after) = moment.before, moment.after
        check(cut, (db, mixed(wal, wal_after, rng)), moment.confirmed)  # before the log was flushed
        if db != db_after:
            checkpoints += 1
            for _ in range(3):
                check(cut, (mixed(db, db_after, rng), wal_after), moment.confirmed)
    assert checkpoints >= 3
