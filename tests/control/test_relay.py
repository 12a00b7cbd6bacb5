"""The relay's timing: what was owed is delivered, and the relay is spared."""

import itertools
import math
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.control import RelayTiming
from holdctl.control.relay import BRIDGE_MS

DUTIES = st.floats(0.01, 0.99)
CYCLES = st.sampled_from((10.0, 20.0, 60.0, 80.0, 240.0))
MINIMA = st.sampled_from((0.0, 0.5, 2.0, 4.0))


LONG = settings(max_examples=30, deadline=None)


class Node:
    """What a node does with leases: on from the reading until the lease ends or the next one replaces it."""

    def __init__(self, timing):
        self.timing = timing
        self.now_s = self.until_s = self.on_s = 0.0
        self.edges: list[tuple[float, bool]] = []
        self.leases: list[int] = []

    def reading(self, duty, dt_s):
        """Pass `dt_s`, then ask for a lease."""
        before, self.now_s = self.now_s, self.now_s + dt_s
        self.on_s += max(0.0, min(self.now_s, self.until_s) - before)
        if before < self.until_s <= self.now_s - 1e-9:
            self.edges.append((self.until_s, False))
        was_on = self.until_s > self.now_s - 1e-9 and self.on_now
        lease = self.timing.lease(duty, dt_s)
        self.leases.append(lease)
        if bool(lease) != was_on:
            self.edges.append((self.now_s, bool(lease)))
        self.until_s = self.now_s + lease / 1000
        return lease

    @property
    def on_now(self):
        return bool(self.edges) and self.edges[-1][1]

    def spans(self, on):
        """Lengths of all whole on or off times, s."""
        pairs = itertools.pairwise(self.edges)
        return [end - start for (start, is_on), (end, _) in pairs if is_on is on]

    def switch_ons(self):
        return [at for at, on in self.edges if on]


def _run(duty, cycle=60.0, min_on=2.0, min_off=2.0, seconds=3600, dt=lambda: 1.0):
    node = Node(RelayTiming(cycle, min_on, min_off))
    for _ in range(seconds):
        node.reading(duty, dt())
    return node


@LONG
@given(duty=DUTIES, cycle=CYCLES, minimum=MINIMA)
def test_in_the_long_run_the_relay_is_on_for_duty_times_time_within_one_pulse(duty, cycle, minimum):
    node = _run(duty, cycle, minimum, minimum)
    pulse = max([cycle * duty, *node.spans(True)])
    owed = duty * node.now_s
    assert abs(node.on_s - owed) <= pulse + 1.0


@LONG
@given(duty=DUTIES, cycle=CYCLES)
def test_over_ten_hours_the_error_is_still_within_one_pulse(duty, cycle):
    node = Node(RelayTiming(cycle, 2.0, 2.0))
    for _ in range(3600):
        node.reading(duty, 1.0)
    early = node.on_s - duty * node.now_s
    for _ in range(3600):
        node.reading(duty, 1.0)
    late = node.on_s - duty * node.now_s
    assert abs(late - early) <= 2 * max([cycle * duty, *node.spans(True)]) + 1.0


@LONG
@given(
    duties=st.lists(st.floats(0.0, 1.0), min_size=20, max_size=60),
    cycle=CYCLES,
    minimum=MINIMA,
    seed=st.integers(0, 99),
)
def test_minimum_on_and_off_are_kept_whatever_the_duty_does(duties, cycle, minimum, seed):
    node, rng = Node(RelayTiming(cycle, minimum, minimum)), random.Random(seed)
    for duty in duties:
        for _ in range(rng.randrange(1, 30)):
            node.reading(duty, rng.choice((1.0, 1.0, 0.997, 1.004)))
    # A millisecond of rounding: leases are whole milliseconds.
    assert all(span >= minimum - 0.0011 for span in node.spans(True))
    assert all(span >= minimum - 0.0011 for span in node.spans(False))


@LONG
@given(duty=DUTIES, cycle=CYCLES)
def test_there_is_at_most_one_switch_on_in_a_cycle(duty, cycle):
    ons = _run(duty, cycle, 0.0, 0.0, 1800).switch_ons()
    assert all(later - one >= cycle - 1e-6 for one, later in itertools.pairwise(ons))


@LONG
@given(cycle=CYCLES, seed=st.integers(0, 99))
def test_jitter_of_the_readings_takes_no_more_than_half_a_tick_off_the_cycle(cycle, seed):
    rng = random.Random(seed)
    ons = _run(0.3, cycle, 2.0, 2.0, 1800, lambda: 1.0 + rng.uniform(-0.05, 0.05)).switch_ons()
    assert all(later - one >= cycle - 0.5 for one, later in itertools.pairwise(ons))
    assert len(ons) <= 1890 / cycle + 2


@pytest.mark.parametrize("duty", [0.05, 0.1234, 0.25, 0.5017, 0.777, 0.9])
def test_the_resolution_is_finer_than_a_tick(duty):
    """In steady state each pulse is duty × cycle, to the millisecond, not to the second."""
    spans = _run(duty).spans(True)[2:]
    assert len(spans) > 20
    assert all(span == pytest.approx(duty * 60.0, abs=0.0021) for span in spans)


