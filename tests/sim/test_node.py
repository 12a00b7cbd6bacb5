"""The simulated node against docs/node-protocol.md."""

import pytest

from holdctl.device import messages
from holdctl.device.framing import Splitter, encode
from holdctl.events import ProbeFault
from holdsim.node import SimulatedNode


class Plant:
    """Counts the heat it gets; says what it is told to say."""

    def __init__(self, *temps):
        self.temps = temps
        self.on = []

    def step(self, on_s, dt_s=1.0):
        assert dt_s == 1.0
        self.on.append(on_s)

    def readings(self):
        return self.temps


class Desk:
    """A person at the node's line."""

    def __init__(self, *temps, cutouts_c=None, feedback=False):
        self.plant = Plant(*(temps or (65.0, 70.0)))
        self.node = SimulatedNode(self.plant, cutouts_c, feedback=feedback)
        self.number = 0

    def tick(self):
        (body,) = Splitter().feed(self.node.tick())
        return messages.reading(messages.fields(body)[1], self.node.probes)

    def say(self, body):
        replies = Splitter().feed(self.node.receive(encode(body)))
        return [messages.hello(messages.fields(reply)[1]) for reply in replies]

    def lease(self, re, ms, number=None):
        self.number = self.number + 1 if number is None else number
        self.say(f"lease n={self.number} re={re} ms={ms}")


@pytest.fixture
def desk():
    return Desk()


def test_hello_introduces_the_node_whenever_asked():
    desk = Desk(65.0, 70.0, cutouts_c=(None, 95.0))
    (hello,) = desk.say("hello?")
    assert (hello.probes, hello.max_lease_ms) == (2, 5000)
    assert (hello.cutouts_c, hello.cause) == ((None, 95.0), "power")


def test_the_relay_is_off_until_leased(desk):
    readings = [desk.tick() for _ in range(5)]
    assert not any(reading.relay for reading in readings)
    assert desk.plant.on == [0.0] * 5
    assert [(r.n, r.up_ms, r.ack) for r in readings] == [(n, 1000 * n + 1000, 0) for n in range(5)]


@pytest.mark.parametrize(
    ("ms", "on"),
    [(0, [0, 0, 0]), (250, [0.25, 0, 0]), (1000, [1, 0, 0]), (2300, [1, 1, 0.3]), (5000, [1, 1, 1])],
)
def test_a_lease_heats_for_its_length_and_no_longer(desk, ms, on):
    desk.lease(desk.tick().n, ms)
    for _ in range(3):
        desk.tick()
    assert desk.plant.on[1:] == pytest.approx(on)


def test_a_reading_tells_relay_rest_of_the_lease_and_last_command(desk):
    desk.lease(desk.tick().n, 2300)
    told = [(r.relay, r.left_ms, r.ack) for r in (desk.tick() for _ in range(3))]
    assert told == [(True, 1300, 1), (True, 300, 1), (False, 0, 1)]


def test_a_new_lease_replaces_the_old_one(desk):
    desk.lease(desk.tick().n, 5000)
    desk.lease(desk.tick().n, 100)
    desk.tick()
    desk.tick()
    assert desk.plant.on == pytest.approx([0, 1, 0.1, 0])


@pytest.mark.parametrize(("behind", "obeyed"), [(0, True), (1, True), (2, True), (3, False), (-1, False)])
def test_a_lease_answers_one_of_the_last_three_readings(desk, behind, obeyed):
    for _ in range(6):
        last = desk.tick()
    desk.lease((last.n - behind) % 65536, 500)
    after = desk.tick()
    assert (after.ack, after.bad) == ((1, 0) if obeyed else (0, 1))
    assert desk.plant.on[-1] == (0.5 if obeyed else 0.0)


def test_zero_is_obeyed_whatever_it_answers(desk):
    desk.lease(desk.tick().n, 5000)
    desk.lease(60000, 0)
    assert desk.tick().ack == 2
    assert desk.plant.on[-1] == 0.0


def test_a_lease_before_the_first_reading_of_a_boot_is_refused(desk):
    desk.lease(65535, 500)
    assert desk.tick().bad == 1


@pytest.mark.parametrize(
    "body",
    [
        "lease n=1 re=0 ms=5001",
        "lease n=0 re=0 ms=100",
        "lease n=65536 re=0 ms=100",
        "lease n=1 re=0",
        "lease n=1 re=0 ms=1e3",
        "lease n=1 re=0 ms=+100",
        "lease n=1 re=0 ms=-1",
        "lease",
        "burn n=1 re=0 ms=100",
        "hello? please",
    ],
)
def test_a_command_that_does_not_parse_is_counted_and_changes_nothing(desk, body):
    desk.tick()
    assert desk.say(body) == []
    after = desk.tick()
    assert (after.bad, after.ack, after.relay, desk.plant.on[-1]) == (1, 0, False, 0.0)


def test_unknown_keys_of_a_lease_are_ignored(desk):
    desk.tick()
    desk.say("lease n=1 re=0 ms=500 why=7")
    assert desk.tick().ack == 1


def test_damaged_lines_are_counted_one_by_one(desk):
    desk.tick()
    desk.node.receive(b"x\n$lease n=1 re=0 ms=500*0000\r\n" + b"y" * 500 + b"\n")
    assert desk.tick().bad == 3


