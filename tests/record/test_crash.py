"""A daemon that dies at any moment loses nothing that it had acknowledged."""

import random
import signal
import subprocess
import sys
from pathlib import Path

from holdctl.events import State
from holdctl.record.query import Record
from holdctl.record.store import DIED, Store

from .conftest import HOLD, START_UTC_MS, night

WRITER = """
import sys
from pathlib import Path
from holdctl.events import Silence
from PACKAGE.conftest import HOLD, night
from holdctl.record.store import Store
store = Store.open(Path(sys.argv[1]), batch_ms=3000)
hold = store.begin_hold(**HOLD)
for k, row in enumerate(night(10**6)):
    store.sample(*row)
    if k % 7 == 0:
        store.event(row[0], Silence())
        print(store._next_seq - 1, flush=True)
"""


def test_kill_9_loses_no_acknowledged_row_and_the_next_start_closes_the_hold(path: Path) -> None:
    rng = random.Random(5)
    for round_ in range(6):
        # the path to import from is handed on as it is here
        code = f"import sys; sys.path[:0] = {sys.path!r}\n{WRITER}".replace("PACKAGE", str(__package__))
        with subprocess.Popen(
            [sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True
        ) as writer:
            assert writer.stdout is not None
            acknowledged = 0
            for _ in range(rng.randrange(1, 60)):
                acknowledged = int(writer.stdout.readline())
            writer.send_signal(signal.SIGKILL)
            acknowledged = max([acknowledged, *map(int, writer.stdout.read().split()[:-1])])
        record = Record(path)
        hold = record.hold()
        assert (hold.id, hold.state) == (round_ + 1, None)
        seqs = {r.seq for r in record.samples(hold.id)} | {e.seq for e in record.events(hold.id)}
        assert seqs >= set(range(hold.first_seq, acknowledged + 1))
        assert record.writer_pid() is None
        with Store.open(path) as store:
            assert store.close_open_holds(START_UTC_MS) == [hold.id]
        assert record.hold().state is State.ABORTED
        assert record.events(hold.id)[-1].text == DIED


def test_readers_follow_a_writer_without_holding_its_wal(path: Path) -> None:
    with Store.open(path, batch_ms=0) as store:
        hold = store.begin_hold(**HOLD)
        record = Record(path)
        for k, row in enumerate(night(3000)):
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
