"""A line that fails at any one call, once or from then on: no lease is left, one alarm for it, nothing escapes.

The real driver on a port in memory, a simulated node behind it, the real loop and record. Each call of the port (open,
read, write, close) of a whole cycle fails in turn.
"""

import signal
from dataclasses import dataclass, field

import pytest

from holdctl.daemon import Daemon
from holdctl.device.node import NodeDriver
from holdctl.errors import LinkError
from holdctl.events import NoticeKind, State
from holdctl.hold import Hold
from holdctl.record.query import Record
from holdctl.record.spool import prepare
from holdctl.record.store import Store
from holdctl.record.verify import verify
from holdsim.node import MAX_LEASE_MS, SimulatedNode
from tests.closed_loop import told
from tests.daemon.conftest import TwoLumps

BEGINS_S, LAST_S, HEALS_S, ENDS_S = 5, 8, 18, 40
OFF_S = 3
"""The host must have put the relay off so long after the line was lost, s."""


class Cold(TwoLumps):
    """Paste far below its setpoint: the relay is wanted on all the time."""

    def __init__(self) -> None:
        super().__init__()
        self.paste = self.wall = 55.0


@dataclass
class Line:
    """Clock, port and node in one: where time passes the node ticks, and what it says waits or is lost."""

    fails_at: int | None = None
    ever: bool = False
    ms: int = 1_000_000
    calls: int = 0
    calls_by_last: int = 0
    waiting: bytes = b""
    connected: bool = False
    failed_s: int | None = None
    """Second of the first failure."""
    relay: list[bool] = field(default_factory=list)
    left: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.node = SimulatedNode(Cold(), (None, None))

    # The clock

    def monotonic_ms(self) -> int:
        return self.ms

    def utc_ms(self) -> int:
        return 1_760_000_000_000 + self.ms

    def sleep(self, seconds: float) -> None:
        self._pass(max(1, round(1000 * seconds)))

    def _pass(self, ms: int) -> None:
        before, self.ms = self.ms // 1000, self.ms + ms
        for _ in range(self.ms // 1000 - before):
            said = self.node.tick()
            self.relay.append(self.node.relay)
            self.left.append(self.node.left_ms)
            if len(self.relay) == ENDS_S:
                signal.raise_signal(signal.SIGTERM)
            self.waiting = self.waiting + said if self.connected else b""

    # The port

    def __call__(self, _url: str, _baud: int) -> "Line":
        self._may_fail()
        self.connected, self.waiting = True, b""
        return self

    def read(self) -> bytes:
        self._may_fail()
        if not self.waiting:
            self._pass(100)
        said, self.waiting = self.waiting, b""
        return said

    def write(self, data: bytes) -> None:
        self._may_fail()
        self.waiting += self.node.receive(data)

    def close(self) -> None:
        self.connected = False

    def _may_fail(self) -> None:
        if not BEGINS_S <= len(self.relay) < HEALS_S:
            return
        self.calls += 1
        self.calls_by_last = self.calls if len(self.relay) < LAST_S else self.calls_by_last
        if self.fails_at is None or self.calls < self.fails_at:
            return
        if self.calls == self.fails_at or self.ever:
            self.failed_s = len(self.relay) if self.failed_s is None else self.failed_s
            self._pass(20)
            raise LinkError("The line is lost.")


@pytest.fixture
def handlers():
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


def night(folder, line: Line):
    """Run a hold over the line until a signal ends it; return the hold and what was told."""
    prepare(folder / "line.spool")
    said = []
    hold = Hold(told("stirred-kettle"))
    driver = NodeDriver("in memory", 115200, line, line)
    with Store.open(folder / "line.db", batch_ms=3000) as store:
        daemon = Daemon(
            hold,
            driver,
            store,
            folder / "line.spool",
            line,
            tell=lambda notice, now: said.append((line.ms, notice)),
        )
        daemon._think = lambda: None
        number = store.begin_hold(
            started_utc_ms=line.utc_ms(), config_json="{}", warmer="w", programme="p", pace="host", simulated=True,
            version="0", boot_id="", latched=(),
        )  # fmt: skip
        driver.open()
        daemon.run(number)
        driver.close()
    return hold, said


@pytest.mark.parametrize("ever", [False, True], ids=["once", "until it heals"])
def test_whichever_call_of_the_line_fails_the_relay_is_off_in_time_and_it_is_one_alarm(
    tmp_path, handlers, ever
):
    sound = Line()
    night(tmp_path, sound)
    assert sound.calls_by_last >= 10
    assert any(sound.relay[BEGINS_S:HEALS_S]), "a relay that is never on proves nothing"
    for number in range(1, sound.calls_by_last + 1, 2 if ever else 1):
        folder = tmp_path / f"{number}"
        folder.mkdir()
        line = Line(number, ever)
        hold, said = night(folder, line)
        assert hold.state is State.STOPPED
        assert line.failed_s is not None
        # Without a word from the host the lease lapses in the node …
        lapsed = line.failed_s + MAX_LEASE_MS // 1000
        if ever and lapsed < HEALS_S:
            assert not any(line.relay[lapsed : HEALS_S - 1]), number
        # … and the host says within three seconds that it has lost the line: once.
        trips = [(ms, n) for ms, n in said if n.kind is NoticeKind.TRIP]
        lost = [ms for ms, n in trips if n.name == "link-down"]
        assert len(lost) == 1, (number, [n.name for _, n in trips])
        assert lost[0] <= 1_000_000 + 1000 * (line.failed_s + OFF_S)
        assert {n.name for _, n in trips} <= {"link-down", "no-acknowledgement"}, "one alarm for one cause"
        assert len({n.name for _, n in trips}) == len(trips)
        cleared = [n.name for _, n in said if n.kind is NoticeKind.TRIP_CLEARED]
        assert set(cleared) == {n.name for _, n in trips}, "it goes on by itself once the line is back"
        assert any(line.relay[HEALS_S + 8 : ENDS_S]), "and heats again"
        assert not line.relay[-1]
        record = Record(folder / "line.db")
        assert verify(record.path).good
        assert record.hold().state is State.STOPPED


def test_a_line_that_fails_for_good_ends_with_the_relay_off_and_the_hold_can_be_stopped(
    tmp_path, handlers, monkeypatch
):
    monkeypatch.setattr("tests.daemon.test_line_failing.HEALS_S", 10**9)
    line = Line(9, True)
    hold, said = night(tmp_path, line)
    assert hold.state is State.STOPPED
    assert line.failed_s is not None
    assert not any(line.relay[line.failed_s + MAX_LEASE_MS // 1000 :])
    names = [n.name for _, n in said if n.kind is NoticeKind.TRIP]
    assert names.count("link-down") == 1
    assert len(set(names)) == len(names)
