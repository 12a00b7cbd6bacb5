import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.device.framing import Splitter, encode
from holdctl.device.session import NodeSession
from holdctl.events import ForeignAck, LinkChange, NodeBoot, Reading

from .frames import HELLO, frame

QUESTION = encode("hello?")


def words(sent):
    return Splitter().feed(sent)


def kinds(events):
    return [type(event) for event in events]


def test_hello_is_asked_at_once_and_then_every_second_until_answered():
    session = NodeSession()
    asked = [now for now in range(0, 3501, 50) if session.due(now) == QUESTION]
    assert asked == [0, 1000, 2000, 3000]
    session.receive(HELLO, 3500)
    assert [session.due(now) for now in range(3500, 9000, 50)] == [b""] * 110


def test_before_the_answer_no_lease_leaves_and_no_reading_is_passed_on():
    session = NodeSession()
    session.due(0)
    assert session.receive(frame(5), 10) == []
    assert session.lease(5, 0) == session.lease(5, 500) == session.reset_cutout() == b""


def test_before_the_first_reading_no_command_leaves_for_its_number_is_not_known(session):
    assert session.lease(0, 0) == session.lease(0, 500) == session.reset_cutout() == b""
    session.receive(frame(5, ack=41), 0)
    assert words(session.lease(5, 0)) == ["lease n=42 re=5 ms=0"]


def test_after_a_later_hello_the_relay_may_be_put_off_at_once_but_on_only_after_a_reading(session):
    session.receive(frame(5), 0)
    session.receive(HELLO, 60_000)
    assert session.lease(5, 500) == b""
    assert words(session.lease(5, 0)) == ["lease n=1 re=5 ms=0"]
    session.receive(frame(6, ack=1), 0)
    assert words(session.lease(6, 500)) == ["lease n=2 re=6 ms=500"]


def test_the_answer_is_a_boot_that_was_asked_for_and_readings_follow_it():
    session = NodeSession()
    session.due(0)
    events = session.receive(HELLO + frame(6), 10)
    assert events[0] == NodeBoot("0.3", 1, 2000, (95.0,), "power", asked=True)
    assert kinds(events) == [NodeBoot, Reading]


def test_a_hello_that_nobody_asked_for_is_a_boot(session):
    session.receive(frame(100), 100_000)
    (boot,) = session.receive(HELLO, 100_500)
    assert not boot.asked
    assert session.answered  # it has introduced itself: no need to ask


def test_a_node_that_answers_two_questions_has_not_booted():
    session = NodeSession()
    session.due(0)
    session.due(1000)
    (first, second) = session.receive(HELLO + HELLO, 1500)
    assert first.asked and second.asked


def test_a_hello_long_after_a_question_that_went_unanswered_is_a_boot():
    session = NodeSession()
    session.due(0)
    session.due(1000)
    session.receive(HELLO, 1500)
    (boot,) = session.receive(HELLO, 60_000)
    assert not boot.asked


def test_leases_are_numbered_from_1_and_wrap_from_65535_to_1(session):
    session.receive(frame(1), 0)
    sent = [words(session.lease(1, 500))[0].split()[1] for _ in range(65537)]
    assert sent[:2] == ["n=1", "n=2"]
    assert sent[65533:] == ["n=65534", "n=65535", "n=1", "n=2"]


def test_numbers_go_on_from_what_an_earlier_run_of_this_host_left_in_the_node(session):
    (only,) = session.receive(frame(9, ack=800), 0)
    assert isinstance(only, Reading)
    assert words(session.lease(9, 500)) == ["lease n=801 re=9 ms=500"]
    assert kinds(session.receive(frame(10, ack=801), 0)) == [Reading]


@pytest.mark.parametrize(
    ("asked", "sent"), [(500, 500), (2000, 2000), (2001, 2000), (60000, 2000), (0, 0), (-5, 0)]
)
def test_a_lease_is_cut_to_the_nodes_longest_and_0_is_always_possible(session, asked, sent):
    session.receive(frame(3), 0)
    assert words(session.lease(3, asked)) == [f"lease n=1 re=3 ms={sent}"]


def test_a_reset_of_the_cutout_has_a_number_of_the_same_row(session):
    session.receive(frame(1), 0)
    session.lease(1, 0)
    assert words(session.reset_cutout()) == ["reset-cutout n=2"]
    assert kinds(session.receive(frame(2, ack=2), 0)) == [Reading]


def run_up(session, n=100, up=100_000):
    session.receive(frame(n - 1, up - 1000), 0)
    session.lease(n - 1, 100)
    assert kinds(session.receive(frame(n, up, ack=1), 0)) == [Reading]


@pytest.mark.parametrize(
    "reset",
    [
        {"n": 101, "up": 1000, "ack": 1},
        {"n": 0, "up": 101_000, "ack": 1},
        {"n": 101, "up": 101_000, "ack": 0},
        {"n": 0, "up": 1000, "ack": 0},
    ],
    ids=["up", "n", "ack", "all"],
)
def test_a_counter_that_goes_backwards_is_a_reset_asked_about_before_any_lease(session, reset):
    run_up(session)
    assert session.receive(frame(**reset), 5000) == []
    assert not session.answered
    assert session.lease(reset["n"], 500) == b""
    assert session.due(5000) == QUESTION
    (boot,) = session.receive(HELLO, 5010)
    assert not boot.asked
    after = frame(reset["n"] + 1, reset["up"] + 1000, reset["ack"])
    assert kinds(session.receive(after, 6000)) == [Reading]
    assert session.lease(reset["n"] + 1, 500) != b""


