"""What still waits in memory when the process ends and the disk still fails: written beside the record, or elsewhere.

The rows are the record's own lines, one JSON list each, in the order of their numbers (docs/record.md). They are no
part of the chain: they say what happened, and prove nothing. The folder of the record is tried first, as a database may
fail where a plain file does not; then the folder that a service manager keeps for this run, which is in memory; then
the system's own for what is temporary, which a restart may empty.
"""

import contextlib
import glob
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path

from holdctl.record.ring import Entry, Ring

_ALL = 1 << 62


def leave(record: Path, ring: Ring) -> str:
    """Write the rows of the ring where there is room, and say in a sentence where they are, or that they are lost."""
    entries = ring.oldest(_ALL)
    what = f"{ring.samples} readings and {len(entries) - ring.samples} other rows had not been written"
    name = f"{record.stem}-unwritten-{entries[0][0]}.jsonl"
    for folder in _folders(record):
        with contextlib.suppress(OSError):
            _write(folder / name, entries)
            return f"{what}: they are in {folder / name}, keep it with the record."
    return f"{what}, nowhere was room for them, and they are lost."


def beside(record: Path) -> list[Path]:
    """Return the files that runs on this record have left in its folder, oldest first by their rows."""
    found = record.parent.glob(f"{glob.escape(record.stem)}-unwritten-*.jsonl")
    return sorted(found, key=lambda path: (len(path.name), path.name))


def _folders(record: Path) -> Iterator[Path]:
    yield record.parent
    kept = os.environ.get("RUNTIME_DIRECTORY", "").partition(":")[0]
    if kept:
        yield Path(kept)
    with contextlib.suppress(OSError):
        yield Path(tempfile.gettempdir())


def _write(path: Path, entries: list[Entry]) -> None:
    """Write a new file for the owner alone, on disk when this returns; nothing of it stays where that fails."""
    fd = os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_NOFOLLOW | os.O_CLOEXEC, 0o600)
    try:
        with os.fdopen(fd, "wb") as file:
            file.writelines(line for _, _, line in entries)
            file.flush()
            os.fsync(fd)
    except OSError:
        path.unlink(missing_ok=True)
        raise
