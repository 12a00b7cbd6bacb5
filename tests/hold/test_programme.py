"""The programme: its clock, its prompts, its falls, and what comes after."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.errors import ConfigError
from holdctl.events import Estimate, LinkChange, NoticeKind, Phase, ProbeFault, RequestKind, Silence, State
from holdctl.hold.programme import Progress, duration_ms
from holdctl.settings import After, Step
from tests.hold.bench import HOLD, LONG, Bench, stirred

IN, COLD, HOT = (65.0, 65.2), (61.9, 62.0), (67.1, 67.0)
STIR = "stir to 66 °C, add malt, close the lid"


@pytest.mark.parametrize(
    ("text", "ms"),
    [
        ("4 h", 14_400_000),
        ("90 min", 5_400_000),
        ("1 h 30 min", 5_400_000),
        ("45 s", 45_000),
        ("0.5 h", 1_800_000),
        (" 2h ", 7_200_000),
    ],
)
def test_a_duration_is_read_as_a_baker_writes_it(text, ms):
    assert duration_ms(text) == ms


@given(st.text(max_size=12))
def test_any_other_text_is_no_duration_or_a_positive_one(text):
    try:
        assert duration_ms(text) > 0
    except ConfigError as error:
        assert "write it as" in str(error)


# The clock ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("temps", "runs"), [((62.05, 62.05), True), ((66.95, 66.95), True), (COLD, False), (HOT, False)]
)
def test_the_clock_runs_only_while_every_part_is_in_range(temps, runs):
    bench = Bench()
    assert (bench.reads(11, *temps).credit_ms == 10_000) is runs


def test_the_clock_stands_while_the_paste_is_out_of_range_and_keeps_what_it_had():
    bench = Bench()
    bench.reads(11, *IN)
    assert bench.reads(100, 61.0, 62.0).credit_ms == 10_000
    # The first reading after a leap is not believed, and the second shows that the paste has been stirred.
    assert bench.reads(6, *IN).credit_ms == 14_000


def test_a_second_counts_only_between_two_readings_that_are_both_in_range():
    bench = Bench()
    for _ in range(20):
        bench.read(62.5, 62.5)
        assert bench.read(61.5, 61.5).credit_ms == 0


@pytest.mark.parametrize("gap_ms", [3001, 60_000, 7_200_000])
def test_a_gap_earns_nothing(gap_ms):
    bench = Bench()
    bench.reads(11, *IN)
    assert bench.read(*IN, after_ms=gap_ms).credit_ms == 10_000
    assert bench.read(*IN).credit_ms == 11_000


def test_the_seconds_next_to_a_faulty_reading_earn_nothing():
    bench = Bench()
    bench.reads(11, *IN)
    bench.read(ProbeFault.OPEN, 65.0)
    assert bench.read(*IN).credit_ms == 10_000
    assert bench.read(*IN).credit_ms == 11_000


def test_a_silence_and_a_lost_line_earn_nothing():
    bench = Bench()
    bench.reads(11, *IN)
    bench.event(LinkChange(False, "unplugged"), 500)
    bench.event(Silence(), 3000)
    bench.event(LinkChange(True), 500)
    assert bench.read(*IN).credit_ms == 10_000


def test_a_step_is_done_when_its_time_has_been_earned():
    bench = Bench(stirred(HOLD, LONG))
    assert bench.reads(60, *IN).step == 0
    decision = bench.read(*IN)
    assert (decision.step, decision.credit_ms) == (1, 0)
    assert decision.notices[-1].name == "step-2"


def test_the_clock_of_a_step_never_counts_time_before_the_step():
    bench = Bench(stirred(LONG, HOLD))
    bench.reads(30, *IN)
    bench.ms += 990
    bench.ask(RequestKind.NEXT, "skip")
    asked_ms = bench.ms
    for _ in range(50):
        assert bench.read(*IN, after_ms=1000).credit_ms <= bench.ms - asked_ms


def test_phases_are_named_after_a_minute_so_that_an_edge_does_not_fill_the_record():
    bench = Bench()
    bench.reads(61, *HOT)
    for _ in range(50):
        bench.read(67.05, 67.0)
        bench.read(66.95, 67.0)
    assert bench.names(NoticeKind.PHASE) == ["settling"]
    bench.reads(70, *IN)
    assert bench.names(NoticeKind.PHASE) == ["settling", "hold"]
    bench.reads(70, 60.0, 62.0)
    assert bench.names(NoticeKind.PHASE) == ["settling", "hold", "come-up"]


# Prompts --------------------------------------------------------------------------------------------------------


def _prompt(does=None, to=None):
    return stirred(Step(prompt=STIR, wait="10 s", unanswered=does, to=to), LONG)


def test_a_prompt_says_what_to_do_and_waits():
    bench = Bench(_prompt())
    decision = bench.read(*IN)
    (prompt,) = bench.notices(NoticeKind.PROMPT)
    assert prompt.text == STIR
    assert (decision.phase, decision.step, decision.lease_ms) == (Phase.PROMPT, 0, 0)


def _later(does=None):
    return stirred(Step(prompt=STIR, due="2 min", wait="30 s", unanswered=does, to=65.0), LONG)


def test_a_prompt_that_is_due_later_is_asked_then_and_the_paste_comes_up_meanwhile():
    bench = Bench(_later())
    decision = bench.reads(120, *COLD)
    assert bench.notices(NoticeKind.PROMPT) == []
    assert (decision.phase, decision.step, decision.setpoint_c) == (Phase.COME_UP, 0, 65.0)
    assert not bench.hold.drive.controller.estimator.learning.paused, "nobody is at work in the paste yet"
    decision = bench.reads(2, *COLD)
    assert [prompt.text for prompt in bench.notices(NoticeKind.PROMPT)] == [STIR]
    assert decision.phase is Phase.PROMPT
    bench.read(*COLD)
    assert bench.hold.drive.controller.estimator.learning.paused


def test_what_a_later_prompt_waits_counts_from_when_it_is_asked():
    bench = Bench(_later("go-on"))
    assert bench.reads(145, *COLD).step == 0
    assert bench.reads(10, *COLD).step == 1
    assert bench.names(NoticeKind.ALARM) == ["prompt-unanswered"]


def test_a_prompt_on_the_way_is_left_out_once_every_part_is_in_range():
    bench = Bench(_later("stop"))
    bench.reads(60, *IN)
    assert bench.seen[-1].step == 1
    assert bench.notices(NoticeKind.PROMPT) == []
    assert "not-needed" in bench.names(NoticeKind.INFO)
    assert bench.seen[-1].credit_ms > 50_000, "the clock of the hold runs at once"


def test_a_baker_who_comes_before_a_prompt_is_asked_goes_on():
    bench = Bench(_later())
    bench.reads(30, *COLD)
    bench.ask(RequestKind.NEXT)
    assert bench.read(*COLD).step == 1


def test_while_a_prompt_waits_the_relay_is_off_unless_the_prompt_has_a_temperature():
    off, on = Bench(_prompt()), Bench(_prompt(to=66.0))
    assert sum(off.read(60.0, 60.0).lease_ms for _ in range(9)) == 0
    assert sum(on.read(60.0, 60.0).lease_ms for _ in range(9)) > 0
    assert on.seen[-1].setpoint_c == 66.0


def test_next_answers_a_prompt():
    bench = Bench(_prompt())
    bench.reads(3, *IN)
    bench.ask(RequestKind.NEXT)
    assert bench.reads(3, *IN).step == 1
    assert bench.names(NoticeKind.ALARM) == []


def test_an_unanswered_prompt_that_goes_on_raises_an_alarm_and_goes_on():
    bench = Bench(_prompt("go-on"))
    assert bench.reads(15, *IN).step == 1
    (alarm,) = bench.notices(NoticeKind.ALARM)
    assert alarm.name == "prompt-unanswered"
    assert "goes on without it" in alarm.text
    assert bench.hold.state is State.RUNNING


@pytest.mark.parametrize("does", ["keep-waiting", None])
def test_an_unanswered_prompt_that_keeps_waiting_raises_one_alarm_and_waits(does):
    bench = Bench(_prompt(does, to=66.0))
    assert bench.reads(600, 65.9, 66.0).step == 0
    assert bench.names(NoticeKind.ALARM) == ["prompt-unanswered"]
    assert bench.hold.state is State.RUNNING
    bench.ask(RequestKind.NEXT)
    assert bench.names(NoticeKind.ALARM_CLEARED) == ["prompt-unanswered"]


def test_an_unanswered_prompt_that_stops_takes_the_relay_off_until_it_is_answered():
    bench = Bench(_prompt("stop", to=66.0))
    bench.reads(15, 60.0, 60.0)
    assert bench.hold.state is State.HELD
    assert bench.names(NoticeKind.TRIP) == ["unanswered"]
    assert bench.names(NoticeKind.ALARM) == [], "one alarm for one cause"
    assert all(bench.read(60.0, 60.0).lease_ms == 0 for _ in range(200))
    bench.ask(RequestKind.NEXT)
    assert bench.read(60.0, 60.0).step == 1
    assert bench.hold.state is State.RUNNING
    assert any(bench.read(60.0, 60.0).lease_ms for _ in range(85))


def test_an_unanswered_prompt_is_not_answered_by_a_reset():
    bench = Bench(_prompt("stop"))
    bench.reads(15, *IN)
    bench.ask(RequestKind.RESET, "unanswered")
    (refused,) = bench.notices(NoticeKind.REFUSED)
    assert "holdctl next" in refused.text
    assert bench.hold.state is State.HELD


# Falls and what comes after -------------------------------------------------------------------------------------


def test_a_fall_keeps_the_relay_off_until_every_part_is_down():
    bench = Bench(stirred(Step(fall_to=32.0), LONG))
    for twentieth in range(1300, 640, -1):
        decision = bench.read(twentieth / 20, twentieth / 20)
        assert (decision.lease_ms, decision.phase, decision.step) == (0, Phase.FALLING, 0)
    assert bench.read(32.0, 32.0).step == 1


def test_hot_holding_follows_the_last_step_at_its_temperature():
    bench = Bench(stirred(HOLD))
    decision = bench.reads(65, 64.0, 64.2)
    assert (decision.phase, decision.step, decision.setpoint_c) == (Phase.HOT_HOLDING, 1, 65.0)
    assert bench.hold.state is State.RUNNING


def test_hot_holding_may_have_a_temperature_of_its_own():
    bench = Bench(stirred(HOLD, after=After(to=70.0)))
    assert bench.reads(65, 64.0, 64.2).setpoint_c == 70.0


def test_a_long_hot_holding_raises_an_alarm_and_goes_on_heating():
    bench = Bench(stirred(HOLD, after=After(longest="2 min")))
    bench.reads(400, 64.0, 64.2)
    assert bench.names(NoticeKind.ALARM)[0] == "hot-holding-long"
    assert bench.hold.state is State.RUNNING
    assert any(bench.read(64.0, 64.2).lease_ms for _ in range(85))


def test_the_baker_ends_the_hot_holding():
    bench = Bench(stirred(HOLD))
    bench.reads(65, *IN)
    decision = bench.ask(RequestKind.NEXT)
    assert (decision.state, decision.lease_ms) == (State.COMPLETE, 0)


def test_relay_off_after_the_last_step_completes_the_hold():
    bench = Bench(stirred(HOLD, after=After(then="relay-off")))
    bench.reads(65, *IN)
    assert bench.hold.state is State.COMPLETE
    assert bench.seen[-1].lease_ms == 0


def test_a_new_set_temperature_starts_the_loops_anew():
    bench = Bench(stirred(HOLD, Step(to=63.5, hold_for="1 h")))
    bench.reads(300, 64.8, 64.9)
    assert bench.seen[-1].setpoint_c == 63.5
    fresh = Bench(stirred(Step(to=63.5, hold_for="1 h")))
    fresh.reads(300, 64.8, 64.9)
    assert bench.seen[-1].wall_setpoint_c == pytest.approx(fresh.seen[-1].wall_setpoint_c, abs=0.05)


def test_once_a_programme_that_ends_with_the_relay_off_is_done_nothing_is_wanted():
    progress = Progress(stirred(LONG, after=After(then="relay-off")).programme)
    progress.start(0)
    progress.next(1000)
    want, _ = progress.advance(2000, 1000, Estimate(65.0, 65.0, 65.0, 65.0, 65.0))
    assert want.setpoint_c is None
    assert progress.finished
