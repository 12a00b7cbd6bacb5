"""`watch`, `holds`, `review`, `compare`, `export`: looking at records, live and afterwards."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.cli.options import (
    FILE,
    config_option,
    find_record,
    hold_argument,
    json_option,
    record_option,
    say_json,
    units_option,
)

if TYPE_CHECKING:
    from holdctl.record.query import Record
    from holdctl.record.rows import HoldRow
    from holdctl.settings import Settings


def _show(renderable: object) -> None:
    """Print for the terminal at hand, or 80 columns without one."""
    from rich.console import Console

    Console(width=None if sys.stdout.isatty() else 80, highlight=False).print(renderable)


@click.command(epilog="Example: holdctl watch")
@hold_argument
@click.option("--once", is_flag=True, help="One frame, then leave.")
@click.option("--quiet", is_flag=True, help="Ring no bell for alarms that nobody has acknowledged.")
@units_option
@config_option
@record_option
@json_option
def watch(
    hold: int | None,
    once: bool,
    quiet: bool,
    units: str | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> int:
    """Look at the running hold, live; Ctrl-C leaves, the hold goes on."""
    from holdctl.watch import watch as show
    from holdctl.watch.words import Units

    wanted: Units | None = "C" if units == "C" else "F" if units == "F" else None
    path = find_record(record, config_file)
    return show(path, hold=hold, units=wanted, once=once, as_json=as_json, quiet=quiet)


@click.command(epilog="Example: holdctl holds --json")
@config_option
@record_option
@json_option
def holds(config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """List the recorded holds."""
    from holdctl.record.query import Record

    reader = Record(find_record(record, config_file))
    rows = reader.holds()
    if as_json:
        names = (
            "id",
            "started_utc_ms",
            "ended_utc_ms",
            "ended_hold_ms",
            "warmer",
            "programme",
            "pace",
            "simulated",
        )
        say_json(
            [
                {**{n: getattr(r, n) for n in names}, **_kept(r), "state": r.state and r.state.value}
                for r in rows
            ]
        )
        return
    if not rows:
        click.echo("No hold yet: `holdctl start` begins one.")
    alive = reader.writer_pid() is not None
    for row in rows:
        click.echo(_line(reader, row, running=alive and row is rows[-1]))


def _line(reader: "Record", row: "HoldRow", *, running: bool) -> str:
    """Return one hold in one line: number, local start, length, hold time earned of what was asked, how it ended."""
    from holdctl.hold.states import WORDS
    from holdctl.review.words import duration, earned, local_time

    latest = reader.latest(row.id) if row.ended_hold_ms is None else None
    so_far = latest.at.hold_ms if latest else row.ended_hold_ms
    length = duration(None if so_far is None else so_far / 1000)
    if row.state is not None:
        state = WORDS[row.state]
    else:
        state = "running now" if running else "not closed: its daemon is gone"
    asked = _asked_s(row)
    hold_time = (
        ": " + earned(reader.credit_ms(row.id) / 1000, asked) if asked is not None else " without a warmer"
    )
    rig = "  [test rig]" if row.simulated else ""
    begun = local_time(row.started_utc_ms)
    return f"{row.id:>4}  {begun}  {length:>11}  {row.programme}{hold_time}, {state}{rig}"


def _settings(row: "HoldRow") -> "Settings | None":
    """Return a hold's settings, None where they are another version's."""
    import msgspec

    from holdctl.settings import Settings

    try:
        return msgspec.json.decode(row.config_json, type=Settings)
    except msgspec.DecodeError:
        return None


def _asked_s(row: "HoldRow") -> float | None:
    """Return the hold time that a hold's programme asks for, s; None of a cooling alone, 0 where nobody can tell."""
    from holdctl.config.unheated import heated
    from holdctl.review.figures import asked_s

    settings = _settings(row)
    if settings is not None and not heated(settings):
        return None
    return 0.0 if settings is None else asked_s(settings.programme)


