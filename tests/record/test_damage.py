"""Whatever a bad disk does to the file, a person reads one sentence and the file stays as it is."""

import contextlib
import io
import random
from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import Notice, NoticeKind, Request, RequestKind, State
from holdctl.record.export import export
from holdctl.record.query import Record
from holdctl.record.store import Store

from .conftest import HOLD, night


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = tmp_path_factory.mktemp("whole") / "night.db"
    with Store.open(path) as store:
        store.begin_hold(**HOLD)
        for row in night(100):
            store.sample(*row)
        for _ in range(30):
            store.event(row[0], Request(RequestKind.NOTE, "baker", "malt in"))
            store.notice(row[0], Notice(NoticeKind.TRIP, "paste-high", "too hot", {"latched": True}))
        store.end_hold(row[0], State.STOPPED)
    return path.read_bytes()


def read_everything(path: Path) -> None:
    record = Record(path)
    for hold in record.holds():
        record.samples(hold.id), record.events(hold.id), record.columns(hold.id), record.latest(hold.id)
        list(record.replay(hold.id)), record.requests(hold.id)
        export(record, hold.id, "samples", "csv", io.StringIO())
        export(record, hold.id, "events", "jsonl", io.StringIO())


def open_to_write(path: Path) -> None:
    with Store.open(path) as store:
        store.latched_trips()
        store.close_open_holds(1)


@pytest.mark.parametrize("use", [read_everything, open_to_write])
def test_flipped_bits_give_a_sentence_or_nothing(whole: bytes, path: Path, use: object) -> None:
    rng = random.Random(1)
    refused = 0
    for _ in range(120):
        data = bytearray(whole)
        for _ in range(rng.choice((1, 1, 3, 20))):
            data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)
        for old in path.parent.glob("*") if path.parent.exists() else ():
            old.unlink()
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(data)
        with contextlib.suppress(StoreError):
            refused += 1
            use(path)  # type: ignore[operator]
            refused -= 1
    assert 20 < refused < 120


@pytest.mark.parametrize("length", [1, 50, 100, 4096, 20_000])
def test_a_record_cut_short_is_refused(whole: bytes, path: Path, length: int) -> None:
    path.parent.mkdir()
    path.write_bytes(whole[:length])
    with pytest.raises(StoreError, match=r"damaged|is not a holdctl record"):
        open_to_write(path)
    assert path.read_bytes() == whole[:length]
    with pytest.raises(StoreError, match=r"damaged|is not a holdctl record"):
        read_everything(path)
