"""Start a daemon that survives its terminal."""

import os
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from holdctl.clock import SystemClock
from holdctl.errors import StoreError
from holdctl.record.files import make_folder, os_error
from holdctl.record.query import Record

_FOLLOWED_MS = 180_000
"""A hold that was left open is followed from its begin first: seconds, a minute on a small computer."""


@dataclass(frozen=True, slots=True)
class Started:
    """What became of it: `failure` is empty when a hold has begun."""

    pid: int
    log: Path
    hold: int | None
    failure: str
    since: int = 0
    """Row of the record from which this run counts: a hold may have gone on."""


def detach(arguments: list[str], record: Path, wait_ms: int) -> Started:
    """Run `holdctl` with `arguments` in a session of its own and wait until its hold has begun or it has ended."""
    log = record.with_suffix(".log")
    before = _latest(record)
    try:
        make_folder(record.parent)
        descriptor = os.open(log, os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise os_error(log, error) from error
    size = os.fstat(descriptor).st_size
    try:
        process = subprocess.Popen(
            [sys.executable, "-m", "holdctl", *arguments],
            stdin=subprocess.DEVNULL,
            stdout=descriptor,
            stderr=descriptor,
            start_new_session=True,
            env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )
    finally:
        os.close(descriptor)
    clock = SystemClock()
    wait_ms = _FOLLOWED_MS if before is not None and before.open else wait_ms
    until = clock.monotonic_ms() + wait_ms
    while clock.monotonic_ms() < until and process.poll() is None:
        now = _latest(record)
        if now is not None and (before is None or (now.hold, now.since) != (before.hold, before.since)):
            return Started(process.pid, log, now.hold, "", now.since)
        clock.sleep(0.05)
    if process.poll() is None:
        process.terminate()
        return Started(process.pid, log, None, f"No hold has begun within {wait_ms // 1000} s.")
    return Started(process.pid, log, None, _last_words(log, size))


class _Latest(NamedTuple):
    """The latest hold: its number, the row of the record from which its last run counts, whether it is open."""

    hold: int
    since: int
    open: bool


def _latest(record: Path) -> _Latest | None:
    with suppress(StoreError):
        reader = Record(record)
        row = reader.hold()
        again = reader.ask("SELECT max(seq) FROM events WHERE hold = ? AND kind = 'restart'", row.id)
        return _Latest(row.id, again[0][0] or row.first_seq, row.state is None)
    return None


def _last_words(log: Path, size: int) -> str:
    with log.open("rb") as file:
        file.seek(size)
        lines = file.read().decode("utf-8", "replace").strip().splitlines()
    return lines[-1].removeprefix("holdctl: ") if lines else "It ended at once without a word."
