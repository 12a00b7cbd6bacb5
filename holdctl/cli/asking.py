"""`stop`, `acknowledge`, `shelve`, `next`, `reset`, `note`: requests to a running hold, through its spool."""

import getpass
import os
import re
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from holdctl.cli.options import config_option, find_record, json_option, record_option, say_json
from holdctl.errors import ConfigError, JobError

if TYPE_CHECKING:
    from holdctl.clock import Clock
    from holdctl.record.query import Record

_ANSWER_MS = 5_000
_LOOK_S = 0.05
_UNASKED = ("forecast", "advice")
"""What a hold may say just then without having been asked."""


class Answer(NamedTuple):
    """What became of a request."""

    hold: int
    outcome: str
    words: str


def ask(record: Path | None, config_file: Path | None, kind: str, subject: str, as_json: bool) -> None:
    """Place a request, wait for its outcome in the record, and say it. Raises JobError where it was not obeyed."""
    from holdctl.record.query import Record

    path = find_record(record, config_file)
    reader = Record(path)
    if reader.writer_pid() is None:
        raise JobError(f"No hold is running on {path}: start one with `holdctl start`.")
    answer = request(reader, kind, subject, user())
    if as_json:
        found = {"hold": answer.hold, "request": kind, "subject": subject}
        say_json({**found, "outcome": answer.outcome, "text": answer.words})
    if answer.outcome != "accepted":
        raise JobError(answer.words or f"{kind}: {answer.outcome}.")
    if not as_json:
        click.echo("\n".join(answer.words.splitlines()) or f"{kind}: done.")


def request(reader: "Record", kind: str, subject: str, by: str) -> Answer:
    """Place a request for the running hold and wait for what it says. Raises JobError where it says nothing."""
    from holdctl.clock import SystemClock
    from holdctl.events import RequestKind
    from holdctl.record.files import spool_folder
    from holdctl.record.spool import place

    clock, path, hold = SystemClock(), reader.path, reader.hold()
    events = reader.events(hold.id)
    after = events[-1].seq if events else 0
    utc_ms, folder = clock.utc_ms(), spool_folder(path)
    waiting = place(folder, kind=RequestKind(kind), by=by, hold=hold.id, subject=subject, utc_ms=utc_ms)
    outcome, words = _outcome(reader, clock, hold.id, after, utc_ms, kind)
    if not outcome and not waiting.exists():
        raise JobError(
            f"The hold has taken the request, but {reader.path} does not answer, perhaps because it can't be written: "
            "look at the relay, and at what the daemon says."
        )
    if not outcome:
        waiting.unlink(missing_ok=True)
        raise JobError(
            "The hold has not answered within 5 s; the request is withdrawn. Look at `holdctl watch`."
        )
    return Answer(hold.id, outcome, words)


def user() -> str:
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
    ask(record, config_file, "stop", "", as_json)


@click.command(epilog="Example: holdctl acknowledge prompt-unanswered")
@click.argument("alarm", required=False, default="")
@config_option
@record_option
@json_option
def acknowledge(alarm: str, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Say that you have seen an alarm (all of them when none is named)."""
    ask(record, config_file, "acknowledge", alarm, as_json)


@click.command(epilog="Example: holdctl shelve probes-disagree --for 30m")
@click.argument("alarm")
@click.option("--for", "lasts", metavar="TIME", help="How long: 30m, 1h, “1 h 30 min”.")
@click.option("--end", is_flag=True, help="Take it back before its time is over.")
@config_option
@record_option
@json_option
def shelve(
    alarm: str, lasts: str | None, end: bool, config_file: Path | None, record: Path | None, as_json: bool
) -> None:
    """Put an alarm aside for a time: it is not told. What it does to the heat it still does."""
    from holdctl.hold.programme import duration_ms

    if end == (lasts is not None):
        raise ConfigError("Say for how long with --for 30m, or --end to take it back.")
    if lasts is None:
        ask(record, config_file, "unshelve", alarm, as_json)
        return
    plain = re.sub(r"(?<=\d)\s*m\b", " min", lasts)
    duration_ms(plain)
    ask(record, config_file, "shelve", f"{alarm} {plain}", as_json)


@click.command(name="next", epilog="Example: holdctl next")
@click.option("--skip", is_flag=True, help="Give up what is left of a hold step.")
@config_option
@record_option
@json_option
def next_(skip: bool, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Answer a prompt; with --skip leave a hold step before its time."""
    ask(record, config_file, "next", "skip" if skip else "", as_json)


@click.command(epilog="Example: holdctl reset high-limit")
@click.argument("trip")
@config_option
@record_option
@json_option
def reset(trip: str, config_file: Path | None, record: Path | None, as_json: bool) -> None:
    """Reset a trip by its name, once its cause is gone; `node-cutout` clears the node's own cut-out."""
    ask(record, config_file, "reset", trip, as_json)


COMMANDS = (stop, acknowledge, shelve, next_, reset)
