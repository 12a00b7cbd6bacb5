"""Run a person's program with a message on its standard input, and let it do no harm to the hold.

No shell, a small fixed environment, a session of its own that is killed as a whole, a cap on what is read of its
output. It runs in a thread of its own (`holdctl.daemon.aside`): this module may wait, the loop never does.
"""

import os
import selectors
import signal
import subprocess
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass

from holdctl.clock import Clock

ENVIRONMENT = {"PATH": "/usr/local/bin:/usr/bin:/bin", "LANG": "C.UTF-8"}
"""All that a command finds in its environment, HOME apart."""
KEPT = 400
"""So many bytes of its output go into the record."""
READ = 65_536
"""After so many bytes the output is closed."""
_LOOK_S = 0.1


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one run."""

    code: int | None
    """Exit code; negative: the signal that ended it. None: it could not be started."""
    output: str
    """The beginning of what it printed, or why it could not be started."""
    killed: bool = False
    """It took longer than it may."""

    @property
    def words(self) -> str:
        """Say it for the record."""
        if self.code is None:
            return f"could not be started: {self.output}"
        how = "was killed: it took too long" if self.killed else f"ended with {self.code}"
        output = " ".join(self.output.split())
        return f"{how}{': ' + output if output else ''}"


def run(
    argv: Sequence[str],
    message: bytes,
    timeout_s: float,
    clock: Clock,
    leave: Callable[[], bool] = lambda: False,
) -> Outcome:
    """Run `argv` to its end, at most `timeout_s` or until `leave`; then whatever is left of it is killed.

    Never raises OSError.
    """
    try:
        process = subprocess.Popen(
            list(argv),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            start_new_session=True,
            cwd="/",
            env={**ENVIRONMENT, "HOME": os.environ.get("HOME", "/")},
        )
    except (OSError, ValueError) as error:
        return Outcome(None, str(error))
    until_ms = clock.monotonic_ms() + round(1000 * timeout_s)
    try:
        output = _talk(process, message, lambda: clock.monotonic_ms() >= until_ms or leave(), clock)
        killed = not _ended(process)
    finally:
        # The leader has not been reaped yet: its number, and so its group's, can't be another's.
        with suppress(OSError):
            os.killpg(process.pid, signal.SIGKILL)
        process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with suppress(OSError):
                    stream.close()
    return Outcome(process.returncode, output[:KEPT].decode("utf-8", "replace").strip(), killed)


def _talk(process: subprocess.Popen[bytes], message: bytes, over: Callable[[], bool], clock: Clock) -> bytes:
    """Give it the message and take what it prints until it ends or its time is up; neither may block."""
    given, taken = process.stdin, process.stdout
    if given is None or taken is None:
        return b""
    kept, read = b"", 0
    with selectors.DefaultSelector() as selector:
        for stream, what in ((given, selectors.EVENT_WRITE), (taken, selectors.EVENT_READ)):
            os.set_blocking(stream.fileno(), False)
            selector.register(stream, what)
        while not _ended(process) and not over():
            if not selector.get_map():
                clock.sleep(_LOOK_S)
            for key, _ in selector.select(_LOOK_S):
                if key.fileobj is given:
                    message = _give(given.fileno(), message)
                    if not message:
                        selector.unregister(given)
                        given.close()
                    continue
                data = _take(taken.fileno())
                read, kept = read + len(data), kept + data[: KEPT - len(kept)]
                if not data or read >= READ:
                    selector.unregister(taken)
                    taken.close()
        if not taken.closed and len(kept) < KEPT:
            kept += _take(taken.fileno())[: KEPT - len(kept)]
    return kept


def _give(fileno: int, message: bytes) -> bytes:
    """Write what fits; return the rest, nothing where nobody reads any more."""
    try:
        return message[os.write(fileno, message) :]
    except BlockingIOError:
        return message
    except OSError:
        return b""


def _take(fileno: int) -> bytes:
    try:
        return os.read(fileno, 4096)
    except OSError:
        return b""


def _ended(process: subprocess.Popen[bytes]) -> bool:
    """Whether it has ended; without reaping it where the system can tell."""
    if not hasattr(os, "waitid"):
        return process.poll() is not None
    return os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None
