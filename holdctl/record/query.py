"""The record for readers: screens, review, export, replay. Never writes, never keeps a transaction open.

Each question opens the file, reads and closes it: a reader that stays in a transaction would make the
daemon's WAL grow without end. Without a -wal file nobody writes, and `immutable=1` reads even from a read-
only disk.
"""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.errors import NoSuchHoldError, StoreError
from holdctl.events import (
    ClockJump,
    Condition,
    Event,
    ForeignAck,
    Identified,
    Instant,
    Late,
    LinkChange,
    NodeBoot,
    Request,
    Restart,
    Silence,
    State,
)
from holdctl.record import chain, codec, files
from holdctl.record.rows import EventRow, HoldRow, RequestRow, SampleRow

if TYPE_CHECKING:
    from holdctl.record.columns import Columns

_PAGE = 5000
_MAX_SEQ = 2**63 - 1
_SAMPLES = "SELECT * FROM samples"
"""All columns that this file's format has: a reader can't bring an older one to today's."""
_EVENTS = "SELECT seq, hold_ms, utc_ms, source, kind, name, text, host_ms, detail FROM events"
_HOLDS = (
    "SELECT id, first_seq, last_seq, started_utc_ms, ended_utc_ms, ended_hold_ms, state, warmer, programme, "
    "pace, simulated, version, boot_id, latched, config, n_base, up_base, ack_base FROM holds"
)
_EVENT_TYPES: dict[str, type] = {
    "silence": Silence, "link": LinkChange, "boot": NodeBoot, "foreign-ack": ForeignAck, "request": Request,
    "identified": Identified, "condition": Condition, "restart": Restart, "late": Late, "clock-jump": ClockJump,
}  # fmt: skip


