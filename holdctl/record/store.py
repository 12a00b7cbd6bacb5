"""The daemon's side of the record: the only writer.

Samples wait in memory and are committed together, at most `batch_ms` after the first of them; everything
else is committed at once, with the samples before it. Until a hold is open a failure raises StoreError; while
one is open nothing raises: rows wait in the ring, `news` says so, and writing is tried again and again.
"""

import contextlib
import json
import math
import os
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import msgspec

from holdctl.events import (
    ClockJump,
    Condition,
    Decision,
    Event,
    ForeignAck,
    Identified,
    Instant,
    Late,
    LinkChange,
    NodeBoot,
    Notice,
    NoticeKind,
    Reading,
    Request,
    Restart,
    Silence,
    State,
)
from holdctl.record import chain, codec, files, writer
from holdctl.record.keeper import END, ROW, Keeper
from holdctl.record.latch import Latch
from holdctl.record.ring import Gap
from holdctl.record.spool import Filed

_TRIPS = (
    "SELECT kind, name, detail FROM events WHERE kind IN ('trip', 'reset') AND source = 'out' ORDER BY seq"
)
_MOST_PENDING = 4096
"""Rows after which an accelerated night commits early, to bound memory."""
_NEARLY = 0.9
"""Share of the batch's time after which the next reading would come too late for it."""
DIED = (
    "holdctl ended without closing this hold (killed, or power failed): closed as aborted at the next start"
)

UNRECORDED = "unrecorded"
"""Name of the event that stands for readings that are missing because the disk failed for too long."""

EVENT_KINDS: dict[type, str] = {
    Silence: "silence", LinkChange: "link", NodeBoot: "boot", ForeignAck: "foreign-ack", Request: "request",
    Identified: "identified", Condition: "condition", Restart: "restart", Late: "late", ClockJump: "clock-jump",
}  # fmt: skip


