"""Rows that a failing disk had left in a file come back into a new record, in their place and with their values."""

from pathlib import Path
from typing import Any

import pytest

from holdctl.errors import StoreError
from holdctl.events import State
from holdctl.record import codec, ring
from holdctl.record.left import beside
from holdctl.record.query import Record
from holdctl.record.rejoin import read
from holdctl.record.salvage import SALVAGED, salvage
from holdctl.record.store import DIED, Store
from holdctl.record.verify import verify
from tests.daemon.rig import holdctl

from .conftest import HOLD, night
from .small import Plan

ROWS = list(night(40))
ON_DISK, FAILED = 12, 25


def dies(path: Path, written: int = ON_DISK) -> None:
    """Write some readings, then let the disk be full until the hold's end and after it."""
    plan = Plan(1, "SQLITE_FULL", ever=True)
    store = Store.open(path, make=plan.make)
    store.begin_hold(**HOLD)
    for row in ROWS[:written]:
        store.sample(*row)
    store.flush()
    plan.counting = True
    for row in ROWS[written:FAILED]:
        store.sample(*row)
    with pytest.raises(StoreError):
        store.end_hold(ROWS[FAILED - 1][0], State.STOPPED)
    with pytest.raises(StoreError):
        store.close()


def goes_on(path: Path) -> None:
    """A later start that takes the hold up again, as it knows of no end."""
    row = Record(path).hold()
    sampled = bool(Record(path).samples(1))
    with Store.open(path) as store:
        store.resume_hold(1, row.anchor, sampled=sampled)
        for sample in ROWS[FAILED:]:
            store.sample(*sample)
        store.end_hold(ROWS[-1][0], State.STOPPED)


def put_together(path: Path, name: str = "whole.db") -> tuple[Record, int]:
    done = salvage(path, path.with_name(name), beside(path))
    assert verify(done.path).good
    assert done.lost == []
    return Record(done.path), sum(done.rejoined.values())


def readings(record: Record, hold: int) -> list[Any]:
    return [(sample.at, sample.reading) for sample in record.samples(hold)]


def expected(rows: list[Any]) -> list[Any]:
    return [row[:2] for row in rows]


@pytest.mark.parametrize("written", [0, ON_DISK])
def test_all_that_was_left_is_in_the_new_record_with_its_end(path: Path, written: int) -> None:
    dies(path, written)
    before = path.read_bytes()
    record, put_in = put_together(path)
    assert readings(record, 1) == expected(ROWS[:FAILED])
    assert put_in >= FAILED - written
    assert record.hold(1).state is State.STOPPED
    assert path.read_bytes() == before
    (mark,) = [event for event in record.events(1) if event.name == SALVAGED]
    assert f"{put_in} of them are from a file that a failing disk had left" in mark.text


@pytest.mark.parametrize("written", [0, ON_DISK])
def test_rows_of_a_hold_that_went_on_under_the_same_numbers_follow_them(path: Path, written: int) -> None:
    dies(path, written)
    goes_on(path)
    record, _ = put_together(path)
    assert readings(record, 1) == expected(ROWS)
    assert [s.decision.lease_ms for s in record.samples(1)] == [row[2].lease_ms for row in ROWS]
    assert record.hold(1).state is State.STOPPED


def test_rows_of_a_later_hold_follow_them_and_are_the_same(path: Path) -> None:
    dies(path)
    with Store.open(path) as store:
        store.begin_hold(**{**HOLD, "started_utc_ms": HOLD["started_utc_ms"] + 10**8})
        for row in night(15, seed=3):
            store.sample(*row)
        store.end_hold(row[0], State.COMPLETE)
    was = Record(path)
    record, _ = put_together(path)
    assert readings(record, 1) == expected(ROWS[:FAILED])
    assert readings(record, 2) == readings(was, 2)
    assert [event.text for event in record.events(1)].count(DIED) == 1
    assert record.hold(1).state is State.ABORTED, "what the record itself says stays"
    assert [hold.state for hold in record.holds()] == [hold.state for hold in was.holds()]