@pytest.mark.parametrize("duty", [0.1, 0.4, 0.6, 0.8, 0.95])
def test_an_odd_pulse_is_forgotten_after_two_cycles(duty):
    """Going off at a debt of zero would turn an error into -duty/(1 - duty) of itself each cycle, growing
    over half duty: the subharmonic oscillation of current-mode switching, cured by the same sloping line."""
    node = Node(RelayTiming(60.0, 2.0, 2.0))
    for _ in range(610):
        node.reading(duty, 1.0)
    for _ in range(20):
        node.reading(1.0 - duty, 1.0)
    for _ in range(1200):
        node.reading(duty, 1.0)
    late = [end - start for (start, on), (end, _) in itertools.pairwise(node.edges)
            if on and start > 630 + 180]  # fmt: skip
    assert len(late) > 8
    assert all(span == pytest.approx(duty * 60.0, abs=0.0021) for span in late)


@given(
    steps=st.lists(st.tuples(st.floats(0.0, 1.0), st.floats(0.0, 3.0)), max_size=200),
    bridge=st.sampled_from((300, 1000, BRIDGE_MS)),
)
def test_no_lease_is_longer_than_the_bridge(steps, bridge):
    timing = RelayTiming(60.0, 2.0, 2.0, bridge_ms=bridge)
    assert all(0 <= timing.lease(duty, dt) <= bridge for duty, dt in steps)


def test_one_lost_reading_does_not_switch_a_relay_off_that_is_to_stay_on():
    node = Node(RelayTiming(60.0, 2.0, 2.0))
    node.reading(1.0, 1.0)
    node.reading(1.0, 2.0)
    node.reading(1.0, 1.0)
    assert node.switch_ons() == [1.0]
    assert node.on_s == pytest.approx(3.0)


def test_a_lease_that_lapsed_was_an_off_time_and_is_booked_as_one():
    """Five seconds without a reading: 2.5 s of lease were delivered, and the rest is still owed."""
    node = Node(RelayTiming(60.0, 2.0, 2.0))
    node.reading(0.5, 1.0)
    for _ in range(3):
        node.reading(0.5, 1.0)
    node.reading(0.5, 5.0)
    assert node.edges[-1][1] is False
    for _ in range(600):
        node.reading(0.5, 1.0)
    assert abs(node.on_s - 0.5 * node.now_s) <= 31.0


def test_zero_duty_never_switches_on_and_full_duty_never_off():
    assert _run(0.0).switch_ons() == []
    full = _run(1.0)
    assert full.spans(True) == []
    assert len(full.switch_ons()) == 1


def test_the_duty_is_averaged_over_the_cycle_and_not_sampled_at_its_start():
    """A duty that swings between 0 and 0.6 within each cycle still delivers its mean."""
    node = Node(RelayTiming(60.0, 2.0, 2.0))
    for second in range(7200):
        node.reading(0.6 * (second % 2), 1.0)
    assert node.on_s / node.now_s == pytest.approx(0.3, abs=0.005)


def _indebted() -> RelayTiming:
    """A relay that owes half a minute: full duty was asked for while it waited for its next cycle."""
    timing = RelayTiming(60.0, 2.0, 5.0)
    for duty in [0.1] * 40 + [0.0] * 10 + [1.0] * 30:
        timing.lease(duty, 1.0)
    timing.lease(0.0, 3.0)
    return timing


def test_a_rest_forgets_the_debt():
    rested, other = _indebted(), _indebted()
    rested.rest()
    assert sum(other.lease(0.01, 1.0) > 0 for _ in range(100)) > 10
    assert [rested.lease(0.01, 1.0) for _ in range(100)] == [0] * 100, "a debt from before the rest is paid"


def test_at_full_duty_the_relay_stays_on_though_a_second_too_much_was_given_before():
    """Less than the minimum off-time would be left of the cycle."""
    timing = RelayTiming(60.0, 2.0, 2.0)
    timing._owed_s = -1.5
    leases = [timing.lease(1.0, 1.0) for _ in range(300)]
    assert all(leases[leases.index(BRIDGE_MS) :])


def test_after_a_rest_the_relay_stays_off_for_the_minimum_off_time():
    timing = RelayTiming(4.0, 2.0, 30.0)
    for _ in range(10):
        timing.lease(1.0, 1.0)
    timing.rest()
    leases = [timing.lease(1.0, 1.0) for _ in range(40)]
    assert leases[:29] == [0] * 29
    assert leases[29] > 0


@pytest.mark.parametrize("duty", [-0.01, 1.01, math.nan, math.inf, -math.inf])
def test_a_duty_outside_0_to_1_is_refused_and_changes_nothing(duty):
    one, other = RelayTiming(60.0, 2.0, 2.0), RelayTiming(60.0, 2.0, 2.0)
    one.lease(0.5, 1.0)
    other.lease(0.5, 1.0)
    with pytest.raises(ValueError, match="duty"):
        one.lease(duty, 1.0)
    assert one == other


@pytest.mark.parametrize("dt_s", [-1.0, math.nan, math.inf])
def test_a_bad_time_step_is_refused(dt_s):
    with pytest.raises(ValueError, match="finite"):
        RelayTiming(60.0, 2.0, 2.0).lease(0.5, dt_s)