class Record:
    """One record file, read only."""

    def __init__(self, path: Path) -> None:
        """Check that `path` is a record; raises StoreError with a sentence when it is missing or not one."""
        self.path = path
        self.ask("SELECT 1 FROM holds LIMIT 1")

    def writer_pid(self) -> int | None:
        """Return the process id of the daemon that writes this record now, None when there is none."""
        return files.writer_pid(self.path)

    def holds(self) -> list[HoldRow]:
        """Return all holds, oldest first."""
        with files.in_plain_words(self.path):
            return [_hold_row(row) for row in self.ask(f"{_HOLDS} ORDER BY id")]

    def hold(self, hold_id: int | None = None) -> HoldRow:
        """Return one hold, by default the latest; NoSuchHoldError for a wrong number, StoreError if there is none."""
        if hold_id is None:
            rows = self.ask(f"{_HOLDS} ORDER BY id DESC LIMIT 1")
        elif abs(hold_id) > _MAX_SEQ:  # SQLite could not even be asked
            rows = []
        else:
            rows = self.ask(f"{_HOLDS} WHERE id = ?", hold_id)
        if rows:
            with files.in_plain_words(self.path):
                return _hold_row(rows[0])
        if hold_id is None:
            raise StoreError(f"The record {self.path} has no hold yet: start one with `holdctl run`.")
        known = self.ask("SELECT min(id), max(id) FROM holds")[0]
        there = f"it has holds {known[0]} to {known[1]}" if known[0] else "it has none yet"
        raise NoSuchHoldError(f"There is no hold {hold_id} in {self.path} ({there}): see `holdctl holds`.")

    def samples(self, hold_id: int, after_seq: int = 0, limit: int | None = None) -> list[SampleRow]:
        """Return the samples of a hold with a number above `after_seq`, in order, at most `limit`."""
        return self._samples(self.hold(hold_id), after_seq, limit)

    def latest(self, hold_id: int) -> SampleRow | None:
        """Return the newest sample of a hold, None when it has none yet."""
        hold = self.hold(hold_id)
        rows = self.ask(
            f"{_SAMPLES} WHERE seq BETWEEN ? AND ? ORDER BY seq DESC LIMIT 1", hold.first_seq, _last(hold)
        )
        with files.in_plain_words(self.path):
            return SampleRow(*codec.decode(codec.whole(rows[0]), hold.anchor)) if rows else None

    def events(self, hold_id: int, after_seq: int = 0) -> list[EventRow]:
        """Return inputs ('in', readings apart) and outputs ('out') of a hold, in order."""
        self.hold(hold_id)
        rows = self.ask(f"{_EVENTS} WHERE hold = ? AND seq > ? ORDER BY seq", hold_id, after_seq)
        with files.in_plain_words(self.path):
            return [_event_row(row) for row in rows]

    def requests(self, hold_id: int) -> list[RequestRow]:
        """Return the requests filed during a hold with their outcomes, in order."""
        rows = self.ask(
            "SELECT seq, filed_utc_ms, placed_utc_ms, kind, by, subject, outcome, reason, raw FROM requests "
            "WHERE hold = ? ORDER BY seq", hold_id,
        )  # fmt: skip
        return [RequestRow(*row) for row in rows]

    def credit_ms(self, hold_id: int) -> int:
        """Return the hold time earned in all steps of a hold, ms."""
        hold = self.hold(hold_id)
        rows = self.ask(
            "SELECT max(credit_ms) FROM samples WHERE seq BETWEEN ? AND ? GROUP BY step",
            hold.first_seq, _last(hold),
        )  # fmt: skip
        return sum(row[0] for row in rows)

    def columns(self, hold_id: int) -> "Columns":
        """Return the samples of a hold as numpy arrays."""
        from holdctl.record.columns import columns

        hold = self.hold(hold_id)
        with files.in_plain_words(self.path):
            return columns(self._sample_rows(hold, 0, None), hold.anchor)

    def replay(self, hold_id: int) -> Iterator[tuple[Instant, Event, int | None]]:
        """Yield the inputs of a hold in order, each reading with the lease (ms) that was given on it."""
        hold = self.hold(hold_id)
        rows = self.ask(f"{_EVENTS} WHERE hold = ? AND source = 'in' ORDER BY seq DESC", hold_id)
        with files.in_plain_words(self.path):
            others = [_input(row) for row in rows]
        after = 0
        while page := self._samples(hold, after, _PAGE):
            for sample in page:
                while others and others[-1][0] < sample.seq:
                    yield *others.pop()[1:], None
                yield sample.at, sample.reading, sample.decision.lease_ms
            after = page[-1].seq
        while others:
            yield *others.pop()[1:], None

    def _samples(self, hold: HoldRow, after_seq: int, limit: int | None) -> list[SampleRow]:
        rows = self._sample_rows(hold, after_seq, limit)
        with files.in_plain_words(self.path):
            return [SampleRow(*codec.decode(row, hold.anchor)) for row in rows]

    def _sample_rows(self, hold: HoldRow, after_seq: int, limit: int | None) -> list[codec.Row]:
        rows = self.ask(
            f"{_SAMPLES} WHERE seq > ? AND seq BETWEEN ? AND ? ORDER BY seq LIMIT ?",
            after_seq, hold.first_seq, _last(hold), -1 if limit is None else limit,
        )  # fmt: skip
        return [codec.whole(row) for row in rows]

    def head(self) -> chain.Head | None:
        """Return where the record's chain stands, None where an older format has none."""
        if self.ask("PRAGMA user_version")[0][0] < chain.SINCE_FORMAT:
            return None
        rows = self.ask(chain.HEAD)
        with files.in_plain_words(self.path):
            return chain.as_head(rows)

    @contextmanager
    def snapshot(self) -> Iterator[sqlite3.Connection]:
        """Give a connection on which nothing changes until it is left; for short work, as the WAL grows meanwhile."""
        with files.in_plain_words(self.path), closing(self._connect()) as connection:
            if files.check_identity(connection, self.path) == 0:
                raise files.foreign(self.path)
            connection.execute("BEGIN")
            yield connection

    def has_log(self) -> bool:
        """Say whether there is a write-ahead log: somebody writes, or was killed while writing."""
        return self.path.with_name(self.path.name + "-wal").exists()

    def ask(self, sql: str, *values: object) -> list[Any]:
        """Return the rows that a SELECT over the tables and views gives; StoreError when it fails."""
        with files.in_plain_words(self.path), closing(self._connect()) as connection:
            if files.check_identity(connection, self.path) == 0:
                raise files.foreign(self.path)
            return connection.execute(sql, values).fetchall()

    def _connect(self) -> sqlite3.Connection:
        if not self.path.is_file():
            raise StoreError(
                f"There is no record at {self.path}: start a hold with `holdctl run`, "
                "or say where the record is with --record."
            )
        mode = "mode=ro" if self.has_log() else "mode=ro&immutable=1"
        return sqlite3.connect(
            f"{self.path.absolute().as_uri()}?{mode}", uri=True, timeout=2.0, isolation_level=None
        )


def _last(hold: HoldRow) -> int:
    return _MAX_SEQ if hold.last_seq is None else hold.last_seq


def _hold_row(row: tuple[Any, ...]) -> HoldRow:
    (hold_id, first_seq, last_seq, started, ended, ended_hold_ms, state, warmer, programme, pace, simulated,
     version, boot_id, latched, config, n_base, up_base, ack_base) = row  # fmt: skip
    return HoldRow(
        id=hold_id, started_utc_ms=started, ended_utc_ms=ended, ended_hold_ms=ended_hold_ms,
        state=None if state is None else State(state), warmer=warmer, programme=programme, pace=pace,
        simulated=bool(simulated), version=version, boot_id=boot_id, latched=tuple(json.loads(latched)),
        config_json=config, first_seq=first_seq, last_seq=last_seq,
        anchor=codec.Anchor(first_seq, started, n_base, up_base, ack_base),
    )  # fmt: skip


def _event_row(row: tuple[Any, ...]) -> EventRow:
    fields = (*row[:-1], json.loads(row[-1]))
    return EventRow(*fields)


def _input(row: tuple[Any, ...]) -> tuple[int, Instant, Event]:
    kind = _EVENT_TYPES[row[4]]
    # Not strict: what JSON has no number for (NaN, infinity) stands there as a word.
    event: Event = msgspec.json.decode(row[8], type=kind, strict=kind is not Identified)
    return row[0], Instant(row[1], row[7], row[2]), event
