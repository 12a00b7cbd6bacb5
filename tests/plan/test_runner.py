"""A whole programme run ahead: its steps in order, each with its own temperature and clock."""

from dataclasses import replace
from functools import cache

import msgspec
import pytest

from holdctl.plan.course import Course, Start
from holdctl.plan.legs import ANSWER_S, Leg, extra_s, first_c, legs_of
from holdctl.plan.night import Night, foretell
from holdctl.plan.nightly import Wishes, steps
from holdctl.settings import After, Step
from tests.closed_loop import told

HOLD = Step(to=65.0, hold_for="4 h")


def _night(*own: Step, name="lamp-box", paste_c=66.0, every_part=(62.0, 67.0), **others) -> Night:
    settings = told(name)
    programme = msgspec.structs.replace(settings.programme, step=own, every_part=every_part)
    settings = msgspec.structs.replace(settings, programme=programme)
    return Night(settings, Start(paste_c, paste_c - 1.0, paste_c + 1.0), **others)


def _whole(night: Night, *, skim=False) -> Course:
    return night.runner(night.warmer().model()).run(night.baker, whole=True, skim=skim)


@cache
def _plain() -> Course:
    return _whole(_night(HOLD))


def test_each_hold_has_its_own_temperature_and_clock_and_begins_when_the_one_before_is_done():
    course = _whole(_night(HOLD, Step(to=63.0, hold_for="2 h"), every_part=(60.0, 68.0)))
    first, second = course.spans
    assert first.ended_s - first.begun_s == pytest.approx(4 * 3600.0)
    assert second.entered_s == first.ended_s
    assert second.ended_s - second.begun_s == pytest.approx(2 * 3600.0)
    assert course.end_s == second.ended_s == pytest.approx(course.t_s[-1], abs=1.0)
    assert float(course.place_c[-1]) == pytest.approx(63.0, abs=0.3)
    at_first = course.place_c[(course.t_s > first.ended_s - 3600.0) & (course.t_s < first.ended_s)]
    assert at_first.mean() == pytest.approx(65.0, abs=0.3)


def test_every_part_is_in_range_from_the_first_moment_on_after_which_none_is_outside():
    course = _whole(_night(HOLD, paste_c=30.0))
    inside = (course.coldest_c >= 62.0) & (course.hottest_c <= 67.0)
    first = int((~inside).nonzero()[0][-1]) + 1
    assert course.band_s == float(course.t_s[first])


def test_a_hold_that_is_skimmed_ends_as_the_one_that_is_run_through():
    night = _night(HOLD, Step(fall_to=50.0))
    through, skimmed = _whole(night), _whole(night, skim=True)
    assert skimmed.band_s == through.band_s
    assert skimmed.spans[0] == through.spans[0]
    assert skimmed.end_s == pytest.approx(through.end_s, rel=0.01)
    assert len(skimmed.t_s) < len(through.t_s)


def test_a_prompt_keeps_its_temperature_until_it_is_answered_and_a_relay_off_one_lets_it_cool():
    warm, off = (_whole(_night(HOLD, Step(prompt="Look.", to=to_c))) for to_c in (65.0, None))
    for course in (warm, off):
        span = course.spans[1]
        assert span.ended_s - span.begun_s == pytest.approx(ANSWER_S)
    after_s = warm.spans[1].entered_s + 1.0
    assert off.duty[off.t_s > after_s].max() == 0.0
    assert warm.place_c[-1] > off.place_c[-1]


def test_a_prompt_before_the_hold_puts_its_clock_off():
    course = _whole(_night(Step(prompt="Malt in?", to=65.0), HOLD))
    assert course.band_s == pytest.approx(_plain().band_s, abs=60.0)
    assert course.spans[1].begun_s == pytest.approx(max(course.band_s, ANSWER_S))


