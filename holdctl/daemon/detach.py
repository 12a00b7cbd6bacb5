"""Start a daemon that survives its terminal."""

import os
import subprocess
import sys
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from holdctl.clock import SystemClock
from holdctl.errors import StoreError
from holdctl.record.files import make_folder, os_error
from holdctl.record.query import Record


@dataclass(frozen=True, slots=True)
class Started:
    """What became of it: `failure` is empty when a hold has begun."""

    pid: int
    log: Path
    hold: int | None
    failure: str


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
    until = clock.monotonic_ms() + wait_ms
    while clock.monotonic_ms() < until and process.poll() is None:
        hold = _latest(record)
        if hold != before:
            return Started(process.pid, log, hold, "")
        clock.sleep(0.05)
    if process.poll() is None:
        process.terminate()
        return Started(process.pid, log, None, f"No hold has begun within {wait_ms // 1000} s.")
    return Started(process.pid, log, None, _last_words(log, size))


def _latest(record: Path) -> int | None:
    with suppress(StoreError):
        return Record(record).hold().id
    return None


def _last_words(log: Path, size: int) -> str:
    with log.open("rb") as file:
        file.seek(size)
        lines = file.read().decode("utf-8", "replace").strip().splitlines()
    return lines[-1].removeprefix("holdctl: ") if lines else "It ended at once without a word."
