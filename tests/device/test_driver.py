import os
import tty

import pytest

from holdctl.clock import SystemClock
from holdctl.device import Driver, Guarantees, NodeDriver
from holdctl.device.framing import Splitter
from holdctl.errors import LinkError
from holdctl.events import LinkChange, NodeBoot, Reading

from .frames import HELLO, frame


class FakeClock:
    """Time that passes only while someone sleeps."""

    def __init__(self):
        self.now_ms = 0

    def monotonic_ms(self):
        return self.now_ms

    def utc_ms(self):
        return self.now_ms

    def sleep(self, seconds):
        assert seconds > 0
        self.now_ms += round(seconds * 1000)


class Bench:
    """Ports in memory: `script` holds what each read gives, an error is raised; `plugged` lets it open."""

    def __init__(self, clock):
        self.clock = clock
        self.plugged = True
        self.tries = []
        self.script = []
        self.sent = b""
        self.open = 0
        self.write_error = None

    def __call__(self, url, baud):
        self.tries.append(self.clock.now_ms)
        if not self.plugged:
            raise LinkError(f"There is no port {url}.")
        self.open += 1
        return self

    def read(self):
        self.clock.now_ms += 100
        piece = self.script.pop(0) if self.script else b""
        if isinstance(piece, Exception):
            raise piece
        return piece

    def write(self, data):
        if self.write_error:
            raise self.write_error
        self.sent += data

    def close(self):
        self.open -= 1


@pytest.fixture
def clock():
    return FakeClock()


@pytest.fixture
def bench(clock):
    return Bench(clock)


@pytest.fixture
def driver(clock, bench):
    made: Driver = NodeDriver("/dev/ttyX", 115200, clock, bench)
    made.open()
    assert made.poll(1.0) == [LinkChange(True, "port /dev/ttyX is open")]
    return made


def talking(driver, bench):
    bench.script += [HELLO, frame(1)]
    assert isinstance(driver.poll(1.0)[0], NodeBoot)
    assert isinstance(driver.poll(1.0)[0], Reading)


def test_the_first_failure_to_open_is_said_and_not_retried(clock, bench):
    bench.plugged = False
    with pytest.raises(LinkError, match="no port"):
        NodeDriver("/dev/ttyX", 115200, clock, bench).open()
    assert bench.tries == [0]


def test_hello_goes_out_every_second_until_the_node_answers_then_leases(driver, bench):
    assert driver.poll(2.55) == []
    assert Splitter().feed(bench.sent) == ["hello?"] * 3
    driver.lease(1, 500)
    talking(driver, bench)
    bench.sent = b""
    driver.lease(1, 500)
    driver.reset_cutout()
    assert Splitter().feed(bench.sent) == ["lease n=1 re=1 ms=500", "reset-cutout n=2"]


def test_guarantees_are_known_from_the_hello_on(driver, bench):
    assert driver.guarantees is None
    talking(driver, bench)
    assert driver.guarantees == Guarantees(
        lease_timer=True, max_lease_ms=2000, cutouts_c=(95.0,), watchdog=True, feedback_seen=False
    )


def test_poll_waits_no_longer_than_asked_even_for_a_dripping_line(driver, bench, clock):
    bench.script += [b"$"] * 100
    before = clock.now_ms
    assert driver.poll(1.0) == []
    assert 1000 <= clock.now_ms - before <= 1100


def test_poll_ends_on_a_quiet_line_though_the_clock_stands_still(bench, clock):
    driver = NodeDriver("/dev/ttyX", 115200, clock, bench)
    driver.open()
    driver.poll(0)
    bench.read = lambda: b""
    assert driver.poll(1.0) == []


def test_a_lost_line_is_said_once_and_opened_again_with_growing_patience(driver, bench, clock):
    talking(driver, bench)
    bench.script.append(LinkError("The line is lost: check its plug."))
    assert driver.poll(1.0) == [LinkChange(False, "The line is lost: check its plug.")]
    assert bench.open == 0
    bench.plugged, bench.tries, lost_ms = False, [], clock.now_ms
    for _ in range(40):
        assert driver.poll(1.0) == []
    waits = [b - a for a, b in zip([lost_ms, *bench.tries], bench.tries, strict=False)]
    assert waits[:7] == [200, 400, 800, 1600, 3200, 5000, 5000]
    bench.plugged = True
    events = []
    while not events:
        events = driver.poll(1.0)
    assert events == [LinkChange(True, "port /dev/ttyX is open")]
    assert bench.open == 1


