"""`cool` and `sour`: what a person declares. `cool` needs no warmer: with no hold running it begins one of its own."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.cli.asking import ask, user
from holdctl.cli.options import config_option, find_record, json_option, record_option, say_json
from holdctl.cli.running import first_reading, tell, tell_json
from holdctl.errors import ConfigError, JobError

if TYPE_CHECKING:
    from holdctl.config.load import Loaded
    from holdctl.hold.cool_order import CoolOrder

_START_MS = 15_000


@click.command(epilog="Example: holdctl cool --in ice-bath")
@click.option(
    "--in",
    "stand",
    type=click.Choice(["room", "fridge", "ice-bath"]),
    default="room",
    show_default=True,
    help="Where the paste stands now.",
)
@click.option("--depth", "depth_cm", type=float, metavar="CM", help="Spread in a wide layer this deep, cm.")
@click.option("--open/--covered", "uncovered", default=None, help="Without or with a lid; else as set.")
@click.option("--stirred", is_flag=True, help="Somebody keeps it moving.")
@click.option("--here", is_flag=True, help="With no hold running: follow it in this terminal.")
@click.option("--port", metavar="URL", help="Serial port instead of the settings'.")
@click.option("--pace", type=click.Choice(["host", "device"]), default="host", hidden=True)
@config_option
@record_option
@json_option
def cool(
    stand: str,
    depth_cm: float | None,
    uncovered: bool | None,
    stirred: bool,
    here: bool,
    port: str | None,
    pace: str,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Record a cooling: on a running hold the relay goes off for good; without one only the probe is read.

    Say it again where you move the paste, spread it or stir it: the clocks go on, the forecast begins anew.
    """
    from holdctl.config import load, record_path
    from holdctl.hold.cool_order import CoolOrder
    from holdctl.paste.cooling import Stand
    from holdctl.record.files import writer_pid

    if depth_cm is not None and not 0.2 <= depth_cm <= 100:
        raise ConfigError("Give the depth of the layer in cm, between 0.2 and 100: --depth 2.")
    loaded = load(config_file, port=port, unheated=True)
    path = (record or record_path(loaded.settings.warmer.name)).absolute()
    running = path.exists() and writer_pid(path) is not None
    order = CoolOrder(
        stand=Stand(stand), depth_cm=depth_cm, open=uncovered, stirred=stirred, alone=not running,
        unknown=loaded.unknown,
    )  # fmt: skip
    if running:
        ask(path, None, "cool", order.subject(), as_json)
    elif here:
        _follow(loaded, path, order, pace, as_json)
    else:
        _begin(loaded, path, order, port, pace, as_json)


def _follow(loaded: "Loaded", path: Path, order: "CoolOrder", pace: str, as_json: bool) -> None:
    """Follow a cooling in this terminal until it ends."""
    from holdctl.clock import SystemClock
    from holdctl.config.unheated import alone
    from holdctl.daemon import Job, Pace, prepare

    settings = alone(loaded.settings)
    said = tell_json if as_json else tell
    if not as_json:
        click.echo(f"Record: {path}", err=True)
    state = prepare(Job(settings, path, SystemClock(), Pace(pace), said, order=order, by=user()))
    if as_json:
        say_json({"state": state.value, "record": str(path)})


def _begin(
    loaded: "Loaded", path: Path, order: "CoolOrder", port: str | None, pace: str, as_json: bool
) -> None:
    """Begin a cooling in the background."""
    from holdctl.daemon import Pace, check
    from holdctl.daemon.detach import detach

    check(loaded.settings, Pace(pace), detached=True, heated=False)
    arguments = [
        "cool",
        "--here",
        "--config",
        str(loaded.path.absolute()),
        "--record",
        str(path),
        "--pace",
        pace,
    ]
    arguments += ["--in", order.stand.value, *(["--port", port] if port else [])]
    arguments += [] if order.depth_cm is None else ["--depth", str(order.depth_cm)]
    arguments += [] if order.open is None else ["--open" if order.open else "--covered"]
    arguments += ["--stirred"] if order.stirred else []
    started = detach(arguments, path, wait_ms=_START_MS)
    if started.failure:
        raise JobError(f"{started.failure} (log: {started.log})")
    first = first_reading(path, started.hold or 0, started.since, known=loaded.settings)
    for text in first.cautions:
        click.echo(f"Mind: {text}", err=True)
    if as_json:
        found = {"pid": started.pid, "hold": started.hold, "record": str(path), "log": str(started.log)}
        say_json({**found, "first_reading": first.words or None, "cautions": list(first.cautions)})
        return
    said = first.words or "No reading has come within 10 s: look at the node, its cable and `holdctl watch`."
    click.echo(f"The cooling is recorded as hold {started.hold}; no relay is switched. {said}")
    click.echo("Put the probe into the middle of the paste. Look: holdctl watch. End it early: holdctl stop.")


@click.command(epilog="Example: holdctl sour; holdctl note --ph 4.1; holdctl sour --end")
@click.option("--end", is_flag=True, help="The souring is over.")
@click.option(
    "--from", "began", metavar="TIME", help="It is over already: it began then, 08:30 or 2026-01-31 08:30."
)
@click.option("--to", "ended", metavar="TIME", help="With --from: it ended then; now without it.")
@click.option("--ph", type=float, help="With --from: the pH at its end.")
@click.option("--hold", type=int, help="With --from: whose paste; the latest hold's without it.")
@config_option
@record_option
@json_option
def sour(
    end: bool,
    began: str | None,
    ended: str | None,
    ph: float | None,
    hold: int | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Declare that the paste sours from now on: its time in the warm is told apart, and its pH is asked for.

    With --from tell of a souring afterwards, as of paste that soured in a tub: it takes no unsafe window back.
    """
    if began is not None:
        _soured(began, ended, ph, hold, find_record(record, config_file), as_json)
    elif ended is not None or ph is not None or hold is not None:
        raise ConfigError(
            "Say when it began, with --from 08:30; the pH of a souring that runs is a note of its own."
        )
    else:
        ask(record, config_file, "sour", "end" if end else "", as_json)


def _soured(
    began: str, ended: str | None, ph: float | None, hold: int | None, path: Path, as_json: bool
) -> None:
    """Tell of a souring that is over."""
    from datetime import datetime

    from holdctl.cli.labelling import moment
    from holdctl.cli.noting import enter
    from holdctl.clock import SystemClock, local_zone
    from holdctl.food.measured import checked
    from holdctl.record.query import Record

    reader = Record(path)
    row, now = reader.hold(hold), datetime.fromtimestamp(SystemClock().utc_ms() / 1000, local_zone())
    to = now if ended is None else moment(ended, now)
    start = moment(began, to)
    if not start < to <= now:
        raise ConfigError("A souring that is told afterwards begins before it ends, and ends before now.")
    zero_s = row.started_utc_ms / 1000
    told = checked(
        ph=ph, sour_from_s=round(start.timestamp() - zero_s), sour_to_s=round(to.timestamp() - zero_s)
    )
    enter(reader, row, told.subject(), as_json)


COMMANDS = (cool, sour)
"""Of this room."""