def test_rows_that_are_in_the_record_already_are_not_put_in_twice(path: Path) -> None:
    dies(path)
    first, put_in = put_together(path)
    assert put_in > 0
    again = salvage(first.path, path.with_name("again.db"), beside(path))
    assert set(again.rejoined.values()) == {0}
    assert readings(Record(again.path), 1) == expected(ROWS[:FAILED])


def test_a_file_of_another_record_or_of_no_record_is_refused(path: Path, tmp_path: Path) -> None:
    dies(path)
    (file,) = beside(path)
    other = tmp_path / "other.db"
    with Store.open(other) as store:
        store.begin_hold(**{**HOLD, "started_utc_ms": 5})
    begin = ring.values(file.read_bytes().splitlines()[0])
    assert begin[0] != "begin"
    told = tmp_path / "told.jsonl"
    told.write_text('["begin",1,1,77,"w","p","host",0,"0","b","[]","{}"]\n')
    with pytest.raises(StoreError, match="belongs to another hold 1"):
        salvage(other, tmp_path / "new.db", [told])
    for words in ("flour, water\n", '["samples"]\n', '["loaves",1,2]\n', "7\n"):
        told.write_text(words)
        with pytest.raises(StoreError, match="holds no rows of a record"):
            read(told)
    with pytest.raises(StoreError, match="can't be read"):
        read(tmp_path / "none.jsonl")
    assert not (tmp_path / "new.db").exists()


def test_a_hold_that_the_record_never_knew_comes_from_the_file_alone(path: Path, tmp_path: Path) -> None:
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        for row in ROWS[:5]:
            store.sample(*row)
        store.end_hold(row[0], State.STOPPED)
    told = tmp_path / "told.jsonl"
    told.write_text(
        '["begin",2,7,1760000000123,"oven","p","host",0,"0","b","[]","{}"]\n'
        '["events",7,2,0,0,1760000000123,"out","info","told","words","{}"]\n'
        '["end",2,1760000001123,1000,"complete",7]\n'
    )
    done = salvage(path, tmp_path / "new.db", [told])
    assert done.made_up_holds == ()
    second = Record(done.path).hold(2)
    assert (second.warmer, second.state) == ("oven", State.COMPLETE)
    assert next(event.name for event in Record(done.path).events(2)) == "told"
    assert verify(done.path).good


def test_verify_names_the_file_beside_a_record_and_salvage_takes_it_by_itself(path: Path) -> None:
    dies(path)
    count = read(beside(path)[0]).count
    assert count >= FAILED - ON_DISK
    said = holdctl("verify", "--record", str(path))
    assert f"{beside(path)[0]} holds {count} rows that could not be written" in " ".join(said.stdout.split())
    assert "holdctl salvage" in said.stdout
    done = holdctl("salvage", str(path), "--to", str(path.with_name("new.db")))
    assert f"{count} rows of {beside(path)[0]} were put in." in done.stdout
    assert len(Record(path.with_name("new.db")).samples(1)) == FAILED


@pytest.mark.parametrize("bits", [1 << 18, 1 << 30, 1 << 62, -1 << 63, 12])
def test_flags_that_no_row_has_are_found_where_the_row_is_read(path: Path, bits: int) -> None:
    _changed(path, f"flags | {bits}")
    for use in (lambda r: r.samples(1), lambda r: r.columns(1), lambda r: r.latest(1)):
        with pytest.raises(StoreError, match="is damaged"):
            use(Record(path))


def test_a_fault_beside_a_value_is_found_and_what_is_possible_only_by_verify(path: Path) -> None:
    _changed(path, f"flags | {1 << codec.FAULT_SHIFT}")
    for use in (lambda r: r.samples(1), lambda r: r.columns(1)):
        with pytest.raises(StoreError, match="is damaged"):
            use(Record(path))
    _changed(path, f"flags & ~{1 << codec.FAULT_SHIFT} | 2")
    assert Record(path).latest(1).reading.cut  # type: ignore[union-attr]
    assert not verify(path).good


def _changed(path: Path, flags: str) -> None:
    import sqlite3
    from contextlib import closing

    if not path.exists():
        with Store.open(path) as store:
            store.begin_hold(**HOLD)
            for row in ROWS[:5]:
                store.sample(*row)
    with closing(sqlite3.connect(path)) as db, db:
        db.execute(f"UPDATE samples SET flags = {flags} WHERE seq = 5")
