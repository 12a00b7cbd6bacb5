"""What takes the relay off, whatever control would like, and what lets it on again."""

import msgspec
import pytest

from holdctl.events import (
    Condition,
    ForeignAck,
    LinkChange,
    NodeBoot,
    NoticeKind,
    ProbeFault,
    RequestKind,
    Silence,
    State,
)
from holdctl.hold import Hold
from holdctl.safety import INTERLOCKS, Effect
from holdctl.settings import Place, Probe
from tests.closed_loop import HOUR, instant, loop, reading
from tests.hold.bench import Bench, stirred

COLD = (60.0, 60.0)
"""Five kelvin under the setpoint: full duty, so that a lease of 0 is never control's own wish."""


def _warm() -> Bench:
    """A hold that heats."""
    bench = Bench()
    assert bench.reads(5, *COLD).lease_ms > 0
    return bench


def _heats(bench: Bench) -> bool:
    """Whether heat comes again within one cycle of the relay: it is switched on at most once in each."""
    return any(bench.read(*COLD).lease_ms for _ in range(85))


def test_three_seconds_of_silence_take_the_relay_off_and_trip():
    bench = _warm()
    decision = bench.event(Silence(), 3000)
    assert decision.lease_ms == 0
    assert bench.names(NoticeKind.TRIP) == ["no-reading"]


def test_without_a_line_its_silence_is_no_alarm_of_its_own():
    bench = _warm()
    bench.event(LinkChange(False, "unplugged"))
    assert bench.event(Silence(), 3000).lease_ms == 0
    assert bench.names(NoticeKind.TRIP) == ["link-down"]
    bench.event(LinkChange(True, "back"), 5000)
    bench.event(Silence(), 3000)
    assert bench.names(NoticeKind.TRIP) == ["link-down", "no-reading"], "a line is there, and nobody on it"


def test_a_reading_after_a_silence_clears_the_trip_and_heats_on():
    bench = _warm()
    bench.event(Silence(), 3000)
    assert _heats(bench)
    assert bench.names(NoticeKind.TRIP_CLEARED) == ["no-reading"]


@pytest.mark.parametrize("fault", list(ProbeFault))
@pytest.mark.parametrize("channel", [0, 1])
def test_a_probe_fault_takes_the_relay_off_in_the_same_decision(fault, channel):
    bench = _warm()
    temps = list(COLD)
    temps[channel] = fault
    decision = bench.read(*temps)
    assert decision.lease_ms == 0
    assert [notice.name for notice in decision.notices] == ["probe-fault"]
    assert f"probe {channel + 1}" in decision.notices[0].text


def test_a_fitted_probe_that_the_settings_do_not_name_counts_when_it_is_faulty():
    bench = _warm()
    assert bench.read(*COLD, ProbeFault.OPEN).lease_ms == 0


def test_a_probe_that_the_settings_name_and_the_node_has_not_is_a_fault():
    decision = Bench().read(60.0)
    assert decision.lease_ms == 0
    assert "probe 2 (wall) is not fitted to the node" in decision.notices[-1].text


def test_readings_that_are_all_faulty_for_three_seconds_are_silence_too():
    bench = _warm()
    for _ in range(4):
        bench.read(ProbeFault.OPEN, 60.0)
    assert bench.names(NoticeKind.TRIP) == ["probe-fault", "no-reading"]


def test_the_trip_of_a_probe_falls_with_its_first_valid_reading():
    bench = _warm()
    bench.read(ProbeFault.SHORT, 60.0)
    bench.reads(2, *COLD)
    assert not bench.hold.standing
    assert _heats(bench)


def test_a_line_that_is_down_keeps_the_relay_off_until_it_is_up_again():
    bench = _warm()
    assert bench.event(LinkChange(False, "unplugged"), 100).lease_ms == 0
    assert bench.read(*COLD).lease_ms == 0
    bench.event(LinkChange(True), 100)
    assert _heats(bench)


