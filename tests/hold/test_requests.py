"""What a person may ask: done, or refused with a sentence."""

import pytest

from holdctl.events import Condition, ForeignAck, NoticeKind, Phase, ProbeFault, RequestKind, Silence, State
from holdctl.food.measured import Measurement, read_detail
from holdctl.hold.disposition import Disposal, Disposition, read_subject
from holdctl.settings import After, Step
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


def test_next_ends_hot_holding():
    bench = Bench(stirred(HOLD))
    bench.reads(65)
    assert bench.seen[-1].phase is Phase.HOT_HOLDING
    bench.ask(RequestKind.NEXT)
    assert bench.hold.state is State.COMPLETE


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


def test_a_note_that_carries_values_keeps_them_beside_its_words():
    bench = Bench()
    value = Measurement(brix=22.5, mix_c=84.0, malt_s=-120.0, text="thick")
    bench.ask(RequestKind.NOTE, value.subject())
    (note,) = bench.notices(NoticeKind.NOTE)
    assert note.text == "thick (22.5 °Brix, mix 84 °C, malt in 2 min before the hold began)"
    assert read_detail(note.detail) == value
    bench.ask(RequestKind.NOTE, 'measured {"ph": 15}')
    assert "is no measurement" in _refusal(bench)


@pytest.mark.parametrize("kind", [RequestKind.NOTE, RequestKind.ACKNOWLEDGE, RequestKind.RESET])
def test_such_a_request_asks_for_no_lease_of_its_own(kind):
    bench = Bench()
    bench.reads(3)
    assert bench.ask(kind, "x").lease_ms is None


def test_a_stop_answers_with_a_lease_of_zero_at_once():
    bench = Bench()
    bench.reads(5, 60.0, 60.0)
    assert bench.ask(RequestKind.STOP).lease_ms == 0


def test_an_alarm_is_put_aside_for_a_time_and_its_trip_still_takes_the_relay_off():
    bench = Bench()
    assert bench.reads(5, 60.0, 60.0).lease_ms > 0
    bench.ask(RequestKind.SHELVE, "probe-fault 10 min")
    (aside,) = bench.notices(NoticeKind.SHELVED)
    assert (aside.name, aside.detail["by"], aside.detail["for_ms"]) == ("probe-fault", "a baker", 600_000)
    decision = bench.read(ProbeFault.OPEN, 60.0)
    assert decision.lease_ms == 0
    assert bench.notices(NoticeKind.TRIP)[0].detail["held_back"] == "shelved"
    assert bench.hold.alarms == {"probe-fault": True}
    bench.event(Silence(), 600_000)
    (back,) = bench.notices(NoticeKind.UNSHELVED)
    assert back.detail["state"] == "unacknowledged"
    assert bench.hold.alarms["probe-fault"] is False


@pytest.mark.parametrize(
    ("subject", "says"),
    [
        ("probe-fault", "is not a duration"),
        ("probe-fault soon", "is not a duration"),
        ("probe-fault 31 min", "30 min at most"),
        ("ghost 5 min", "there is no alarm “ghost”"),
        ("relay-welded 1 min", "relay-welded is never put aside"),
    ],
)
def test_what_cannot_be_put_aside_is_refused_with_the_reason(subject, says):
    bench = Bench()
    bench.reads(3)
    bench.ask(RequestKind.SHELVE, subject)
    assert says in _refusal(bench)


def test_an_alarm_is_taken_back_before_its_time():
    bench = Bench()
    bench.reads(3)
    bench.ask(RequestKind.UNSHELVE, "probe-fault")
    assert "no alarm “probe-fault” is put aside" in _refusal(bench)
    bench.ask(RequestKind.SHELVE, "probe-fault 10 min")
    bench.ask(RequestKind.UNSHELVE, "probe-fault")
    assert bench.names(NoticeKind.UNSHELVED) == ["probe-fault"]


def test_what_became_of_the_paste_is_an_entry_with_who_what_and_which_hold():
    bench = Bench()
    bench.ask(RequestKind.DISPOSITION, "no-reading reworked hold 7: mixed anew")
    (entry,) = bench.notices(NoticeKind.DISPOSITION)
    assert entry.name == "no-reading"
    assert entry.detail == {"hold": 7, "what": "reworked", "by": "a baker", "note": "mixed anew"}


@pytest.mark.parametrize(
    ("subject", "says"),
    [
        ("no-reading used", "is no disposition"),
        ("no-reading eaten hold 7", "used, reworked or discarded"),
        ("spool used hold 7", "does not concern the paste"),
        ("ghost used hold 7", "is no alarm"),
    ],
)
def test_an_entry_that_says_nothing_of_the_paste_is_refused(subject, says):
    bench = Bench()
    bench.reads(3)
    bench.ask(RequestKind.DISPOSITION, subject)
    assert says in _refusal(bench)


def test_an_entry_reads_back_from_the_subject_of_its_request():
    one = Disposition("high-limit", Disposal.DISCARDED, 12, "smelt of caramel: burnt")
    assert read_subject(one.subject()) == one


def test_an_alarm_that_was_over_before_anybody_saw_it_waits_to_be_seen():
    bench = Bench()
    bench.reads(3)
    bench.read(ProbeFault.OPEN, 65.0)
    bench.reads(5)
    assert not bench.hold.standing
    assert bench.hold.alarms == {"probe-fault": False}
    bench.ask(RequestKind.ACKNOWLEDGE)
    assert bench.hold.alarms == {}


def test_a_trip_that_waits_for_a_person_is_reset_by_its_name():
    bench = Bench()
    bench.reads(3)
    assert bench.event(Condition("restart-wait", True)).lease_ms == 0
    assert bench.hold.state is State.HELD
    bench.ask(RequestKind.RESET, "restart-wait")
    assert bench.hold.state is State.RUNNING
    assert bench.hold.alarms == {}


def test_a_latched_trip_whose_cause_is_still_seen_is_not_reset():
    bench = Bench()
    bench.reads(3)
    bench.event(Condition("relay-welded", True))
    bench.ask(RequestKind.RESET, "relay-welded")
    assert "its cause is still there" in _refusal(bench)
    bench.event(Condition("relay-welded", False))
    assert bench.names(NoticeKind.RETURNED) == ["relay-welded"]
    assert bench.read().lease_ms == 0
    bench.ask(RequestKind.RESET, "relay-welded")
    assert bench.names(NoticeKind.RESET) == ["relay-welded"]
    assert bench.hold.state is State.RUNNING


def test_whoever_answers_a_prompt_has_seen_its_alarm():
    step = Step(prompt="stir", wait="20 s", unanswered="keep-waiting", to=65.0)
    bench = Bench(stirred(step, HOLD))
    bench.reads(25)
    assert bench.hold.alarms == {"prompt-unanswered": False}
    bench.ask(RequestKind.NEXT)
    assert bench.hold.alarms == {}


def test_two_prompts_that_nobody_answers_are_told_twice():
    step = Step(prompt="stir", wait="20 s", unanswered="go-on", to=65.0)
    bench = Bench(stirred(step, step, HOLD))
    bench.reads(50)
    assert bench.names(NoticeKind.ALARM) == ["prompt-unanswered"] * 2
