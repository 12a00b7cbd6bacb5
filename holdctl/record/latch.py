"""The latch beside the record: which latched trips stand, in a small file that is there before it is needed.

The record may be unable to take a trip (a full disk), or be moved aside; the latch is written in place over blocks that
it already has. Anything but the exact "clear" pattern counts as latched.
"""

import os
from pathlib import Path

from holdctl.record import files

_SIZE = 512
_CLEAR = b"clear\n".ljust(_SIZE)
UNKNOWN = "high-limit"
"""What stands when the file can't be understood."""


class Latch:
    """One warmer's latch file, opened and filled at the start."""

    def __init__(self, record: Path) -> None:
        """Open the file beside `record`, making it clear when there is none. Raises StoreError."""
        path = record.with_suffix(".latch")
        try:
            new = not path.exists()
            self._fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
            if new:
                self._put(_CLEAR)
        except OSError as error:
            raise files.os_error(path, error) from error

    def names(self) -> tuple[str, ...]:
        """Return the trips that stand latched."""
        data = os.pread(self._fd, _SIZE, 0)
        if data == _CLEAR:
            return ()
        text = data.decode("ascii", "replace").strip()
        word, _, rest = text.partition(" ")
        names = tuple(rest.split()) if word == "latched" else ()
        return names if names and all(n.replace("-", "").isalnum() for n in names) else (UNKNOWN,)

    def trip(self, name: str) -> None:
        """Let `name` stand latched."""
        self._write((*(n for n in self.names() if n != name), name))

    def reset(self, name: str) -> None:
        """Clear `name`."""
        self._write(tuple(n for n in self.names() if n != name))

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._fd)

    def _write(self, names: tuple[str, ...]) -> None:
        self._put(("latched " + " ".join(names) + "\n").encode().ljust(_SIZE) if names else _CLEAR)

    def _put(self, data: bytes) -> None:
        os.pwrite(self._fd, data[:_SIZE], 0)
        os.fsync(self._fd)