def test_a_value_over_the_limit_takes_the_relay_off_at_once_and_trips():
    bench = _warm()
    bench.reads(20, 76.5, 76.0)
    decision = bench.read(78.5, 76.0)
    assert decision.lease_ms == 0
    assert decision.state is State.HELD
    assert bench.names(NoticeKind.TRIP)[-1] == "high-limit"  # such jumps are a probe that is out, too
    assert bench.notices(NoticeKind.TRIP)[-1].detail["latched"] is True


@pytest.mark.parametrize("temps", [(78.5, 60.0), (60.0, 90.5)])
def test_paste_and_wall_have_limits_of_their_own(temps):
    bench = _warm()
    bench.reads(2, *temps)
    assert bench.names(NoticeKind.TRIP) == ["high-limit"]


def test_a_single_wild_value_over_the_limit_takes_the_relay_off_for_its_second_only():
    bench = _warm()
    wild = bench.read(85.0, 60.0)
    assert (wild.lease_ms, wild.state) == (0, State.RUNNING)
    assert _heats(bench)
    assert bench.names(NoticeKind.TRIP) == []


def test_the_second_reading_over_the_limit_latches():
    bench = _warm()
    bench.reads(2, 85.0, 60.0)
    assert bench.names(NoticeKind.TRIP) == ["high-limit"]


def test_a_wild_probe_does_not_hide_another_ones_trip():
    """Probe 1 jumps about at every reading; probe 2 is steadily over its limit."""
    bench = _warm()
    bench.reads(30, 60.0, 89.0)
    for wild in (20.0, 45.0, 20.0, 45.0):
        bench.read(wild, 91.0)
    assert bench.names(NoticeKind.TRIP)[-1] == "high-limit"  # such jumps are a probe that is out, too


def test_a_latched_trip_stays_when_its_cause_is_gone_and_needs_a_reset_that_names_it():
    bench = _warm()
    bench.reads(2, 85.0, 60.0)
    assert bench.reads(60, *COLD).lease_ms == 0
    bench.ask(RequestKind.RESET, "no-reading")
    bench.ask(RequestKind.RESET)
    bench.ask(RequestKind.NEXT)
    assert bench.reads(5, *COLD).lease_ms == 0
    bench.ask(RequestKind.RESET, "high-limit")
    assert bench.names(NoticeKind.RESET) == ["high-limit"]
    assert _heats(bench)


def test_a_reset_is_refused_while_the_cause_is_there():
    bench = _warm()
    bench.reads(2, 85.0, 60.0)
    bench.reads(2, 76.5, 60.0)
    bench.ask(RequestKind.RESET, "high-limit")
    assert "must fall to" in bench.notices(NoticeKind.REFUSED)[0].text
    assert bench.reads(5, 76.5, 60.0).lease_ms == 0
    assert bench.hold.state is State.HELD


@pytest.mark.parametrize("name", ["high-limit", "other-host", "from-a-newer-version"])
def test_a_trip_latched_in_an_earlier_hold_keeps_the_relay_off_from_the_start(name):
    bench = Bench(latched=(name,))
    assert bench.reads(30, *COLD).lease_ms == 0
    assert bench.hold.state is State.HELD
    (trip,) = bench.notices(NoticeKind.TRIP)
    assert (trip.name, trip.detail["latched"], trip.detail["restored"]) == (name, True, True)
    assert f"holdctl reset {name}" in trip.text
    bench.ask(RequestKind.RESET, name)
    assert _heats(bench)


def test_a_restored_trip_cannot_be_reset_before_the_first_reading():
    bench = Bench(latched=("high-limit",))
    bench.ask(RequestKind.RESET, "high-limit")
    assert "no valid reading" in bench.notices(NoticeKind.REFUSED)[0].text
    assert bench.hold.state is State.HELD


def test_a_restored_trip_on_a_hot_paste_waits_for_the_limit_to_arm():
    """Reset of a trip while the paste is still hot is refused, however the hold began."""
    bench = Bench(latched=("high-limit",))
    bench.reads(5, 88.0, 85.0)
    bench.ask(RequestKind.RESET, "high-limit")
    assert bench.names(NoticeKind.REFUSED) == ["reset"]


