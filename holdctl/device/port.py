"""A serial port by its pyserial URL, held exclusively, read in bounded pieces, with one kind of error.

pyserial raises three unrelated families for one pulled plug (SerialException, OSError, termios.error); here
each becomes a LinkError whose sentence says what to do. Every open may reset the node and drops what it sent
before, so the caller starts over with `hello?`.
"""

import contextlib
import errno
import fcntl
import os
import select
import termios
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from holdctl.errors import ConfigError, LinkError

if TYPE_CHECKING:
    from serial import Serial

READ_WAIT_MS = 100
"""Longest wait of one read, ms."""
MAX_READ = 256
"""Most bytes that one read returns."""
_WRITE_WAIT_S = 0.5


class Port:
    """An open port. `url` is a device path (best one of /dev/serial/by-id/) or another URL of pyserial."""

    def __init__(self, url: str, baud: int) -> None:
        """Open the port. Raises LinkError where that fails now, ConfigError for a URL that never works."""
        self.url = url
        self._serial = _opened(url, baud)
        self._waiter = select.poll()
        self._exclusive = False
        try:
            self._prepare()
        except BaseException:
            self._serial.close()
            raise

    def read(self) -> bytes:
        """Return 1 to MAX_READ bytes as soon as there are any, b'' after READ_WAIT_MS. Raises LinkError."""
        try:
            # Waited for here and not by pyserial, whose read(1) would return a frame's first byte alone.
            self._waiter.poll(READ_WAIT_MS)
            return self._serial.read(MAX_READ)  # timeout 0: what is there, in one system call
        except (OSError, termios.error) as error:
            raise LinkError(_lost(self.url, error)) from error

    def write(self, data: bytes) -> None:
        """Send all of `data`. Raises LinkError, also when the node takes nothing for half a second."""
        try:
            self._serial.write(data)
        except (OSError, termios.error) as error:
            raise LinkError(_lost(self.url, error)) from error

    def close(self) -> None:
        """Let others in again and close; never raises for a port that is gone."""
        if self._exclusive and self._serial.is_open:
            # The flag is the terminal's, not our descriptor's: it would outlive us while another has it open.
            with contextlib.suppress(OSError, termios.error):
                fcntl.ioctl(self._serial.fileno(), termios.TIOCNXCL)
        with contextlib.suppress(OSError, termios.error):
            self._serial.close()

    def _prepare(self) -> None:
        """Bar openers that ask for no lock; pyserial's `exclusive` has barred those that do (flock)."""
        try:
            descriptor = self._serial.fileno()
        except OSError:  # io.UnsupportedOperation: a URL without a descriptor
            return
        self._waiter.register(descriptor, select.POLLIN)
        if not os.isatty(descriptor):
            return
        try:
            fcntl.ioctl(descriptor, termios.TIOCEXCL)
        except OSError as error:
            raise LinkError(_lost(self.url, error)) from error
        self._exclusive = True


def _opened(url: str, baud: int) -> "Serial":
    import serial

    if not url.strip() or (url.startswith("socket://") and not _names_a_socket(url)):
        raise ConfigError(
            f"No port can be opened as {url!r}: give a device path such as /dev/ttyACM0, or socket://HOST:PORT."
        )
    try:
        port = serial.serial_for_url(
            url,
            baudrate=baud,
            timeout=0,
            write_timeout=_WRITE_WAIT_S,
            exclusive=True,
        )
    except ValueError as error:
        raise ConfigError(
            f"No port can be opened as {url!r} at {baud} baud ({error}): give a device path such as"
            " /dev/ttyACM0, or socket://HOST:PORT."
        ) from error
    except (OSError, termios.error) as error:
        raise LinkError(_refused(url, error)) from error
    return port


def _names_a_socket(url: str) -> bool:
    try:
        parts = urlsplit(url)
        return bool(parts.hostname) and parts.port is not None
    except ValueError:
        return False


def _refused(url: str, error: Exception) -> str:
    """Say why a port could not be opened and what to do."""
    number = error.args[0] if error.args else None
    if number in (errno.ENOENT, errno.ENXIO, errno.ENODEV):
        return f"There is no port {url}. {_ports_there()}"
    if number in (errno.EAGAIN, errno.EBUSY):
        return (
            f"Port {url} is in use by another program: end that one first (another holdctl for this warmer,"
            " or a serial terminal)."
        )
    if number in (errno.EACCES, errno.EPERM):
        return f"You may not open port {url}: ask for its group (often dialout), or run as a user who has it."
    if "://" in url:
        return f"Port {url} does not answer ({error}): check that its other end runs and is reachable."
    return f"Port {url} can't be used as a serial port ({error}). {_ports_there()}"


def _ports_there() -> str:
    from serial.tools.list_ports import comports

    names = sorted(str(port.device) for port in comports())
    if not names:
        return "No serial port is there at all: plug the node in, then check its cable."
    return f"Ports that are there: {', '.join(names)}; name one with --port or under [port] in holdctl.toml."


def _lost(url: str, error: Exception) -> str:
    """Say that an open port failed and what to do."""
    from serial import SerialTimeoutException

    if isinstance(error, SerialTimeoutException):
        return f"The node on {url} takes no more bytes: unplug it and plug it in again."
    return f"The line to the node on {url} is lost: check its plug and cable; it is tried again."
