"""The simulated node on its pty, in lockstep and paced, with the project's own driver at the other end."""

import subprocess
import sys
from pathlib import Path

import pytest

from holdctl.clock import SystemClock
from holdctl.device import NodeDriver
from holdctl.device.framing import Splitter, encode
from holdctl.events import LinkChange, NodeBoot, Reading
from holdsim.node import SimulatedNode
from holdsim.pty_line import PtyLine
from holdsim.serve import Service

SIMULATOR = [sys.executable, "-m", "holdsim", "--preset", "lamp-box", "--seed", "3", "--start", "66"]


class Plant:
    def __init__(self):
        self.on = []

    def step(self, on_s, dt_s=1.0):
        self.on.append(on_s)

    def readings(self):
        return (65.0,)


class ScriptedLine:
    """Stands for the pty: `answers` maps the number of a reading to what the host says to it."""

    def __init__(self, clock, answers):
        self.clock = clock
        self.answers = answers
        self.waiting = [encode("hello?")]
        self.sent = []
        self.gone = 0

    def read(self, wait_s):
        if self.waiting:
            return self.waiting.pop(0)
        self.clock.now_ms += wait_s * 1000
        return b""

    def write(self, data):
        for body in Splitter().feed(data):
            self.sent.append((self.clock.now_ms, body))
            if body.startswith("r "):
                self.waiting += self.answers(int(body.split()[1][2:]))

    def host_is_gone(self):
        self.gone += 1


class FakeClock:
    def __init__(self):
        self.now_ms = 0.0

    def monotonic_ms(self):
        return self.now_ms


def served(answers, seconds=6, patience_s=0.5, before_tick=lambda _second: None):
    clock, plant = FakeClock(), Plant()
    line = ScriptedLine(clock, answers)
    Service(SimulatedNode(plant), line, clock, before_tick).lockstep(seconds, patience_s)
    return line, plant, clock


def lease(n, ms=1000):
    return encode(f"lease n={n + 1} re={n} ms={ms}")


def test_in_lockstep_a_reading_waits_for_its_lease_and_no_real_time_passes():
    line, plant, clock = served(lambda n: [lease(n)])
    assert clock.now_ms == 0
    assert plant.on == [0.0] + [1.0] * 5
    assert line.gone == 0


def test_a_lease_may_come_in_pieces_and_after_an_older_one():
    _, plant, clock = served(lambda n: [lease(n - 1), lease(n)[:7], lease(n)[7:]])
    assert clock.now_ms == 0
    assert plant.on == [0.0] + [1.0] * 5


def test_a_host_that_stops_answering_lets_the_lease_lapse_in_simulated_time():
    line, plant, clock = served(lambda n: [lease(n, 2500)] if n < 2 else [], seconds=8, patience_s=0.5)
    assert plant.on == pytest.approx([0, 1, 1, 1, 0.5, 0, 0, 0])
    assert clock.now_ms == 6 * 500
    assert line.gone == 6


def test_alone_a_second_takes_no_longer_than_a_second_whatever_the_patience():
    _, _, clock = served(lambda n: [], seconds=4, patience_s=30.0)
    assert clock.now_ms == 30_000 + 3 * 1000


def test_a_host_that_asks_again_instead_of_answering_is_not_waited_for():
    line, _, clock = served(lambda n: [encode("hello?")] if n == 2 else [lease(n)])
    assert clock.now_ms == 0
    assert [body.split()[0] for _, body in line.sent] == ["hello", "r", "r", "r", "hello", "r", "r", "r"]


def test_people_act_between_two_simulated_seconds():
    seconds = []
    served(lambda n: [lease(n)], seconds=4, before_tick=seconds.append)
    assert seconds == [0, 1, 2, 3]


@pytest.mark.parametrize("speed", [1.0, 60.0])
def test_paced_readings_come_in_even_time_whether_answered_or_not(speed):
    clock = FakeClock()
    line = ScriptedLine(clock, lambda n: [lease(n)] if n % 2 else [])
    Service(SimulatedNode(Plant()), line, clock).paced(5, speed)
    times = [when for when, body in line.sent if body.startswith("r ")]
    assert times == pytest.approx([1000 / speed * (i + 1) for i in range(5)])


