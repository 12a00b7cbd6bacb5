"""Verify finds any row changed, removed, added or put in another's place, and a cut tail by a noted head."""

import random
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from holdctl.errors import StoreError
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.record.verify import verify

from .conftest import HOLD, night
from .small import TABLES, rows_of, tiny_pages, write_small


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("whole") / "small.db"
    write_small(path)
    return path


@pytest.fixture
def db(whole: Path, path: Path) -> Iterator[sqlite3.Connection]:
    path.parent.mkdir(exist_ok=True)
    shutil.copy(whole, path)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("PRAGMA synchronous = OFF")
    connection.execute("PRAGMA ignore_check_constraints = ON")
    yield connection
    connection.close()


def columns(db: sqlite3.Connection, table: str) -> list[tuple[str, str]]:
    return [(name, kind) for _, name, kind, *_ in db.execute(f"PRAGMA table_info({table})")]


def other(value: Any, kind: str) -> Any:
    """Return a value of the column's type that differs as little as it can."""
    if kind == "BLOB":
        return bytes([value[0] ^ 1, *value[1:]])
    if kind == "TEXT":
        return (value or "") + " "
    return (value or 0) + 1


def test_a_record_that_was_left_alone_holds(whole: Path) -> None:
    verdict = verify(whole)
    assert verdict.good
    assert verdict.rows == sum(len(rows) for name, rows in rows_of(whole).items() if name != "chain")
    head = Record(whole).head()
    assert head is not None
    assert (verdict.head, verdict.rows, verdict.broken) == (head.hex, head.rows, 0)


@pytest.mark.parametrize("table", TABLES)
def test_any_value_that_is_changed_is_found(db: sqlite3.Connection, path: Path, table: str) -> None:
    key = columns(db, table)[0][0]
    done = 0
    for row in db.execute(f"SELECT * FROM {table}").fetchall():
        for (name, kind), value in zip(columns(db, table)[1:], row[1:], strict=True):
            db.execute(f"UPDATE {table} SET {name} = ? WHERE {key} = ?", (other(value, kind), row[0]))
            assert not verify(path).good, (table, row[0], name)
            db.execute(f"UPDATE {table} SET {name} = ? WHERE {key} = ?", (value, row[0]))
            done += 1
    assert verify(path).good
    assert done >= 18


@pytest.mark.parametrize("table", TABLES)
def test_any_row_that_is_removed_or_doubled_is_found(db: sqlite3.Connection, path: Path, table: str) -> None:
    names = [name for name, _ in columns(db, table)]
    put = f"INSERT INTO {table} VALUES ({', '.join('?' * len(names))})"
    for row in db.execute(f"SELECT * FROM {table}").fetchall():
        db.execute(f"DELETE FROM {table} WHERE {names[0]} = ?", (row[0],))
        assert not verify(path).good, (table, row[0])
        db.execute(put, row)
        for place in (-3, 0, 1_000_000):
            db.execute(put, (place, *row[1:]))
            assert not verify(path).good, (table, row[0], place)
            db.execute(f"DELETE FROM {table} WHERE {names[0]} = ?", (place,))
    assert verify(path).good


@pytest.mark.parametrize("table", TABLES)
def test_any_two_rows_that_change_places_are_found(db: sqlite3.Connection, path: Path, table: str) -> None:
    names = [name for name, _ in columns(db, table)]
    sql = f"UPDATE {table} SET {', '.join(f'{name} = ?' for name in names[1:])} WHERE {names[0]} = ?"
    rows = db.execute(f"SELECT * FROM {table}").fetchall()
    rng = random.Random(1)
    for a, b in (rng.sample(rows, 2) for _ in range(40)):
        if a[1:] == b[1:]:
            continue
        db.executemany(sql, [(*a[1:], b[0]), (*b[1:], a[0])])
        assert not verify(path).good
        db.executemany(sql, [(*a[1:], a[0]), (*b[1:], b[0])])
    assert verify(path).good


