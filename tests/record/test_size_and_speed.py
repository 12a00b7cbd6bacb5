"""The record's budget: 3.6 MB for a night of 12 h at 1 Hz, a tenth of it the chain. Times are printed, not judged."""

import sqlite3
import time
from pathlib import Path

from holdctl.events import State
from holdctl.record.store import Store
from holdctl.record.verify import verify

from .conftest import HOLD, night


def test_a_night_of_12_h_takes_at_most_3_6_mb_and_84_bytes_a_row(path: Path) -> None:
    rows = list(night(43_200))
    with Store.open(path, batch_ms=10**9) as store:
        store.begin_hold(**HOLD)
        began = time.perf_counter()
        for row in rows:
            store.sample(*row)
        took = time.perf_counter() - began
        store.end_hold(rows[-1][0], State.STOPPED)
    size = path.stat().st_size
    began = time.perf_counter()
    verdict = verify(path)
    checked = time.perf_counter() - began
    with sqlite3.connect(path) as db:
        chained = db.execute("SELECT sum(pgsize) FROM dbstat WHERE name = 'chain'").fetchone()[0]
    db.close()
    print(
        f"chain {chained} bytes, {chained / len(rows):.1f} a row; verified {len(rows) / checked:.0f} rows/s"
    )
    assert verdict.good
    print(f"{size} bytes, {size / len(rows):.1f} a row, {took / len(rows) * 1e6:.1f} µs a sample")
    assert size <= 3_600_000
    assert size / len(rows) <= 84
