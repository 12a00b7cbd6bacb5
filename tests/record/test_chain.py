"""The chain as docs/record.md defines it, computed here without any of the project's code."""

import hashlib
import json
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.record import chain
from holdctl.record.query import Record
from holdctl.record.store import Store

from .conftest import HOLD, night
from .small import write_small

PARTS = {
    "begin": "id, first_seq, started_utc_ms, warmer, programme, pace, simulated, version, boot_id, latched, config",
    "anchor": "id, n_base, up_base, ack_base",
    "end": "id, ended_utc_ms, ended_hold_ms, state, last_seq",
}


def line(kind: str, row: tuple[Any, ...]) -> bytes:
    values = [kind, *row]
    while values[-1] is None:
        values.pop()
    return json.dumps(values, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def outsider(path: Path) -> list[tuple[bytes, bytes]]:
    """Return (hash computed, hash stored) of every batch of an ordinary chain, by the page's words alone."""
    db = sqlite3.connect(path)
    found, before, last = [], bytes(32), 0
    for *row, stored in db.execute(
        "SELECT batch, last_seq, rows, began, anchored, ended, note, hash FROM chain"
    ):
        text = line("batch", tuple(row))
        for part, hold in (("begin", row[3]), ("anchor", row[4])):
            for values in db.execute(f"SELECT {PARTS[part]} FROM holds WHERE id = ?", (hold,)):
                text += line(part, values)
        inside = [
            (values[0], line(table, values))
            for table in ("samples", "events", "requests")
            for values in db.execute(f"SELECT * FROM {table} WHERE seq > ? AND seq <= ?", (last, row[1]))
        ]
        text += b"".join(one for _, one in sorted(inside))
        for values in db.execute(f"SELECT {PARTS['end']} FROM holds WHERE id = ?", (row[5],)):
            text += line("end", values)
        found.append((hashlib.sha256(before + text).digest(), stored))
        before, last = stored, row[1]
    db.close()
    return found


def test_an_outsider_gets_the_same_hashes_from_the_page_alone(path: Path) -> None:
    write_small(path)
    found = outsider(path)
    assert len(found) > 5
    assert all(computed == stored for computed, stored in found)
    head = Record(path).head()
    assert head is not None
    assert head.hash == found[-1][1]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.one_of(st.none(), st.integers(-(2**63), 2**63 - 1), st.text()), min_size=1))
def test_a_line_is_the_canonical_json_of_rfc_8785(values: list[Any]) -> None:
    # For integers, null and strings its rules are: no white space, shortest escapes, UTF-8.
    assert chain.line("samples", values) == line("samples", tuple(values))


def test_a_column_that_is_added_later_changes_no_hash() -> None:
    assert chain.line("samples", (1, None, 3)) == chain.line("samples", (1, None, 3, None, None))
    assert chain.line("samples", (1, None, 3)) != chain.line("samples", (1, 3))


@pytest.mark.parametrize("batch_ms", [5000, 10**9])
def test_a_batch_spans_at_most_5_s_however_rarely_is_committed(path: Path, batch_ms: int) -> None:
    # 10**9: one commit for the night, as where hours pass in seconds or come from memory
    with Store.open(path, batch_ms=batch_ms) as store:
        store.begin_hold(**HOLD)
        for row in night(600):
            store.sample(*row)
    db = sqlite3.connect(path)
    ends = [row[0] for row in db.execute("SELECT last_seq FROM chain ORDER BY batch")]
    spans = [
        db.execute(
            "SELECT max(hold_ms) - min(hold_ms) FROM samples WHERE seq > ? AND seq <= ?", pair
        ).fetchone()[0]
        for pair in zip([0, *ends], ends, strict=False)
    ]
    db.close()
    assert max(s for s in spans if s is not None) <= 5000
    assert 100 <= len(ends) <= 130


def test_the_head_counts_the_rows(path: Path) -> None:
    write_small(path)
    head = Record(path).head()
    assert head is not None
    db = sqlite3.connect(path)
    counts = [
        db.execute(f"SELECT count(*) FROM {t}").fetchone()[0]
        for t in ("holds", "samples", "events", "requests")
    ]
    db.close()
    assert head.rows == sum(counts)
