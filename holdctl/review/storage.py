"""What was read in the fridge afterwards, against the limit of the code or the one that date marking rests on."""

import json
from typing import TYPE_CHECKING

import msgspec

from holdctl.food.codes import FoodCode
from holdctl.food.measured import read_detail
from holdctl.food.say import in_units
from holdctl.food.storage import Stored, judged, storage_limit
from holdctl.record.query import Record
from holdctl.review.words import local_time, look_of

if TYPE_CHECKING:
    from rich.console import RenderableType

_NOTES = (
    "SELECT hold, utc_ms, detail FROM events WHERE source = 'out' AND kind = 'note' "
    "AND json_extract(detail, '$.measured.storage_c') IS NOT NULL "
    "AND coalesce(json_extract(detail, '$.measured.of_hold'), hold) = ? ORDER BY seq"
)
"""Of whatever hold: paste is looked at in the fridge while a later night runs."""


class StorageAccount(msgspec.Struct, frozen=True, kw_only=True):
    """The storage of one hold's paste."""

    limit_c: float
    limit: str
    source: str
    force: str
    sureness: str
    read: tuple[Stored, ...]


def storage_account(code: FoodCode, read: tuple[Stored, ...]) -> StorageAccount:
    """Return what was entered, with the limit it was held against."""
    limit = storage_limit(code)
    return StorageAccount(
        limit_c=limit.limit_c, limit=limit.words, source=limit.source, force=limit.force, sureness=limit.sureness,
        read=read,
    )  # fmt: skip


def stored(record: Record, hold: int, code: FoodCode) -> tuple[Stored, ...]:
    """Return the readings of the storage that were entered for a hold's paste, oldest first."""
    rows = [(utc_ms, json.loads(detail)) for _, utc_ms, detail in record.ask(_NOTES, hold)]
    entered = [(utc_ms, detail, read_detail(detail)) for utc_ms, detail in rows]
    read = [
        (utc_ms, str(detail.get("by", "")), one.storage_c)
        for utc_ms, detail, one in entered
        if one is not None and one.storage_c is not None
    ]
    return judged(read, storage_limit(code))


def storage_lines(account: StorageAccount, units: str) -> "list[RenderableType]":
    """Return the readings in a report; nothing where none was entered."""
    from rich.text import Text

    if not account.read:
        return []

    def say(text: str) -> str:
        return look_of(units).text(in_units(text, units))

    head = f"Storage, to be at {account.limit} or below ({account.source}, {account.force}):"
    rows = [f"  {local_time(one.at_utc_ms)}  {one.words}, entered by {one.by}" for one in account.read]
    foot = "Each entry tells of its moment only; the error of that thermometer is not known and not counted."
    return [Text(""), *(Text(say(line)) for line in (head, *rows, foot))]
