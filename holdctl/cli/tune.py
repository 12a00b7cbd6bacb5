"""`tune`: a relay or step test on the warmer, through the daemon and its interlocks."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.cli.options import (
    FIGURE,
    Figure,
    config_option,
    find_record,
    json_option,
    record_option,
    say_json,
)
from holdctl.errors import JobError

if TYPE_CHECKING:
    from holdctl.daemon.experiment import Wanted
    from holdctl.events import Instant, Notice

_CAUTIONS = (
    (
        "The test heats at full power again and again. It is a hold like any other: high limits, the ceilings of the "
        "test and the node's lease stay in force, and so must the independent thermal cut-off."
    ),
    (
        "Use a settled hold: the paste in range, the lid closed, nobody stirring. The wall swings by some kelvin about "
        "the setpoint, and the paste that touches it follows; a hold's clock does not run meanwhile."
    ),
    "Afterwards the relay is off. Start your hold again, or the paste cools.",
)


@click.command(epilog="Example: holdctl tune --cycles 4")
@click.option(
    "--method", type=click.Choice(["relay", "step"]), default="relay", show_default=True, help="Of the test."
)
@click.option("--probe", "channel", type=int, help="Channel to test on; the wall's when left out.")
@click.option(
    "--setpoint", type=FIGURE, metavar="°C", help="Temperature to test at; the programme's when left out."
)
@click.option(
    "--hysteresis", type=Figure(0.05, 5), default=0.25, show_default=True, metavar="K",
    help="The relay turns this far above and below; more than the noise of the readings.",
)  # fmt: skip
@click.option("--cycles", type=click.IntRange(2, 20), default=4, show_default=True, help="Equal ones wanted.")
@click.option("--longest", help="The test gives up after this; 4 h for a relay test, 12 h for a step.")
@click.option(
    "--again", type=int, metavar="HOLD", help="Evaluate an earlier test of the record; heat nothing."
)
@click.option("--port", metavar="URL", help="Serial port instead of the settings'.")
@click.option("--pace", type=click.Choice(["host", "device"]), default="host", help="As of `holdctl run`.")
@config_option
@record_option
@json_option
def tune(
    method: str,
    channel: int | None,
    setpoint: float | None,
    hysteresis: float,
    cycles: int,
    longest: str | None,
    again: int | None,
    port: str | None,
    pace: str,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Make the warmer swing on purpose and say what it shows: gain, lags, dead time, PI settings."""
    if again is not None:
        _report(find_record(record, config_file), again, "", as_json)
        return
    from holdctl.daemon.experiment import Wanted

    wanted = Wanted(method, channel, setpoint, hysteresis, cycles, longest)
    path, ended = _run(wanted, port, pace, config_file, record)
    _report(path, None, ended, as_json)


def _run(
    wanted: "Wanted", port: str | None, pace: str, config_file: Path | None, record: Path | None
) -> tuple[Path, str]:
    """Run the test to its end; return the record and why it ended. Raises JobError where it was broken off."""
    from holdctl.cautions import CAUTIONS
    from holdctl.clock import SystemClock
    from holdctl.config import load, record_path
    from holdctl.daemon import Job, Pace, check, prepare
    from holdctl.daemon.experiment import plan
    from holdctl.events import State

    settings = load(config_file, port=port).settings
    laid = plan(settings, wanted)
    check(laid.settings, Pace(pace), detached=False)
    path = record or record_path(settings.warmer.name)
    click.echo("Before the test, read this:", err=True)
    for caution in (*_CAUTIONS, *CAUTIONS):
        click.echo(f"  - {caution}", err=True)
    click.echo(f"{laid.text} Ctrl-C ends it. Record: {path}", err=True)
    state = prepare(Job(laid.settings, path, SystemClock(), Pace(pace), _tell, make=laid.hold))
    words = laid.guarded.words
    if state is not State.COMPLETE or not laid.guarded.good:
        why = words or "a trip or a person ended it before"
        raise JobError(f"The test found nothing to rely on: {why}. Its record is kept: {path}")
    return path, words


def _tell(notice: "Notice", now: "Instant") -> None:
    click.echo(f"{now.hold_ms / 60_000:6.1f} min  {notice.kind.value}: {notice.text}", err=True)


def _report(path: Path, again: int | None, ended: str, as_json: bool) -> None:
    from holdctl.record.query import Record
    from holdctl.review.tuning import evaluated, plain, render

    reader = Record(path)
    hold = reader.hold(again)
    found = evaluated(reader, hold)
    if as_json:
        say_json({"record": str(path), "hold": hold.id, "ended": ended, **plain(found)})
        return

    from rich.console import Console

    Console(width=None if sys.stdout.isatty() else 80, highlight=False).print(render(found))


COMMANDS = (tune,)