def test_at_its_limit_a_probe_cuts_out_and_stays_so_through_every_boot():
    desk = Desk(65.0, 94.99, cutouts_c=(None, 95.0))
    desk.lease(desk.tick().n, 5000)
    assert not desk.tick().cut
    desk.plant.temps = (65.0, 95.0)
    last = desk.tick()
    assert last.cut and not last.relay
    desk.plant.temps = (65.0, 70.0)
    for cause in ("power", "watchdog", "brownout", "reset"):
        desk.node.reboot(cause)
        desk.tick()
        desk.lease(desk.tick().n, 5000)
        last = desk.tick()
        assert last.cut and not last.relay
    assert desk.plant.on[-12:] == [0.0] * 12


@pytest.mark.parametrize(
    ("temps", "cleared"),
    [
        ((65.0, 90.0), True),
        ((65.0, 90.01), False),
        ((65.0, ProbeFault.OPEN), False),
        ((ProbeFault.SHORT, 20.0), False),
    ],
)
def test_a_cutout_is_cleared_only_cool_and_with_every_probe_valid(temps, cleared):
    desk = Desk(65.0, 95.0, cutouts_c=(None, 95.0))
    desk.tick()
    desk.plant.temps = tuple(50.0 if isinstance(t, ProbeFault) else t for t in temps)
    desk.node.faults.probes = {i: t.value for i, t in enumerate(temps, 1) if isinstance(t, ProbeFault)}
    desk.lease(desk.tick().n, 5000)
    desk.say("reset-cutout n=9")
    after = desk.tick()
    assert (after.cut, after.ack, after.bad) == ((False, 9, 0) if cleared else (True, 1, 1))
    assert after.left_ms == (0 if cleared else 4000)
    assert not after.relay


def test_a_cutout_is_cleared_at_most_three_times_per_boot():
    desk = Desk(50.0, cutouts_c=(95.0,))
    cuts = []
    for _ in range(4):
        desk.plant.temps = (95.0,)
        desk.tick()
        desk.plant.temps = (50.0,)
        desk.tick()
        desk.say("reset-cutout n=1")
        cuts.append(desk.tick().cut)
    assert cuts == [False, False, False, True]
    desk.node.reboot("reset")
    desk.tick()
    desk.say("reset-cutout n=1")
    assert not desk.tick().cut


@pytest.mark.parametrize("word", ["open", "short", "range"])
def test_a_fault_of_any_fitted_probe_takes_the_relay_off(desk, word):
    desk.node.faults.probes = {1: word}
    desk.lease(desk.tick().n, 5000)
    last = desk.tick()
    assert last.temps == (ProbeFault(word), 70.0)
    assert not last.relay
    assert desk.plant.on[-1] == 0.0


def test_a_boot_clears_lease_counters_and_the_readings_it_may_answer(desk):
    for _ in range(5):
        desk.lease(desk.tick().n, 5000)
    (hello,) = Splitter().feed(desk.node.reboot("watchdog"))
    assert hello.endswith("cause=watchdog")
    first = desk.tick()
    assert (first.n, first.up_ms, first.ack, first.left_ms, first.relay) == (0, 1000, 0, 0, False)
    assert first.temps == (65.0, 70.0)  # the sensors kept their supply
    desk.lease(4, 5000)
    assert desk.tick().ack == 0


def test_after_a_loss_of_power_the_sensors_first_value_is_not_believed(desk):
    desk.node.reboot("power")
    assert desk.tick().temps == (ProbeFault.RANGE, ProbeFault.RANGE)
    assert desk.tick().temps == (65.0, 70.0)


def test_a_silent_node_obeys_nothing_and_lets_its_lease_lapse(desk):
    desk.lease(desk.tick().n, 2000)
    desk.node.faults.silent = True
    assert [desk.node.tick() for _ in range(4)] == [b""] * 4
    assert desk.node.receive(encode("hello?")) == b""
    assert desk.node.reboot() == b""
    assert desk.plant.on[1:] == [1.0, 1.0, 0.0, 0.0]


def test_a_welded_relay_heats_though_not_driven_and_only_the_feedback_tells():
    desk = Desk(65.0, feedback=True)
    assert desk.tick().feedback is False
    desk.node.faults.welded = True
    last = desk.tick()
    assert (last.relay, last.feedback, desk.plant.on[-1]) == (False, True, 1.0)


def test_rubbish_comes_before_the_reading_and_leaves_it_whole(desk):
    desk.node.faults.rubbish = b"\xff$r n=\n"
    splitter = Splitter()
    assert len(splitter.feed(desk.node.tick())) == 1
    assert splitter.dropped.total() == 1


def test_counters_wrap_where_the_protocol_says(desk):
    desk.node.up_ms = 2**32 - 500
    desk.node._n = 65534
    desk.node.bad = 65535
    desk.node.receive(b"x\n")
    assert [(r.n, r.up_ms, r.bad) for r in (desk.tick(), desk.tick())] == [(65535, 500, 0), (0, 1500, 0)]


def test_the_longest_reading_still_fits_into_a_frame():
    desk = Desk(-55.25, -55.25, -55.25, -55.25, feedback=True)
    desk.node.up_ms = 2**32 - 2000
    desk.node.bad = desk.node.ack = 65535
    desk.tick()
