"""A record that fails under a running daemon: the heat goes on, one alarm for each cause, and it can be stopped."""

import resource
import signal

import pytest

from holdctl.clock import SystemClock
from holdctl.daemon import Daemon
from holdctl.events import LinkChange, NoticeKind, State
from holdctl.hold import Hold
from holdctl.record.query import Record
from holdctl.record.spool import prepare
from holdctl.record.store import Store
from holdctl.record.verify import verify
from tests.closed_loop import reading, told
from tests.daemon.conftest import EnoughSeenError
from tests.daemon.test_loop import Clock, Scripted
from tests.record.small import Plan

SECONDS = 40


@pytest.fixture
def handlers():
    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT)}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


def night(folder, plan, settings, *, heals_at=10**9):
    """Run a hold on a cold paste until a signal ends it; return daemon, driver, hold, what was told and raised."""
    path = folder / "loop.db"
    clock, said, raised = Clock(), [], None

    def play(second):
        plan.counting = second < heals_at
        if second == SECONDS:
            signal.raise_signal(signal.SIGTERM)
        line = [LinkChange(True, "the line is up")] if second % 10 == 3 else []
        return [*line, reading(second, 60.0, 60.0)]

    driver = Scripted(clock, play)
    prepare(folder / "loop.spool")
    with Store.open(path, batch_ms=3000, make=plan.make) as store:
        hold = Hold(settings)
        daemon = Daemon(
            hold, driver, store, folder / "loop.spool", clock, tell=lambda notice, _now: said.append(notice)
        )
        number = store.begin_hold(
            started_utc_ms=clock.utc_ms(), config_json="{}", warmer="w", programme="p", pace="host", simulated=True,
            version="0", boot_id="", latched=(),
        )  # fmt: skip
        try:
            daemon.run(number)
        except Exception as error:
            raised = error
        plan.counting = False
    return driver, hold, said, raised


@pytest.mark.parametrize("ever", [False, True], ids=["once", "until it heals"])
def test_whichever_store_call_fails_the_leases_go_on_and_it_is_one_alarm(tmp_path, handlers, ever):
    settings, plan = told("stirred-kettle"), Plan()
    sound, _, _, _ = night(tmp_path, plan, settings)
    calls = plan.calls
    assert any(ms > 0 for _, ms in sound.leases)
    for number in range(1, calls + 1, 11 if ever else 7):
        folder = tmp_path / f"{number}"
        folder.mkdir()
        plan = Plan(number, "SQLITE_IOERR_FSYNC", ever=ever, after=number % 2 == 0)
        driver, _, said, raised = night(folder, plan, settings, heals_at=SECONDS - 2)
        assert raised is None
        # That the record heals in the very moment of the stop is news, and news repeats the 0 that has been sent.
        assert list(dict.fromkeys(driver.leases)) == list(dict.fromkeys(sound.leases))
        alarms = [(n.kind, n.name) for n in said if n.name in ("record-failing", "disk-full")]
        assert alarms[:1] in ([], [(NoticeKind.ALARM, "record-failing")])
        assert [kind for kind, _ in alarms].count(NoticeKind.ALARM) <= 1
        record = Record(folder / "loop.db")
        assert verify(record.path).good
        assert record.hold().state is State.STOPPED
        assert [s.reading.n for s in record.samples(1)] == list(
            range(1, SECONDS + len(driver.leases[SECONDS:]) + 1)
        )[: len(record.samples(1))]
        assert len(record.samples(1)) >= SECONDS


def test_a_hold_whose_record_fails_for_good_goes_on_and_can_be_stopped(tmp_path, handlers):
    plan = Plan(12, "SQLITE_FULL", ever=True)
    driver, hold, said, raised = night(tmp_path, plan, told("stirred-kettle"))
    assert sum(ms > 0 for second, ms in driver.leases if second < SECONDS) > 20
    assert driver.leases[-1][1] == 0
    assert "disk-full" in hold.alarms
    assert [n.name for n in said if n.kind is NoticeKind.ALARM] == ["disk-full"]
    assert hold.state is State.STOPPED
    assert "is full" in str(raised)  # and the process leaves with 1, which says that the end is not on disk


def test_a_real_daemon_whose_disk_fails_keeps_the_paste_warm_and_its_record_whole(bench):
    bench.plant.paste = bench.plant.wall = 64.0  # it has to be heated
    host = bench.start()
    _, hard = resource.prlimit(host.pid, resource.RLIMIT_FSIZE)
    fails, heals = 60, 160

    def play(second):
        if second == fails:  # whatever it writes beyond this fails; the latch beside the record has 512 bytes
            resource.prlimit(host.pid, resource.RLIMIT_FSIZE, (600, hard))
        if second == fails + 50:
            assert len(bench.record.samples(1)) < fails + 20
        if second == heals:
            resource.prlimit(host.pid, resource.RLIMIT_FSIZE, (hard, hard))
        if second == heals + 60:
            host.send_signal(signal.SIGTERM)
        if host.poll() is not None:
            raise EnoughSeenError
        if second > fails and second % 20 == 0:  # the daemon tries again by the host's clock
            SystemClock().sleep(0.1 if second < heals else 1.0)

    bench.run(heals + 90, play, patience=1.0)
    assert host.wait(10) == 0
    assert any(bench.relay[fails + 20 : heals])
    told = [
        (e.kind, e.name) for e in bench.record.events(1) if e.name == "record-failing" and e.source == "out"
    ]
    assert told[0] == ("alarm", "record-failing")
    assert told[-1] == ("alarm-cleared", "record-failing")
    seqs = [s.seq for s in bench.record.samples(1)] + [e.seq for e in bench.record.events(1)]
    seqs += [r.seq for r in bench.record.requests(1)]
    assert sorted(seqs) == list(range(1, len(seqs) + 1))
    assert verify(bench.record_path).good
