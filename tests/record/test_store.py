"""What is written comes back; what can't be written says so in one sentence."""

import os
import sqlite3
import stat
from itertools import pairwise
from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import (
    Decision,
    ForeignAck,
    Instant,
    LinkChange,
    NodeBoot,
    Notice,
    NoticeKind,
    Phase,
    ProbeFault,
    Reading,
    Request,
    RequestKind,
    Silence,
    State,
)
from holdctl.record import schema
from holdctl.record.query import Record
from holdctl.record.schema import FORMAT
from holdctl.record.store import DIED, Store

from .conftest import HOLD, START_UTC_MS, night


def at(ms: int) -> Instant:
    return Instant(ms, ms, START_UTC_MS + ms)


_ESTIMATED = ("wall_c", "paste_c", "coldest_c", "hottest_c", "mean_c", "wall_sd_k", "coldest_sd_k",
              "hottest_sd_k", "mean_sd_k")  # fmt: skip
IDLE = Decision(0, State.RUNNING, Phase.NONE, 0, None, None, 0.0, None, 0)


def test_every_reading_comes_back_bit_for_bit(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    rows = list(night(300, probes=4))
    for row in rows:
        store.sample(*row)
    store.flush()
    back = Record(path).samples(hold)
    assert [(r.at, r.reading) for r in back] == [(now, reading) for now, reading, _ in rows]


def test_decisions_come_back_to_the_scale_of_the_record(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    rows = list(night(100))
    for row in rows:
        store.sample(*row)
    store.flush()
    for (_, _, gave), back in zip(rows, Record(path).samples(hold), strict=True):
        got = back.decision
        assert (got.lease_ms, got.state, got.phase, got.step, got.credit_ms, got.setpoint_c) == (
            gave.lease_ms, gave.state, gave.phase, gave.step, gave.credit_ms, gave.setpoint_c)  # fmt: skip
        assert got.duty == round(gave.duty, 4)
        assert got.wall_setpoint_c == round(gave.wall_setpoint_c or 0, 2)
        for name in _ESTIMATED:
            assert getattr(got.estimate, name) == pytest.approx(getattr(gave.estimate, name), abs=0.00501)


@pytest.mark.parametrize("temps", [
    (ProbeFault.OPEN,), (64.99, ProbeFault.SHORT), (ProbeFault.RANGE, -0.05, ProbeFault.OPEN, 101.25), (),
])  # fmt: skip
def test_faults_and_missing_probes_come_back(
    store: Store, path: Path, temps: tuple[float | ProbeFault, ...]
) -> None:
    hold = store.begin_hold(**HOLD)
    reading = Reading(65535, 2**32 - 1, temps, 70_000, True, 5000, 65535, 65535, True, feedback=False)
    store.sample(at(0), reading, IDLE)
    store.sample(at(1000), Reading(0, 3, temps, 0, False, 0, 0, 0, False, feedback=True), IDLE)
    store.flush()
    back = Record(path).samples(hold)
    assert back[0].reading == reading
    assert back[1].reading.feedback is True
    assert back[1].reading.n == 0
    assert back[1].decision == IDLE


def test_a_number_that_is_none_is_never_stored(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    nan, inf = float("nan"), float("inf")
    decision = Decision(0, State.RUNNING, Phase.NONE, 0, nan, inf, nan, None, 0)
    store.sample(at(0), Reading(1, 1, (nan, inf, 20.0), 0, False, 0, 0, 0, False), decision)
    store.notice(at(0), Notice(NoticeKind.INFO, "x", "y", {"t": nan}))
    back = Record(path).samples(hold)[0]
    assert back.reading.temps == (ProbeFault.RANGE, ProbeFault.RANGE, 20.0)
    assert (back.decision.setpoint_c, back.decision.wall_setpoint_c, back.decision.duty) == (None, None, 0.0)
    assert Record(path).events(hold)[0].detail == {"t": None}


def test_inputs_are_replayed_in_order_with_the_leases(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    boot = NodeBoot("1.2", 2, 5000, (90.0, None), "power")
    inputs: list[tuple[Instant, object, int | None]] = []
    for k, (now, reading, decision) in enumerate(night(40)):
        store.sample(now, reading, decision)
        inputs.append((now, reading, decision.lease_ms))
        others = {3: Silence(), 5: LinkChange(False, "gone"), 8: boot, 9: ForeignAck(77)}
        if k in others:
            later = Instant(now.hold_ms + 7, now.host_ms + 5, now.utc_ms + 9)
            store.event(later, others[k])
            store.notice(later, Notice(NoticeKind.ALARM, "silent", "no reading"))
            inputs.append((later, others[k], None))
    store.end_hold(at(50_000), State.STOPPED)
    assert list(Record(path).replay(hold)) == inputs


def test_events_and_samples_share_one_rising_number(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    for row in night(5):
        store.sample(*row)
        store.event(row[0], Silence())
        store.notice(row[0], Notice(NoticeKind.INFO, "note", "words"))
    record = Record(path)
    seqs = sorted([r.seq for r in record.samples(hold)] + [r.seq for r in record.events(hold)])
    assert len(seqs) == 15
    assert all(b - a == 1 for a, b in pairwise(seqs))


def test_samples_reach_the_disk_within_the_batch_time(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    for k, (_, reading, decision) in enumerate(night(6)):
        store.sample(at(1000 * k), reading, decision)
        assert len(Record(path).samples(hold)) == (6 if k == 5 else 0)


def test_an_event_commits_the_samples_before_it(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    now, reading, decision = next(night(1))
    store.sample(now, reading, decision)
    assert Record(path).latest(hold) is None
    store.event(now, Silence())
    latest = Record(path).latest(hold)
    assert latest is not None
    assert latest.reading == reading


def test_a_hold_left_open_is_closed_as_aborted_and_says_so(path: Path) -> None:
    with Store.open(path) as dead:
        first = dead.begin_hold(**HOLD)
        for row in night(20):
            dead.sample(*row)
    with Store.open(path) as store:
        assert store.close_open_holds(START_UTC_MS + 10**7) == [first]
        assert store.close_open_holds(START_UTC_MS + 10**7) == []
        second = store.begin_hold(**HOLD)
        store.sample(*next(night(1)))
    record = Record(path)
    row = record.hold(first)
    last = record.samples(first)[-1]
    assert row.state is State.ABORTED
    assert (row.ended_hold_ms, row.ended_utc_ms) == (last.at.hold_ms, last.at.utc_ms)
    assert [(e.text, e.utc_ms) for e in record.events(first)] == [(DIED, START_UTC_MS + 10**7)]
    assert [len(record.samples(h)) for h in (first, second)] == [20, 1]


def test_beginning_a_hold_closes_what_was_left_open(path: Path) -> None:
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        store.begin_hold(**HOLD)
    assert [row.state for row in Record(path).holds()] == [State.ABORTED, None]


def test_a_latched_trip_outlives_its_hold_until_it_is_reset(path: Path) -> None:
    def trip(name: str, latched: bool) -> Notice:
        return Notice(NoticeKind.TRIP, name, "too hot", {"latched": latched})

    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        for notice in (trip("paste-high", True), trip("silence", False), trip("wall-high", True)):
            store.notice(at(1), notice)
        store.notice(at(2), Notice(NoticeKind.TRIP_CLEARED, "wall-high", "cooled"))
        store.end_hold(at(3), State.ABORTED)
        assert store.latched_trips() == ("paste-high", "wall-high")
    with Store.open(path) as store:
        store.begin_hold(**HOLD | {"latched": store.latched_trips()})
        store.event(at(1), Request(RequestKind.RESET, "baker", "wall-high"))
        assert store.latched_trips() == ("paste-high", "wall-high")
        store.notice(at(1), Notice(NoticeKind.RESET, "wall-high", "reset by baker"))
        assert store.latched_trips() == ("paste-high",)
    assert Record(path).hold().latched == ("paste-high", "wall-high")


def test_file_and_folders_are_the_owners_alone(store: Store, path: Path) -> None:
    store.begin_hold(**HOLD)
    modes = {p.name: stat.S_IMODE(p.stat().st_mode) for p in path.parent.iterdir()}
    assert modes == {
        "night.db": 0o600,
        "night.db-wal": 0o600,
        "night.db-shm": 0o600,
        "night.lock": 0o600,
        "night.latch": 0o600,
    }
    assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700


def test_the_file_says_what_it_is(store: Store, path: Path) -> None:
    store.begin_hold(**HOLD)
    store.close()
    assert path.read_bytes()[60:72] == FORMAT.to_bytes(4, "big") + bytes(4) + b"HOLD"
    with sqlite3.connect(path) as db:
        tables = db.execute("SELECT name FROM pragma_table_list WHERE schema = 'main' AND strict").fetchall()
        assert {name for (name,) in tables} == {"holds", "samples", "events", "requests", "chain"}
    db.close()


def test_a_second_writer_is_refused(store: Store, path: Path) -> None:
    with pytest.raises(StoreError, match="Another holdctl already writes"):
        Store.open(path)
    assert Record(path).writer_pid() == os.getpid()
    store.close()
    assert Record(path).writer_pid() is None


def test_foreign_newer_and_damaged_files_are_refused_each_with_its_sentence(path: Path) -> None:
    path.parent.mkdir()
    path.write_text("flour, water\n" * 50)
    for opener in (Store.open, Record):
        with pytest.raises(StoreError, match="is not a holdctl record"):
            opener(path)
    path.unlink()
    with sqlite3.connect(path) as db:
        db.execute("CREATE TABLE recipes (name)")
    db.close()
    for opener in (Store.open, Record):
        with pytest.raises(StoreError, match="is not a holdctl record"):
            opener(path)
    path.unlink()
    Store.open(path).close()
    with sqlite3.connect(path) as db:
        db.execute(f"PRAGMA user_version = {schema.FORMAT + 1}")
    db.close()
    for opener in (Store.open, Record):
        with pytest.raises(StoreError, match="written by a newer holdctl"):
            opener(path)


def test_a_damaged_record_is_refused_and_left_as_it_is(path: Path) -> None:
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        for row in night(2000):
            store.sample(*row)
    data = bytearray(path.read_bytes())
    for page in range(4096, len(data), 4096):
        data[page : page + 64] = b"\xa5" * 64
    path.write_bytes(data)
    with pytest.raises(StoreError, match="is damaged: move it aside"):
        Store.open(path)
    with pytest.raises(StoreError, match="is damaged: move it aside"):
        Record(path).samples(1)
    assert path.read_bytes() == bytes(data)


def test_a_missing_record_says_how_to_get_one(path: Path) -> None:
    with pytest.raises(StoreError, match=r"holdctl run.*--record"):
        Record(path)
    assert not path.exists()


def test_an_unknown_hold_names_the_known_ones(store: Store, path: Path) -> None:
    with pytest.raises(StoreError, match="no hold yet"):
        Record(path).hold()
    store.begin_hold(**HOLD)
    with pytest.raises(StoreError, match=r"no hold 7 .*it has holds 1 to 1"):
        Record(path).hold(7)


def test_a_folder_that_cannot_be_written_says_so() -> None:
    # /proc refuses new files to root as well
    with pytest.raises(StoreError, match=r"Can't write the record .*--record"):
        Store.open(Path("/proc/self/night.db"))


def test_a_folder_in_place_of_the_file_says_so(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="is not a file"):
        Store.open(tmp_path)
    (tmp_path / "file").touch()
    with pytest.raises(StoreError, match="lies in no folder"):
        Store.open(tmp_path / "file" / "night.db")


def test_a_file_left_empty_by_a_crash_is_made_new(path: Path) -> None:
    path.parent.mkdir()
    path.touch()
    with Store.open(path) as store:
        assert store.begin_hold(**HOLD) == 1


def test_readers_of_a_closed_record_need_no_writable_folder(path: Path) -> None:
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
    before = sorted(path.parent.iterdir())
    assert len(Record(path).holds()) == 1
    assert sorted(path.parent.iterdir()) == before


def test_views_give_units_and_utc(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    rows = list(night(50))
    for row in rows:
        store.sample(*row)
    store.event(rows[-1][0], Silence())
    columns = """hold, hold_s, utc, state, phase, probe1_c, probe2_c, probe3_c, wall_c, coldest_c, duty,
        n, up_ms, ack"""
    with sqlite3.connect(path) as db:
        got = db.execute(f"SELECT {columns} FROM samples_c ORDER BY seq").fetchall()
        event = db.execute("SELECT hold, utc, source, kind FROM events_utc").fetchone()
        started = db.execute("SELECT started_utc FROM holds_utc").fetchone()[0]
        assert db.execute("SELECT count(*) FROM requests_utc").fetchone() == (0,)
    db.close()
    assert started == "2025-10-09T08:53:20.123Z"
    assert event[0] == hold
    assert event[2:] == ("in", "silence")
    for row, sample in zip(got, Record(path).samples(hold), strict=True):
        r, d = sample.reading, sample.decision
        assert d.estimate is not None
        assert row[:2] == (hold, sample.at.hold_ms / 1000)
        assert row[3:] == (d.state, d.phase, *r.temps, None, d.estimate.wall_c, d.estimate.coldest_c, d.duty,
                           r.n, r.up_ms, r.ack)  # fmt: skip


def test_columns_agree_with_the_rows(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    for now, reading, decision in night(50):
        store.sample(now, reading, decision)
    store.sample(at(60_000), Reading(9, 9, (ProbeFault.OPEN, 61.0), 0, False, 0, 0, 0, False), IDLE)
    store.flush()
    columns, rows = Record(path).columns(hold), Record(path).samples(hold)
    assert columns.temps_c.shape == (51, 2)
    assert columns.temps_c[:50].tolist() == [list(r.reading.temps) for r in rows[:50]]
    assert columns.t_s.tolist() == [r.at.hold_ms / 1000 for r in rows]
    assert columns.up_ms.tolist() == [r.reading.up_ms for r in rows]
    assert columns.utc_s.tolist() == [r.at.utc_ms / 1000 for r in rows]
    assert columns.phase.tolist() == [r.decision.phase for r in rows]
    for name in _ESTIMATED:
        assert getattr(columns, name)[:50].tolist() == [getattr(r.decision.estimate, name) for r in rows[:50]]
    assert columns.faults[50].tolist() == [1, 0]
    assert columns.temps_c[50, 0] != columns.temps_c[50, 0]
    assert columns.coldest_c[50] != columns.coldest_c[50]
    assert columns.setpoint_c[50] != columns.setpoint_c[50]


def test_an_empty_hold_has_empty_columns(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    assert Record(path).columns(hold).t_s.size == 0
    assert Record(path).latest(hold) is None
