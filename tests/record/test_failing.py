"""A disk that fails during a hold: nothing escapes, one alarm for each cause, nothing lost that memory could keep."""

import errno
import shutil
import sqlite3
from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import Instant, Notice, NoticeKind, Silence, State
from holdctl.record import ring, trouble
from holdctl.record.query import Record
from holdctl.record.store import UNRECORDED, Store
from holdctl.record.verify import verify
from holdctl.record.writer import connect

from .conftest import HOLD, night
from .small import Plan, at, filed, named

ERRORS = (
    "SQLITE_IOERR_FSYNC",
    "SQLITE_FULL",
    "SQLITE_READONLY",
    "SQLITE_BUSY",
    "SQLITE_CORRUPT",
    "MemoryError",
)
ROWS = list(night(20))


def cycle(store: Store, news: list[Notice]) -> None:
    """Twenty seconds of a hold with everything that a loop does with its store; what the store says is recorded too."""
    for k, row in enumerate(ROWS):
        now = row[0]
        store.sample(*row)
        if k == 7:
            store.event(now, Silence())
        if k == 9:
            store.request(now, filed("malt in"))
        if k == 11:
            store.notice(now, Notice(NoticeKind.TRIP, "high-limit", "too hot", {"latched": True}))
        if k == 13:
            store.notice(now, Notice(NoticeKind.RESET, "high-limit", "reset"))
        if k % 9 == 0:
            store.flush()
        for notice in store.news():
            news.append(notice)
            store.notice(now, notice)


def run(path: Path, plan: Plan) -> tuple[int, list[Notice]]:
    """Play the cycle under a plan; return the calls that were made and what was said."""
    news: list[Notice] = []
    with Store.open(path, batch_ms=3000, make=plan.make) as store:
        store.begin_hold(**HOLD)
        plan.counting = True
        cycle(store, news)
        plan.counting = False
        store.end_hold(ROWS[-1][0], State.STOPPED)
        news += store.news()
    return plan.calls, news


def whole(path: Path) -> None:
    record = Record(path)
    assert verify(path).good
    assert [s.reading for s in record.samples(1)] == [reading for _, reading, _ in ROWS]
    kinds = [e.kind for e in record.events(1)]
    assert [kinds.count(kind) for kind in ("silence", "request", "trip", "reset")] == [1, 1, 1, 1]
    assert len(record.requests(1)) == 1
    assert record.hold(1).state is State.STOPPED


@pytest.mark.parametrize("after", [False, True], ids=["before", "after"])
@pytest.mark.parametrize("ever", [False, True], ids=["once", "for good"])
def test_any_call_that_fails_costs_nothing_but_one_alarm(path: Path, *, ever: bool, after: bool) -> None:
    # the disk is sound again when the hold ends
    calls, _ = run(path, Plan())
    whole(path)
    assert calls > 30
    for number in range(1, calls + 1, 2 if ever else 1):
        shutil.rmtree(path.parent)
        error = ERRORS[number % len(ERRORS)]
        run(path, Plan(number, error, ever=ever, after=after))
        whole(path)
        told = [(e.kind, e.name) for e in Record(path).events(1) if e.name in trouble.CAUSES]
        name = trouble.DISK_FULL if error == "SQLITE_FULL" else trouble.FAILING
        expected = [(NoticeKind.ALARM, name), (NoticeKind.ALARM_CLEARED, name)]
        assert told == expected, (number, error)


def test_a_call_that_fails_while_recovering_is_borne_as_well(path: Path) -> None:
    for number in range(1, 20):
        shutil.rmtree(path.parent, ignore_errors=True)
        plan = Plan(12, "SQLITE_FULL")
        original = plan.call

        def call(sql, act, plan=plan, number=number, original=original):  # type: ignore[no-untyped-def]
            if plan.counting and plan.calls == 12 + number:
                plan.calls += 1
                raise named("SQLITE_IOERR_FSYNC")
            return original(sql, act)

        plan.call = call  # type: ignore[method-assign]
        _, news = run(path, plan)
        whole(path)
        assert [n.name for n in news if n.kind is NoticeKind.ALARM].count(trouble.DISK_FULL) == 1


def test_a_start_with_a_record_that_cannot_be_written_is_refused(path: Path) -> None:
    plan = Plan(1, "SQLITE_FULL", ever=True)
    with pytest.raises(StoreError, match="is full"), Store.open(path, make=plan.make) as store:
        plan.counting = True
        store.begin_hold(**HOLD)


def test_an_end_that_cannot_be_written_says_so(path: Path) -> None:
    plan = Plan(1, "SQLITE_FULL", ever=True)
    store = Store.open(path, make=plan.make)
    store.begin_hold(**HOLD)
    plan.counting = True
    with pytest.raises(StoreError, match="is full"):
        store.end_hold(at(5), State.STOPPED)
    with pytest.raises(StoreError, match="is full"):
        store.close()


