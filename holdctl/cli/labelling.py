"""`label`: what stands on the tub in the fridge."""

from datetime import datetime, timedelta
from pathlib import Path

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
from holdctl.errors import ConfigError


@click.command(epilog='Example: holdctl label --name "Rye scald" --batch 12 --output label.pdf')
@hold_argument
@click.option("--name", default="", help="What it is called; else by its flour.")
@click.option("--batch", default="", help="Your batch's name or number.")
@click.option("--bakery", default="", help="Whose it is.")
@click.option(
    "--made", metavar="TIME", help="When it was made, if before the record: 21:30, or 2026-01-30 21:30."
)
@click.option("--output", type=FILE, help="Also draw it into this .pdf, .png or .svg file (A7).")
@units_option
@config_option
@record_option
@json_option
def label(
    hold: int | None,
    name: str,
    batch: str,
    bakery: str,
    made: str | None,
    output: Path | None,
    units: str | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Print a label for cooled paste: made, cooled, how cold to keep it, and a guide to its use by."""
    import msgspec

    from holdctl.clock import local_zone
    from holdctl.record.query import Record
    from holdctl.review.label import Asked, label_of
    from holdctl.review.label_picture import draw
    from holdctl.review.label_text import lines_of, text_of
    from holdctl.review.night import read_night

    night, zone = read_night(Record(find_record(record, config_file)), hold), local_zone()
    began = datetime.fromtimestamp(night.hold.started_utc_ms / 1000, zone)
    made_ms = None if made is None else 1000 * moment(made, began).timestamp()
    found = label_of(night, Asked(name=name, batch=batch, bakery=bakery, made_utc_ms=made_ms), zone)
    lines = lines_of(found, zone, units or night.settings.units)
    if output is not None:
        draw(lines, output)
    if as_json:
        say_json({**msgspec.to_builtins(found), "output": output and str(output)})
        return
    click.echo(text_of(lines))
    if output is not None:
        click.echo(f"Label: {output}")


def moment(text: str, before: datetime) -> datetime:
    """Return a local time, `2026-01-30 21:30`, or `21:30`: the last one not after `before`. Raises ConfigError."""
    for form in ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M"):
        try:
            return datetime.strptime(text, form).replace(tzinfo=before.tzinfo)
        except ValueError:
            continue
    try:
        told = datetime.strptime(text, "%H:%M").time()  # noqa: DTZ007 - a clock's time; its day and zone follow
    except ValueError:
        raise ConfigError(f"“{text}” is no time: write it as 21:30, or 2026-01-30 21:30.") from None
    at = datetime.combine(before.date(), told, before.tzinfo)
    return at if at <= before else at - timedelta(days=1)


COMMANDS = (label,)
"""Of this room."""
