"""What the node's own report shows of relay, acknowledgements and clock."""

import msgspec
import pytest

from holdctl.safety.wiring import SEEN, UNHEARD, Acknowledgements, Contact, NodeClock
from tests.closed_loop import reading


def _node(relay=False, left=0, feedback=None, ack=0, n=1):
    return msgspec.structs.replace(reading(n, 65.0, relay=relay, left_ms=left), feedback=feedback, ack=ack)


def test_voltage_behind_an_open_contact_is_a_welded_relay_after_three_readings():
    contact = Contact()
    found = [contact.look(_node(feedback=True), 1000 * s)[0] for s in range(5)]
    assert found[: SEEN - 1] == ["", ""]
    assert all("voltage behind" in text for text in found[SEEN - 1 :])


def test_a_contact_on_its_way_is_no_welded_relay():
    contact = Contact()
    for s in range(20):
        assert contact.look(_node(feedback=s % 3 != 0), 1000 * s) == ("", "")


def test_no_voltage_behind_a_driven_contact_is_said_as_no_heat():
    contact = Contact()
    found = [contact.look(_node(relay=True, left=2000, feedback=False), 1000 * s)[1] for s in range(4)]
    assert found[: SEEN - 1] == ["", ""]
    assert "should be closed" in found[-1]


def test_a_relay_driven_long_after_the_last_lease_is_welded():
    contact = Contact()
    contact.leased(5000, 0)
    assert all(contact.look(_node(relay=True), 1000 * s)[0] == "" for s in range(7))
    assert [bool(contact.look(_node(relay=True), 7000 + 1000 * s)[0]) for s in range(4)] == [
        False,
        False,
        True,
        True,
    ]


def test_a_relay_driven_with_a_lease_left_is_in_order():
    contact = Contact()
    contact.leased(5000, 0)
    assert all(contact.look(_node(relay=True, left=3000), 1000 * s) == ("", "") for s in range(60))


def test_a_lease_of_nothing_is_no_lease():
    contact = Contact()
    contact.leased(0, 0)
    assert [bool(contact.look(_node(relay=True), 1000 * s)[0]) for s in range(4)] == [
        False,
        False,
        True,
        True,
    ]


def test_a_node_that_stops_acknowledging_is_found_after_five_readings():
    acks = Acknowledgements()
    assert not any(acks.look(_node(ack=n, relay=True), 2000) for n in range(1, 50))
    found = [acks.look(_node(ack=49, relay=True), 2000) for _ in range(UNHEARD + 1)]
    assert not any(found[: UNHEARD - 1])
    assert found[-1]
    assert not acks.look(_node(ack=50, relay=True), 0)


def test_a_node_that_never_obeyed_is_found_though_it_never_acknowledged():
    acks = Acknowledgements()
    assert any(acks.look(_node(), 2000) for _ in range(UNHEARD + 2))
    assert acks.look(_node(), 0), "under lease 0 only a moving acknowledgement clears it"


def test_a_node_that_obeys_without_a_moving_number_is_left_alone():
    acks = Acknowledgements()
    assert not any(acks.look(_node(relay=True, left=1000), 2000) for _ in range(50))


def test_after_a_boot_the_numbers_begin_anew():
    acks = Acknowledgements()
    for n in range(1, 10):
        acks.look(_node(ack=n, relay=True), 2000)
    acks.forget()
    assert not any(acks.look(_node(ack=0, relay=True), 0) for _ in range(UNHEARD))


def test_a_node_clock_two_percent_fast_is_told_after_ten_minutes_and_one_in_step_never():
    for rate, told in ((1.02, True), (0.98, True), (1.0, False), (1.004, False)):
        clock = NodeClock()
        seen = [clock.look(round(1000 * s * rate) % 2**32, 1000 * s) for s in range(1300)]
        assert any(seen) is told
        assert not any(seen[:599])
        if told:
            assert abs(seen[-1] - (rate - 1)) < 0.003


def test_the_node_clock_may_wrap():
    clock = NodeClock()
    assert not any(clock.look((2**32 - 300_000 + 1000 * s) % 2**32, 1000 * s) for s in range(1300))


def test_the_node_clock_begins_anew_after_a_boot():
    clock = NodeClock()
    clock.look(500_000, 0)
    clock.forget()
    assert not any(clock.look(1000 * s, 10_000 + 1000 * s) for s in range(700))


