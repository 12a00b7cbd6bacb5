"""The record on the file system: its companions, who may write, and what went wrong in plain words."""

import contextlib
import errno
import fcntl
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import msgspec

from holdctl.errors import StoreError
from holdctl.record.schema import APPLICATION_ID, FORMAT

_SMALLEST_BYTES = 512
"""Smallest page of SQLite, and so the smallest file that is not empty."""


def spool_folder(record: Path) -> Path:
    """Return the spool folder that belongs to a record file."""
    return record.parent / f"{record.stem}.spool"


def lock_file(record: Path) -> Path:
    """Return the file whose lock says that a daemon writes this record."""
    return record.parent / f"{record.stem}.lock"


TRUTH_COLUMNS = ("up_ms", "coldest_c", "hottest_c", "mean_c", "wall_c")
"""Of the simulator's truth: the node's clock, then true temperatures, °C."""


def truth_file(record: Path, hold: int) -> Path:
    """Return the file in which a simulator writes what was true during a hold; real holds have none."""
    return record.with_name(f"{record.stem}-{hold}.truth.csv")


def truth_head(hold: int, started_utc_ms: int) -> str:
    """Return the first line of that file: which hold it belongs to."""
    return f"# truth of hold {hold}, started {started_utc_ms} ms UTC"


def make_folder(folder: Path) -> None:
    """Create a folder and its missing parents, for the owner alone (0700); leave existing ones alone."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(mode=0o700, exist_ok=True)


def take_lock(record: Path) -> int:
    """Create the folder if need be, lock the record for one writer, return the descriptor that holds the lock.

    A file of its own: closing any descriptor of the database would drop SQLite's own locks in this process.
    """
    try:
        make_folder(record.parent)
        fd = os.open(lock_file(record), os.O_CREAT | os.O_RDWR | os.O_CLOEXEC, 0o600)
    except OSError as error:
        raise os_error(record, error) from error
    try:
        fcntl.flock(fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        os.close(fd)
        raise StoreError(
            f"Another holdctl already writes to {record}: stop it with `holdctl stop`, "
            "or give this warmer a record of its own with --record."
        ) from error
    os.ftruncate(fd, 0)
    os.write(fd, f"{os.getpid()}\n".encode())
    return fd


def prepare(record: Path) -> None:
    """Create the empty file (0600) when it is missing; only for whoever has the lock. Raises StoreError."""
    try:
        if record.is_dir():
            raise IsADirectoryError
        with contextlib.suppress(FileExistsError):
            os.close(os.open(record, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_CLOEXEC, 0o600))
        size = record.stat().st_size
    except OSError as error:
        raise os_error(record, error) from error
    if 0 < size < _SMALLEST_BYTES:  # SQLite would take a file of a few bytes for an empty one
        raise foreign(record)


def writer_pid(record: Path) -> int | None:
    """Return the process id of the daemon that writes this record now, None when there is none."""
    try:
        fd = os.open(lock_file(record), os.O_RDONLY | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        fcntl.flock(fd, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        text = os.read(fd, 32).strip()
        return int(text) if text.isdigit() else 0
    finally:
        os.close(fd)
    return None


def check_identity(connection: sqlite3.Connection, record: Path) -> int:
    """Return the file's format, 0 for an empty file; raise StoreError for a foreign or a newer file."""
    application_id = connection.execute("PRAGMA application_id").fetchone()[0]
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    if application_id == APPLICATION_ID:
        if version > FORMAT:
            raise StoreError(
                f"{record} was written by a newer holdctl (record format {version}, this one knows "
                f"{FORMAT}): install the newer holdctl, or give another file with --record."
            )
        return version
    if application_id or connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
        raise foreign(record)
    return 0


def foreign(record: Path) -> StoreError:
    """Return the sentence for a file that is no record of ours."""
    return StoreError(f"{record} is not a holdctl record: give another file with --record.")


def _looks_foreign(record: Path) -> bool:
    """Say whether the file's first bytes are those of something else than an SQLite file.

    Only for a file that SQLite has refused, of which no connection can be open: see `take_lock`.
    """
    try:
        with record.open("rb") as file:
            head = file.read(16)
    except OSError:
        return False
    return bool(head) and head != b"SQLite format 3\0"


def os_error(record: Path, error: OSError) -> StoreError:
    """Return the sentence for an error of the operating system."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return _disk_full(record)
    if isinstance(error, IsADirectoryError | NotADirectoryError | FileExistsError):
        return StoreError(f"{record} is not a file or lies in no folder: give the file's path with --record.")
    return StoreError(
        f"Can't write the record {record} ({error.strerror}): change its permissions, "
        "or give a file in a folder of yours with --record."
    )


def sql_error(record: Path, error: sqlite3.Error) -> StoreError:
    """Return the sentence for an error of SQLite."""
    name = getattr(error, "sqlite_errorname", "") or ""
    if name == "SQLITE_NOTADB":
        return foreign(record) if _looks_foreign(record) else damaged(record)
    if name == "SQLITE_FULL":
        return _disk_full(record)
    if name.startswith("SQLITE_CORRUPT"):
        return damaged(record)
    if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return StoreError(f"Another program keeps the record {record} locked: close it, then try again.")
    if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM")):
        return StoreError(
            f"Can't open the record {record} ({error}): change the permissions of the file and its folder, "
            "or give a file in a folder of yours with --record."
        )
    if name.startswith("SQLITE_IOERR"):
        return StoreError(
            f"The disk failed while using the record {record} ({error}): check the disk and its cable."
        )
    return StoreError(f"The record {record} can't be used ({error}): move it aside, a new one will be made.")


def in_words(record: Path, error: Exception) -> StoreError:
    """Return the sentence for whatever writing the record has raised."""
    match error:
        case StoreError():
            return error
        case sqlite3.Error():
            return sql_error(record, error)
        case OSError():
            return os_error(record, error)
    return StoreError(f"The record {record} can't be written ({type(error).__name__}): free some memory.")


@contextlib.contextmanager
def in_plain_words(record: Path) -> Iterator[None]:
    """Turn what SQLite and damaged values raise into StoreError.

    A flipped bit is often found by no check of SQLite but by a number, a word or a JSON text that can't be; the
    sqlite3 module itself fails to decode its message then.
    """
    try:
        yield
    except sqlite3.Error as error:
        raise sql_error(record, error) from error
    except (ValueError, TypeError, LookupError, ArithmeticError, msgspec.DecodeError) as error:
        raise damaged(record) from error


def damaged(record: Path) -> StoreError:
    """Return the sentence for a file that SQLite finds malformed."""
    return StoreError(
        f"The record {record} is damaged: move it aside together with its -wal file and keep both; "
        "the next `holdctl run` makes a new one, and `holdctl salvage` saves what can still be read."
    )


def _disk_full(record: Path) -> StoreError:
    return StoreError(
        f"The disk with the record {record} is full: free some space, then start again; "
        "what was recorded so far is still there."
    )
