"""`note`: words and what was measured, during the hold and after it."""

import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holdctl.cli.asking import request, user
from holdctl.cli.options import config_option, find_record, json_option, record_option, say_json
from holdctl.errors import ConfigError, JobError

if TYPE_CHECKING:
    from holdctl.food.measured import Measurement
    from holdctl.record.query import Record
    from holdctl.record.rows import HoldRow

_MALT = {"none": "none", "mix": "with the flour", "now": "now"}
_OF_THE_HOLD = ("ph", "aw", "brix", "mass_g", "taste", "mix_peak", "mix_at", "mix_plan", "malt",
                "dough_c", "dough_water_c", "dough_scald_c")  # fmt: skip
"""What is measured on paste of the hold that runs, or of one that is over; a fridge may be looked at whenever."""
_DOUGH = ("dough_c", "dough_water_c", "dough_scald_c")
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


@click.command(epilog='Example: holdctl note --brix 22.5 --taste sweet "stirred by hand"')
@click.argument("text", required=False, default="")
@click.option("--ph", type=float, help="pH of the paste.")
@click.option("--aw", type=float, help="Water activity, 0 to 1.")
@click.option("--packaged", is_flag=True, help="With --ph or --aw: of paste closed up after heating.")
@click.option("--brix", type=float, help="What the refractometer reads, °Brix.")
@click.option("--mass-g", type=float, help="Mass of the paste, g.")
@click.option("--taste", default="", help="In your words; only of paste that was kept hot.")
@click.option(
    "--mix-peak", type=float, help="How hot the mix was when flour and water had come together, °C."
)
@click.option("--mix-at", metavar="TIME", help="When that was: 21:30, or now.")
@click.option(
    "--mix-plan", type=int, metavar="NUMBER", help="Take the mix's temperature from that plan instead."
)
@click.option(
    "--dough",
    "dough_c",
    type=float,
    metavar="TEMP",
    help="The final dough came out at this: says what mixing adds.",
)
@click.option(
    "--dough-water",
    "dough_water_c",
    type=float,
    metavar="TEMP",
    help="With --dough: its water was at this, not as planned.",
)
@click.option(
    "--dough-scald",
    "dough_scald_c",
    type=float,
    metavar="TEMP",
    help="With --dough: the scald went in at this, not as planned.",
)
@click.option("--malt", metavar="WHEN", help="When malt went in: none, mix (with the flour), now, or 21:45.")
@click.option(
    "--storage",
    type=float,
    metavar="TEMP",
    help="What the thermometer in the fridge, or the stored paste, reads now.",
)
@click.option("--hold", type=int, help="Whose paste, once no hold runs; the latest hold's without it.")
@config_option
@record_option
@json_option
def note(
    text: str, hold: int | None, config_file: Path | None, record: Path | None, as_json: bool, **given: Any
) -> None:
    """Write a note, or what you measured, into the record; the review puts it beside its figures."""
    from holdctl.record.query import Record

    reader = Record(find_record(record, config_file))
    row, running = reader.hold(hold), reader.writer_pid() is not None
    elsewhere = running and row.id != reader.hold().id
    if elsewhere and (
        given.get("storage") is None or any(given.get(name) not in (None, "") for name in _OF_THE_HOLD)
    ):
        raise JobError(
            f"Hold {reader.hold().id} is running: a note for hold {row.id} can wait until it has ended."
        )
    given["of_hold"] = row.id if elsewhere else None
    if given.get("malt") == "now" and not running:
        raise ConfigError("No hold is running: say when malt went in by the clock, as --malt 21:45.")
    _enter(reader, row, _subject(text, given, row), as_json, running=running)


def enter(reader: "Record", row: "HoldRow", subject: str, as_json: bool) -> None:
    """Enter a note for a hold. Raises JobError where another one is running."""
    running = reader.writer_pid() is not None
    if running and row.id != reader.hold().id:
        raise JobError(f"Hold {reader.hold().id} is running: this can wait until it has ended.")
    _enter(reader, row, subject, as_json, running=running)


def _enter(reader: "Record", row: "HoldRow", subject: str, as_json: bool, *, running: bool) -> None:
    words = _through_the_hold(reader, subject) if running else _alone(reader, row.id, subject)
    if as_json:
        found = {"hold": row.id, "request": "note", "subject": subject}
        say_json({**found, "outcome": "accepted", "text": words})
    else:
        click.echo(words or "note: done.")


