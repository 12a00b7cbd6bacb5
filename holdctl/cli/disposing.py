"""`disposition`: what was done with the paste that an alarm concerns; during the hold and after it."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.cli.asking import request, user
from holdctl.cli.options import config_option, find_record, json_option, record_option, say_json
from holdctl.errors import ConfigError, JobError, StoreError

if TYPE_CHECKING:
    from holdctl.hold.disposition import Disposition
    from holdctl.record.query import Record
    from holdctl.review.dispositions import Deviation

EVERY = "all"


@click.command(epilog='Example: holdctl disposition probe-fault discarded --by Anna --note "cold for 2 h"')
@click.argument("alarm")
@click.argument("what", type=click.Choice(["used", "reworked", "discarded"]))
@click.option("--by", help="Who decided; the account is noted too.")
@click.option("--note", default="", help="What there is to say of it.")
@click.option("--hold", type=int, help="Whose paste; the latest hold's without it.")
@config_option
@record_option
@json_option
def disposition(
    alarm: str,
    what: str,
    by: str | None,
    note: str,
    hold: int | None,
    config_file: Path | None,
    record: Path | None,
    as_json: bool,
) -> None:
    """Enter what was done with the paste after an alarm, or `unsafe-window` (`all`: after every one that is open)."""
    from holdctl.hold.disposition import checked
    from holdctl.record.query import Record

    reader = Record(find_record(record, config_file))
    row = reader.hold(hold)
    found = _deviations(reader, row.id)
    entries = [checked(name, what, row.id, " ".join(note.split())) for name in _named(alarm, found, row.id)]
    who = f"{by} (account {user()})" if by else user()
    words = _through_the_hold(reader, entries, who) if reader.writer_pid() else _alone(reader, entries, who)
    if as_json:
        say_json(
            {"hold": row.id, "alarms": [e.alarm for e in entries], "what": what, "by": who, "text": words}
        )
    else:
        click.echo(words)


def _deviations(reader: "Record", hold: int) -> "tuple[Deviation, ...]":
    """Return alarms that concern the paste and unsafe windows; alarms alone where settings can't be read."""
    from holdctl.review.dispositions import deviations
    from holdctl.review.night import read_night

    try:
        return read_night(reader, hold).deviations
    except StoreError:
        return deviations(reader, hold)


def _named(alarm: str, found: "tuple[Deviation, ...]", hold: int) -> list[str]:
    """Return the alarms to enter for. Raises ConfigError where this hold had no such alarm."""
    if alarm == EVERY:
        names = [one.alarm for one in found if one.open]
        if not names:
            raise JobError(f"Nothing is open in hold {hold}: see `holdctl review {hold}`.")
        return names
    had = [one.alarm for one in found]
    if alarm not in had:
        listed = f"it had {', '.join(had)}" if had else "it had none that concerns the paste"
        raise ConfigError(f"Hold {hold} had no alarm “{alarm}” that concerns the paste: {listed}.")
    return [alarm]


def _through_the_hold(reader: "Record", entries: "list[Disposition]", by: str) -> str:
    """Ask the running hold to enter it: its daemon is the only writer. Raises JobError where it does not."""
    words = []
    for entry in entries:
        answer = request(reader, "disposition", entry.subject(), by)
        if answer.outcome != "accepted":
            raise JobError(answer.words or f"disposition: {answer.outcome}.")
        words.append(answer.words)
    return "\n".join(words)


def _alone(reader: "Record", entries: "list[Disposition]", by: str) -> str:
    """Enter it as the record's only writer, where no daemon is."""
    from holdctl.clock import SystemClock
    from holdctl.record.afterwards import enter

    return "\n".join(enter(reader, entry, by, SystemClock().utc_ms()) for entry in entries)


COMMANDS = (disposition,)
