"""The loop with a driver that a test scripts: what must be looked at in every turn, and what may not end a hold."""

import signal

import pytest

from holdctl.daemon import Daemon
from holdctl.daemon.pace import Pace
from holdctl.events import NodeBoot, State
from holdctl.hold import Hold
from holdctl.record.query import Record
from holdctl.record.spool import prepare
from holdctl.record.store import Store
from tests.closed_loop import reading, told

BOOT = NodeBoot("plain", 2, 5000, (None, None), "power")


class Clock:
    def __init__(self):
        self.ms = 0

    def monotonic_ms(self):
        return self.ms

    def utc_ms(self):
        return 1_760_000_000_000 + self.ms

    def sleep(self, seconds):
        self.ms += round(1000 * seconds)


class Scripted:
    """One second a poll; `play(second)` gives the events of that second."""

    def __init__(self, clock, play):
        self.clock, self.play, self.second, self.leases = clock, play, 0, []

    def poll(self, timeout_s):
        self.clock.ms += 1000
        self.second += 1
        return self.play(self.second)

    def lease(self, re, ms):
        self.leases.append((self.second, ms))

    def reset_cutout(self):
        pass


@pytest.fixture
def start(tmp_path):
    made = []

    def begin(play, tell=lambda _n, _i: None, pace=Pace.HOST):
        store = Store.open(tmp_path / "loop.db")
        clock = Clock()
        driver = Scripted(clock, play)
        folder = tmp_path / "loop.spool"
        prepare(folder)
        daemon = Daemon(Hold(told("stirred-kettle")), driver, store, folder, clock, tell=tell, pace=pace)
        hold = store.begin_hold(
            started_utc_ms=clock.utc_ms(), config_json="{}", warmer="w", programme="p", pace="host", simulated=True,
            version="0", boot_id="", latched=(),
        )  # fmt: skip
        made.append(store)
        return daemon, driver, hold

    before = {number: signal.getsignal(number) for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP)}
    yield begin
    for number, handler in before.items():
        signal.signal(number, handler)
    for store in made:
        store.close()


def test_a_flood_of_hellos_hides_neither_the_silence_nor_a_signal(start, tmp_path):
    def play(second):
        if second <= 5:
            return [reading(second, 60.0, 60.0)]
        if second == 20:
            signal.raise_signal(signal.SIGTERM)
        assert second < 60, "the signal was never looked at"
        return [BOOT]

    daemon, driver, hold = start(play)
    assert daemon.run(hold) is State.STOPPED
    assert any(ms > 0 for second, ms in driver.leases if second <= 5)
    assert min(second for second, ms in driver.leases if second > 5 and ms == 0) <= 9
    assert driver.second <= 25
    trips = [e.name for e in Record(tmp_path / "loop.db").events(hold) if e.kind == "trip"]
    assert trips == ["no-reading"]


@pytest.mark.parametrize("outlives", [True, False], ids=["a hold", "a test at full power"])
def test_a_terminal_that_is_closed_ends_a_test_and_lets_no_paste_cool(start, tmp_path, monkeypatch, outlives):
    def play(second):
        if second == 10:
            signal.raise_signal(signal.SIGHUP)
        if second == 60:
            signal.raise_signal(signal.SIGTERM)
        return [reading(second, 60.0, 60.0)]

    monkeypatch.setattr(Hold, "outlives_terminal", outlives)
    daemon, driver, hold = start(play)
    assert daemon.run(hold) is State.STOPPED
    assert any(ms > 0 for second, ms in driver.leases if second > 15) is outlives
    said = [
        event.text for event in Record(tmp_path / "loop.db").events(hold) if event.name == "terminal-gone"
    ]
    assert len(said) == outlives
    assert all("`holdctl stop` ends it" in text for text in said)


@pytest.mark.parametrize(
    "error", [BrokenPipeError(), OSError(28, "full"), UnicodeEncodeError("ascii", "→", 0, 1, "no")]
)
def test_a_log_that_nobody_takes_does_not_end_the_hold(start, error):
    def tell(_notice, _now):
        raise error

    def play(second):
        if second == 10:
            signal.raise_signal(signal.SIGTERM)
        return [reading(second, 65.0, 65.0)]

    daemon, _, hold = start(play, tell)
    assert daemon.run(hold) is State.STOPPED


def test_whatever_breaks_the_loop_the_hold_is_closed_in_the_record(start, tmp_path):
    def play(second):
        if second == 5:
            raise RuntimeError("a fault of ours")
        return [reading(second, 60.0, 60.0)]

    daemon, driver, hold = start(play)
    with pytest.raises(RuntimeError):
        daemon.run(hold)
    assert driver.leases[-1][1] == 0
    assert Record(tmp_path / "loop.db").hold(hold).state is State.ABORTED


def test_a_spool_that_cannot_be_read_is_an_alarm_and_not_the_end(start, tmp_path, monkeypatch):
    from holdctl.errors import StoreError
    from holdctl.record import spool

    def broken(*_args, **_kwargs):
        raise StoreError("Can't look into the spool.")

    monkeypatch.setattr(spool, "collect", broken)

    def play(second):
        if second == 10:
            signal.raise_signal(signal.SIGTERM)
        return [reading(second, 65.0, 65.0)]

    daemon, _, hold = start(play)
    assert daemon.run(hold) is State.STOPPED
    alarms = [e.name for e in Record(tmp_path / "loop.db").events(hold) if e.kind == "alarm"]
    assert alarms == ["spool"]


def test_a_simulated_night_is_the_same_night_however_long_its_fits_take(start, tmp_path):
    """Ten seconds of a busy machine in a fit: no silence of the node, no gap, no credit lost."""

    def play(second):
        if second == 150:
            signal.raise_signal(signal.SIGTERM)
        return [reading(second, 65.0, 65.0)]

    daemon, driver, hold = start(play, pace=Pace.DEVICE)
    due, fits = daemon._hold.due, []

    def slow():
        task = due()
        if task is None:
            return None

        def fit():
            driver.clock.ms += 10_000
            fits.append(1)
            return task()

        return fit

    daemon._hold.due = slow
    assert daemon.run(hold) is State.STOPPED
    assert fits
    record = Record(tmp_path / "loop.db")
    assert not [e.name for e in record.events(hold) if e.kind in ("alarm", "trip")]
    assert [e for e in record.events(hold) if e.name == "silence"] == []
    assert max(sample.at.host_ms for sample in record.samples(hold)) < 151_000
