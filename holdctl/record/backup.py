"""A copy of a record, also of one that is being written: whole, checked, and its owner's alone."""

import contextlib
import os
import sqlite3
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from holdctl.errors import ConfigError, StoreError
from holdctl.record import files
from holdctl.record.query import Record
from holdctl.record.verify import Verdict, verify


@dataclass(frozen=True, slots=True)
class Backup:
    """What was made; no verdict where the record is of an older format, which has no chain."""

    path: Path
    size_bytes: int
    verdict: Verdict | None


def backup(record: Path, target: Path) -> Backup:
    """Copy `record` to the new file `target` and check the copy.

    Raises ConfigError where `target` is there already, StoreError where it can't be made; nothing is left then.
    """
    source = Record(record)
    create(target)
    try:
        with source.snapshot() as db, files.in_plain_words(target), closing(sqlite3.connect(target)) as copy:
            db.backup(copy)
            told = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
        if told != "ok":
            raise StoreError(
                f"The copy {target} came out damaged ({told}): check that disk, and the record itself."
            )
        flush(target)
        chained = source.head() is not None
        return Backup(target, target.stat().st_size, verify(target) if chained else None)
    except BaseException:
        remove(target)
        raise


def create(target: Path) -> None:
    """Make an empty file (0600) that was not there. Raises ConfigError."""
    try:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_CLOEXEC, 0o600))
    except FileExistsError:
        raise ConfigError(f"{target} is there already; choose another name or remove it first.") from None
    except OSError as error:
        raise ConfigError(f"{target} can't be written ({error.strerror}); choose another place.") from None


def flush(target: Path) -> None:
    """Bring a finished file and its name to the disk. Raises StoreError."""
    try:
        for path in (target, target.absolute().parent):
            fd = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
            try:
                os.fsync(fd)
            finally:
                os.close(fd)
    except OSError as error:
        raise files.os_error(target, error) from error


def remove(target: Path) -> None:
    """Remove a file that came to nothing, with what SQLite left beside it."""
    for suffix in ("", "-wal", "-shm", "-journal"):
        with contextlib.suppress(OSError):
            target.with_name(target.name + suffix).unlink(missing_ok=True)