def test_the_fault_is_named_with_its_hold_and_5_s(path: Path) -> None:
    with Store.open(path) as store:
        hold = store.begin_hold(**HOLD)
        for row in night(300):
            store.sample(*row)
    with sqlite3.connect(path) as db:
        hold_ms = db.execute("SELECT hold_ms FROM samples WHERE seq = 200").fetchone()[0]
        db.execute("UPDATE samples SET t1 = t1 + 1 WHERE seq = 200")
    db.close()
    verdict = verify(path)
    fault = verdict.fault
    assert fault is not None
    assert verdict.broken == 1
    assert fault.hold == hold
    assert fault.first_seq is not None
    assert fault.last_seq is not None
    assert fault.first_seq <= 200 <= fault.last_seq
    assert fault.from_hold_ms is not None
    assert fault.to_hold_ms is not None
    assert fault.from_hold_ms <= hold_ms <= fault.to_hold_ms
    assert fault.to_hold_ms - fault.from_hold_ms <= 5000
    with sqlite3.connect(path) as db:
        db.execute("UPDATE samples SET t1 = t1 - 1 WHERE seq = 200")
        db.execute("DELETE FROM samples WHERE seq = 100")
    db.close()
    fault = verify(path).fault
    assert fault is not None
    assert fault.text.endswith("1 of 6 rows are missing (100)")


def test_a_view_or_trigger_that_shows_something_else_is_found(db: sqlite3.Connection, path: Path) -> None:
    db.execute("CREATE TRIGGER warm AFTER INSERT ON samples BEGIN UPDATE samples SET t1 = 6500; END")
    fault = verify(path).fault
    assert fault is not None
    assert "warm" in fault.text
    db.execute("DROP TRIGGER warm")
    db.execute("DROP VIEW samples_c")
    db.execute("CREATE VIEW samples_c AS SELECT 65.0 AS probe1_c")
    fault = verify(path).fault
    assert fault is not None
    assert "samples_c" in fault.text


def test_a_cut_tail_is_found_against_a_noted_head_alone(db: sqlite3.Connection, path: Path) -> None:
    noted = verify(path)
    db.execute("DELETE FROM chain WHERE batch = (SELECT max(batch) FROM chain)")
    last = db.execute("SELECT max(last_seq) FROM chain").fetchone()[0]
    for table in ("samples", "events", "requests"):
        db.execute(f"DELETE FROM {table} WHERE seq > ?", (last,))
    assert verify(path).good  # what a bare chain can't show
    fault = verify(path, noted.head, noted.rows).fault
    assert fault is not None
    assert "cut short" in fault.text


def test_a_head_noted_earlier_still_holds_later_and_with_its_own_rows_only(path: Path) -> None:
    write_small(path)
    noted = verify(path)
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        for row in night(50):
            store.sample(*row)
    assert verify(path, noted.head, noted.rows).good
    assert verify(path, noted.head[:16].upper(), noted.rows).good
    assert not verify(path, noted.head, noted.rows + 1).good
    assert not verify(path, "0" * 64, noted.rows).good


def test_a_record_that_is_being_written_can_be_verified(store: Store, path: Path) -> None:
    store.begin_hold(**HOLD)
    for k, row in enumerate(night(60)):
        store.sample(*row)
        if k % 20 == 19:
            assert verify(path).good
    assert verify(path).rows > 50


def test_a_record_without_a_chain_says_what_gives_it_one(path: Path) -> None:
    path.parent.mkdir()
    with sqlite3.connect(path) as db:
        db.executescript(Path(__file__).with_name("format-1.sql").read_text())
    db.close()
    with pytest.raises(StoreError, match=r"older format.*holdctl run"):
        verify(path)
    assert Record(path).head() is None


def flips(whole: bytes, path: Path, positions: list[int]) -> tuple[int, int, int]:
    """Flip one bit of each of these bytes; return how often it was found, harmless, and neither."""
    rng = random.Random(4)
    path.write_bytes(whole)
    before = rows_of(path)
    found = harmless = 0
    missed = []
    with path.open("r+b", buffering=0) as file:
        for position in positions:
            flipped = whole[position] ^ 1 << rng.randrange(8)
            file.seek(position)
            file.write(bytes([flipped]))
            try:
                good = verify(path).good
            except StoreError:
                good = False
            if not good:
                found += 1
            elif rows_of(path) == before:
                harmless += 1
            else:
                missed.append(position)
            file.seek(position)
            file.write(whole[position : position + 1])
    print(f"{len(positions)} bits flipped: {found / len(positions):.1%} found, {harmless / len(positions):.1%} changed "
          f"no row, {len(missed)} missed {missed[:5]}")  # fmt: skip
    return found, harmless, len(missed)


@pytest.mark.parametrize(
    "every",
    [
        pytest.param(41, id="some"),
        pytest.param(1, id="all", marks=[pytest.mark.soak, pytest.mark.timeout(3600)]),
    ],
)
def test_a_flipped_bit_is_found_or_changes_no_row(path: Path, every: int) -> None:
    write_small(path, make=tiny_pages)
    whole = path.read_bytes()
    found, harmless, missed = flips(whole, path, list(range(every // 2, len(whole), every)))
    assert missed == 0
    assert found > harmless
