"""A pseudo-terminal whose far end a host opens like any serial port."""

import contextlib
import errno
import fcntl
import os
import select
import termios
import tty
from pathlib import Path

_MAX_READ = 4096


class PtyLine:
    """Both ends of a pty: we talk on the master, the host opens `path`.

    Our own descriptor of the host's end stays open, so that a host may close and come back without the line
    hanging up. `link` is a symbolic link to make to it: a name that stays the same from run to run.
    """

    def __init__(self, link: Path | None = None) -> None:
        self._master, self._slave = os.openpty()
        tty.setraw(self._slave)
        os.set_blocking(self._master, False)
        self.path = os.ttyname(self._slave)
        self._link = link
        self._poll = select.poll()
        self._poll.register(self._master, select.POLLIN)
        if link is not None:
            _point(link, self.path)

    def read(self, wait_s: float) -> bytes:
        """Return what the host sent, waiting at most `wait_s` for it; b'' when nothing came."""
        if not self._poll.poll(wait_s * 1000):
            return b""
        return os.read(self._master, _MAX_READ)

    def write(self, data: bytes) -> None:
        """Send to the host; what a host that doesn't read leaves no room for is lost, as on a wire."""
        while data:
            try:
                data = data[os.write(self._master, data) :]
            except BlockingIOError:
                return

    def host_is_gone(self) -> None:
        """Lift the exclusive mode that a killed host left on the terminal: our descriptor keeps it alive."""
        fcntl.ioctl(self._slave, termios.TIOCNXCL)

    def close(self) -> None:
        """Unplug: the host's next read or write fails."""
        if self._link is not None:
            with contextlib.suppress(OSError):
                if str(self._link.readlink()) == self.path:
                    self._link.unlink()
        os.close(self._slave)
        os.close(self._master)


def _point(link: Path, target: str) -> None:
    """Make or move the symbolic link, but never over a real file."""
    if link.exists() and not link.is_symlink():
        raise FileExistsError(errno.EEXIST, "is there and is not a symbolic link", str(link))
    beside = link.with_name(f".{link.name}.{os.getpid()}")
    beside.symlink_to(target)
    beside.replace(link)