def test_a_start_above_the_limit_is_settling_without_heat_and_without_a_trip():
    bench = Bench()
    for tenth in range(880, 640, -1):
        decision = bench.read(tenth / 10, 64.0)
        assert decision.state is State.RUNNING
        if tenth > 760:
            assert decision.lease_ms == 0
    assert bench.names(NoticeKind.TRIP) == []
    assert bench.hold.interlocked.high.armed


def test_nothing_heats_while_one_probe_has_not_yet_been_two_kelvin_below_its_limit():
    """The core is at 77 °C and its limit is not armed: whatever control says, the relay stays off."""
    core = Probe(channel=3, place=Place.CORE, error_k=0.5)
    settings = stirred()
    bench = Bench(msgspec.structs.replace(settings, probe=(*settings.probe, core)))
    assert all(bench.read(60.0, 60.0, 77.0).lease_ms == 0 for _ in range(200))
    assert "high-limit" not in bench.names(NoticeKind.TRIP)
    assert not bench.hold.interlocked.high.armed
    bench.read(60.0, 60.0, 76.0)
    assert bench.hold.interlocked.high.armed


def test_a_mix_at_88_settles_in_the_simulated_kettle():
    night = loop("stirred-kettle", start_c=88.0).run(HOUR)
    phases = [notice.name for notice in night.notices if notice.kind is NoticeKind.PHASE]
    assert phases[0] == "settling"
    assert night.trips() == []


def test_the_nodes_own_cut_out_keeps_the_relay_off_until_the_node_says_it_is_clear():
    bench = _warm()
    assert bench.read(*COLD, cut=True).lease_ms == 0
    assert bench.names(NoticeKind.TRIP) == ["node-cutout"]
    assert bench.hold.state is State.RUNNING
    bench.ask(RequestKind.RESET, "node-cutout")
    assert bench.names(NoticeKind.INFO)[-1] == "cutout-reset"
    assert bench.read(*COLD, cut=True).lease_ms == 0
    assert _heats(bench)


def test_a_command_that_was_never_sent_from_here_latches():
    bench = _warm()
    decision = bench.event(ForeignAck(41), 200)
    assert (decision.lease_ms, decision.state) == (0, State.HELD)
    assert bench.reads(30, *COLD).lease_ms == 0
    bench.ask(RequestKind.RESET, "other-host")
    assert _heats(bench)


def test_a_reset_of_one_latched_trip_leaves_the_other():
    bench = _warm()
    bench.event(ForeignAck(41))
    bench.reads(2, 85.0, 60.0)
    bench.reads(5, *COLD)
    bench.ask(RequestKind.RESET, "high-limit")
    assert bench.hold.state is State.HELD
    assert bench.read(*COLD).lease_ms == 0


def test_a_node_that_boots_by_itself_is_off_and_its_relay_waits_for_its_minimum_off_time():
    bench = _warm()
    bench.event(NodeBoot("x-1", 2, 5000, (None, None), "watchdog", asked=False), 100)
    assert bench.names(NoticeKind.INFO) == ["node-boot"]
    assert bench.read(*COLD).lease_ms == 0


@pytest.mark.parametrize("most_ms", [200, 1500, 5000])
def test_no_lease_is_longer_than_the_node_grants_and_the_relays_books_know_it(most_ms):
    bench = Bench()
    bench.event(NodeBoot("x-1", 2, most_ms, (None, None), "power"))
    leases = [bench.read(*COLD).lease_ms for _ in range(200)]
    assert max(leases) == min(most_ms, 2500)
    assert bench.hold.drive.relay.bridge_ms == min(most_ms, 2500)


@pytest.mark.parametrize("most_ms", [1500, 5000])
def test_half_an_hour_of_leases_delivers_the_duty_that_was_asked_for(most_ms):
    bench = Bench()
    bench.event(NodeBoot("x-1", 2, most_ms, (None, None), "power"))
    on_s = sum(min(bench.read(64.9, 65.3).lease_ms, 1000) for _ in range(1800)) / 1000
    owed_s = sum(decision.duty for decision in bench.seen)
    assert 20 < on_s == pytest.approx(owed_s, abs=80 * owed_s / 1800 + 2)


