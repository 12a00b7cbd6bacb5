"""The record's budget: 3.5 MB for a night of 12 h at 1 Hz. The time of a sample is printed, not judged."""

import time
from pathlib import Path

from holdctl.events import State
from holdctl.record.store import Store

from .conftest import HOLD, night


def test_a_night_of_12_h_takes_at_most_3_5_mb_and_75_bytes_a_row(path: Path) -> None:
    rows = list(night(43_200))
    with Store.open(path, batch_ms=10**9) as store:
        store.begin_hold(**HOLD)
        began = time.perf_counter()
        for row in rows:
            store.sample(*row)
        took = time.perf_counter() - began
        store.end_hold(rows[-1][0], State.STOPPED)
    size = path.stat().st_size
    print(f"{size} bytes, {size / len(rows):.1f} a row, {took / len(rows) * 1e6:.1f} µs a sample")
    assert size <= 3_500_000
    assert size / len(rows) <= 75
