"""Between the rows that wait and the disk: commits them, and carries on in memory when the disk fails.

While a hold runs nothing here raises: a record that can't be written is an alarm, for cutting the heat would spoil the
food. Before and after a hold the caller wants to know, and StoreError says so.
"""

import contextlib
import sqlite3
from collections.abc import Callable
from pathlib import Path

from holdctl.errors import StoreError
from holdctl.events import Notice, NoticeKind
from holdctl.record import files
from holdctl.record.left import leave
from holdctl.record.ring import Gap, Ring, decoded
from holdctl.record.trouble import Trouble
from holdctl.record.writer import Writer

BEGIN, ANCHOR, ROW, END = range(4)
"""Order among lines of the same number."""
_ONE_COMMIT = 4096
"""Rows of one commit: the loop waits for it when hours are brought from memory."""
LOST = "record-lost"


class Keeper:
    """Rows on their way to the disk."""

    def __init__(self, path: Path, writer: Writer, gap_line: Callable[[Gap], bytes]) -> None:
        """`gap_line` makes the event that stands in the place of readings that had to be dropped."""
        self._path, self.writer, self._gap_line = path, writer, gap_line
        self.ring = Ring()
        self.trouble = Trouble()
        self.running = False
        """A hold is open: bear with failures."""
        self.now_ms = 0
        """Host time, as far as it is known here."""
        self._broken = self._ending = False
        self._tried: tuple[int, int, bytes] | None = None
        self._later: list[Callable[[], None]] = []
        self._afterwards: list[Callable[[], None]] = []
        self._begun: list[tuple[int, int, bytes]] = []

    def begin(self, hold: int, first_seq: int, line: bytes) -> None:
        """Write the begin of a hold; from then on failures are borne. Raises StoreError."""
        self._begun = [(first_seq, BEGIN, line)]
        self.ring.other(*self._begun[0])
        self.flush()
        self.running, self._hold = True, hold
        self.writer.hurry()

    def resume(self, hold: int, first_seq: int) -> None:
        """Go on with a hold whose begin is on disk; from here on failures are borne. Raises StoreError."""
        with files.in_plain_words(self._path):
            begin, anchor = self.writer.begun(hold)
        self._begun = [(first_seq, BEGIN, begin), (first_seq, ANCHOR, anchor)]
        self.running, self._hold = True, hold
        self.writer.hurry()

    def anchor(self, seq: int, line: bytes) -> None:
        """Let the hold's anchor wait with its first sample."""
        self._begun.append((seq, ANCHOR, line))
        self.ring.other(seq, ANCHOR, line)

    def now_or_later(self, act: Callable[[], None]) -> None:
        """Do something to a file beside the record at once, and again and again where that fails."""
        self._later.append(act)
        self._guarded(self._catch_up)

    def afterwards(self, act: Callable[[], None]) -> None:
        """Do something once all that waits now is on disk."""
        self._afterwards.append(act)

    def flush(self) -> None:
        """Commit what waits. Raises StoreError unless a hold runs; then it waits on, and the alarms say why."""
        if not (self.ring or self.trouble or self._later):
            self._done()
        elif not self.running or self.trouble.due(self.now_ms):
            self._guarded(self._write)

    def _guarded(self, act: Callable[[], None]) -> None:
        try:
            act()
        except (sqlite3.Error, StoreError, OSError, MemoryError) as error:
            said = files.in_words(self._path, error)
            if not self.running:
                raise said from error
            self.trouble.failed(error, said, self.now_ms)

    def _write(self) -> None:
        if self._broken:
            self._reopen()
        while self.ring:
            entries = self.ring.oldest(_ONE_COMMIT)
            self._tried, self._broken = entries[-1], True
            self.writer.commit(decoded(entries))
            self._tried, self._broken = None, False
            self.ring.forget(entries[-1])
            if self.ring and self.running and self.trouble and not self._ending:
                return  # the rest with the next reading
        self._catch_up()
        self._done()

    def _catch_up(self) -> None:
        while self._later:
            self._later[0]()
            self._later.pop(0)

    def _done(self) -> None:
        for act in self._afterwards:
            with contextlib.suppress(OSError):
                act()
        self._afterwards.clear()
        self.trouble.over("the record is written again, with what had waited in memory")

    def _reopen(self) -> None:
        """Find out where the file stands after a failure, and let wait what it lacks."""
        happened, lost = self.writer.reopen()
        if happened and self._tried is not None:
            self.ring.forget(self._tried)
        self._tried = None
        if self.running and not self.writer.has_hold(self._hold, self._begun[0][0]):
            for entry in self._begun:
                self.ring.place(*entry)
        elif lost:
            text = f"{lost} rows that had been written before are gone from the disk"
            self.trouble.say(Notice(NoticeKind.INFO, LOST, text, {"rows": lost}))
        self.ring.settle(self.writer.head.last_seq)
        if self.ring.gap is not None:
            self.ring.place(self.ring.gap.last[0], ROW, self._gap_line(self.ring.gap))
            self.ring.gap = None
        self._broken = False

    def ending(self) -> None:
        """Try to write all of it whether or not it is time to: the hold ends."""
        self._ending = True
        self._guarded(self._write)
        self._ending = False

    def close(self) -> None:
        """Commit what waits and close the file. Raises StoreError where that fails, with where the rows are instead."""
        self.running = False
        try:
            self.flush()
        except StoreError as error:
            raise StoreError(
                f"{error} {leave(self._path, self.ring)}" if self.ring else str(error)
            ) from error
        finally:
            with contextlib.suppress(sqlite3.Error):
                self.writer.close()
