"""Options that several commands share, and how they find the record."""

import json
import math
from pathlib import Path
from typing import Any

import click

from holdctl.errors import ConfigError

FILE = click.Path(path_type=Path, dir_okay=False)


class Figure(click.FloatRange):
    """A number between bounds, if any; `nan` passes every bound of click's own, and nothing can be reckoned with it."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the number. Raises click.BadParameter."""
        found = super().convert(value, param, ctx)
        if not math.isfinite(found):
            self.fail(f"{value} is no number to reckon with.", param, ctx)
        return found


FIGURE = Figure()
"""Any number but `nan` and infinity."""

config_option = click.option(
    "--config", "config_file", type=FILE, help="Settings to use instead of ./holdctl.toml or the user's."
)
record_option = click.option("--record", type=FILE, help="Record file to use instead of the warmer's own.")
json_option = click.option("--json", "as_json", is_flag=True, help="Answer in JSON for a program.")
hold_argument = click.argument("hold", type=int, required=False)
units_option = click.option(
    "--units", type=click.Choice(["C", "F"]), help="Of temperatures shown; else as the settings say."
)


def say_json(value: Any) -> None:
    """Print one JSON document."""
    click.echo(json.dumps(value, ensure_ascii=False, indent=2, default=str))


def find_record(record: Path | None, config_file: Path | None) -> Path:
    """Return the record to read: the one given, else of the warmer in the settings, else the only one there is."""
    from holdctl.config import find, load, record_path, state_folder

    if record is not None:
        return record
    try:
        find(config_file)
    except ConfigError:
        if config_file is not None:
            raise
        there = sorted(state_folder().glob("*.db"))
        if len(there) == 1:
            return there[0]
        known = (
            f"there are {', '.join(p.name for p in there)} in {state_folder()}"
            if there
            else "there is none yet"
        )
        raise ConfigError(
            f"Say which record with --record FILE: no holdctl.toml here, and {known}."
        ) from None
    return record_path(load(config_file, unheated=True).settings.warmer.name)