# At their borders ----------------------------------------------------------------------------------------------


def test_each_finding_has_its_own_words():
    contact = Contact()
    for s in range(SEEN):
        closed = contact.look(_node(feedback=True), 1000 * s)
    assert closed == ("there is voltage behind a contact that should be open", "")
    contact = Contact()
    for s in range(SEEN):
        driven = contact.look(_node(relay=True), 1000 * s)
    assert driven == ("the node drives its relay without a lease", "")
    contact = Contact()
    found = [contact.look(_node(relay=True, left=2000, feedback=False), 1000 * s) for s in range(SEEN)]
    assert found == [("", ""), ("", ""), ("", "no voltage behind a contact that should be closed")]


def test_a_contact_that_has_been_in_order_has_three_readings_again():
    contact = Contact()
    contact.look(_node(relay=True, left=2000, feedback=True), 0)
    found = [contact.look(_node(relay=True, left=2000, feedback=False), 1000 * s)[1] for s in range(1, 4)]
    assert [bool(text) for text in found] == [False, False, True]


def test_the_shortest_lease_is_a_lease_and_whenever_it_came_it_has_run_out_six_seconds_later():
    for begun in (0, 5_000, 3_600_000):
        contact = Contact()
        contact.leased(1, begun)
        assert not any(contact.look(_node(relay=True), begun + ms)[0] for ms in (1000, 3000, 6000))
        found = [bool(contact.look(_node(relay=True), begun + 6001 + 1000 * s)[0]) for s in range(3)]
        assert found == [False, False, True]


def _readings_until_found(acks, node, lease_ms):
    return next((n for n in range(1, 30) if acks.look(node, lease_ms)), None)


def test_an_acknowledgement_that_stands_still_is_found_at_the_fifth_reading_also_after_a_boot():
    acks = Acknowledgements()
    for round_ in range(2):
        acks.look(_node(ack=1, relay=True), 2000)
        acks.look(_node(ack=2, relay=True), 2000)
        assert _readings_until_found(acks, _node(ack=2, relay=True), 2000) == UNHEARD, round_
        acks.forget()
        assert _readings_until_found(acks, _node(ack=2, relay=True), 2000) == UNHEARD + 1  # one to begin from
        acks.forget()


def test_a_node_that_never_obeyed_is_found_at_the_sixth_reading_and_each_time_that_it_obeys_begins_anew():
    assert _readings_until_found(Acknowledgements(), _node(), 2000) == UNHEARD + 1
    assert _readings_until_found(Acknowledgements(), _node(), 1) == UNHEARD + 1
    acks = Acknowledgements()
    for _ in range(10):  # four deaf readings, one obedient: never five running
        assert not any(acks.look(_node(), 2000) for _ in range(UNHEARD - 1))
        assert not acks.look(_node(relay=True), 2000)
    acks.forget()
    assert not any(acks.look(_node(), 2000) for _ in range(UNHEARD - 1)), "a boot begins anew"


@pytest.mark.parametrize(
    ("node", "lease_ms"), [(_node(), 0), (_node(relay=True), 2000), (_node(left=1), 2000)]
)
def test_lease_0_a_closed_relay_or_a_rest_of_a_lease_is_obedience_enough(node, lease_ms):
    assert _readings_until_found(Acknowledgements(), node, lease_ms) is None


@pytest.mark.parametrize(
    ("ahead_ms", "told"), [(7_500, False), (7_501, True), (-7_500, False), (-7_501, True)]
)
def test_a_clock_is_astray_beyond_one_percent_and_a_second_and_a_half(ahead_ms, told):
    clock = NodeClock()
    assert clock.look(5_000, 1_000) == 0.0
    assert clock.look(5_000 + 599_999 + 60_000, 600_999) == 0.0, "ten minutes have not passed"
    clock = NodeClock()
    clock.look(5_000, 1_000)
    found = clock.look(605_000 + ahead_ms, 601_000)
    assert found == (ahead_ms / 600_000 if told else 0.0)


def test_each_ten_minutes_are_measured_by_themselves():
    clock = NodeClock()
    clock.look(0, 0)
    assert clock.look(600_000, 600_000) == 0.0
    assert clock.look(1_212_000, 1_200_000) == pytest.approx(0.02)
    assert clock.look(1_500_000, 1_500_000) == pytest.approx(0.02), "as last measured"
    assert clock.look(1_812_000, 1_800_000) == 0.0