def test_after_a_suspension_the_node_does_not_rush_through_the_lost_time():
    clock = FakeClock()
    line = ScriptedLine(clock, lambda n: [])

    def suspend(second):
        clock.now_ms += 3_600_000 * (second == 2)

    Service(SimulatedNode(Plant()), line, clock, suspend).paced(8, 1.0)
    times = [when for when, body in line.sent if body.startswith("r ")]
    assert times[-1] - times[2] >= 3000


def test_the_link_points_to_the_port_while_it_is_served_and_never_replaces_a_file(tmp_path):
    link = tmp_path / "node"
    first = PtyLine(link)
    second = PtyLine(link)
    assert str(link.readlink()) == second.path
    first.close()
    assert str(link.readlink()) == second.path  # the newer one's
    second.close()
    assert not link.is_symlink()
    link.write_text("bread")
    with pytest.raises(FileExistsError):
        PtyLine(link)
    assert link.read_text() == "bread"


def test_a_host_that_reads_nothing_does_not_stop_the_node():
    line = PtyLine()
    try:
        for _ in range(100):
            line.write(b"x" * 1000)
    finally:
        line.close()


@pytest.fixture
def simulator(tmp_path):
    """Start `python -m holdsim` with more arguments; return its port's path and its process."""
    running = []

    def start(*arguments):
        link = tmp_path / "port"
        command = [*SIMULATOR, "--link", str(link), *arguments]
        process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        running.append(process)
        return process.stdout.readline().strip(), process

    yield start
    for process in running:
        if process.poll() is None:
            process.terminate()
        process.communicate(timeout=20)


def night(driver, duty_ms, limit=10_000):
    """Answer every reading until the line is gone; return all events."""
    events = []
    while len(events) < limit:
        for event in driver.poll(2.0):
            events.append(event)
            if isinstance(event, Reading):
                driver.lease(event.n, duty_ms)
            elif isinstance(event, LinkChange) and not event.up:
                return events
    return events


def test_a_whole_hour_crosses_a_serial_port_in_lockstep_without_one_lost_byte(simulator):
    url, process = simulator("--lockstep", "--hours", "1")
    driver = NodeDriver(url, 115200, SystemClock())
    driver.open()
    events = night(driver, 300)
    driver.close()
    readings = [event for event in events if isinstance(event, Reading)]
    assert [r.n for r in readings] == list(range(3600))
    assert [r.ack for r in readings] == list(range(3600))
    assert {r.bad for r in readings} == {0}
    assert driver.session.dropped.total() == 0
    others = [type(event) for event in events if not isinstance(event, Reading)]
    assert others == [LinkChange, NodeBoot, LinkChange]
    assert process.wait(timeout=20) == 0
    assert not Path(url).is_symlink()


def test_the_same_seed_gives_the_same_night(simulator):
    nights = []
    for _ in range(2):
        url, process = simulator("--lockstep", "--hours", "0.05")
        driver = NodeDriver(url, 115200, SystemClock())
        driver.open()
        nights.append([event.temps for event in night(driver, 500) if isinstance(event, Reading)])
        driver.close()
        process.wait(timeout=20)
    assert len(nights[0]) == 180
    assert nights[0] == nights[1]


def test_a_host_that_hangs_up_and_comes_back_meets_the_same_node(simulator):
    url, _ = simulator("--lockstep", "--patience", "0.1")
    first = NodeDriver(url, 115200, SystemClock())
    first.open()
    night(first, 5000, limit=6)
    first.close()
    second = NodeDriver(url, 115200, SystemClock())
    second.open()
    events = night(second, 0, limit=6)
    second.close()
    readings = [event for event in events if isinstance(event, Reading)]
    assert readings[0].n >= 4
    assert [event.asked for event in events if isinstance(event, NodeBoot)] == [True]


def test_a_signal_unplugs_the_node_and_removes_its_link(simulator):
    url, process = simulator("--speed", "50")
    process.terminate()
    assert process.wait(timeout=20) == 0
    assert not Path(url).is_symlink()


def test_settings_that_fit_the_warmer_are_written_with_its_port(simulator, tmp_path):
    url, _ = simulator("--settings", str(tmp_path / "holdctl.toml"))
    assert f'url = "{url}"' in (tmp_path / "holdctl.toml").read_text()