def test_a_node_up_for_25_days_that_boots_is_seen_though_its_clock_could_have_wrapped(session):
    """From 3·10⁹ ms to 1000 is a step of 15 days if it were a wrap: too far to be one."""
    run_up(session, n=100, up=3_000_000_000)
    assert session.receive(frame(101, 1000, ack=1), 0) == []


def test_wraps_are_no_resets(session):
    session.receive(frame(65535, 2**32 - 300), 0)
    session._number = 65534
    session.lease(65535, 100)
    session.lease(65535, 100)
    assert kinds(session.receive(frame(0, 700, ack=65535), 0)) == [Reading]
    assert kinds(session.receive(frame(1, 1700, ack=1), 0)) == [Reading]
    assert session.answered


def test_lost_readings_are_no_reset(session):
    run_up(session)
    assert kinds(session.receive(frame(500, 500_000, ack=1), 0)) == [Reading]


def test_every_ack_that_this_host_never_sent_is_foreign(session):
    """Also the thirtieth: a reset in between must not hide that the other host still talks."""
    run_up(session)
    for n in range(101, 131):
        events = session.receive(frame(n, ack=n), 0)  # someone else's numbers, all above ours
        assert events[0] == ForeignAck(n)
        assert kinds(events[1:]) == [Reading]
    assert kinds(session.receive(frame(131, ack=130), 0)) == [Reading]


def test_commands_that_the_node_dropped_are_no_foreign_ones(session):
    run_up(session)
    for n in range(101, 131):
        session.lease(n - 1, 100)
    assert kinds(session.receive(frame(131, ack=31), 0)) == [Reading]


def test_a_host_that_commanded_the_node_while_the_line_was_down_is_noticed(session):
    run_up(session)
    session.line_lost()
    session.due(0)
    events = session.receive(HELLO + frame(120, ack=57), 10)
    assert kinds(events) == [NodeBoot, ForeignAck, Reading]


def test_after_a_lost_line_the_node_is_asked_again_and_the_torn_frame_is_gone(session):
    session.receive(frame(1)[:20], 0)
    session.line_lost()
    assert not session.answered
    assert session.due(10) == QUESTION
    assert kinds(session.receive(frame(1)[20:] + HELLO + frame(2), 20)) == [NodeBoot, Reading]


def test_a_node_that_booted_while_the_line_was_down_is_noticed(session):
    run_up(session)
    session.line_lost()
    session.due(0)
    assert kinds(session.receive(HELLO + frame(3, ack=0), 10)) == [NodeBoot]
    (boot,) = session.receive(HELLO, 20)
    assert not boot.asked


def test_another_version_of_the_protocol_is_said_once_and_gets_no_lease():
    session = NodeSession()
    session.due(0)
    other = encode("hello proto=2 fw=9 speed=fast")
    events = session.receive(other + other, 10)
    assert kinds(events) == [LinkChange]
    assert "version 2" in events[0].reason
    assert session.lease(1, 100) == b""


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (encode("r n=1"), "body"),
        (encode("burn n=1"), "unknown word"),
        (b"hi\n", "no start"),
        (b"$a*0000\n", "crc"),
    ],
)
def test_what_is_dropped_is_counted_by_reason_and_changes_nothing(session, line, reason):
    assert session.receive(line, 0) == []
    assert session.dropped == {reason: 1}
    assert kinds(session.receive(frame(1), 0)) == [Reading]


NUMBER = st.integers(0, 65535)
PIECE = st.one_of(
    st.binary(max_size=200),
    st.sampled_from([HELLO, QUESTION, b"\n"]),
    st.builds(frame, NUMBER, ack=NUMBER, temp=st.sampled_from(["65.00", "open", "nan"])),
)


def fed(pieces):
    session = NodeSession()
    events = []
    for piece in pieces:
        session.due(0)
        events += session.receive(piece, 0)
    return events


@given(st.lists(PIECE, max_size=12), st.randoms(use_true_random=False))
def test_any_stream_gives_the_same_events_however_it_is_cut(pieces, chance: random.Random):
    data = b"".join(pieces)
    cuts = sorted(chance.sample(range(len(data) + 1), min(5, len(data))))
    parts = [data[a:b] for a, b in zip([0, *cuts], [*cuts, len(data)], strict=True)]
    single = [bytes([byte]) for byte in data]
    assert without_questions(parts) == without_questions([data]) == without_questions(single)


def without_questions(parts):
    session = NodeSession()
    session.due(0)
    return [event for part in parts for event in session.receive(part, 0)]


@given(st.lists(PIECE, max_size=12))
def test_no_reading_comes_from_anything_but_a_valid_frame_of_it(pieces):
    intact = {body for body in Splitter().feed(b"".join(pieces)) if body.startswith("r ")}
    readings = [event for event in fed(pieces) if isinstance(event, Reading)]
    said = {(int(body.split("n=")[1].split(" ")[0]), body.split("t1=")[1].split(" ")[0]) for body in intact}
    for reading in readings:
        temp = reading.temps[0]
        assert (reading.n, f"{temp:.2f}" if isinstance(temp, float) else temp.value) in said