def test_a_prompt_that_is_due_later_is_left_out_once_every_part_is_in_range():
    asked = Step(prompt="Stir.", to=65.0, due="30 min", wait="10 min", unanswered="go-on")
    in_range = _whole(_night(asked, HOLD))
    assert in_range.spans[0].skipped
    cold = _whole(_night(asked, HOLD, paste_c=30.0))
    assert not cold.spans[0].skipped
    assert cold.spans[0].begun_s == pytest.approx(1800.0)
    assert cold.spans[1].entered_s == pytest.approx(1800.0 + ANSWER_S)


def test_a_fall_before_the_hold_goes_on_without_the_relay_until_its_hottest_paste_is_there():
    course = _whole(_night(Step(fall_to=66.5), HOLD, paste_c=74.0))
    fall, hold = course.spans
    falling = course.t_s < fall.ended_s
    assert course.duty[falling].max() == 0.0
    assert course.at_c(fall.ended_s)[1] == pytest.approx(66.5, abs=0.1)
    assert hold.begun_s >= fall.ended_s
    assert course.band_s is not None


def test_a_programme_that_holds_nothing_is_foretold_to_its_hot_holding():
    own = msgspec.structs.replace(
        told("lamp-box").programme, step=(Step(prompt="Mix."),), after=After(to=66.0)
    )
    assert first_c(own) == 66.0
    assert legs_of(own)[-1] == Leg(0, 66.0, 0.0)
    none = msgspec.structs.replace(own, after=After(then="relay-off"))
    assert first_c(none) == 65.0


@pytest.mark.parametrize(
    ("step", "extra"),
    [
        (Step(prompt="a", wait="30 min", unanswered="go-on"), 1800.0 - ANSWER_S),
        (Step(prompt="a", wait="1 min", unanswered="go-on"), 0.0),
        (Step(prompt="a", wait="30 min", unanswered="stop"), float("inf")),
        (Step(prompt="a"), float("inf")),
    ],
)
def test_a_prompt_that_nobody_answers_makes_it_late_by_its_wait_or_for_good(step, extra):
    assert extra_s(step) == extra


def test_late_counts_a_prompt_that_goes_on_by_itself_as_not_answered():
    waits = Step(prompt="Taste.", to=65.0, wait="1 h 2 min", unanswered="go-on")
    before, after = (foretell(_night(*own), 1) for own in ((waits, HOLD), (HOLD, waits)))
    plain = foretell(_night(HOLD), 1)
    assert after.band_s == plain.band_s
    assert after.ready_s[1] - plain.ready_s[1] == pytest.approx(ANSWER_S)
    assert after.ready_s[2] - plain.ready_s[2] == pytest.approx(3720.0)
    assert before.ready_s[2] - before.ready_s[1] >= 3600.0


def test_the_card_names_each_step_at_its_time_and_the_range_is_that_of_every_hold():
    own = (
        Step(to=65.0, hold_for="1 h"),
        Step(prompt="Leaven in?", to=65.0),
        Step(fall_to=50.0),
        Step(to=50.0, hold_for="2 h"),
    )
    night = _night(*own, every_part=(45.0, 68.0))
    found = foretell(night, 1)
    said = steps(night, found, Wishes())
    words = [step.words for step in said]
    parts = ("hold of 1 h at 65", "Leaven in?", "falls", "hold of 2 h at 50")
    assert all(part in one for part, one in zip(parts, words[-5:-1], strict=True))
    times = [step.at_s for step in said]
    assert times == sorted(times)
    assert times[-1] == found.ready_s[1]
    assert found.hold_c[0] < 51.0 < 64.0 < found.hold_c[1]


def test_hands_that_are_busy_put_the_first_steps_clock_off():
    night = _night(HOLD)
    busy = replace(night, baker=replace(night.baker, hands_s=1800.0))
    assert _whole(busy).spans[0].begun_s == pytest.approx(1800.0, abs=20.0)
    assert _plain().spans[0].begun_s == pytest.approx(_plain().band_s)