def _kept(row: "HoldRow") -> dict[str, object]:
    """Return whether something was heated; of a cooling alone there is no warmer to name."""
    from holdctl.config.unheated import heated

    settings = _settings(row)
    hot = settings is None or heated(settings)
    return {"heated": hot} if hot else {"heated": False, "warmer": None}


@click.command(epilog="Example: holdctl review 12 --picture night.pdf")
@hold_argument
@click.option("--picture", type=FILE, help="Also draw the night into this .png, .svg or .pdf file.")
@units_option
@config_option
@record_option
@json_option
def review(
    hold: int | None,
    picture: Path | None,
    units: str | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Say what one hold (the latest) did: figures, unsafe windows, events, a picture."""
    import msgspec

    from holdctl.cli.measured import learn_from
    from holdctl.record.query import Record
    from holdctl.review.figures import figures
    from holdctl.review.report import render_report
    from holdctl.review.words import head_words, look_of

    reader = Record(find_record(record, config_file))
    found = figures(reader, hold)
    events, head = reader.events(found.hold), reader.head()
    taught = learn_from(reader, found, events)
    if picture is not None:
        from holdctl.review.picture import draw_hold

        draw_hold(reader, found.hold, picture, units=units)
    if as_json:
        chained = {"head": head and head.hex, "rows": head and head.rows}
        say_json({**msgspec.to_builtins(found), "picture": picture and str(picture), "learned": taught,
                  "record": chained})  # fmt: skip
        return
    _show(render_report(found, events, units=units))
    if taught:
        click.echo(look_of(units or found.units).text(taught))
    if head is not None:
        click.echo(head_words(head))
    if picture is not None:
        click.echo(f"Picture: {picture}")


@click.command(epilog="Example: holdctl compare --last 7 --picture week.png")
@click.option("--last", type=click.IntRange(2, 100), default=5, show_default=True, help="How many holds.")
@click.option(
    "--picture", type=FILE, help="Also draw them over each other into this .png, .svg or .pdf file."
)
@units_option
@config_option
@record_option
@json_option
def compare(
    last: int,
    picture: Path | None,
    units: str | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Set the figures of the last holds side by side."""
    import msgspec

    from holdctl.record.query import Record
    from holdctl.review.compare import compare as set_side_by_side
    from holdctl.review.compare import render_comparison

    reader = Record(find_record(record, config_file))
    found = set_side_by_side(reader, last)
    if picture is not None:
        from holdctl.review.overlay import draw_comparison

        draw_comparison(reader, last, picture, units=units)
    if as_json:
        say_json({**msgspec.to_builtins(found), "picture": picture and str(picture)})
        return
    _show(render_comparison(found, units=units))
    if picture is not None:
        click.echo(f"Picture: {picture}")


@click.command(epilog="Example: holdctl export 12 --form csv --output night.csv")
@hold_argument
@click.option("--what", type=click.Choice(["samples", "events"]), default="samples", show_default=True)
@click.option(
    "--form", type=click.Choice(["csv", "jsonl"]), help="CSV (the default) or JSON lines (as --json)."
)
@click.option("--output", type=FILE, help="File to write instead of standard output; it must not exist yet.")
@config_option
@record_option
@json_option
def export(
    hold: int | None,
    what: str,
    form: str | None,
    output: Path | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Write one hold's samples or events as CSV or JSON lines."""
    from holdctl.errors import ConfigError
    from holdctl.record.export import export as write
    from holdctl.record.query import Record

    reader = Record(find_record(record, config_file))
    number = reader.hold(hold).id
    shape = form or ("jsonl" if as_json else "csv")
    if output is None:
        write(reader, number, what, shape, sys.stdout)  # type: ignore[arg-type]
        return
    try:
        with output.open("x", encoding="utf-8", newline="") as file:
            rows = write(reader, number, what, shape, file)  # type: ignore[arg-type]
    except FileExistsError:
        raise ConfigError(f"{output} is there already; choose another name or remove it first.") from None
    except OSError as error:
        raise ConfigError(f"{output} can't be written ({error.strerror}); choose another place.") from None
    click.echo(f"{rows} rows in {output}", err=True)


COMMANDS = (watch, holds, review, compare, export)
