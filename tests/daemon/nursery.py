"""Real daemons without the second that Python's imports take: one process imports all, and forks for each."""

import json
import os
import select
import signal
import subprocess
import sys
from pathlib import Path

from tests.daemon.rig import environment

_SCRIPT = """
import json, os, signal, sys
import scipy.linalg, scipy.optimize, scipy.signal, serial, sqlite_utils
import holdctl.cautions, holdctl.config, holdctl.daemon, holdctl.record.store
from holdctl.cli import main
from holdctl.hold import Hold
from tests.closed_loop import reading, instant, told
hold = Hold(told("stirred-kettle"))
for k in range(120):
    hold.step(reading(k, 65.0, 65.0), instant(1000 * k))
signal.signal(signal.SIGCHLD, signal.SIG_IGN)
for line in sys.stdin:
    order = json.loads(line)
    pid = os.fork()
    if not pid:
        signal.signal(signal.SIGCHLD, signal.SIG_DFL)
        log = os.open(order["log"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
        os.dup2(log, 1), os.dup2(log, 2)
        sys.argv = ["holdctl", *order["arguments"]]
        main()
        os._exit(0)
    print(pid, flush=True)
"""


class Host:
    """One daemon."""

    def __init__(self, pid: int) -> None:
        self.pid, self._fd = pid, os.pidfd_open(pid)

    @property
    def gone(self) -> bool:
        return bool(select.select([self._fd], [], [], 0)[0])

    def kill(self, number: int = signal.SIGKILL) -> None:
        """Kill it and wait until it is gone."""
        signal.pidfd_send_signal(self._fd, number)
        select.select([self._fd], [], [], 10.0)

    def close(self) -> None:
        if not self.gone:
            self.kill()
        os.close(self._fd)


class Nursery:
    """The process that forks."""

    def __init__(self, folder: Path) -> None:
        self._log = folder / "daemon.log"
        self._process = subprocess.Popen(
            [sys.executable, "-c", f"import sys; sys.path[:0] = {sys.path!r}\n{_SCRIPT}"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            env={**environment(), "OMP_NUM_THREADS": "1"},
        )
        self.hosts: list[Host] = []

    def start(self, *arguments: str) -> Host:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps({"log": str(self._log), "arguments": arguments}) + "\n")
        self._process.stdin.flush()
        self.hosts.append(Host(int(self._process.stdout.readline())))
        return self.hosts[-1]

    def close(self) -> None:
        for host in self.hosts:
            host.close()
        self._process.communicate()
