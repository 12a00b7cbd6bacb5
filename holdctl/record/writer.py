"""The connection that writes: one transaction for rows and their chain, and what follows a failed one.

A failed COMMIT is unknown, not undone, and after a failed flush the kernel may count pages as written that are not. So
the file is closed, opened anew and checked, the chain's head tells whether the batch is there, and a checkpoint writes
everything once more before the record counts as written.
"""

import contextlib
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from holdctl.record import chain, codec, files, schema

Row = tuple[str, tuple[Any, ...], bytes]
"""Table or part of a hold, values (trailing NULLs may be missing), line."""
Connect = Callable[[Path], sqlite3.Connection]

_CHECKED_BYTES = 64_000_000
"""A file up to this size is checked whole at the start (under a second); years of nights are not."""
_CHECKED_AGAIN_BYTES = 8_000_000
"""Nor is a file larger than this while a hold runs: the loop waits meanwhile."""
_WAIT_MS, _WAIT_RUNNING_MS = 2_000, 250
"""For another program's lock: at the start, and while a hold runs."""

_COLUMNS = {
    "samples": codec.COLUMNS,
    "events": ("seq", "hold", "hold_ms", "host_ms", "utc_ms", "source", "kind", "name", "text", "detail"),
    "requests": ("seq", "hold", "filed_utc_ms", "placed_utc_ms", "kind", "by", "subject", "outcome", "reason", "raw"),
    "begin": chain.BEGIN,
}  # fmt: skip
_INSERTS = {
    kind: f"INSERT INTO {'holds' if kind == 'begin' else kind} ({', '.join(names)}) "
    f"VALUES ({', '.join('?' * len(names))})"
    for kind, names in _COLUMNS.items()
}
_UPDATES = {
    part: f"UPDATE holds SET {', '.join(f'{name} = ?' for name in names[1:])} WHERE id = ?"
    for part, names in (("anchor", chain.ANCHOR), ("end", chain.END))
}


def connect(path: Path) -> sqlite3.Connection:
    """Open the file for writing; any SQLite error of it and of what is done with it may come."""
    return sqlite3.connect(path, timeout=_WAIT_MS / 1000, isolation_level=None, check_same_thread=True)


class Writer:
    """The only connection that writes this file."""

    def __init__(self, path: Path, make: Connect = connect) -> None:
        """Open, check and migrate. Raises StoreError and sqlite3.Error."""
        self._path, self._make = path, make
        self.db = self._open(_CHECKED_BYTES)
        self.head = chain.read_head(self.db)
        self._tried: chain.Head | None = None
        """Head that a commit of unknown outcome would have left."""

    def hurry(self) -> None:
        """From here on wait less for another program's lock: a hold runs."""
        self.db.execute(f"PRAGMA busy_timeout = {_WAIT_RUNNING_MS}")

    def commit(self, rows: Sequence[Row]) -> None:
        """Write these rows with their chain, all or nothing. After an error the outcome is open until `reopen`."""
        try:
            self._commit(rows)
        except sqlite3.Error:
            with contextlib.suppress(sqlite3.Error):  # the first error is the one to tell
                if self.db.in_transaction:
                    self.db.execute("ROLLBACK")
            raise
        self._tried = None

    def _commit(self, rows: Sequence[Row]) -> None:
        self._tried = None
        self.db.execute("BEGIN IMMEDIATE")
        for kind, run in _runs(rows):
            if kind in _UPDATES:
                self.db.executemany(_UPDATES[kind], [(*values[1:], values[0]) for values in run])
            else:
                self.db.executemany(_INSERTS[kind], [_whole(kind, values) for values in run])
        after = chain.extend(self.db, self.head, chain.split(rows))
        self._tried = after
        self.db.execute("COMMIT")
        self.head = after

    def reopen(self) -> tuple[bool, int]:
        """Close, open anew and check; return whether the commit of unknown outcome had happened, and rows lost.

        Rows are lost where the file has gone back behind a commit that it had confirmed. Raises StoreError.
        """
        with contextlib.suppress(sqlite3.Error):
            self.db.close()
        files.prepare(self._path)
        with files.in_plain_words(self._path):
            self.db = self._open(_CHECKED_AGAIN_BYTES)
            self.hurry()
            self.db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            found = chain.read_head(self.db)
        before, tried = self.head, self._tried
        self.head, self._tried = found, None
        if tried is not None and found == tried:
            return True, 0
        return False, 0 if found == before else max(0, before.rows - found.rows)

    def has_hold(self, hold: int, first_seq: int) -> bool:
        """Say whether this file holds that hold: another one may have been put in its place."""
        sql = "SELECT count(*) FROM holds WHERE id = ? AND first_seq = ?"
        return bool(self.db.execute(sql, (hold, first_seq)).fetchone()[0])

    def begun(self, hold: int) -> tuple[bytes, bytes]:
        """Return the lines of a hold's begin and anchor. Raises sqlite3.Error, ValueError where there is none."""
        (begin,), (anchor,) = (chain.hold_lines(self.db, part, hold) for part in ("begin", "anchor"))
        return begin, anchor

    def close(self) -> None:
        """Let go of the file."""
        self.db.close()

    def _open(self, checked_bytes: int) -> sqlite3.Connection:
        connection = self._make(self._path)
        try:
            version = files.check_identity(connection, self._path)
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute("PRAGMA journal_size_limit = 4194304")
            small = self._path.stat().st_size <= checked_bytes
            if version and small and connection.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
                raise files.damaged(self._path)
            if version < schema.FORMAT:
                schema.migrate(connection)
        except BaseException:
            connection.close()
            raise
        return connection


def _whole(kind: str, values: tuple[Any, ...]) -> tuple[Any, ...]:
    return (*values, *(None,) * (len(_COLUMNS[kind]) - len(values)))


def _runs(rows: Iterable[Row]) -> Iterable[tuple[str, list[tuple[Any, ...]]]]:
    """Yield rows grouped by what writes them, samples all together: they hang on nothing but the hold."""
    samples: list[tuple[Any, ...]] = []
    for kind, values, _ in rows:
        if kind == "samples":
            samples.append(values)
        else:
            yield kind, [values]
    if samples:
        yield "samples", samples
