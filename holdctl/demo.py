"""`holdctl demo`: a whole night in seconds, with nothing but a simulated warmer behind a real serial line.

Three processes, as in a bakery: the node (here `holdsim` on a pseudo-terminal), the daemon (`holdctl run`, the same
program as for a real night), and this one, which only reads the record: screen, then review and picture.
"""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

import click

from holdctl.clock import SystemClock
from holdctl.errors import ConfigError, JobError, StoreError

REACTION_S = 300
"""How long the simulated baker takes to come to a prompt."""
START_C = 82.0
"""A mix with boiling water: about 80 °C for white flour at 1 : 1.4."""
_PATIENCE_S = 60
"""So long the node waits for an answer: on a slow or busy computer a fit takes its time, and an unanswered reading
would make it another night than the same seed gave before, s."""
_LONGEST_S = 600.0
_REFRESH_S = 0.4

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


@dataclass(frozen=True, slots=True)
class Night:
    """What is to be simulated, and the folder where everything of it lies."""

    place: Path
    preset: str
    seed: int
    hours: float

    @property
    def record(self) -> Path:
        """The record."""
        return self.place / "night.db"

    @property
    def settings(self) -> Path:
        """The settings that the daemon reads."""
        return self.place / "holdctl.toml"


def demo_night(*, seed: int, preset: str, hours: float, folder: Path | None, as_json: bool) -> None:
    """Run the night, draw it, say where it is. Raises ConfigError for a bad wish, JobError where it fails."""
    _check(preset)
    night = Night(_folder(folder), preset, seed, hours)
    live = not as_json and sys.stdout.isatty()
    if not live and not as_json:
        click.echo(f"Simulating a night of {hours:g} h …")
    with _node(night) as url:
        night.settings.write_text(_settings(preset, url), "utf-8")
        with _daemon(night) as daemon:
            if live:
                _show(daemon, night)
            code = _wait(daemon)
    if code:
        raise JobError(f"The demo's daemon ended with code {code}; see {night.place / 'daemon.log'}.")
    _tell(night, as_json)


def _check(preset: str) -> None:
    from holdsim.presets import PRESETS

    if preset not in PRESETS:
        raise ConfigError(f"There is no simulated warmer “{preset}”; there are {', '.join(PRESETS)}.")


def _folder(wanted: Path | None) -> Path:
    from datetime import UTC, datetime

    from holdctl.config import state_folder
    from holdctl.record.files import make_folder

    name = datetime.fromtimestamp(SystemClock().utc_ms() / 1000, UTC).strftime("%Y%m%d-%H%M%S-%f")
    place = (wanted or state_folder() / "demo" / name).absolute()
    try:
        make_folder(place)
    except OSError as error:
        raise ConfigError(
            f"The folder {place} can't be made ({error.strerror}); name another with --folder."
        ) from None
    if (place / "night.db").exists():
        raise ConfigError(f"{place} holds an earlier demo; name another folder, or none.")
    return place


def _settings(preset: str, url: str) -> str:
    from holdsim.presets import PRESETS

    return PRESETS[preset].settings_toml(food_code="fda-2022", port_url=url, programme_toml=PROGRAMME)


@contextmanager
def _node(night: Night) -> Iterator[str]:
    """Start the simulated node and its baker, and yield the port; it is ended on the way out."""
    arguments = ["--preset", night.preset, "--seed", str(night.seed), "--start", str(START_C), "--lockstep"]
    arguments += ["--record", str(night.record), "--stop-at", str(night.hours), "--reaction", str(REACTION_S)]
    arguments += ["--truth", "--patience", str(_PATIENCE_S)]
    log = night.place / "node.log"
    with log.open("w", encoding="utf-8") as errors:
        process = _spawn(
            ["holdsim", *arguments, "--link", str(night.place / "port")], errors, subprocess.PIPE
        )
        try:
            line = process.stdout.readline().strip() if process.stdout else ""
            if not line:
                raise JobError(f"The simulated warmer did not start; see {log}.")
            yield line
        finally:
            process.terminate()
            process.wait()
            if process.stdout:
                process.stdout.close()


@contextmanager
def _daemon(night: Night) -> Iterator[subprocess.Popen[str]]:
    """Start the real daemon on the settings; it is ended orderly should we leave early."""
    with (night.place / "daemon.log").open("w", encoding="utf-8") as log:
        command = ["run", "--config", str(night.settings), "--record", str(night.record), "--pace", "device"]
        process = _spawn(["holdctl", *command], log, log)
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


def _wait(daemon: "subprocess.Popen[str]") -> int:
    """Wait for the daemon and return its exit code. Raises JobError where it takes far too long."""
    try:
        return daemon.wait(_LONGEST_S)
    except subprocess.TimeoutExpired:
        raise JobError("The demo takes far longer than it should; it is broken off.") from None


def _show(daemon: "subprocess.Popen[str]", night: Night) -> None:
    """Draw the live screen with a progress line until the daemon ends."""
    from rich.console import Console
    from rich.live import Live

    from holdctl.record.query import Record
    from holdctl.watch import Screen
    from holdctl.watch.app import plain_only

    clock, console = SystemClock(), Console(highlight=False)
    while daemon.poll() is None and not _has_samples(night.record):
        clock.sleep(_REFRESH_S / 4)
    if daemon.poll() is not None:
        return
    screen = Screen(Record(night.record), plain=plain_only(console))
    screen.leave = "Ctrl-C breaks the demo off"
    with Live(screen, console=console, screen=True, auto_refresh=False) as live:
        while daemon.poll() is None:
            sample = screen.refresh().sample
            done_s = 0.0 if sample is None else sample.at.hold_ms / 1000
            screen.footer = _progress(done_s, night.hours, console.width)
            live.refresh()
            clock.sleep(_REFRESH_S)


def _has_samples(record: Path) -> bool:
    from holdctl.record.query import Record

    try:
        reader = Record(record)
        return reader.latest(reader.hold().id) is not None
    except StoreError:  # not made yet, or no hold in it
        return False


def _progress(done_s: float, hours: float, width: int) -> str:
    bar = max(0, width - 34)
    done = round(min(1.0, done_s / (hours * 3600)) * bar)
    return f"Simulated night {done_s / 3600:4.1f} of {hours:g} h [{'#' * done}{'.' * (bar - done)}]"


def _tell(night: Night, as_json: bool) -> None:
    """Draw the picture, print the summary and where things are."""
    import msgspec

    from holdctl.record.query import Record
    from holdctl.review.figures import figures
    from holdctl.review.picture import draw_hold

    reader, picture = Record(night.record), night.place / "night.png"
    found = figures(reader)
    draw_hold(reader, found.hold, picture)
    if as_json:
        answer = {"figures": msgspec.to_builtins(found), "record": str(night.record), "picture": str(picture)}
        click.echo(json.dumps(answer, ensure_ascii=False, indent=2))
        return
    from rich.console import Console

    from holdctl.review.report import render_summary

    Console(width=None if sys.stdout.isatty() else 80, highlight=False).print(render_summary(found))
    click.echo(
        f"Record:  {night.record}\nPicture: {picture}\nMore:    holdctl review --record {night.record}\n"
        "A simulation: before a real night read the cautions in the README."
    )
