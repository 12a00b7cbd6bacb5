"""A daemon that dies at any moment loses nothing that it had acknowledged."""

import os
import random
import signal
from pathlib import Path

import pytest

from holdctl.clock import SystemClock
from holdctl.events import Silence, State
from holdctl.record.query import Record
from holdctl.record.store import DIED, Store
from holdctl.record.verify import verify

from .conftest import HOLD, START_UTC_MS, night


def write_until_killed(path: Path, acknowledged: int) -> None:
    """Record without end; put the number of each row on the pipe once it is on disk."""
    store = Store.open(path, batch_ms=3000)
    store.begin_hold(**HOLD)
    for k, row in enumerate(night(10**6)):
        store.sample(*row)
        if k % 7 == 0:
            store.event(row[0], Silence())
            os.write(acknowledged, f"{store._next_seq - 1}\n".encode())


def kill_9(path: Path, rng: random.Random) -> int:
    """Kill a writer at a random moment; return the highest number that it had acknowledged."""
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reading)
            write_until_killed(path, writing)
        finally:
            os._exit(3)
    os.close(writing)
    with os.fdopen(reading) as pipe:
        lines = [pipe.readline() for _ in range(rng.randrange(1, 40))]
        SystemClock().sleep(rng.random() * 0.01)  # anywhere between two acknowledgements
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        lines += pipe.read().splitlines(keepends=True)
    return max(int(line) for line in lines if line.endswith("\n"))


@pytest.mark.parametrize(
    "rounds", [20, pytest.param(200, marks=[pytest.mark.soak, pytest.mark.timeout(3600)])]
)
def test_kill_9_loses_no_acknowledged_row_and_the_next_start_closes_the_hold(path: Path, rounds: int) -> None:
    rng = random.Random(5)
    for round_ in range(rounds):
        acknowledged = kill_9(path, rng)
        record = Record(path)
        hold = record.hold()
        assert (hold.id, hold.state) == (round_ + 1, None)
        seqs = {r.seq for r in record.samples(hold.id)} | {e.seq for e in record.events(hold.id)}
        assert seqs >= set(range(hold.first_seq, acknowledged + 1))
        assert record.writer_pid() is None
        assert verify(path).good
        with Store.open(path) as store:
            assert store.close_open_holds(START_UTC_MS) == [hold.id]
        assert record.hold().state is State.ABORTED
        assert record.events(hold.id)[-1].text == DIED
        assert verify(path).good


def test_readers_follow_a_writer_without_holding_its_wal(path: Path) -> None:
    with Store.open(path, batch_ms=0) as store:
        hold = store.begin_hold(**HOLD)
        record = Record(path)
        for k, row in enumerate(night(1500)):
            store.sample(*row)
            if k % 100 == 0:
                latest = record.latest(hold)
                assert latest is not None
                assert latest.at == row[0]
        wal = path.with_name(path.name + "-wal")
        assert wal.stat().st_size < 5_000_000  # 1000 pages and a commit: checkpoints are not held up


def test_a_record_copied_with_its_wal_reads_whole(store: Store, path: Path, tmp_path: Path) -> None:
    hold = store.begin_hold(**HOLD)
    for row in night(50):
        store.sample(*row)
    store.flush()
    copy = tmp_path / "copy.db"
    copy.write_bytes(path.read_bytes())
    copy.with_name("copy.db-wal").write_bytes(path.with_name("night.db-wal").read_bytes())
    assert len(Record(copy).samples(hold)) == 50
