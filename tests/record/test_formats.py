"""A record of an older format is read as it is, and brought to today's by the writer, without loss."""

import hashlib
import sqlite3
from pathlib import Path

import msgspec
import pytest

from holdctl.events import Decision, Estimate, Identified, Instant, NodeBoot, Phase, Reading, State
from holdctl.record import schema
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.record.verify import verify

from .conftest import HOLD, START_UTC_MS, night

FORMAT_1 = Path(__file__).with_name("format-1.sql")
"""Dump of a record that a holdctl of format 1 wrote: 12 samples, a boot, a note."""
DEVIATIONS = ("wall_sd_k", "coldest_sd_k", "hottest_sd_k", "mean_sd_k")


@pytest.fixture
def old(path: Path) -> Path:
    path.parent.mkdir()
    with sqlite3.connect(path) as db:
        db.executescript(FORMAT_1.read_text())
    db.close()
    return path


def table(path: Path, sql: str) -> list[tuple[object, ...]]:
    with sqlite3.connect(path) as db:
        rows = db.execute(sql).fetchall()
    db.close()
    return rows


def same_night(record: Record) -> None:
    """Check that the record gives back what was written into the older one."""
    back = record.samples(1)
    assert [(r.at, r.reading) for r in back] == [(now, reading) for now, reading, _ in night(12)]
    for (_, _, gave), row in zip(night(12), back, strict=True):
        assert row.decision.estimate is not None
        assert gave.estimate is not None
        assert row.decision.estimate.coldest_c == pytest.approx(gave.estimate.coldest_c, abs=0.00501)
        assert [getattr(row.decision.estimate, name) for name in DEVIATIONS] == [0.0] * 4
    assert NodeBoot("1.2", 2, 5000, (90.0, None), "power") in [event for _, event, _ in record.replay(1)]


def test_a_record_of_format_1_is_read_as_it_is_and_left_so(old: Path) -> None:
    before = hashlib.sha256(old.read_bytes()).hexdigest()
    record = Record(old)
    same_night(record)
    columns = record.columns(1)
    assert columns.coldest_c.size == 12
    assert columns.coldest_sd_k.tolist() != columns.coldest_sd_k.tolist()  # NaN: none was given
    latest = record.latest(1)
    assert latest is not None
    assert latest.reading == list(night(12))[-1][1]
    assert hashlib.sha256(old.read_bytes()).hexdigest() == before


def test_the_writer_brings_a_record_of_format_1_to_todays_and_goes_on_in_it(old: Path) -> None:
    packed = "SELECT seq, hold_ms, t1, t2, flags, coldest_off, credit_ms FROM samples ORDER BY seq"
    before = table(old, packed)
    with Store.open(old) as store:
        second = store.begin_hold(**HOLD)
        store.sample(*_certain(0.31))
    assert table(old, "PRAGMA user_version") == [(schema.FORMAT,)] == [(4,)]
    assert table(old, packed)[:12] == before
    record = Record(old)
    same_night(record)
    estimate = record.samples(second)[0].decision.estimate
    assert estimate is not None
    assert [getattr(estimate, name) for name in DEVIATIONS] == [0.31, 0.62, 0.93, 0.01]
    view = f"SELECT {', '.join(DEVIATIONS)} FROM samples_c ORDER BY seq"
    assert table(old, view) == [(None,) * 4] * 12 + [(0.31, 0.62, 0.93, 0.01)]


def test_a_reader_that_was_there_first_goes_on_after_the_migration(old: Path) -> None:
    record = Record(old)
    same_night(record)
    Store.open(old).close()
    same_night(record)


def test_a_migrated_record_has_the_same_tables_and_views_as_a_new_one(old: Path, tmp_path: Path) -> None:
    Store.open(old).close()
    Store.open(tmp_path / "new.db").close()
    for name in ("samples", "events", "requests", "holds", "chain", "samples_c", "events_utc", "holds_utc"):
        sql = f"SELECT name, type, \"notnull\" FROM pragma_table_info('{name}')"
        assert table(old, sql) == table(tmp_path / "new.db", sql)


