"""Of a damaged record everything is saved but the rows on damaged pages; the damaged file is not touched."""

import hashlib
import random
import sqlite3
from pathlib import Path

import pytest

from holdctl.errors import ConfigError, StoreError
from holdctl.events import Notice, NoticeKind, State
from holdctl.record import pages
from holdctl.record.query import Record
from holdctl.record.salvage import SALVAGED, salvage
from holdctl.record.store import Store
from holdctl.record.verify import verify

from .conftest import HOLD, night
from .small import rows_of, write_small

PAGE = 4096
PER_PAGE = 80
"""No page of samples holds more: a row is 50 bytes at the least."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("whole") / "night.db"
    with Store.open(path, batch_ms=10**9) as store:
        store.begin_hold(**HOLD)
        for k, row in enumerate(night(9000)):
            store.sample(*row)
            if k % 300 == 0:
                store.notice(row[0], Notice(NoticeKind.INFO, "told", "words " * 20))
        store.end_hold(row[0], State.STOPPED)
    return path


def kinds(data: bytes) -> dict[int, int]:
    """Return the first byte of each page, which says what it is."""
    return {k: data[k * PAGE + (100 if k == 0 else 0)] for k in range(len(data) // PAGE)}


def damage(data: bytes, hit: list[int], rng: random.Random) -> bytes:
    out = bytearray(data)
    for page in hit:
        out[page * PAGE : (page + 1) * PAGE] = rng.randbytes(PAGE)
    return bytes(out)


@pytest.mark.parametrize("seed", range(4))
def test_random_pages_overwritten_cost_their_own_rows_only(whole: Path, tmp_path: Path, seed: int) -> None:
    rng = random.Random(seed)
    data, before = whole.read_bytes(), rows_of(whole)
    hit = rng.sample(range(len(data) // PAGE), 6)
    leaves = [page for page in hit if kinds(data)[page] == pages.LEAF]
    bad, saved = tmp_path / "bad.db", tmp_path / "saved.db"
    bad.write_bytes(damage(data, hit, rng))
    mark = hashlib.sha256(bad.read_bytes()).digest()
    done = salvage(bad, saved)
    assert hashlib.sha256(bad.read_bytes()).digest() == mark
    assert {p.name for p in tmp_path.glob("*.db*")} == {"bad.db", "saved.db"}
    after = rows_of(saved)
    lost = {name: set(before[name]) - set(after[name]) for name in ("samples", "events", "requests")}
    assert len(lost["samples"]) + len(lost["events"]) <= PER_PAGE * len(leaves)
    assert set(after["samples"]) <= set(before["samples"])
    extra = [row for row in after["events"] if row not in before["events"]]
    assert [row[7] for row in extra] == [SALVAGED]
    missing = {seq for a, b in done.lost for seq in range(a, b + 1)}
    assert {row[0] for rows in lost.values() for row in rows} == missing
    assert done.rows["samples"] == len(after["samples"])
    assert verify(saved).good
    assert done.head == verify(saved).head


def test_without_a_single_inner_page_nothing_at_all_is_lost(whole: Path, tmp_path: Path) -> None:
    # the file's header, the list of its tables, all indexes and all pages that lead to others
    data, before = whole.read_bytes(), rows_of(whole)
    hit = [page for page, kind in kinds(data).items() if kind != pages.LEAF or page == 0]
    assert len(hit) >= 5
    (tmp_path / "bad.db").write_bytes(damage(data, hit, random.Random(1)))
    done = salvage(tmp_path / "bad.db", tmp_path / "saved.db")
    after = rows_of(tmp_path / "saved.db")
    assert after["samples"] == before["samples"]
    assert after["holds"] == before["holds"]
    assert after["events"][:-1] == before["events"]
    assert done.lost == []
    assert done.proven == len(before["samples"]) + len(before["events"])
    assert done.old_head == Record(whole).head().hex  # type: ignore[union-attr]


def test_the_new_record_says_what_it_is_and_what_its_head_was(whole: Path, tmp_path: Path) -> None:
    done = salvage(whole, tmp_path / "saved.db")
    note = verify(tmp_path / "saved.db").notes[0]
    assert note.startswith("salvaged from night.db")
    assert done.old_head in note
    event = Record(tmp_path / "saved.db").events(1)[-1]
    assert (event.name, event.source) == (SALVAGED, "out")
    assert "salvaged from night.db" in event.text
    with Store.open(tmp_path / "saved.db") as store:
        store.begin_hold(**HOLD)
        for row in night(20):
            store.sample(*row)
    assert verify(tmp_path / "saved.db").good


def test_what_only_the_log_holds_is_saved_too(path: Path, tmp_path: Path) -> None:
    with Store.open(path) as store:
        hold = store.begin_hold(**HOLD)
        for row in night(100):
            store.sample(*row)
        store.flush()
        data = path.read_bytes(), path.with_name("night.db-wal").read_bytes()
    bad = tmp_path / "bad.db"
    for damaged, most in ((None, 0), (40_000, 8)):  # whole, and with one frame of the log overwritten
        log = bytearray(data[1])
        if damaged:
            log[damaged : damaged + PAGE] = bytes(PAGE)
        bad.write_bytes(data[0])
        bad.with_name("bad.db-wal").write_bytes(log)
        saved = tmp_path / f"saved-{damaged}.db"
        salvage(bad, saved)
        assert 100 - most <= len(Record(saved).samples(hold)) <= 100
        assert verify(saved).good
        assert bad.with_name("bad.db-wal").read_bytes() == bytes(log)


def test_a_frame_that_was_never_committed_is_not_taken(path: Path, tmp_path: Path) -> None:
    with Store.open(path) as store:
        hold = store.begin_hold(**HOLD)
        for row in night(100):
            store.sample(*row)
        store.flush()
        log = bytearray(path.with_name("night.db-wal").read_bytes())
        data = path.read_bytes()
    at = [k for k in range(32, len(log), PAGE + 24) if log[k + 4 : k + 8] != bytes(4)]
    bad = tmp_path / "bad.db"
    bad.write_bytes(data)
    bad.with_name("bad.db-wal").write_bytes(log[: at[-1]])  # the last commit's own frame is gone
    salvage(bad, tmp_path / "saved.db")
    with sqlite3.connect(f"file:{bad}", uri=True) as db:
        there = db.execute("SELECT count(*) FROM samples").fetchone()[0]
    db.close()
    assert len(Record(tmp_path / "saved.db").samples(hold)) == there < 100


def test_a_hold_whose_own_row_is_lost_is_made_up_from_its_events(path: Path, tmp_path: Path) -> None:
    write_small(path)
    with sqlite3.connect(path) as db:
        root = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'holds'").fetchone()[0]
    db.close()
    bad = tmp_path / "bad.db"
    bad.write_bytes(damage(path.read_bytes(), [root - 1], random.Random(2)))
    done = salvage(bad, tmp_path / "saved.db")
    assert done.made_up_holds == (1, 2)
    record = Record(tmp_path / "saved.db")
    assert [hold.warmer for hold in record.holds()] == ["unknown", "unknown"]
    assert len(record.events(1)) + len(record.events(2)) == len(rows_of(path)["events"]) + 1
    assert verify(record.path).good


def test_flipped_bits_never_end_in_anything_but_a_record_or_a_sentence(path: Path, tmp_path: Path) -> None:
    write_small(path)
    whole = path.read_bytes()
    rng = random.Random(3)
    for number in range(30):
        data = bytearray(whole)
        for _ in range(rng.choice((1, 5, 200))):
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        bad, saved = tmp_path / "bad.db", tmp_path / f"{number}.db"
        bad.write_bytes(data)
        try:
            done = salvage(bad, saved)
        except StoreError:
            assert not saved.exists()
            continue
        assert verify(saved).good
        assert done.proven <= sum(done.rows.values())
        Record(saved).holds()


def test_a_file_that_is_no_record_or_is_in_the_way_is_refused(whole: Path, tmp_path: Path) -> None:
    other = tmp_path / "other.db"
    for content in (b"", b"flour, water\n" * 1000):
        other.write_bytes(content)
        with pytest.raises(StoreError, match="Nothing of a holdctl record"):
            salvage(other, tmp_path / "saved.db")
        assert not (tmp_path / "saved.db").exists()
    with pytest.raises(ConfigError, match="is there already"):
        salvage(whole, other)
    with pytest.raises(StoreError, match="can't be read"):
        salvage(tmp_path / "none.db", tmp_path / "saved.db")


def test_an_older_record_is_salvaged_into_todays_format(path: Path, tmp_path: Path) -> None:
    path.parent.mkdir()
    with sqlite3.connect(path) as db:
        db.executescript(Path(__file__).with_name("format-1.sql").read_text())
    db.close()
    done = salvage(path, tmp_path / "saved.db")
    assert done.rows["samples"] == 12
    assert Record(tmp_path / "saved.db").samples(1) == Record(path).samples(1)
