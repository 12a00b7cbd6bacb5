"""Messages on their way out of the house: small files in a folder beside the record.

The daemon needs no network for them; `holdctl mail`, a process of its own, sends what it finds there. A letter is
written whole or not at all, and taken away only once a server has accepted it.
"""

import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import msgspec

from holdctl.errors import JobError
from holdctl.record.files import make_folder

MOST = 200
"""So many letters may wait; later ones are dropped, and the record says so."""
_LARGEST_BYTES = 65_536


class Letter(msgspec.Struct, frozen=True):
    """One message."""

    utc_ms: int
    """When it was written, ms since 1970 in UTC."""
    subject: str
    text: str
    second: bool = False
    """For the second recipients, too."""


def letter_folder(record: Path) -> Path:
    """Return the folder that belongs to a record."""
    return record.parent / f"{record.stem}.mail"


def put(folder: Path, letter: Letter) -> str:
    """Put one letter in; returns what went wrong, empty where nothing did."""
    name = f"{letter.utc_ms:014d}-{os.getpid()}-{os.urandom(4).hex()}"
    half = folder / f".{name}.half"
    try:
        make_folder(folder)
        if sum(1 for _ in folder.glob("*.json")) >= MOST:
            return f"more than {MOST} messages wait in {folder}: is `holdctl mail` running?"
        fd = os.open(half, os.O_CREAT | os.O_EXCL | os.O_WRONLY | os.O_CLOEXEC, 0o600)
        with os.fdopen(fd, "wb") as file:
            file.write(msgspec.json.encode(letter))
            file.flush()
            os.fsync(fd)
        half.rename(folder / f"{name}.json")
    except OSError as error:
        with suppress(OSError):
            half.unlink(missing_ok=True)
        return f"a message could not be put into {folder} ({error.strerror})"
    return ""


def waiting(folder: Path) -> Iterator[tuple[Path, Letter]]:
    """Return what waits, oldest first; what is no letter is set aside. Raises JobError where it can't be read."""
    try:
        paths = sorted(folder.glob("*.json"))
        for path in paths:
            try:
                data = path.read_bytes()
                yield path, msgspec.json.decode(data[: _LARGEST_BYTES + 1], type=Letter)
            except msgspec.DecodeError:
                set_aside(path)
    except OSError as error:
        raise JobError(
            f"The messages in {folder} can't be read ({error.strerror}): look at its owner."
        ) from None


def set_aside(path: Path) -> None:
    """Keep a file that can't be sent where nobody trips over it. Raises OSError."""
    make_folder(path.parent / "unsent")
    path.rename(path.parent / "unsent" / path.name)
