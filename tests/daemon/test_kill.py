"""kill -9 at any moment: no acknowledged row lost, the relay off by its lease, and the same hold goes on."""

import random
import time
from itertools import pairwise

import msgspec
import pytest

from holdctl.hold import replay
from holdctl.record.query import Record
from holdctl.settings import Settings
from tests.daemon.conftest import Bench, EnoughSeenError
from tests.daemon.nursery import shared
from tests.daemon.rig import PLAIN_RIG

LEASE_S = 5
"""The node's longest."""


def arguments(bench: Bench) -> tuple[str, ...]:
    settings = bench.folder / "holdctl.toml"
    if not settings.exists():
        settings.write_text(PLAIN_RIG, "utf-8")
    return (
        "run", "--config", str(settings), "--record", str(bench.record_path), "--port", str(bench.line.path), "--pace",
        "device",
    )  # fmt: skip


class Rounds:
    """Start, kill at a random moment, let the lease lapse, start again."""

    def __init__(self, bench: Bench, seed: int) -> None:
        self.bench, self.random = bench, random.Random(seed)
        bench.plant.paste = bench.plant.wall = 64.0  # it has to be heated
        self.killed_hot = 0

    def round(self) -> None:
        log = self.bench.folder / "daemon.log"
        host = shared().start(arguments(self.bench), log, log)
        self.bench.daemons.append(host)
        node = self.bench.node
        last = node.ticks + self.random.randrange(1, 60)
        acknowledged: list[int] = []

        def kill(_second: int) -> None:
            if host.poll() is not None:
                raise EnoughSeenError
            if node.ticks >= last:
                acknowledged.append(newest(self.bench.record_path))
                time.sleep(self.random.random() * 0.004)  # anywhere within the daemon's own turn
                host.kill()
                raise EnoughSeenError

        self.bench.run(200, kill, patience=0.3)
        assert acknowledged, self.bench.log()
        self._after(acknowledged[0])

    def _after(self, acknowledged: int) -> None:
        """The node goes on alone; then look at what is on disk."""
        node = self.bench.node
        self.killed_hot += node.relay
        self.bench.line.host_is_gone()
        for _ in range(LEASE_S + 1):
            self.bench.plant.step(min(node.left_ms, 1000) / 1000)
            node.tick()
        assert not node.relay
        record = self.bench.record
        assert record.hold().id == 1
        rows = [s.seq for s in record.samples(1)] + [e.seq for e in record.events(1)]
        assert set(rows) >= set(range(1, acknowledged + 1))
        latest = record.latest(1)
        if latest is not None:
            assert latest.decision.credit_ms <= latest.at.hold_ms <= 1000 * node.ticks


def newest(path) -> int:
    """The last row that a reader sees, and so was acknowledged."""
    try:
        return Record(path).ask("SELECT max(coalesce((SELECT max(seq) FROM samples), 0), "
                                "coalesce((SELECT max(seq) FROM events), 0))")[0][0]  # fmt: skip
    except Exception:
        return 0


def whole(bench: Bench) -> None:
    """One hold, in order, and a replay of it across all its restarts gives the leases that were given."""
    record = bench.record
    row = record.hold()
    inputs = list(record.replay(row.id))
    times = [now.hold_ms for now, _, _ in inputs]
    assert all(a <= b for a, b in pairwise(times))
    settings = msgspec.json.decode(row.config_json, type=Settings)
    decided = replay(settings, [(now, event) for now, event, _ in inputs], row.latched)
    for (_, _, lease), (_, _, decision) in zip(inputs, decided, strict=True):
        assert lease in (None, decision.lease_ms)


def play(bench: Bench, times: int, seed: int) -> None:
    rounds = Rounds(bench, seed)
    for _ in range(times):
        rounds.round()
    whole(bench)
    assert rounds.killed_hot, "a relay that was never on when the daemon died proves little"
    assert len([e for e in bench.record.events(1) if e.kind == "restart"]) == times - 1


def test_kill_9_twenty_times_loses_nothing_acknowledged_and_goes_on_each_time(bench):
    play(bench, 20, seed=1)


@pytest.mark.soak
@pytest.mark.timeout(1800)
def test_kill_9_two_hundred_times(bench):
    play(bench, 200, seed=2)
