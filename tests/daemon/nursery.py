"""Real processes without the second that Python's imports take: one process imports all, and forks for each command.

Whoever starts one gets what `subprocess` would give: its own standard streams, environment and folder, its exit code.
"""

import atexit
import json
import os
import select
import signal
import socket
import subprocess
import sys
from pathlib import Path

_SCRIPT = """
import atexit, json, os, select, signal, socket, sys, threading, traceback
import rich.console, scipy.linalg, scipy.optimize, scipy.signal, serial, sqlite_utils
import holdctl.cautions, holdctl.config, holdctl.daemon, holdctl.record.store
from holdctl.cli import main
from holdctl.hold import Hold
from tests.closed_loop import reading, instant, told

hold = Hold(told("stirred-kettle"))
for k in range(120):
    hold.step(reading(k, 65.0, 65.0), instant(1000 * k))

def child(order):
    signal.set_wakeup_fd(-1)
    signal.signal(signal.SIGCHLD, signal.SIG_DFL)
    line.close()
    for fd in wakeup:
        os.close(fd)
    for fd, name in ((1, "out"), (2, "err")):
        os.dup2(os.open(order[name], os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), fd)
    os.environ.clear()
    os.environ.update(order["environment"])
    os.chdir(order["folder"])
    sys.argv = ["holdctl", *order["arguments"]]
    code = 0
    try:
        main()
    except SystemExit as leaving:
        code = leaving.code if isinstance(leaving.code, int) else int(leaving.code is not None)
    except BaseException:
        traceback.print_exc()
        code = 1
    threading._shutdown()
    atexit._run_exitfuncs()
    sys.stdout.flush(), sys.stderr.flush()
    os._exit(code)

line = socket.socket(fileno=LINE)
wakeup = os.pipe()
for fd in wakeup:
    os.set_blocking(fd, False)
signal.set_wakeup_fd(wakeup[1])
signal.signal(signal.SIGCHLD, lambda *_: None)
while True:
    ready = select.select([line, wakeup[0]], [], [])[0]
    if line in ready:
        data = line.recv(1 << 20)
        if not data:
            break
        order = json.loads(data)
        pid = os.fork()
        if not pid:
            child(order)
        handle = os.pidfd_open(pid)  # before it can be reaped, so that it is never another's
        socket.send_fds(line, [json.dumps({"born": pid}).encode()], [handle])
        os.close(handle)
    if wakeup[0] in ready:
        os.read(wakeup[0], 4096)
        while True:
            try:
                gone, status = os.waitpid(-1, os.WNOHANG)
            except ChildProcessError:
                break
            if not gone:
                break
            line.send(json.dumps({"gone": gone, "code": os.waitstatus_to_exitcode(status)}).encode())
"""


def environment() -> dict[str, str]:
    """Return what a process is started with."""
    return {**os.environ, "PYTHONUNBUFFERED": "1"}


class Child:
    """One process, with what tests ask of a `subprocess.Popen`."""

    def __init__(self, pid: int, fd: int, nursery: "Nursery") -> None:
        self.pid, self._fd, self._nursery = pid, fd, nursery
        self.returncode: int | None = None

    def __del__(self) -> None:
        os.close(self._fd)

    def poll(self) -> int | None:
        """Return the exit code (negative: the signal that ended it), None while it runs."""
        return self._within(0.0)

    def wait(self, timeout: float | None = None) -> int:
        """Return its exit code. Raises subprocess.TimeoutExpired."""
        code = self._within(timeout)
        if code is None:
            raise subprocess.TimeoutExpired("holdctl", timeout or 0.0)
        return code

    def send_signal(self, number: int) -> None:
        """Send a signal, if it still runs."""
        if self.poll() is None:
            signal.pidfd_send_signal(self._fd, number)

    def kill(self) -> None:
        """Kill it and wait until it is gone."""
        self.send_signal(signal.SIGKILL)
        self.wait(10.0)

    def _within(self, seconds: float | None) -> int | None:
        if self.returncode is None and select.select([self._fd], [], [], seconds)[0]:
            self.returncode = self._nursery.code_of(self.pid)
        return self.returncode


class Nursery:
    """The process that forks."""

    def __init__(self) -> None:
        self._line, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            self._process = subprocess.Popen(
                [
                    sys.executable,
                    "-c",
                    f"LINE = {theirs.fileno()}\nimport sys; sys.path[:0] = {sys.path!r}\n{_SCRIPT}",
                ],
                stdin=subprocess.DEVNULL,
                pass_fds=[theirs.fileno()],
                env={**environment(), "OMP_NUM_THREADS": "1"},
            )
        self._codes: dict[int, int] = {}

    def start(self, arguments: tuple[str, ...], out: Path, err: Path) -> Child:
        """Start `holdctl` with these arguments; what it says is added to the files."""
        order = {
            "arguments": arguments,
            "out": str(out),
            "err": str(err),
            "environment": environment(),
            "folder": str(Path.cwd()),
        }
        self._line.send(json.dumps(order).encode())
        while True:
            said, handles = self._told()
            if "born" in said:
                return Child(said["born"], handles[0], self)

    def code_of(self, pid: int) -> int:
        """Return the exit code of one that is gone."""
        while pid not in self._codes:
            self._told()
        return self._codes.pop(pid)

    def close(self) -> None:
        """End it; what it has started goes on."""
        self._line.close()
        self._process.wait()

    def _told(self) -> tuple[dict[str, int], list[int]]:
        """Return the next thing that it says, with the handles that came along; exit codes among it are kept."""
        data, handles, _flags, _from = socket.recv_fds(self._line, 4096, 1)
        if not data:
            raise RuntimeError("the process that forks has ended")
        said = json.loads(data)
        if "gone" in said:
            self._codes[said["gone"]] = said["code"]
        return said, handles


_SHARED: list[Nursery] = []


def shared() -> Nursery:
    """Return the one of this process, which ends with it."""
    if not _SHARED:
        _SHARED.append(Nursery())
        atexit.register(_SHARED[0].close)
    return _SHARED[0]
