"""A machine that stays awake while a hold runs."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def awake() -> Iterator[str]:
    """Keep the machine from sleeping; yields a warning, empty where the system has an inhibitor.

    The helper process reads a pipe from us and ends when that closes, however we die.
    """
    command = _inhibitor()
    process = None
    if command:
        with suppress(OSError):
            process = subprocess.Popen(
                command,
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
                # It is systemd's own and would speak to the manager in our name.
                env={name: value for name, value in os.environ.items() if name != "NOTIFY_SOCKET"},
            )
            with suppress(subprocess.TimeoutExpired):
                process.wait(0.2)
    try:
        if process is None or process.poll() is not None:
            yield "This system offers no sleep inhibitor: see to it yourself that the machine stays awake all night."
        else:
            yield ""
    finally:
        if process is not None:
            if process.stdin is not None:
                process.stdin.close()
            process.terminate()
            process.wait()


def _inhibitor() -> list[str]:
    if sys.platform == "darwin" and shutil.which("caffeinate"):
        return ["caffeinate", "-i", "cat"]
    if shutil.which("systemd-inhibit"):
        return [
            "systemd-inhibit",
            "--what=sleep:idle:handle-lid-switch",
            "--who=holdctl",
            "--why=a hold runs",
            "cat",
        ]
    return []
