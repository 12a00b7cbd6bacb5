"""`verify`, `backup`, `salvage`: is the record whole, a copy of it, and what is left of a damaged one."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdctl.cli.options import FILE, config_option, find_record, json_option, record_option, say_json

if TYPE_CHECKING:
    from holdctl.record.salvage import Salvage
    from holdctl.record.verify import Fault, Verdict

_SHORTEST_HEAD = 16
"""Hex digits that name a head: a chance of 1 in 10¹⁹ for another batch to begin alike."""


def _head(_context: click.Context, _parameter: click.Parameter, value: str | None) -> str:
    head = (value or "").strip().lower()
    if value is not None and not (_SHORTEST_HEAD <= len(head) <= 64 and set(head) <= set("0123456789abcdef")):
        raise click.BadParameter(f"give the {_SHORTEST_HEAD} to 64 hex digits as a review prints them.")
    return head


@click.command(epilog="Example: holdctl verify --head 3f1c…a2 --rows 43202")
@click.option("--head", callback=_head, help="A head noted earlier, as `holdctl review` prints it.")
@click.option("--rows", type=click.IntRange(min=0), help="The number of rows noted with that head.")
@config_option
@record_option
@json_option
def verify(head: str, rows: int | None, config_file: Path | None, record: Path | None, as_json: bool) -> int:
    """Say whether the record still holds what was written, or name the first 5 s that it does not."""
    from holdctl.record.verify import verify as check

    if rows is not None and not head:
        raise click.UsageError("--rows goes with --head: give both as they were noted.")
    path = find_record(record, config_file)
    found = check(path, head, rows)
    if as_json:
        say_json({"record": str(path), **_plain(found)})
    else:
        click.echo("\n".join([*_words(found, noted=bool(head)), *_left(path)]))
    return 0 if found.good else 1


def _left(path: Path) -> list[str]:
    """Say which rows of the record are in files beside it."""
    from holdctl.record.left import beside
    from holdctl.record.rejoin import read

    return [
        f"{left} holds {read(left).count} rows that could not be written: "
        f"`holdctl salvage {path} --to NEW.db` puts them in."
        for left in beside(path)
    ]


def _plain(found: "Verdict") -> dict[str, object]:
    from dataclasses import asdict

    return {"holds": found.good, **asdict(found)}


def _words(found: "Verdict", *, noted: bool) -> list[str]:
    words = [f"Of its beginning the chain says: {note}." for note in found.notes]
    if found.fault is None:
        also = " The noted head is in it, with its rows." if noted else ""
        return [f"The record holds, {found.rows} rows, head {found.head}.{also}", *words]
    words.insert(0, f"The record does not hold: {found.fault.text}.")
    words += _where(found.fault)
    if found.broken:
        words.append(f"{found.broken} of {found.batches} batches do not hold; this is the first.")
    return words


def _where(fault: "Fault") -> list[str]:
    from holdctl.review.words import local_time

    if fault.hold is None:
        return []
    words = f"It lies in hold {fault.hold}"
    if fault.from_hold_ms is not None and fault.to_hold_ms is not None:
        words += f", {fault.from_hold_ms / 1000:.1f} s to {fault.to_hold_ms / 1000:.1f} s after its start"
    if fault.from_utc_ms is not None:
        words += f" ({local_time(fault.from_utc_ms)})"
    return [f"{words}."]


@click.command(epilog="Example: holdctl backup /media/stick/night.db")
@click.argument("file", type=FILE)
@config_option
@record_option
@json_option
def backup(file: Path, config_file: Path | None, record: Path | None, as_json: bool) -> int:
    """Copy the record, also while a hold goes on, and verify the copy. Never overwrites."""
    from holdctl.record.backup import backup as copy

    made = copy(find_record(record, config_file), file)
    verdict = made.verdict
    if as_json:
        checked = _plain(verdict) if verdict else None
        say_json({"file": str(made.path), "size_bytes": made.size_bytes, "verified": checked})
    else:
        click.echo(f"{made.path}: {made.size_bytes} bytes.")
        older = ["The record is of an older format without a chain: nothing to verify."]
        click.echo("\n".join(_words(verdict, noted=False) if verdict else older))
    return 0 if verdict is None or verdict.good else 1


@click.command(epilog="Example: holdctl salvage damaged.db --to saved.db")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False, exists=True))
@click.option("--to", "target", type=FILE, required=True, help="The new record; it must not exist yet.")
@click.option(
    "--unwritten",
    "left",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    multiple=True,
    help="A file of rows that a failing disk had left; those beside the record are found by their name.",
)
@json_option
def salvage(file: Path, target: Path, left: tuple[Path, ...], as_json: bool) -> None:
    """Save what can be read of a record, and what a failing disk had left of it, into a new one.

    The record is left as it is.
    """  # fmt: skip
    from holdctl.record.left import beside
    from holdctl.record.salvage import salvage as save

    done = save(file, target, tuple(dict.fromkeys((*beside(file), *left))))
    if as_json:
        from dataclasses import asdict

        say_json(asdict(done))
    else:
        click.echo("\n".join(_saved(done)))


def _saved(done: "Salvage") -> list[str]:
    words = [f"{done.path}: " + ", ".join(f"{count} {name}" for name, count in done.rows.items()) + "."]
    if done.lost:
        runs = ", ".join(f"{a}" if a == b else f"{a}–{b}" for a, b in done.lost[:20])
        more = f" and {len(done.lost) - 20} more ranges" if len(done.lost) > 20 else ""
        words.append(f"Missing numbers (of samples, events and requests together): {runs}{more}.")
    else:
        words.append("No number is missing.")
    if done.refused:
        words.append(f"{done.refused} rows could be read but can't be right; they are left out.")
    if done.made_up_holds:
        holds = ", ".join(map(str, done.made_up_holds))
        words.append(f"The own row of hold {holds} is lost: settings and names are unknown there.")
    words += [f"{count} rows of {name} were put in." for name, count in done.rejoined.items()]
    words.append(f"{done.proven} of them still have the hash of the old chain; nothing proves the others.")
    if done.old_head:
        words.append(f"The old chain's last readable head: {done.old_head}, {done.old_rows} rows.")
    words.append(f"The new record's head: {done.head}, {done.head_rows} rows.")
    return words


COMMANDS = (verify, backup, salvage)
