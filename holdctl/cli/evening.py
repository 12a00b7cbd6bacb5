"""Options of `plan` that concern the night on the warmer, and what they and the record say of it."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from holdctl.cli.options import FIGURE, FILE, Figure
from holdctl.cli.told import celsius
from holdctl.errors import ConfigError

if TYPE_CHECKING:
    from holdctl.plan.nights import Evening
    from holdctl.settings import Settings

F = TypeVar("F", bound=Callable[..., Any])
_COLDEST_C, _HOTTEST_C = -20.0, 150.0
"""Of a vessel out of the freezer, and of one off the fire."""
NAMES = ("ready", "vessel_temp", "stir_every", "stir", "price", "record")


def night_options(command: F) -> F:
    """Add the options of the night."""
    for add in reversed(
        (
            click.option("--ready", metavar="HH:MM", help="When the hold should be done: says the latest start."),
            click.option("--mix-temp", type=float, metavar="TEMP", help="Of the mix once stirred; else chosen."),
            click.option("--vessel-temp", type=FIGURE, metavar="TEMP",
                         help="Of vessel and warmer when the scald goes in; else the room's."),
            click.option("--stir-every", type=Figure(min=1.0, max=600.0), metavar="MIN",
                         help="You will stir this often until every part is in range."),
            click.option("--stir", is_flag=True, default=None,
                         help="You will stir when it is worth the way: the night asks for it."),
            click.option("--price", type=float, metavar="PER_KWH", help="Of electricity: says what the night costs."),
            click.option("--record", type=FILE, help="Where earlier holds of the warmer are; else its own record."),
        )
    ):  # fmt: skip
        command = add(command)
    return command


def evening_of(settings: "Settings | None", given: dict[str, Any], units: str) -> "Evening | None":
    """Return what is known and wanted of the night; None without a warmer. Raises ConfigError where one is needed."""
    from datetime import datetime

    from holdctl.clock import local_zone
    from holdctl.plan.known import identified
    from holdctl.plan.nights import Evening
    from holdctl.plan.ready import asked

    asks = [name for name in NAMES if given[name] is not None]
    if settings is None:
        if asks:
            raise ConfigError(
                f"--{asks[0].replace('_', '-')} needs the warmer: run it where holdctl.toml is, or give --config FILE."
            )
        return None
    if given["stir"] and given["stir_every"] is not None:
        raise ConfigError("--stir chooses the times itself; give it or --stir-every.")
    known, words = identified(_record(settings, given["record"]), settings.warmer.name)
    now = datetime.now(local_zone())
    return Evening(
        known=known,
        known_words=words,
        ready=None if given["ready"] is None else asked(given["ready"], now),
        now=now,
        vessel_c=_vessel_c(celsius(given["vessel_temp"], units)),
        stir_every_min=given["stir_every"],
        stir_advised=bool(given["stir"]),
        price_per_kwh=given["price"],
    )


def _vessel_c(temp_c: float | None) -> float | None:
    if temp_c is not None and not _COLDEST_C <= temp_c <= _HOTTEST_C:
        raise ConfigError(
            f"A vessel of {temp_c:g} °C is no vessel for a scald: give --vessel-temp between {_COLDEST_C:g} and "
            f"{_HOTTEST_C:g} °C."
        )
    return temp_c


def _record(settings: "Settings", given: Path | None) -> Path:
    """Return where earlier holds of the warmer are. Raises StoreError where a file was named that is no record."""
    from holdctl.config import record_path
    from holdctl.record.query import Record

    return record_path(settings.warmer.name) if given is None else Record(given).path
