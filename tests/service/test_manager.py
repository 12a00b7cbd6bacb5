"""What the service manager hears: READY once a hold has begun, the watchdog fed by turns in time and nothing else."""

import os
import select
import signal
import socket
import time

import pytest

from holdctl.daemon.manager import DEADLINE_MS, Manager
from tests.daemon.conftest import EnoughSeenError, bench

__all__ = ["bench"]


class Ear:
    """The manager's end of the socket."""

    def __init__(self, address):
        self.line = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self.line.bind(address)
        self.heard = []

    def listen(self, wait_s=0.0):
        while select.select([self.line], [], [], wait_s)[0]:
            self.heard += self.line.recv(4096).decode().splitlines()
        return self.heard


@pytest.fixture
def ear(tmp_path):
    made = Ear(str(tmp_path / "notify"))
    yield made
    made.line.close()


@pytest.mark.parametrize("abstract", [False, True])
def test_what_is_said_arrives_at_a_path_and_at_an_abstract_address(tmp_path, abstract):
    name = f"@holdctl-test-{os.getpid()}" if abstract else str(tmp_path / "notify")
    ear = Ear(name.replace("@", "\0") if abstract else name)
    manager = Manager({"NOTIFY_SOCKET": name})
    manager.ready("running")
    manager.turned("running; alarms: a\nb", 0, 5, decided=True)
    manager.stopping("stopping")
    assert ear.listen(0.2) == [
        "READY=1", "STATUS=running", "STATUS=running; alarms: a b", "STOPPING=1", "STATUS=stopping",
    ]  # fmt: skip
    ear.line.close()


def test_while_a_long_record_is_followed_the_start_asks_for_more_time(ear, tmp_path):
    Manager({"NOTIFY_SOCKET": str(tmp_path / "notify")}).following(1500)
    assert ear.listen(0.2) == [
        "EXTEND_TIMEOUT_USEC=60000000",
        "STATUS=following the record of the interrupted hold, 1500 readings and events so far",
    ]


@pytest.mark.parametrize("address", ["", "relative", "/no/such/place/notify"])
def test_without_a_manager_nothing_is_said_and_nothing_fails(address):
    Manager({"NOTIFY_SOCKET": address}).ready("running")


def test_a_full_socket_is_not_waited_for(ear, tmp_path):
    manager = Manager({"NOTIFY_SOCKET": str(tmp_path / "notify")})
    begun = time.monotonic()
    for _ in range(2000):
        manager.ready("running")
    assert time.monotonic() - begun < 2


@pytest.mark.parametrize(
    ("environ", "wait_ms"),
    [
        ({}, 0),
        ({"WATCHDOG_USEC": "30000000"}, 30_000),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": str(os.getpid())}, 30_000),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "1"}, 0),
        ({"WATCHDOG_USEC": "soon"}, 0),
    ],
)
def test_the_watchdogs_time_comes_from_the_environment_and_only_for_this_process(environ, wait_ms):
    assert Manager(environ).watchdog_ms == wait_ms


def feeds(ear, turns):
    """How often the watchdog was fed in turns of (now_ms, took_ms, decided)."""
    manager = Manager({"NOTIFY_SOCKET": str(ear.line.getsockname()), "WATCHDOG_USEC": "4000000"})
    for now, took, decided in turns:
        manager.turned("", now, took, decided=decided)
    return ear.listen().count("WATCHDOG=1")


def test_turns_in_time_feed_it_four_times_within_its_time(ear):
    assert feeds(ear, [(now, 250, True) for now in range(0, 8000, 250)]) == 8


def test_a_turn_that_was_late_feeds_nothing(ear):
    assert feeds(ear, [(now, DEADLINE_MS + 1, True) for now in range(0, 20_000, 1600)]) == 0


def test_a_turn_without_the_decision_that_was_due_feeds_nothing(ear):
    assert feeds(ear, [(now, 250, False) for now in range(0, 8000, 250)]) == 0


def under_manager(monkeypatch, tmp_path, usec="400000"):
    monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
    monkeypatch.setenv("WATCHDOG_USEC", usec)


def test_a_daemon_says_ready_when_its_hold_has_begun_and_is_fed_while_a_probe_is_open(
    bench, ear, monkeypatch, tmp_path
):
    under_manager(monkeypatch, tmp_path)
    host = bench.start()
    begun, fed_open, mark = [], [], []

    def tick(second):
        if host.poll() is not None:
            raise EnoughSeenError
        heard = ear.listen()
        if "READY=1" in heard and not begun:
            begun.append(bench.record.hold().id)  # it is there to be read
        bench.node.faults.probes = {1: "open"} if second >= 60 else {}
        if second == 90:
            mark.append(heard.count("WATCHDOG=1"))
        if second == 150:
            fed_open.append(heard.count("WATCHDOG=1") - mark[0])
            host.send_signal(signal.SIGTERM)
        time.sleep(0.01)

    bench.run(170, tick, patience=1.0)
    assert host.wait(10) == 0
    heard = ear.listen()
    assert heard.index("READY=1") == 0
    assert begun == [1]
    assert fed_open[0] >= 3
    assert any(line.startswith("STATUS=") and "probe-fault" in line for line in heard)
    assert not any(bench.leases[100:150])  # an open probe: no lease, an alarm, and no restart
    assert ("trip", "probe-fault") in [(e.kind, e.name) for e in bench.record.events(1)]
    assert heard.index("STOPPING=1") > heard.index("READY=1")
    assert "WATCHDOG=1" not in heard[heard.index("STOPPING=1") + 2 :]


def test_a_stopped_process_feeds_nothing(bench, ear, monkeypatch, tmp_path):
    under_manager(monkeypatch, tmp_path)
    host = bench.start()
    counts = []

    def tick(second):
        if second == 40:
            host.send_signal(signal.SIGSTOP)
            time.sleep(0.05)
            counts.append(ear.listen().count("WATCHDOG=1"))
            time.sleep(0.5)
            counts.append(ear.listen().count("WATCHDOG=1"))
            host.send_signal(signal.SIGCONT)
        if second == 60:
            raise EnoughSeenError
        time.sleep(0.01)

    bench.run(80, tick, patience=1.0)
    assert counts[0] > 0
    assert counts[1] == counts[0]
