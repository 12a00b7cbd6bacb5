"""The latch beside the record: what no full disk and no moved file may lose."""

from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import Instant, Notice, NoticeKind
from holdctl.record.store import Store

from .conftest import HOLD
from .small import Plan

TRIP = Notice(NoticeKind.TRIP, "high-limit", "wall at 95 °C", {"latched": True})
RESET = Notice(NoticeKind.RESET, "high-limit", "reset by the baker")
NOW = Instant(1000, 1000, 1_760_000_000_000)


def test_a_trip_that_the_record_could_not_take_stands_at_the_next_start(path: Path) -> None:
    plan = Plan(1, "SQLITE_FULL", ever=True)
    store = Store.open(path, make=plan.make)
    store.begin_hold(**HOLD)
    plan.counting = True
    store.notice(NOW, TRIP)
    with pytest.raises(StoreError):
        store.close()
    with Store.open(path) as again:
        assert again.latched_trips() == ("high-limit",)


def test_a_record_moved_aside_leaves_the_trip_latched(path: Path) -> None:
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        store.notice(NOW, TRIP)
    path.rename(path.with_suffix(".old"))
    with Store.open(path) as fresh:
        assert fresh.latched_trips() == ("high-limit",)


def test_a_reset_clears_the_latch(path: Path) -> None:
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        store.notice(NOW, TRIP)
        store.notice(NOW, RESET)
        assert store.latched_trips() == ()
    with Store.open(path) as again:
        assert again.latched_trips() == ()


@pytest.mark.parametrize(
    "data", [b"", b"clear", b"\xff" * 512, b"latched ".ljust(512), b"latched a b!".ljust(512)]
)
def test_anything_but_the_exact_clear_pattern_is_latched(path: Path, data: bytes) -> None:
    Store.open(path).close()
    path.with_suffix(".latch").write_bytes(data)
    with Store.open(path) as store:
        assert store.latched_trips() == ("high-limit",)
