"""The heartbeat: a small file, written anew each minute by the loop's own order, whose age says whether it lives.

It needs no open port, and it tells the absence that a dead program cannot tell. It is written whole or not at all:
beside it, to the disk, then renamed over the old one.
"""

import os
from contextlib import suppress
from pathlib import Path

import msgspec

from holdctl.errors import JobError

EVERY_MS = 60_000


class Heartbeat(msgspec.Struct, frozen=True):
    """What the file says, as JSON."""

    utc_ms: int
    """When it was written, ms since 1970 in UTC."""
    boot_ms: int
    """When it was written, ms of the clock that counts since this computer's boot."""
    boot_id: str
    """Which boot that was; empty where the system does not say."""
    pid: int
    hold: int
    state: str
    """Procedural state of the hold."""
    words: str
    """How a screen says it."""
    alarms: tuple[str, ...]
    """Trips and alarms that stand."""
    unacknowledged: tuple[str, ...]
    """Those of them that nobody has acknowledged."""
    ended: bool = False
    """The hold is over in order: no more will come. One that broke off is missed, until the next goes on with it."""

    def age_ms(self, utc_ms: int, boot_ms: int, boot_id: str) -> int | None:
        """Return its age; None where the computer was started anew since. The wall clock counts only without a boot id.

        A wall clock that is set while a hold runs must neither raise the dead nor bury the living.
        """
        if self.boot_id and boot_id:
            return boot_ms - self.boot_ms if self.boot_id == boot_id else None
        return max(0, utc_ms - self.utc_ms)


def heartbeat_file(record: Path) -> Path:
    """Return the file that belongs to a record."""
    return record.parent / f"{record.stem}.heartbeat"


def write(path: Path, heartbeat: Heartbeat) -> str:
    """Write it; returns what went wrong, empty where nothing did."""
    try:
        replace(path, msgspec.json.encode(heartbeat) + b"\n")
    except OSError as error:
        return f"the heartbeat file {path} can't be written ({error.strerror})"
    return ""


def read(path: Path) -> Heartbeat | None:
    """Return what the file says; None where there is none. Raises JobError where it can't be read."""
    try:
        return msgspec.json.decode(path.read_bytes(), type=Heartbeat)
    except FileNotFoundError:
        return None
    except (OSError, msgspec.DecodeError) as error:
        raise JobError(f"The heartbeat file {path} can't be read ({error}): look at its owner.") from None


def replace(path: Path, data: bytes) -> None:
    """Put `data` in the place of a file (0600), whole or not at all. Raises OSError."""
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    fd = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600)
    try:
        with os.fdopen(fd, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(fd)
        beside.replace(path)
    except BaseException:
        with suppress(OSError):
            beside.unlink()
        raise