def _subject(text: str, given: dict[str, Any], row: "HoldRow") -> str:
    """Return what to file: plain words, or a measurement. Raises ConfigError where nothing was given."""
    if _units(row) == "F":
        temps = {name: given.get(name) for name in ("mix_peak", "storage", *_DOUGH)}
        given = {**given, **{n: None if t is None else round((t - 32) / 1.8, 1) for n, t in temps.items()}}
    found = measurement(text, given, row.started_utc_ms)
    if found.empty:
        if not text:
            raise ConfigError(
                'Say what to note: `holdctl note "stirred"`, or what you measured, as `--ph 5.9`.'
            )
        return text
    return found.subject()


def _units(row: "HoldRow") -> str:
    """Return the unit of temperatures on this hold's command line, "C" or "F"."""
    import msgspec

    from holdctl.settings import Settings

    try:
        return msgspec.json.decode(row.config_json, type=Settings).units
    except msgspec.DecodeError:
        return "C"


def measurement(text: str, given: dict[str, Any], started_utc_ms: int) -> "Measurement":
    """Return what the options say as one measurement. Raises ConfigError that names what can't be."""
    from holdctl.food.measured import checked

    values = {name: given.get(name) for name in ("ph", "aw", "brix", "mass_g", "taste", *_DOUGH)}
    values |= {"storage_c": given.get("storage"), "of_hold": given.get("of_hold")}
    values["packaged"] = bool(given.get("packaged"))
    if values["packaged"] and values["ph"] is None and values["aw"] is None:
        raise ConfigError(
            "--packaged says of what paste a pH or a water activity is: add --ph 4.5 or --aw 0.97."
        )
    if given.get("dough_c") is None and any(given.get(name) is not None for name in _DOUGH):
        raise ConfigError(
            "--dough-water and --dough-scald go with the dough they went into: add --dough 26.5."
        )
    values |= _mix(given.get("mix_peak"), given.get("mix_plan"))
    if given.get("mix_at"):
        if values.get("mix_c") is None:
            raise ConfigError(
                "--mix-at says when the mix was; give its temperature too, with --mix-peak 78.5."
            )
        values["mix_s"] = moment_s(given["mix_at"], started_utc_ms)
    malt = given.get("malt")
    if malt in _MALT:
        values["malt"] = _MALT[malt]
    elif malt:
        values["malt_s"] = moment_s(malt, started_utc_ms)
    return checked(text=text, **values)


def _mix(peak_c: float | None, plan: int | None) -> dict[str, Any]:
    """Return the mix's temperature, measured or a plan's."""
    if plan is None:
        return {"mix_c": peak_c}
    if peak_c is not None:
        raise ConfigError("Give --mix-peak or --mix-plan, not both: what was measured counts.")
    from holdctl.plan.store import load

    mix = load(plan).mix
    if mix is None:
        raise ConfigError(f"Plan {plan} says nothing of its mix: measure it, with --mix-peak 78.5.")
    return {"mix_c": round(mix.mix_c, 1), "mix_from": f"plan {plan}"}


def moment_s(when: str, started_utc_ms: int, now: datetime | None = None) -> float:
    """Return a local clock time, the last one that is past, or `now`, as s since the hold's start."""
    now = now or _now()
    at = now
    if when != "now":
        found = _CLOCK.fullmatch(when)
        if found is None:
            raise ConfigError(f"“{when}” is no time: write it as 21:45, or now.")
        at = now.replace(hour=int(found[1]), minute=int(found[2]), second=0, microsecond=0)
        at = at if at <= now else at - timedelta(days=1)
    return round(at.timestamp() - started_utc_ms / 1000, 1)


def _now() -> datetime:
    from holdctl.clock import SystemClock

    return datetime.fromtimestamp(SystemClock().utc_ms() / 1000).astimezone()


def _through_the_hold(reader: "Record", subject: str) -> str:
    answer = request(reader, "note", subject, user())
    if answer.outcome != "accepted":
        raise JobError(answer.words or f"note: {answer.outcome}.")
    return answer.words


def _alone(reader: "Record", hold: int, subject: str) -> str:
    from holdctl.clock import SystemClock
    from holdctl.record.afterwards import enter_note

    return enter_note(reader, hold, subject, user(), SystemClock().utc_ms())


COMMANDS = (note,)