def test_a_full_disk_is_an_alarm_and_all_is_there_once_there_is_room(path: Path) -> None:
    pages = 0

    def make(file: Path) -> sqlite3.Connection:
        connection = connect(file)
        if pages:  # SQLite's own disk-full, without a disk of our own
            connection.execute(f"PRAGMA max_page_count = {pages}")
        return connection

    rows = list(night(900))
    with Store.open(path, make=make) as store:
        hold = store.begin_hold(**HOLD)
        pages = store._one("PRAGMA page_count") + 2
        store._keeper.writer.db.execute(f"PRAGMA max_page_count = {pages}")
        for row in rows[:600]:
            store.sample(*row)
        assert [(n.kind, n.name) for n in store.news()] == [(NoticeKind.ALARM, "disk-full")]
        assert 10 <= len(Record(path).samples(hold)) < 300
        assert verify(path).good
        pages = 0
        for row in rows[600:]:
            store.sample(*row)
        assert [(n.kind, n.name) for n in store.news()] == [(NoticeKind.ALARM_CLEARED, "disk-full")]
    assert [s.reading for s in Record(path).samples(hold)] == [reading for _, reading, _ in rows]
    assert verify(path).good


def test_a_commit_that_had_happened_after_all_is_not_repeated(path: Path) -> None:
    class Liar(Plan):
        def call(self, sql, act):  # type: ignore[no-untyped-def]
            done = act()
            if sql == "COMMIT" and self.counting:
                self.counting = False
                raise named("SQLITE_IOERR_FSYNC")
            return done

    plan = Liar()
    with Store.open(path, make=plan.make) as store:
        hold = store.begin_hold(**HOLD)
        plan.counting = True
        for row in ROWS:
            store.sample(*row)
    assert len(Record(path).samples(hold)) == len(ROWS)
    assert verify(path).good


def test_what_memory_cannot_keep_is_a_gap_with_its_length(path: Path) -> None:
    plan = Plan(1, "SQLITE_IOERR_WRITE", ever=True)
    with Store.open(path, make=plan.make) as store:
        hold = store.begin_hold(**HOLD)
        rows = list(night(300))
        store._ring._most_samples = 100
        for k, row in enumerate(rows):
            plan.counting = 20 <= k < 240
            store.sample(*row)
        store.end_hold(rows[-1][0], State.STOPPED)
    record = Record(path)
    seqs = [s.seq for s in record.samples(hold)]
    lost = sorted(set(range(seqs[0], seqs[-1] + 1)) - set(seqs))
    (gap,) = (e for e in record.events(hold) if e.name == UNRECORDED)
    assert gap.detail["readings"] == len(lost)
    assert gap.seq == lost[-1]
    assert 120 - 5 <= len(lost) <= 120 + 35  # the disk is found sound again up to 30 s late
    first, last = rows[lost[0] - seqs[0]][0], rows[lost[-1] - seqs[0]][0]
    assert (gap.detail["from_hold_ms"], gap.detail["to_hold_ms"]) == (first.hold_ms, last.hold_ms)
    assert (gap.hold_ms, gap.utc_ms) == (last.hold_ms, last.utc_ms)
    assert verify(path).good


def test_a_day_is_kept_in_memory_and_then_the_oldest_goes() -> None:
    assert ring.MOST_SAMPLES == 24 * 3600
    waiting = ring.Ring(most_samples=3, most_others=2)
    from holdctl.record import chain

    for seq in range(1, 6):
        waiting.sample(seq, chain.line("samples", (seq, 1000 * seq)))
    for seq in (6, 7, 8):
        waiting.other(seq, 2, chain.line("events", (seq, 1)))
    assert [entry[0] for entry in waiting.oldest(99)] == [3, 4, 5, 7, 8]
    assert waiting.gap == ring.Gap((1, 1000), (2, 2000), 2, 1)


def test_a_file_put_in_place_of_a_damaged_one_gets_the_hold_from_its_begin(path: Path) -> None:
    plan = Plan(1, "SQLITE_CORRUPT", ever=True)
    with Store.open(path, make=plan.make) as store:
        hold = store.begin_hold(**HOLD)
        for k, row in enumerate(ROWS):
            plan.counting = k == 10
            if k == 10:
                store.event(row[0], Silence())
                for left in path.parent.glob("night.db*"):
                    left.unlink()
            store.sample(*row)
        store.end_hold(ROWS[-1][0], State.STOPPED)
    record = Record(path)
    assert record.hold(hold).state is State.STOPPED
    assert len(record.samples(hold)) >= len(ROWS) - 11
    assert verify(path).good


