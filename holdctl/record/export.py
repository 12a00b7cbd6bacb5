"""A hold's samples and events as CSV or JSON lines: units in the names, UTC as ISO 8601, nothing rounded.

Columns are those of the views `samples_c` and `events_utc`; an empty CSV field or a JSON null means "no
value".
"""

import csv
import json
from collections.abc import Iterator
from typing import Any, Literal, TextIO

from holdctl.record import files
from holdctl.record.query import Record

What = Literal["samples", "events"]
Form = Literal["csv", "jsonl"]

_VIEWS = {"samples": "samples_c", "events": "events_utc"}
_PAGE = 5000


def export(record: Record, hold_id: int, what: What, form: Form, out: TextIO) -> int:
    """Write one hold's samples or events to an open text file and return the number of rows.

    Raises StoreError for an unknown hold or a record that can't be read; an error of `out` is the caller's.
    """
    record.hold(hold_id)
    names, rows = _rows(record, _VIEWS[what], hold_id)
    write = _csv if form == "csv" else _json_lines
    return write(record, names, rows, out)


def _csv(_record: Record, names: list[str], rows: Iterator[tuple[Any, ...]], out: TextIO) -> int:
    table = csv.writer(out, lineterminator="\n")
    table.writerow(names)
    count = 0
    for row in rows:
        table.writerow(row)
        count += 1
    return count


def _json_lines(record: Record, names: list[str], rows: Iterator[tuple[Any, ...]], out: TextIO) -> int:
    detail = names.index("detail") if "detail" in names else None
    count = 0
    for row in rows:
        values = list(row)
        if detail is not None:
            with files.in_plain_words(record.path):
                values[detail] = json.loads(values[detail])
        out.write(json.dumps(dict(zip(names, values, strict=True)), ensure_ascii=False) + "\n")
        count += 1
    return count


def _rows(record: Record, view: str, hold_id: int) -> tuple[list[str], Iterator[tuple[Any, ...]]]:
    """Return column names and rows, read page by page so that no transaction stays open while writing."""
    names = [row[1] for row in record.ask(f"SELECT cid, name FROM pragma_table_info('{view}')")]
    with files.in_plain_words(record.path):
        seq = names.index("seq")

    def pages() -> Iterator[tuple[Any, ...]]:
        after = 0
        sql = f"SELECT * FROM {view} WHERE hold = ? AND seq > ? ORDER BY seq LIMIT ?"
        while page := record.ask(sql, hold_id, after, _PAGE):
            yield from page
            after = page[-1][seq]

    return names, pages()
