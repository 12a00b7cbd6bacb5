"""Starting the real daemon, as a process, on a rig without a heater."""

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.daemon.nursery import Child, environment, shared

__all__ = ["PLAIN_RIG", "daemon", "environment", "holdctl"]

PLAIN_RIG = """\
food_code = "fda-2022"
test_rig = true

[warmer]
name = "plain rig"
power_w = 200
heat_capacity_j_k = 900
delay_s = 5
loss_w_k = 0.9
stirred = true
cycle_s = 20

[vessel]
inner_diameter_cm = 14
lid = "insulated"

[scald]
flour = "white-wheat"
mass_g = 1000

[[probe]]
channel = 1
place = "mid"
error_k = 0.5

[[probe]]
channel = 2
place = "wall"
error_k = 0.5

[programme]
name = "rig"
every_part = [62, 67]

[[programme.step]]
to = 65
for = "4 h"
"""


def holdctl(*arguments: str, timeout: float = 60, **options) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    if options:  # what only a process of its own can be given
        return subprocess.run(
            [sys.executable, "-m", "holdctl", *arguments],
            capture_output=True,
            text=True,
            env=environment(),
            check=False,
            timeout=timeout,
            **options,
        )
    with tempfile.TemporaryDirectory() as folder:
        out, err = Path(folder, "out"), Path(folder, "err")
        child = shared().start(arguments, out, err)
        try:
            code = child.wait(timeout)
        finally:
            child.kill()
        said = [path.read_text("utf-8") if path.exists() else "" for path in (out, err)]
    return subprocess.CompletedProcess(["holdctl", *arguments], code, *said)


def daemon(folder: Path, toml: str, record: Path, *arguments: str) -> Child:
    """Start `holdctl run` on the settings `toml`; its words go to daemon.log in `folder`."""
    settings = folder / "holdctl.toml"
    settings.write_text(toml, "utf-8")
    log = folder / "daemon.log"
    log.touch()
    return shared().start(("run", "--config", str(settings), "--record", str(record), *arguments), log, log)
