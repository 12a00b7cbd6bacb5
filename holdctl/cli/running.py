"""`demo`, `run` and `start`."""

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from holdctl.cli.options import Figure, config_option, json_option, record_option, say_json
from holdctl.cli.planned import begin, later_option, plan_option, wait_for, wait_option
from holdctl.errors import JobError

if TYPE_CHECKING:
    from holdctl.events import Instant, Notice
    from holdctl.record.rows import SampleRow
    from holdctl.settings import Settings

_START_MS = 15_000
_READING_MS = 10_000
_REPEATED = ("sleep", "pace-device", "left-open", "interruption", "restart-wait")
"""What the daemon says at its start, which else would stand in the log alone."""


_pace = click.option(
    "--pace",
    type=click.Choice(["host", "device"]),
    default="host",
    help="Who turns the hold's clock; `device` is for test rigs and accelerated nodes.",
)
_port = click.option(
    "--port",
    metavar="URL",
    help="Serial port instead of the settings': a device, /dev/serial/by-id/…, socket://…",
)

_new = click.option(
    "--new", "anew", is_flag=True, help="Begin a new hold even where one was interrupted; that one is closed."
)


@click.command(epilog="Example: holdctl run --port /dev/serial/by-id/usb-node")
@_port
@_pace
@_new
@plan_option
@wait_option
@later_option
@config_option
@record_option
@json_option
def run(
    port: str | None,
    pace: str,
    anew: bool,
    number: int | None,
    wait: bool,
    mix_later: bool,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Run one hold in this terminal until it ends, or go on with one that was interrupted; Ctrl-C ends it orderly."""
    from holdctl.clock import SystemClock
    from holdctl.config import load, record_path
    from holdctl.daemon import Job, Pace, check, prepare

    clock = SystemClock()
    own = load(config_file, port=port).settings
    path = record or record_path(own.warmer.name)
    left = None if anew else path
    night = begin(number, own, clock, wait=wait, mix_later=mix_later, left=left, record=path)
    settings = night.settings
    check(settings, Pace(pace), detached=False)
    _cautions_once(path.parent)
    if not as_json:
        click.echo(f"Record: {path}", err=True)
    said = tell_json if as_json else tell
    wait_for(night, clock)
    first = night.notices(clock.utc_ms())
    state = prepare(Job(settings, path, clock, Pace(pace), said, new=anew, first=first))
    if as_json:
        click.echo(_line({"state": state.value, "record": str(path)}))


def _cautions_once(folder: Path) -> None:
    from holdctl.cautions import CAUTIONS

    mark = folder / "cautions-shown"
    if mark.exists():
        return
    click.echo("Before the first night, read this:", err=True)
    for caution in CAUTIONS:
        click.echo(f"  - {caution}", err=True)
    with suppress(OSError):  # then they are shown again; a folder that can't be written is told by the record
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        mark.touch(mode=0o600)


def tell(notice: "Notice", now: "Instant") -> None:
    """Say a notice to a person."""
    from datetime import datetime

    if notice.detail.get("held_back"):
        return  # shelved, chattering, or one of too many: in the record only
    at = datetime.fromtimestamp(now.utc_ms / 1000).astimezone()
    click.echo(f"{at:%H:%M:%S}  {notice.kind.value}: {notice.text}")


def tell_json(notice: "Notice", now: "Instant") -> None:
    """Say a notice to a program."""
    click.echo(
        _line(
            {
                "hold_s": now.hold_ms / 1000,
                "utc_ms": now.utc_ms,
                "kind": notice.kind.value,
                "name": notice.name,
                "text": notice.text,
                "detail": dict(notice.detail),
            }
        )
    )


def _line(value: dict[str, object]) -> str:
    import json

    return json.dumps(value, ensure_ascii=False, default=str)


@click.command(epilog="Example: holdctl start && holdctl watch")
@_port
@_pace
@_new
@plan_option
@config_option
@record_option
@json_option
def start(
    port: str | None,
    pace: str,
    anew: bool,
    number: int | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Begin a hold in the background, or go on with one that was interrupted; it runs on after you log out."""
    from holdctl.clock import SystemClock
    from holdctl.config import load, record_path
    from holdctl.daemon import Pace, check
    from holdctl.daemon.detach import detach
    from holdctl.hold import outlook

    loaded = load(config_file, port=port)
    path = (record or record_path(loaded.settings.warmer.name)).absolute()
    settings = begin(number, loaded.settings, SystemClock(), left=None if anew else path).settings
    check(settings, Pace(pace), detached=True)
    _cautions_once(path.parent)
    for notice in outlook(settings):
        click.echo(f"Before it begins: {notice.text}", err=True)
    arguments = ["run", "--config", str(loaded.path.absolute()), "--record", str(path), "--pace", pace]
    arguments += [*(["--port", port] if port else []), *(["--new"] if anew else [])]
    arguments += [] if number is None else ["--plan", str(number)]
    started = detach(arguments, path, wait_ms=_START_MS)
    if started.failure:
        raise JobError(f"{started.failure} (log: {started.log})")
    first = first_reading(path, started.hold or 0, started.since, known=settings)
    for text in first.cautions:
        click.echo(f"Mind: {text}", err=True)
    if as_json:
        found = {"pid": started.pid, "hold": started.hold, "record": str(path), "log": str(started.log)}
        say_json({**found, "first_reading": first.words or None, "cautions": list(first.cautions)})
        return
    said = first.words or "No reading has come within 10 s: look at the node, its cable and `holdctl watch`."
    click.echo(f"Hold {started.hold} runs as process {started.pid}. {said}")
    click.echo(f"Look: holdctl watch. Log: {started.log}")


class _First(NamedTuple):
    """What the first reading says, empty while none came, and what the daemon warned of at its start."""

    words: str
    cautions: tuple[str, ...]


def first_reading(path: Path, hold: int, since: int, *, known: "Settings") -> _First:
    """Wait for the first reading of this run; what the daemon said at its start is read from the record."""
    from holdctl.clock import SystemClock
    from holdctl.record.query import Record

    reader, clock = Record(path), SystemClock()
    until = clock.monotonic_ms() + _READING_MS
    sample = _newer(reader.latest(hold), since)
    while sample is None and clock.monotonic_ms() < until and reader.writer_pid() is not None:
        clock.sleep(0.1)
        sample = _newer(reader.latest(hold), since)
    told = tuple(e.text for e in reader.events(hold, since) if e.source == "out" and e.name in _REPEATED)
    return _First(_reading_words(sample, known) if sample else "", told)


def _newer(sample: "SampleRow | None", since: int) -> "SampleRow | None":
    return sample if sample is not None and sample.seq >= since else None


def _reading_words(sample: "SampleRow", known: "Settings") -> str:
    from holdctl.watch.words import Look

    look = Look(units=known.units)
    temps = sample.reading.temps
    read = []
    for probe in known.probe:
        value = temps[probe.channel - 1] if probe.channel <= len(temps) else "not fitted"
        name = probe.name or probe.place.value
        read.append(f"{name} {look.temp(value + probe.offset_k) if isinstance(value, float) else value}")
    return f"First reading: {', '.join(read)}."


@click.command(epilog="Example: holdctl demo --seed 3")
@click.option("--seed", type=int, default=1, show_default=True, help="Of noise and disturbances.")
@click.option("--preset", default="mat-box", show_default=True, help="Which simulated warmer.")
@click.option("--hours", type=Figure(0.5, 24), default=10.0, show_default=True, help="Length of the night.")
@click.option(
    "--folder", type=click.Path(path_type=Path, file_okay=False), help="Where record and picture go."
)
@json_option
def demo(seed: int, preset: str, hours: float, folder: Path | None, as_json: bool) -> None:
    """Show a simulated night in seconds: real daemon, real serial line, no hardware."""
    from holdctl.demo import demo_night

    demo_night(seed=seed, preset=preset, hours=hours, folder=folder, as_json=as_json)


COMMANDS = (demo, run, start)
