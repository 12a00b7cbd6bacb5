"""What a person may ask: done, or refused with a sentence."""

import pytest

from holdctl.events import ForeignAck, NoticeKind, ProbeFault, RequestKind, State
from holdctl.settings import After
from tests.hold.bench import HOLD, Bench, stirred


def _refusal(bench: Bench) -> str:
    (notice,) = bench.seen[-1].notices
    assert notice.kind is NoticeKind.REFUSED
    assert notice.detail["by"] == "a baker"
    assert notice.text.endswith(".")
    return notice.text


def _ended() -> Bench:
    bench = Bench(stirred(HOLD, after=After(then="relay-off")))
    bench.reads(65)
    assert bench.hold.state is State.COMPLETE
    return bench


@pytest.mark.parametrize("kind", list(RequestKind))
def test_a_hold_that_has_ended_refuses_everything(kind):
    bench = _ended()
    bench.ask(kind)
    assert _refusal(bench) == f"{kind.value} refused: this hold has ended."


@pytest.mark.parametrize("kind", [RequestKind.STOP, RequestKind.NEXT])
def test_a_hold_that_is_stopping_refuses_to_stop_again_or_to_go_on(kind):
    bench = Bench()
    bench.reads(3)
    bench.ask(RequestKind.STOP)
    bench.ask(kind)
    assert _refusal(bench) == f"{kind.value} refused: this hold is stopping already."
    assert bench.hold.progress.index == 0


def test_a_reset_of_nothing_is_refused_by_name():
    bench = Bench()
    bench.reads(3)
    bench.ask(RequestKind.RESET, "high-limit")
    assert _refusal(bench) == "reset refused: no trip “high-limit” stands."


def test_a_reset_of_a_trip_that_falls_by_itself_says_what_to_do_instead():
    bench = Bench()
    bench.reads(3)
    bench.read(ProbeFault.OPEN, 65.0)
    bench.ask(RequestKind.RESET, "probe-fault")
    assert "check that probe's plug and cable" in _refusal(bench)


def test_a_reset_is_refused_while_no_valid_reading_shows_that_the_cause_is_gone():
    bench = Bench()
    bench.reads(3)
    bench.event(ForeignAck(9))
    bench.read(ProbeFault.OPEN, 65.0)
    bench.ask(RequestKind.RESET, "other-host")
    assert "no valid reading" in _refusal(bench)
    assert bench.hold.state is State.HELD


def test_next_is_refused_while_a_trip_is_latched():
    bench = Bench()
    bench.reads(3)
    bench.event(ForeignAck(9))
    bench.ask(RequestKind.NEXT)
    assert _refusal(bench) == "next refused: a trip stands; reset it first."


def test_next_leaves_a_hold_step_early():
    bench = Bench(stirred(HOLD, HOLD))
    bench.reads(3)
    assert bench.ask(RequestKind.NEXT).step == 0
    assert _refusal(bench).startswith("next refused: 0 h 01 min of this step are left")
    assert bench.ask(RequestKind.NEXT, "skip").step == 1


def test_an_acknowledgement_names_the_alarm_and_leaves_it_standing():
    bench = Bench()
    bench.reads(3)
    bench.read(ProbeFault.OPEN, 65.0)
    bench.ask(RequestKind.ACKNOWLEDGE, "probe-fault")
    assert bench.names(NoticeKind.ACKNOWLEDGED) == ["probe-fault"]
    assert bench.hold.alarms == {"probe-fault": True}
    assert "probe-fault" in bench.hold.standing
    bench.ask(RequestKind.ACKNOWLEDGE, "probe-fault")
    assert "no unacknowledged alarm “probe-fault” stands" in _refusal(bench)


def test_an_acknowledgement_without_a_name_takes_all_that_stand():
    bench = Bench()
    bench.reads(3)
    for _ in range(4):
        bench.read(ProbeFault.OPEN, 65.0)
    bench.ask(RequestKind.ACKNOWLEDGE)
    assert bench.names(NoticeKind.ACKNOWLEDGED) == ["probe-fault", "no-reading"]
    bench.ask(RequestKind.ACKNOWLEDGE)
    assert "“any”" in _refusal(bench)


def test_an_acknowledgement_never_lets_the_relay_on():
    bench = Bench()
    bench.reads(5, 60.0, 60.0)
    bench.event(ForeignAck(9))
    bench.ask(RequestKind.ACKNOWLEDGE)
    assert all(bench.read(60.0, 60.0).lease_ms == 0 for _ in range(200))


def test_a_note_is_kept_in_its_own_words_with_who_wrote_it():
    bench = Bench()
    bench.ask(RequestKind.NOTE, "smells of honey")
    (note,) = bench.notices(NoticeKind.NOTE)
    assert (note.text, note.detail["by"]) == ("smells of honey", "a baker")


@pytest.mark.parametrize("kind", [RequestKind.NOTE, RequestKind.ACKNOWLEDGE, RequestKind.RESET])
def test_such_a_request_asks_for_no_lease_of_its_own(kind):
    bench = Bench()
    bench.reads(3)
    assert bench.ask(kind, "x").lease_ms is None


def test_a_stop_answers_with_a_lease_of_zero_at_once():
    bench = Bench()
    bench.reads(5, 60.0, 60.0)
    assert bench.ask(RequestKind.STOP).lease_ms == 0
