"""A backup of a live record is whole, checked and private; it never takes another file's place."""

import sqlite3
import stat
from pathlib import Path

import pytest

from holdctl.errors import ConfigError, StoreError
from holdctl.record.backup import backup
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.record.verify import verify

from .conftest import HOLD, night
from .small import rows_of, write_small


def test_a_live_record_is_copied_with_what_is_still_in_its_log(
    store: Store, path: Path, tmp_path: Path
) -> None:
    hold = store.begin_hold(**HOLD)
    for row in night(60):
        store.sample(*row)
    store.flush()
    target = tmp_path / "copy.db"
    made = backup(path, target)
    assert made.verdict is not None
    assert made.verdict.good
    head = Record(path).head()
    assert head is not None
    assert (made.verdict.head, made.verdict.rows) == (head.hex, head.rows)
    assert len(Record(target).samples(hold)) == 60
    assert stat.S_IMODE(target.stat().st_mode) == 0o600
    assert {p.name for p in tmp_path.glob("copy.db*")} == {"copy.db"}
    for row in list(night(70))[60:]:
        store.sample(*row)  # the writer was not held up, nor is the copy changed
    store.flush()
    assert verify(target).head == made.verdict.head


def test_a_file_that_is_there_is_never_overwritten(path: Path, tmp_path: Path) -> None:
    write_small(path)
    target = tmp_path / "copy.db"
    target.write_text("precious")
    with pytest.raises(ConfigError, match="is there already"):
        backup(path, target)
    assert target.read_text() == "precious"


def test_a_place_that_cannot_be_written_says_so(path: Path, tmp_path: Path) -> None:
    write_small(path)
    with pytest.raises(ConfigError, match="can't be written"):
        backup(path, tmp_path / "nowhere" / "copy.db")


def test_a_backup_of_what_does_not_hold_says_so_and_is_kept(path: Path, tmp_path: Path) -> None:
    write_small(path)
    with sqlite3.connect(path) as db:
        db.execute("UPDATE samples SET t1 = 1 WHERE seq = (SELECT min(seq) FROM samples)")
    db.close()
    made = backup(path, tmp_path / "copy.db")
    assert made.verdict is not None
    assert not made.verdict.good
    assert rows_of(tmp_path / "copy.db") == rows_of(path)


def test_a_damaged_record_leaves_no_backup_that_looks_like_one(path: Path, tmp_path: Path) -> None:
    write_small(path)
    data = bytearray(path.read_bytes())
    data[4096 * 2 : 4096 * 3] = b"\xa5" * 4096
    path.write_bytes(data)
    with pytest.raises(StoreError):
        backup(path, tmp_path / "copy.db")
    assert list(tmp_path.glob("copy.db*")) == []


def test_an_older_record_is_copied_without_a_verdict(path: Path, tmp_path: Path) -> None:
    path.parent.mkdir()
    with sqlite3.connect(path) as db:
        db.executescript(Path(__file__).with_name("format-1.sql").read_text())
    db.close()
    made = backup(path, tmp_path / "copy.db")
    assert made.verdict is None
    assert len(Record(tmp_path / "copy.db").samples(1)) == 12