class Store:
    """One record file, open for writing by this process alone."""

    def __init__(self, path: Path, connection: writer.Writer, lock_fd: int, batch_ms: int) -> None:
        self._path, self._lock_fd, self._batch_ms = path, lock_fd, batch_ms
        self._latch = Latch(path)
        self._keeper = Keeper(path, connection, self._gap_line)
        self._ring = self._keeper.ring
        self._first_host_ms = 0
        self._hold: int | None = None
        self._first_seq = self._started_utc_ms = 0
        self._anchor: codec.Anchor | None = None
        self._next_seq = self._last_seq() + 1

    @classmethod
    def open(cls, path: Path, *, batch_ms: int = 5000, make: writer.Connect = writer.connect) -> "Store":
        """Open the record, creating or migrating it. `batch_ms`: host time a sample may wait for its commit.

        Raises StoreError, each with a sentence for the baker: a foreign, newer or damaged file, a file or
        folder that can't be written, a full disk, another daemon on the same file.
        """
        lock_fd = files.take_lock(path)
        connection = None
        try:
            files.prepare(path)
            connection = writer.Writer(path, make)
            return cls(path, connection, lock_fd, batch_ms)
        except BaseException:
            if connection is not None:
                connection.close()
            os.close(lock_fd)
            with files.in_plain_words(path):
                raise

    def __enter__(self) -> "Store":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def begin_hold(
        self, *, started_utc_ms: int, config_json: str, warmer: str, programme: str, pace: str,
        simulated: bool, version: str, boot_id: str, latched: tuple[str, ...],
    ) -> int:  # fmt: skip
        """Open a hold and return its number; holds left open by a daemon that died are closed first."""
        self.close_open_holds(started_utc_ms)
        hold = self._one("SELECT coalesce(max(id), 0) + 1 FROM holds")
        self._hold, self._anchor = hold, None
        self._first_seq, self._started_utc_ms = self._next_seq, started_utc_ms
        row = (hold, self._first_seq, started_utc_ms, warmer, programme, pace, int(simulated), version, boot_id,
               json.dumps(latched), config_json)  # fmt: skip
        self._keeper.begin(hold, self._first_seq, chain.line("begin", row))
        return hold

    def resume_hold(self, hold: int, base: codec.Anchor, *, sampled: bool) -> None:
        """Go on with a hold that was left open; `sampled`: it has readings, so that `base` is its anchor."""
        self._hold, self._anchor = hold, base if sampled else None
        self._first_seq, self._started_utc_ms = base.first_seq, base.started_utc_ms
        self._keeper.resume(hold, base.first_seq)

    def sample(self, now: Instant, reading: Reading, decision: Decision) -> None:
        """Record one reading and what was decided on it; on disk at most `batch_ms` of host time later."""
        seq = self._next_seq
        base = self._anchor or self._begin_samples(seq, now, reading)
        if self._ring.samples and now.host_ms - self._first_host_ms > self._batch_ms:
            self.flush()  # before this one: a batch of the chain and a commit end together
        if not self._ring.samples:
            self._first_host_ms = now.host_ms
        self._ring.sample(seq, chain.line("samples", codec.encode(seq, now, reading, decision, base)))
        self._next_seq, self._keeper.now_ms = seq + 1, now.host_ms
        waited_ms = now.host_ms - self._first_host_ms
        if waited_ms >= _NEARLY * self._batch_ms or self._ring.samples >= _MOST_PENDING:
            self.flush()

    def event(self, now: Instant, event: Event) -> None:
        """Record an input other than a reading, for replay; on disk when this returns."""
        name, text = _words(event)
        detail = msgspec.json.encode(_spelled(msgspec.to_builtins(event))).decode()
        self._put_event(now, "in", EVENT_KINDS[type(event)], name, text, detail)
        self.flush()

    def notice(self, now: Instant, notice: Notice) -> None:
        """Record what the hold said; on disk when this returns."""
        if notice.kind is NoticeKind.TRIP and notice.detail.get("latched") is True:
            self._latch_as(self._latch.trip, notice.name)  # before the record, which may be unable to take it
        detail = msgspec.json.encode(dict(notice.detail), enc_hook=str).decode()
        self._put_event(now, "out", notice.kind.value, notice.name, notice.text, detail)
        self.flush()
        if notice.kind is NoticeKind.RESET:
            self._latch_as(self._latch.reset, notice.name)

    def request(self, now: Instant, filed: Filed) -> None:
        """File a collected request with its outcome, as an input event too when accepted; delete its file.

        Obey the request only after that, and do not call `event` for it. The file stays until the row is on disk.
        """
        seq, self._next_seq = self._next_seq, self._next_seq + 1
        row = (seq, self._hold, now.utc_ms, filed.placed_utc_ms, filed.kind, filed.by, filed.subject, filed.outcome,
               filed.reason, filed.raw)  # fmt: skip
        self._ring.other(seq, ROW, chain.line("requests", row))
        if filed.path is not None:  # left behind it is found by `leftovers`, and never obeyed
            self._keeper.afterwards(partial(filed.path.unlink, missing_ok=True))
        if filed.request is not None and self._hold is not None:
            self.event(now, filed.request)
        self.flush()

    def end_hold(self, now: Instant, state: State) -> None:
        """Close the hold in `state`; on disk when this returns. Raises StoreError, and what waited may be lost then."""
        self._keeper.ending()
        for notice in self.news():
            self.notice(now, notice)
        self._keeper.running = False
        last = self._next_seq - 1
        row = (self._hold, now.utc_ms, now.hold_ms, state.value, last)
        self._ring.other(last, END, chain.line("end", row))
        self.flush()

    def belongs_to(self, hold: int) -> None:
        """Let requests and notices that follow belong to a hold that is over."""
        self._hold = hold

    def close_open_holds(self, utc_ms: int) -> list[int]:
        """Close holds of a daemon that died as aborted, each with an event that says so; return their ids."""
        self.flush()
        rows = self._all(
            "SELECT id, first_seq, started_utc_ms, n_base, up_base, ack_base FROM holds WHERE state IS NULL"
        )
        for hold, *base in rows:
            last = self._last_instant(hold, codec.Anchor(*base))
            seq, self._next_seq = self._next_seq, self._next_seq + 1
            detail = json.dumps({"last_recorded_utc_ms": last.utc_ms, "found_utc_ms": utc_ms})
            event = (seq, hold, last.hold_ms, last.host_ms, utc_ms, "out", NoticeKind.STATE.value,
                     State.ABORTED.value, DIED, detail)  # fmt: skip
            end = (hold, last.utc_ms, last.hold_ms, State.ABORTED.value, seq)
            self._ring.other(seq, ROW, chain.line("events", event))
            self._ring.other(seq, END, chain.line("end", end))
        self._keeper.running = False
        self.flush()
        return [row[0] for row in rows]

    def latched_trips(self) -> tuple[str, ...]:
        """Return the names of trips that latched in a hold here and not reset, oldest first."""
        self.flush()
        latched: dict[str, None] = {}
        for kind, name, detail in self._all(_TRIPS):
            if kind == NoticeKind.RESET:
                latched.pop(name, None)
            elif self._detail(detail).get("latched") is True:
                latched[name] = None
        return tuple(dict.fromkeys((*latched, *self._latch.names())))

    def last_identified(self, warmer: str) -> Identified | None:
        """Return what was identified last of a warmer, None where nothing was or it can't be read."""
        self.flush()
        rows = self._all(
            "SELECT e.detail FROM events e JOIN holds h ON h.id = e.hold WHERE e.kind = 'identified' "
            "AND e.source = 'in' AND h.warmer = ? ORDER BY e.seq DESC LIMIT 1",
            warmer,
        )
        if not rows:
            return None
        with contextlib.suppress(msgspec.DecodeError, msgspec.ValidationError):
            return msgspec.json.decode(rows[0][0], type=Identified, strict=False)
        return None

    def flush(self) -> None:
        """Commit what waits. Raises StoreError where no hold is open; else it waits on, and `news` says why."""
        self._keeper.flush()

    def news(self) -> list[Notice]:
        """Return what has come up about the record since the last call, to be announced: alarms, and their end."""
        return self._keeper.trouble.news()

    def close(self) -> None:
        """Commit what waits and let go of the file, also when that commit fails."""
        if self._lock_fd < 0:
            return
        try:
            self._keeper.close()
        finally:
            self._latch.close()
            os.close(self._lock_fd)
            self._lock_fd = -1

    def _begin_samples(self, seq: int, now: Instant, reading: Reading) -> codec.Anchor:
        if not self._keeper.running:
            raise RuntimeError("a sample outside of a hold: begin_hold comes first")
        base = self._anchor = codec.anchor(seq, now, reading, self._first_seq, self._started_utc_ms)
        self._keeper.anchor(seq, chain.line("anchor", (self._hold, base.n, base.up, base.ack)))
        return base

    def _put_event(self, now: Instant, source: str, kind: str, name: str, text: str, detail: str) -> None:
        if self._hold is None:
            raise RuntimeError("an event outside of a hold: begin_hold comes first")
        seq, self._next_seq = self._next_seq, self._next_seq + 1
        row = (seq, self._hold, now.hold_ms, now.host_ms, now.utc_ms, source, kind, name, text, detail)
        self._ring.other(seq, ROW, chain.line("events", row))
        self._keeper.now_ms = now.host_ms

    def _latch_as(self, act: Callable[[str], None], name: str) -> None:
        self._keeper.now_or_later(partial(act, name))

    def _gap_line(self, gap: Gap) -> bytes:
        """Return the event that stands for readings that had to be dropped, with the number of the last of them."""
        base = self._anchor or codec.Anchor(self._first_seq, self._started_utc_ms)
        first, last = (codec.decode(codec.whole(row), base)[1] for row in (gap.first, gap.last))
        detail = {"from_hold_ms": first.hold_ms, "to_hold_ms": last.hold_ms, "readings": gap.samples,
                  "other_rows": gap.others}  # fmt: skip
        text = (
            f"not recorded: {(last.hold_ms - first.hold_ms) / 60_000:.1f} min ({gap.samples} readings) while the "
            "record could not be written; the hold went on"
        )
        return chain.line("events", (
            gap.last[0], self._hold, last.hold_ms, last.host_ms, last.utc_ms, "out", NoticeKind.INFO.value, UNRECORDED,
            text, json.dumps(detail),
        ))  # fmt: skip

    def _last_instant(self, hold: int, base: codec.Anchor) -> Instant:
        columns = ", ".join(codec.COLUMNS)
        row = self._all(
            f"SELECT {columns} FROM samples WHERE seq >= ? ORDER BY seq DESC LIMIT 1", base.first_seq
        )
        with files.in_plain_words(self._path):
            sample = codec.decode(row[0], base)[1] if row else Instant(0, 0, base.started_utc_ms)
        event = self._all(
            "SELECT hold_ms, host_ms, utc_ms FROM events WHERE hold = ? ORDER BY seq DESC LIMIT 1", hold
        )
        return max(sample, *(Instant(*e) for e in event), key=lambda at: at.hold_ms) if event else sample

    def _last_seq(self) -> int:
        return max(
            self._one(f"SELECT coalesce(max(seq), 0) FROM {table}")
            for table in ("samples", "events", "requests")
        )

    def _one(self, sql: str) -> int:
        return int(self._all(sql)[0][0])

    def _all(self, sql: str, *values: object) -> list[tuple[Any, ...]]:
        with files.in_plain_words(self._path):
            return self._keeper.writer.db.execute(sql, values).fetchall()

    def _detail(self, text: str) -> dict[str, Any]:
        with files.in_plain_words(self._path):
            return msgspec.json.decode(text, type=dict[str, Any])


