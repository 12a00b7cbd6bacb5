"""Exports carry units and UTC in their names, and agree with the record."""

import csv
import io
import json
from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import LinkChange, ProbeFault, Reading, Silence
from holdctl.record import export as export_module
from holdctl.record.export import export
from holdctl.record.query import Record
from holdctl.record.store import Store

from .conftest import HOLD, night


@pytest.fixture
def record(store: Store, path: Path) -> Record:
    store.begin_hold(**HOLD)
    for k, (now, reading, decision) in enumerate(night(30)):
        if k == 7:
            reading = Reading(7, 7, (ProbeFault.OPEN, 60.25), 0, False, 0, 0, 0, False)
        store.sample(now, reading, decision)
        if k in (3, 9):
            store.event(now, Silence() if k == 3 else LinkChange(False, "cable, pulled"))
    store.flush()
    return Record(path)


def test_csv_of_samples_agrees_with_the_record(record: Record) -> None:
    out = io.StringIO()
    assert export(record, 1, "samples", "csv", out) == 30
    rows = list(csv.DictReader(io.StringIO(out.getvalue())))
    for got, want in zip(rows, record.samples(1), strict=True):
        assert float(got["hold_s"]) == want.at.hold_ms / 1000
        assert float(got["probe2_c"]) == want.reading.temps[1]
        assert got["utc"].endswith("Z")
    assert (rows[7]["probe1_c"], rows[7]["probe1_fault"], rows[7]["probe3_c"]) == ("", "open", "")


def test_json_lines_of_events_carry_their_detail(record: Record) -> None:
    out = io.StringIO()
    assert export(record, 1, "events", "jsonl", out) == 2
    events = [json.loads(line) for line in out.getvalue().splitlines()]
    assert events[1]["detail"] == {"up": False, "reason": "cable, pulled"}
    assert [e["kind"] for e in events] == ["silence", "link"]


def test_every_temperature_and_time_names_its_unit(record: Record) -> None:
    out = io.StringIO()
    export(record, 1, "samples", "csv", out)
    names = out.getvalue().splitlines()[0].split(",")
    unitless = {"hold", "seq", "utc", "state", "phase", "step", "duty", "relay", "cut_out", "feedback", "n",
                "ack", "bad"}  # fmt: skip
    assert all(n in unitless or n.endswith(("_s", "_ms", "_c", "_k", "_fault")) for n in names)


def test_pages_join_without_a_seam(record: Record, monkeypatch: pytest.MonkeyPatch) -> None:
    whole, paged = io.StringIO(), io.StringIO()
    export(record, 1, "samples", "csv", whole)
    monkeypatch.setattr(export_module, "_PAGE", 7)
    export(record, 1, "samples", "csv", paged)
    assert paged.getvalue() == whole.getvalue()


def test_an_unknown_hold_writes_nothing(record: Record) -> None:
    out = io.StringIO()
    with pytest.raises(StoreError, match="no hold 2"):
        export(record, 2, "samples", "csv", out)
    assert out.getvalue() == ""