def test_a_file_that_has_gone_back_behind_a_commit_says_how_much_is_gone(path: Path) -> None:
    # as after a failed flush on a disk that had confirmed what it had not written
    plan = Plan(1, "SQLITE_IOERR_FSYNC", ever=True)
    with Store.open(path, make=plan.make) as store:
        hold = store.begin_hold(**HOLD)
        for row in ROWS[:7]:
            store.sample(*row)
        store.flush()
        old = {p: p.read_bytes() for p in path.parent.glob("night.db*") if p.suffix != ".db-shm"}
        for row in ROWS[7:12]:
            store.sample(*row)
        store.flush()
        plan.counting = True
        store.event(ROWS[12][0], Silence())
        plan.counting = False
        for left in path.parent.glob("night.db*"):
            left.unlink()
        for file, data in old.items():
            file.write_bytes(data)
        for row in ROWS[13:]:
            store.sample(*row)
        news = store.news()
        assert [(n.name, dict(n.detail)) for n in news if n.kind is NoticeKind.INFO] == [
            ("record-lost", {"rows": 5})
        ]
    assert len(Record(path).samples(hold)) == len(ROWS) - 6
    assert verify(path).good


def test_a_hold_that_was_left_open_goes_on_in_the_same_chain(path: Path) -> None:
    with Store.open(path) as store:
        hold = store.begin_hold(**HOLD)
        for row in ROWS[:8]:
            store.sample(*row)
    row = Record(path).hold(hold)
    plan = Plan(1, "SQLITE_CORRUPT", ever=True)
    with Store.open(path, make=plan.make) as store:
        store.resume_hold(hold, row.anchor, sampled=True)
        for sample in ROWS[8:12]:
            store.sample(*sample)
        plan.counting = True
        store.event(ROWS[12][0], Silence())
        plan.counting = False
        for left in path.parent.glob("night.db*"):
            left.unlink()
        for sample in ROWS[12:]:
            store.sample(*sample)
        store.end_hold(ROWS[-1][0], State.STOPPED)
    # the new file has the hold's begin and anchor, so that its readings are what they were
    back = [s.reading for s in Record(path).samples(hold)]
    assert back == [reading for _, reading, _ in ROWS[8:]]
    assert verify(path).good


def test_the_latch_that_cannot_be_written_is_an_alarm_and_tried_again(store: Store, path: Path) -> None:
    store.begin_hold(**HOLD)
    put, broken = store._latch._put, True

    def sometimes(data: bytes) -> None:
        if broken:
            raise OSError(errno.EIO, "Input/output error")
        put(data)

    store._latch._put = sometimes  # type: ignore[method-assign]
    store.notice(at(1000), Notice(NoticeKind.TRIP, "high-limit", "too hot", {"latched": True}))
    assert [(n.kind, n.name) for n in store.news()] == [(NoticeKind.ALARM, "record-failing")]
    store.notice(at(5000), Notice(NoticeKind.INFO, "x", "y"))
    assert [e.name for e in Record(path).events(1)] == [
        "high-limit",
        "x",
    ]  # the record does not wait for the latch
    broken = False
    store.notice(at(10_000), Notice(NoticeKind.INFO, "x", "y"))
    assert [(n.kind, n.name) for n in store.news()] == [(NoticeKind.ALARM_CLEARED, "record-failing")]
    assert store._latch.names() == ("high-limit",)


def test_writing_is_tried_again_after_1_s_and_ever_more_rarely_up_to_30_s() -> None:
    standing = trouble.Trouble()
    error = sqlite3.OperationalError("disk I/O error")
    waits, now = [], 0
    for _ in range(7):
        standing.failed(error, StoreError("The disk failed."), now)
        start = now
        while not standing.due(now):
            now += 100
        waits.append((now - start) / 1000)
    assert waits == [1, 2, 4, 8, 16, 30, 30]
    assert len(standing.news()) == 1


@pytest.mark.parametrize(
    ("error", "full"),
    [(OSError(errno.ENOSPC, ""), True), (OSError(errno.EDQUOT, ""), True), (OSError(errno.EIO, ""), False),
     (named("SQLITE_FULL"), True), (named("SQLITE_IOERR"), False), (named("MemoryError"), False)],
)  # fmt: skip
def test_a_full_disk_is_told_apart_from_a_failing_one(error: Exception, *, full: bool) -> None:
    assert trouble.is_full(error) is full


def test_a_request_stays_in_the_spool_until_it_is_on_disk(path: Path, tmp_path: Path) -> None:
    from dataclasses import replace

    file = tmp_path / "taken.json"
    file.touch()
    plan = Plan(1, "SQLITE_FULL", ever=True)
    with Store.open(path, make=plan.make) as store:
        store.begin_hold(**HOLD)
        plan.counting = True
        store.request(at(1), replace(filed("stop"), path=file))
        assert file.exists()
        plan.counting = False
        store.event(Instant(9000, 9000, 9000), Silence())
        assert not file.exists()
