"""A small record with every kind of row: two holds, samples, events, requests; and connections that fail."""

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

from holdctl.events import Instant, Notice, NoticeKind, Request, RequestKind, Silence, State
from holdctl.record.spool import Filed
from holdctl.record.store import Store
from holdctl.record.writer import connect

from .conftest import HOLD, START_UTC_MS, night

TABLES = ("holds", "samples", "events", "requests", "chain")


def at(ms: int) -> Instant:
    return Instant(ms, ms, START_UTC_MS + ms)


def filed(text: str) -> Filed:
    request = Request(RequestKind.NOTE, "baker", text)
    return Filed(request, "accepted", "", text, START_UTC_MS, "note", "baker", text)


def write_small(path: Path, samples: int = 14, **options: Any) -> None:
    """Two holds: the first with `samples`, a request every fifth of them and events; the second left open."""
    with Store.open(path, **options) as store:
        for seed in (1, 2):
            store.begin_hold(**HOLD)
            for k, row in enumerate(night(samples if seed == 1 else 4, seed)):
                store.sample(*row)
                if k % 5 == 1:
                    store.request(row[0], filed(f"malt {k}"))
                if k % 7 == 2:
                    store.event(row[0], Silence())
                    store.notice(row[0], Notice(NoticeKind.ALARM, "no-rise", "it does not warm", {"k": k}))
            if seed == 1:
                store.end_hold(row[0], State.STOPPED)


def rows_of(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    with sqlite3.connect(path) as db:
        found = {
            name: db.execute(f"SELECT * FROM {name} NOT INDEXED ORDER BY 1").fetchall() for name in TABLES
        }
    db.close()
    return found


def tiny_pages(path: Path) -> sqlite3.Connection:
    """Make a file of pages of 512 bytes, so that few bytes hold every kind of page."""
    connection = connect(path)
    connection.execute("PRAGMA page_size = 512")
    return connection


class Fails(sqlite3.Connection):
    """A connection whose calls can be made to fail."""

    plan: "Plan"

    def execute(self, sql: str, *args: Any) -> sqlite3.Cursor:
        quick = sql.replace(
            "synchronous = FULL", "synchronous = OFF"
        )  # the disk's own pace is not what is tried
        return self.plan.call(sql, lambda: super(Fails, self).execute(quick, *args))

    def executemany(self, sql: str, *args: Any) -> sqlite3.Cursor:
        return self.plan.call(sql, lambda: super(Fails, self).executemany(sql, *args))

    def close(self) -> None:
        super().close()
        self.plan.call("close", lambda: None)


class Plan:
    """Which call fails, how, and whether all later ones do too; counts calls from `begin`."""

    def __init__(
        self, at: int = 0, error: str = "SQLITE_IOERR_FSYNC", *, ever: bool = False, after: bool = False
    ):
        """`after`: the call takes effect and fails nevertheless, as a COMMIT may."""
        self.at, self.error, self.ever, self.after = at, error, ever, after
        self.calls = 0
        self.counting = False

    def make(self, path: Path) -> sqlite3.Connection:
        if self.counting:
            self.call("open", lambda: None)
        connection = sqlite3.connect(path, timeout=2.0, isolation_level=None, factory=Fails)
        connection.plan = self  # type: ignore[attr-defined]
        return connection

    def call(self, _sql: str, act: Callable[[], Any]) -> Any:
        if not self.counting:
            return act()
        self.calls += 1
        if self.calls == self.at or (self.ever and self.calls > self.at > 0):
            if self.after:
                act()
            raise named(self.error)
        return act()


def named(name: str) -> Exception:
    if name == "MemoryError":
        return MemoryError()
    error = sqlite3.DatabaseError(name) if "CORRUPT" in name else sqlite3.OperationalError(name)
    error.sqlite_errorname = name
    return error
