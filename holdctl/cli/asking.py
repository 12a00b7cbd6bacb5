"""`stop`, `acknowledge`, `next`, `reset`, `note`: requests to a running hold, through its spool."""

import getpass
import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.cli.options import config_option, find_record, json_option, record_option, say_json
from holdctl.errors import JobError

if TYPE_CHECKING:
    from holdctl.clock import Clock
    from holdctl.record.query import Record

_ANSWER_MS = 5_000
_LOOK_S = 0.05
_UNASKED = ("forecast", "advice")
"""What a hold may say just then without having been asked."""


def _ask(record: Path | None, config_file: Path | None, kind: str, subject: str, as_json: bool) -> None:
    """Place a request, wait for its outcome in the record, and say it. Raises JobError where it was not obeyed."""
    from holdctl.clock import SystemClock
    from holdctl.events import RequestKind
    from holdctl.record.files import spool_folder
    from holdctl.record.query import Record
    from holdctl.record.spool import place

    path = find_record(record, config_file)
    reader, clock = Record(path), SystemClock()
    if reader.writer_pid() is None:
        raise JobError(f"No hold is running on {path}: start one with `holdctl start`.")
    hold = reader.hold()
    events = reader.events(hold.id)
    after = events[-1].seq if events else 0
    utc_ms = clock.utc_ms()
    by = _user()
    waiting = place(
        spool_folder(path), kind=RequestKind(kind), by=by, hold=hold.id, subject=subject, utc_ms=utc_ms
    )
    outcome, words = _outcome(reader, clock, hold.id, after, utc_ms, kind)
    if not outcome and not waiting.exists():
        raise JobError(
            f"The hold has taken the request, but {path} does not answer, perhaps because it can't be written: look at "
            "the relay, and at what the daemon says."
        )
    if not outcome:
        waiting.unlink(missing_ok=True)
        raise JobError(
            "The hold has not answered within 5 s; the request is withdrawn. Look at `holdctl watch`."
        )
    if as_json:
        say_json({"hold": hold.id, "request": kind, "subject": subject, "outcome": outcome, "text": words})
    if outcome != "accepted":
        raise JobError(words or f"{kind}: {outcome}.")
    if not as_json:
        click.echo("\n".join(words.splitlines()) or f"{kind}: done.")


def _user() -> str:
    """Return who asks; a user without a name by number."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return f"user {os.getuid()}"


def _outcome(
    reader: "Record", clock: "Clock", hold: int, after: int, utc_ms: int, kind: str
) -> tuple[str, str]:
    """Wait for the request's row and the hold's answer to it; ("", "") where none came in time."""
    until = clock.monotonic_ms() + _ANSWER_MS
    while clock.monotonic_ms() < until:
        rows = [r for r in reader.requests(hold) if r.placed_utc_ms == utc_ms and r.kind == kind]
        if rows:
            clock.sleep(_LOOK_S)  # the answer follows its filing at once
            said = [
                e
                for e in reader.events(hold, max(after, rows[-1].seq))
                if e.source == "out" and e.kind not in _UNASKED
            ]
            refused = [e.text for e in said if e.kind == "refused"]
            if rows[-1].outcome != "accepted":
                return rows[-1].outcome, f"{kind} {rows[-1].outcome}: {rows[-1].reason}."
            return ("refused", refused[0]) if refused else ("accepted", "\n".join(e.text for e in said))
        clock.sleep(_LOOK_S)
    return "", ""


@click.command(epilog="Example: holdctl stop")
@config_option
@record_option
@json_option
def stop(config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """End the running hold: relay off, record closed."""
    _ask(record, config_file, "stop", "", as_json)


@click.command(epilog="Example: holdctl acknowledge prompt-unanswered")
@click.argument("alarm", required=False, default="")
@config_option
@record_option
@json_option
def acknowledge(alarm: str, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Say that you have seen an alarm (all of them when none is named)."""
    _ask(record, config_file, "acknowledge", alarm, as_json)


@click.command(name="next", epilog="Example: holdctl next")
@click.option("--skip", is_flag=True, help="Give up what is left of a hold step.")
@config_option
@record_option
@json_option
def next_(skip: bool, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Answer a prompt; with --skip leave a hold step before its time."""
    _ask(record, config_file, "next", "skip" if skip else "", as_json)


@click.command(epilog="Example: holdctl reset high-limit")
@click.argument("trip")
@config_option
@record_option
@json_option
def reset(trip: str, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Reset a latched trip by its name, once its cause is gone."""
    _ask(record, config_file, "reset", trip, as_json)


@click.command(epilog='Example: holdctl note "stirred by hand, smells sweet"')
@click.argument("text")
@config_option
@record_option
@json_option
def note(text: str, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Write a note into the record of the running hold."""
    _ask(record, config_file, "note", text, as_json)


COMMANDS = (stop, acknowledge, next_, reset, note)