@pytest.mark.parametrize("channel", [0, 1])
@pytest.mark.parametrize("value", [-127.0, -9999.99, 151.0, 9999.99])
def test_a_value_that_nothing_here_can_have_is_a_fault(channel, value):
    bench = _warm()
    temps = list(COLD)
    temps[channel] = value
    for _ in range(3):
        assert bench.read(*temps).lease_ms == 0
    assert bench.names(NoticeKind.TRIP)[0] == "probe-fault"


def test_an_old_conversion_is_no_reading():
    bench = _warm()
    bench.ms += 1000
    stale = msgspec.structs.replace(reading(bench.n + 1, *COLD), age_ms=3001)
    assert bench.hold.step(stale, instant(bench.ms)).lease_ms == 0
    assert "probe-fault" in bench.hold.standing


def test_a_node_whose_clock_stands_still_is_silent_however_much_it_says():
    """Paced by the node: the host's clock goes on, the hold's does not."""
    hold = Hold(stirred())
    at = instant(10_000)
    for second in range(10):
        decision = hold.step(reading(10, *COLD), type(at)(10_000, 1000 * second, at.utc_ms))
        assert second < 3 or decision.lease_ms == 0
    assert "no-reading" in hold.standing
    decision = hold.step(reading(11, *COLD), type(at)(11_000, 11_000, at.utc_ms))
    assert "no-reading" not in hold.standing


def test_another_host_that_still_talks_trips_again_after_a_reset():
    bench = _warm()
    bench.event(ForeignAck(9))
    bench.read(*COLD)
    bench.ask(RequestKind.RESET, "other-host")
    assert bench.hold.state is State.RUNNING
    assert bench.event(ForeignAck(10)).lease_ms == 0
    assert bench.hold.state is State.HELD


@pytest.mark.parametrize(("longest_ms", "alarms"), [(1499, ["short-lease"]), (1500, []), (5000, [])])
def test_a_node_that_cannot_bridge_two_readings_is_an_alarm_once(longest_ms, alarms):
    bench = Bench()
    for _ in range(2):
        bench.event(NodeBoot("short", 2, longest_ms, (None, None), "power"))
    assert bench.names(NoticeKind.ALARM) == alarms


@pytest.mark.parametrize(
    "name", sorted(name for name, row in INTERLOCKS.items() if row.effect is Effect.TRIP)
)
def test_every_trip_that_is_told_to_the_hold_takes_the_relay_off_shelved_or_not(name):
    for shelved in (False, True):
        bench = _warm()
        if shelved:
            bench.ask(RequestKind.SHELVE, f"{name} 10 min")
        assert bench.event(Condition(name, True)).lease_ms == 0
        assert bench.event(Silence(), 100).lease_ms == 0
        assert bench.hold.alarms.active(name)
        assert name in bench.hold.standing


def test_a_trip_that_chatters_takes_the_relay_off_each_time():
    bench = _warm()
    for _ in range(5):
        assert bench.read(ProbeFault.OPEN, 60.0).lease_ms == 0
        bench.reads(5, *COLD)
        assert not bench.hold.standing
    trips = bench.notices(NoticeKind.TRIP)
    assert [trip.detail.get("held_back") for trip in trips] == [None, None, *["chattering"] * 3]
    assert bench.names(NoticeKind.CHATTERING) == ["probe-fault"]


@pytest.mark.parametrize(
    "name", sorted(name for name, row in INTERLOCKS.items() if row.effect is Effect.ALARM_ONLY)
)
def test_no_mere_alarm_touches_the_heat(name):
    """Cutting it would spoil the food."""
    bench, calm = _warm(), _warm()
    bench.hold.heed(*bench.hold.alarms.raise_now(name, "", bench.ms))
    assert name in bench.hold.alarms
    leases = [(bench.read(*COLD).lease_ms, calm.read(*COLD).lease_ms) for _ in range(120)]
    assert all(one == other for one, other in leases)
    assert any(one for one, _ in leases)


def test_hot_paste_in_a_cold_vessel_is_no_probe_outside_the_paste():
    night = loop("stirred-kettle", start_c=82.0, vessel_c=20.0).run(170)
    assert night.plant.truth().wall_c < 48.0, (
        "a wall that no warm vessel has: the model thinks it far warmer by now"
    )
    assert night.trips() == []