def _words(event: Event) -> tuple[str, str]:
    match event:
        case Request(kind, by, subject):
            return kind.value, f"{by}: {subject}" if subject else by
        case LinkChange(up, reason):
            return ("up" if up else "down"), reason
        case NodeBoot(firmware=firmware, cause=cause):
            return cause, f"node firmware {firmware}"
        case ForeignAck(ack):
            return "foreign-ack", f"the node obeyed command {ack}, which this host never sent"
        case Identified(names=names, rms_k=rms_k):
            return "identified", f"{len(names)} parameters of this warmer fitted, {rms_k:.3f} K left"
        case Restart() | Late() | ClockJump():
            return _away(event)
        case Silence():
            return "silence", "no reading"
        case Condition(name, active, text):
            return name, text or ("there" if active else "gone")
        case Reading():
            raise TypeError("a reading is recorded by Store.sample")


def _away(event: Restart | Late | ClockJump) -> tuple[str, str]:
    match event:
        case Restart(gap_ms=gap_ms, clock=clock):
            return clock, "started again" + ("" if gap_ms is None else f" after {gap_ms / 1000:.1f} s")
        case Late(late_ms=late_ms):
            return "late", f"stood still for {late_ms / 1000:.1f} s"
        case ClockJump(jump_ms=jump_ms):
            return "clock-jump", f"the wall clock was set by {jump_ms / 1000:+.1f} s"


def _spelled(value: Any) -> Any:
    """Return plain values with NaN and infinity as words: JSON has no number for them, and a replay wants them."""
    match value:
        case float() if not math.isfinite(value):
            return str(value)
        case dict():
            return {key: _spelled(one) for key, one in value.items()}
        case list() | tuple():
            return [_spelled(one) for one in value]
    return value