def test_rows_older_than_the_chain_are_hashed_as_taken_over(old: Path) -> None:
    older = sum(
        table(old, f"SELECT count(*) FROM {t}")[0][0] for t in ("holds", "samples", "events", "requests")
    )
    with Store.open(old) as store:
        store.begin_hold(**HOLD)
        store.sample(*_certain(0.31))
    first, *others = table(old, "SELECT batch, rows, note FROM chain ORDER BY batch")
    assert first == (1, older, "taken over from an older format")
    assert others
    assert all(note is None for _, _, note in others)
    verdict = verify(old)
    assert verdict.good
    assert verdict.notes == ("taken over from an older format",)
    with sqlite3.connect(old) as db:
        db.execute("UPDATE samples SET t1 = t1 + 1 WHERE seq = 4")
    db.close()
    fault = verify(old).fault
    assert fault is not None
    assert fault.batch == 1
    assert "taken over" in fault.text


def test_what_is_no_deviation_is_stored_as_none(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    for sd in (0.0, -1.0, float("nan"), float("inf")):
        store.sample(*_certain(sd))
    store.flush()
    for row in Record(path).samples(hold):
        assert row.decision.estimate is not None
        assert row.decision.estimate.wall_sd_k == 0.0
        assert row.decision.estimate.coldest_c == 64.2
    assert table(path, "SELECT DISTINCT sds FROM samples") == [(None,)]


@pytest.mark.parametrize(
    "sds",
    [(0.01, 0.5, 1.27, 1.0), (1.28, 0.0, 0.02, 0.3), (20.46, 20.47, 0.01, 7.89), (0.0, 0.0, 0.0, 1.27)],
)
def test_deviations_come_back_alike_from_row_column_and_view(
    store: Store, path: Path, sds: tuple[float, ...]
) -> None:
    hold = store.begin_hold(**HOLD)
    at, reading, decision = _certain(0.0)
    estimate = Estimate(66.0, 65.0, 64.2, 65.9, 65.1, *sds)
    store.sample(at, reading, msgspec.structs.replace(decision, estimate=estimate))
    store.flush()
    record = Record(path)
    assert record.samples(hold)[0].decision.estimate == estimate
    columns = record.columns(hold)
    in_columns = [float(getattr(columns, name)[0]) for name in DEVIATIONS]
    assert [0.0 if sd != sd else sd for sd in in_columns] == list(sds)
    seen = table(path, f"SELECT {', '.join(DEVIATIONS)} FROM samples_c")[0]
    assert [sd or 0.0 for sd in seen] == list(sds)


def test_a_deviation_too_large_to_mean_anything_is_kept_at_the_scales_end(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    store.sample(*_certain(300.0))
    store.flush()
    estimate = Record(path).samples(hold)[0].decision.estimate
    assert estimate is not None
    assert (estimate.wall_sd_k, estimate.mean_sd_k) == (20.47, 0.3)


def _certain(sd: float) -> tuple[Instant, Reading, Decision]:
    estimate = Estimate(66.0, 65.0, 64.2, 65.9, 65.1, sd, 2 * sd, 3 * sd, sd / 1000)
    decision = Decision(0, State.RUNNING, Phase.HOLD, 0, 65.0, 66.0, 0.2, estimate, 0)
    return Instant(0, 0, START_UTC_MS), Reading(1, 1, (65.0,), 0, False, 0, 0, 0, False), decision


FITTED = Identified(
    upto_ms=1_234_567,
    parameters={"paste_j_k": 3412.0123456789, "loss_w_k": 0.1 + 0.2, "tiny": 5e-324, "big": 1.7976931348623157e308},
    names=("paste_j_k", "loss_w_k"),
    covariance=((1 / 3, -1e-17), (-1e-17, 2 / 7)),
    rms_k=0.0312345678901234,
)  # fmt: skip


def test_identified_parameters_come_back_to_the_last_bit(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    at = Instant(5, 5, START_UTC_MS + 5)
    store.event(at, FITTED)
    store.end_hold(at, State.STOPPED)
    assert list(Record(path).replay(hold)) == [(at, FITTED, None)]
    row = Record(path).events(hold)[0]
    assert (row.source, row.kind, row.name) == ("in", "identified", "identified")
    assert row.text == "2 parameters of this warmer fitted, 0.031 K left"


def test_a_fit_that_went_wrong_does_not_spoil_the_replay(store: Store, path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    store.event(
        Instant(5, 5, START_UTC_MS), Identified(1, {"a": float("inf")}, ("a",), ((float("nan"),),), 0.1)
    )
    ((_, event, _),) = list(Record(path).replay(hold))
    assert isinstance(event, Identified)
    assert event.parameters == {"a": float("inf")}
    assert event.covariance[0][0] != event.covariance[0][0]
