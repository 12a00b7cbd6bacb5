"""`holdctl demo`: a whole night in seconds, with nothing but a simulated warmer behind a real serial line.

Three processes, as in a bakery: the node (here `holdsim` on a pseudo-terminal), the daemon (`holdctl run`, the same
program as for a real night), and this one, which only reads the record: screen, then review and picture.
"""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import click

from holdctl.clock import SystemClock
from holdctl.errors import ConfigError, JobError

HOURS = 10.0
START_C = 82.0
"""A mix with boiling water: about 80 °C for white flour at 1 : 1.4."""
_LONGEST_MS = 600_000

PROGRAMME = """\
[programme]
name = "Wren Lane night scald"
every_part = [62, 67]

[[programme.step]]
prompt = "Stir until the paste reads 66 °C, add the malt, close the lid"
to = 66
wait = "90 min"
unanswered = "keep-waiting"

[[programme.step]]
to = 65
for = "4 h"

[programme.after]
then = "hot-holding"
longest = "8 h"
"""


def demo_night(*, seed: int, preset: str, folder: Path | None, as_json: bool) -> None:
    """Run the night, draw it, say where it is. Raises ConfigError for a bad wish, JobError where it fails."""
    place = _folder(folder)
    record = place / "night.db"
    toml = place / "holdctl.toml"
    live = not as_json and sys.stdout.isatty()
    with _node(place, record, preset, seed) as (url, _process):
        toml.write_text(_settings(preset, url), "utf-8")
        with _daemon(place, toml, record) as daemon:
            _follow(daemon, record, live=live, tell=not as_json)
        code = daemon.wait()
    if code:
        raise JobError(f"The demo's daemon ended with code {code}; see {place / 'daemon.log'}.")
    _tell(record, place, as_json)


def _folder(wanted: Path | None) -> Path:
    from datetime import UTC, datetime

    from holdctl.config import state_folder
    from holdctl.record.files import make_folder

    name = datetime.fromtimestamp(SystemClock().utc_ms() / 1000, UTC).strftime("%Y%m%d-%H%M%S-%f")
    place = (wanted or state_folder() / "demo" / name).absolute()
    make_folder(place)
    if (place / "night.db").exists():
        raise ConfigError(f"{place} holds an earlier demo; name another folder, or none.")
    return place


def _settings(preset: str, url: str) -> str:
    from holdsim.presets import PRESETS

    return PRESETS[preset].settings_toml(food_code="fda-2022", port_url=url, programme_toml=PROGRAMME)


@contextmanager
def _node(place: Path, record: Path, preset: str, seed: int) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """Start the simulated node and yield its port; it is ended on the way out."""
    from holdsim.presets import PRESETS

    if preset not in PRESETS:
        raise ConfigError(f"There is no simulated warmer “{preset}”; there are {', '.join(PRESETS)}.")
    arguments = ["--preset", preset, "--seed", str(seed), "--start", str(START_C), "--lockstep"]
    arguments += ["--record", str(record), "--stop-at", str(HOURS), "--link", str(place / "port")]
    with (place / "node.log").open("w", encoding="utf-8") as log:
        process = _spawn(["holdsim", *arguments], log, subprocess.PIPE)
        try:
            line = process.stdout.readline().strip() if process.stdout else ""
            if not line:
                raise JobError(f"The simulated warmer did not start; see {place / 'node.log'}.")
            yield line, process
        finally:
            process.terminate()
            process.wait()
            if process.stdout:
                process.stdout.close()


@contextmanager
def _daemon(place: Path, toml: Path, record: Path) -> Iterator[subprocess.Popen[str]]:
    """Start the real daemon on the settings; it is ended orderly should we leave early."""
    with (place / "daemon.log").open("w", encoding="utf-8") as log:
        command = ["holdctl", "run", "--config", str(toml), "--record", str(record), "--pace", "device"]
        process = _spawn(command, log, log)
        try:
            yield process
        finally:
            if process.poll() is None:
                process.terminate()
            process.wait()


def _spawn(module: list[str], errors: IO[str], output: IO[str] | int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", *module],
        stdin=subprocess.DEVNULL,
        stdout=output,
        stderr=errors,
        text=True,
        env={**os.environ, "PYTHONUNBUFFERED": "1"},
    )


def _follow(daemon: "subprocess.Popen[str]", record: Path, *, live: bool, tell: bool) -> None:
    """Show the night until the daemon ends. Raises JobError where it takes far too long."""
    clock = SystemClock()
    until = clock.monotonic_ms() + _LONGEST_MS
    if live:
        from holdctl.watch import show_demo

        show_demo(record, lambda: daemon.poll() is not None, hours=HOURS)
    elif tell:
        click.echo(f"Simulating a night of {HOURS:g} h …")
    while daemon.poll() is None:
        if clock.monotonic_ms() > until:
            raise JobError("The demo takes far longer than it should; it is broken off.")
        clock.sleep(0.05)


def _tell(record: Path, place: Path, as_json: bool) -> None:
    """Draw the picture, print the summary and where things are."""
    import msgspec

    from holdctl.cli.options import say_json
    from holdctl.record.query import Record
    from holdctl.review.figures import figures
    from holdctl.review.picture import draw_hold

    reader, picture = Record(record), place / "night.png"
    found = figures(reader)
    draw_hold(reader, found.hold, picture)
    if as_json:
        say_json({"figures": msgspec.to_builtins(found), "record": str(record), "picture": str(picture)})
        return
    from rich.console import Console

    from holdctl.review.report import render_report

    Console(width=None if sys.stdout.isatty() else 80, highlight=False).print(render_report(found))
    click.echo(f"Record:  {record}\nPicture: {picture}\nMore:    holdctl review --record {record}")
