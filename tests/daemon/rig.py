"""Starting the real daemon, as a process, on a rig without a heater."""

import os
import subprocess
import sys
from pathlib import Path

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


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONUNBUFFERED": "1"}


def holdctl(*arguments: str, **options) -> subprocess.CompletedProcess[str]:
    """Run the command to its end."""
    return subprocess.run(
        [sys.executable, "-m", "holdctl", *arguments],
        capture_output=True,
        text=True,
        env=environment(),
        check=False,
        **{"timeout": 60, **options},
    )


def daemon(folder: Path, toml: str, record: Path, *arguments: str) -> subprocess.Popen[bytes]:
    """Start `holdctl run` on the settings `toml`; its words go to daemon.log in `folder`."""
    settings = folder / "holdctl.toml"
    settings.write_text(toml, "utf-8")
    with (folder / "daemon.log").open("ab") as log:
        return subprocess.Popen(
            [
                sys.executable,
                "-m",
                "holdctl",
                "run",
                "--config",
                str(settings),
                "--record",
                str(record),
                *arguments,
            ],
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=log,
            env=environment(),
        )