def test_after_reopening_no_lease_leaves_before_the_node_has_answered_again(driver, bench):
    talking(driver, bench)
    bench.script.append(LinkError("lost"))
    driver.poll(1.0)
    driver.lease(1, 500)
    assert driver.poll(1.0) == [LinkChange(True, "port /dev/ttyX is open")]
    bench.sent = b""
    driver.lease(1, 500)
    assert bench.sent == b""
    bench.script += [HELLO]
    assert isinstance(driver.poll(1.0)[0], NodeBoot)
    driver.lease(1, 500)
    bench.script += [frame(2)]
    assert isinstance(driver.poll(1.0)[0], Reading)
    driver.lease(2, 500)
    assert Splitter().feed(bench.sent) == ["hello?", "lease n=1 re=2 ms=500"]


def test_a_port_that_opens_but_never_speaks_is_not_hammered(driver, bench, clock):
    """Patience grows until the node has said something, not only until a port has opened."""
    bench.tries = []
    for _ in range(6):
        bench.script.append(LinkError("lost"))
        while not any(isinstance(event, LinkChange) and not event.up for event in driver.poll(1.0)):
            pass
    for _ in range(8):
        driver.poll(1.0)
    waits = [b - a for a, b in zip(bench.tries, bench.tries[1:], strict=False)]
    assert waits == sorted(waits)
    assert waits[-1] >= 3200


def test_patience_is_short_again_once_the_node_has_spoken(driver, bench, clock):
    bench.script.append(LinkError("lost"))
    driver.poll(1.0)
    bench.plugged = False
    for _ in range(10):
        driver.poll(1.0)
    bench.plugged = True
    while not driver.poll(1.0):
        pass
    talking(driver, bench)
    bench.script.append(LinkError("lost"))
    driver.poll(1.0)
    bench.tries, lost_ms = [], clock.now_ms
    driver.poll(1.0)
    assert bench.tries == [lost_ms + 200]


def test_a_lease_that_can_not_be_written_shows_in_the_next_poll(driver, bench):
    talking(driver, bench)
    bench.write_error = LinkError("The node takes no more bytes: unplug it.")
    driver.lease(1, 500)
    assert driver.poll(1.0) == [LinkChange(False, "The node takes no more bytes: unplug it.")]


def test_a_hello_that_can_not_be_written_is_a_lost_line_too(driver, bench):
    bench.write_error = LinkError("gone: look.")
    assert driver.poll(1.0) == [LinkChange(False, "gone: look.")]


def test_closing_leaves_the_port_free_and_leases_unsent(driver, bench):
    talking(driver, bench)
    driver.close()
    driver.lease(1, 500)
    assert bench.open == 0
    driver.close()


def test_over_a_real_terminal_a_node_is_met_lost_and_met_again(tmp_path):
    link = tmp_path / "node"
    master, slave = raw_pty(link)
    driver = NodeDriver(str(link), 115200, SystemClock())
    driver.open()
    try:
        assert driver.poll(1.0)[0].up
        os.write(master, HELLO + frame(1))
        assert [type(event) for event in driver.poll(1.0)] == [NodeBoot, Reading]
        driver.lease(1, 500)
        assert Splitter().feed(os.read(master, 200)) == ["hello?", "lease n=1 re=1 ms=500"]
        os.close(master)
        os.close(slave)
        (lost,) = driver.poll(1.0)
        assert not lost.up
        link.unlink()
        master, slave = raw_pty(link)
        assert driver.poll(2.0)[0].up
        os.write(master, HELLO)
        assert isinstance(driver.poll(1.0)[0], NodeBoot)
    finally:
        driver.close()
        os.close(master)
        os.close(slave)


def raw_pty(link):
    master, slave = os.openpty()
    tty.setraw(slave)
    link.symlink_to(os.ttyname(slave))
    return master, slave
