"""A night foretold: its range, what the code makes of it, stirs, remedies, and the programme with the baker in it."""

from dataclasses import replace

import msgspec
import pytest

from holdctl.food.codes import code_of
from holdctl.plan.course import Start
from holdctl.plan.night import Night, foretell
from holdctl.plan.nightly import Wishes, counted_on, down_to_c, programme, steps, worth
from holdctl.plan.remedies import _hotter, remedies
from holdctl.plan.stirring import MOST_WEIGHED, Stir, _Courses, _stir, _sure, every, stirs, worths
from holdctl.safety.contradictions import contradictions
from holdctl.settings import Lid, Settings, Step, Vessel
from tests.closed_loop import told

FEW = 3
"""Pairs of other warmers: enough to see that a range is one."""


def _night(name="jacket", paste_c=20.0, cold_c: float | None = 20.0, **others) -> Night:
    return Night(told(name), Start(paste_c, paste_c - 1, paste_c + 1, cold_c, cold_c), **others)


def test_a_forecast_has_early_expected_and_late_and_ends_a_hold_later():
    night = _night("lamp-box")
    found = foretell(night, FEW)
    early, expected, late = found.band_s
    assert early < expected < late
    assert found.ready_s == pytest.approx([one + 4 * 3600 for one in found.band_s])
    assert found.coldest_c[1] <= found.coldest_c[0] <= found.hottest_c[0] <= found.hottest_c[1]
    assert 0.2 < found.duty < 0.6
    assert found.strong
    assert not found.learnt
    assert foretell(night, FEW).band_s == found.band_s, "made twice it says the same"


def test_a_wider_range_of_the_mix_makes_a_wider_forecast():
    night = _night("small-pot", 40.0)
    wide = replace(night, start=replace(night.start, low_c=25.0, high_c=55.0))
    narrow, broad = foretell(night, FEW).band_s, foretell(wide, FEW).band_s
    assert broad[0] < narrow[0] < narrow[2] < broad[2]
    colder = replace(night, start=replace(night.start, paste_c=33.0, low_c=32.0, high_c=34.0))
    assert broad[2] < foretell(colder, FEW).band_s[2] + 0.1 * broad[1], "a mix is seldom at its range's end"


def test_a_heater_that_can_hardly_hold_is_found_out():
    night = _night("lamp-box")
    warmer = msgspec.structs.replace(night.settings.warmer, power_w=20.0)
    weak = replace(night, settings=msgspec.structs.replace(night.settings, warmer=warmer))
    found = foretell(weak, 1)
    assert not found.strong
    assert found.duty == pytest.approx(2 * foretell(night, 1).duty, rel=0.01)


def test_a_thick_cold_layer_breaks_the_advice_and_every_remedy_keeps_it():
    night = _night("jacket")
    found = foretell(night)
    assert found.thick
    assert not found.kept
    offered = remedies(night, found)
    words = " ".join(one.sentence for one in offered)
    assert all(part in words for part in ("mix of", "Stir to the bottom every", "thinner", "smaller batch"))
    for one in offered:
        assert foretell(one.night).kept, one.sentence
    hotter = next(one for one in offered if "mix of" in one.words)
    cooler = replace(hotter.night, start=Start(35.0, 34.0, 36.0, 20.0, 20.0))
    assert not foretell(cooler, FEW).kept, "a mix fifteen kelvin cooler would not have done"


def test_a_night_that_never_comes_into_range_is_offered_one_that_does_though_no_time_is_broken():
    night = _night("jacket", 60.0)
    never = replace(foretell(night, 1), rules=(), band_s=None)
    offered = remedies(night, never)
    assert offered
    assert all(one.forecast.band_s is not None for one in offered)


def test_a_night_that_keeps_the_code_needs_no_remedy():
    night = _night("mat-box", 66.0)
    found = foretell(night, 1)
    assert found.kept
    assert remedies(night, found) == ()


def test_stirs_are_worth_what_running_the_night_with_them_brings():
    night = _night("jacket")
    found = stirs(night, most=2)
    assert [stir.at_s for stir in found] == sorted({stir.at_s for stir in found})
    runner = night.runner(night.warmer().model())
    alone = runner.run().band_s
    both = runner.run(replace(night.baker, stirs_s=tuple(stir.at_s for stir in found))).band_s
    assert alone - both == pytest.approx(sum(stir.gain_s for stir in found), abs=1.0)
    assert all(stir.gain_s >= 600.0 for stir in found)
    assert found[0].spread_k > 10.0
    told = replace(night, baker=replace(night.baker, stirs_s=tuple(stir.at_s for stir in found)))
    assert [stir.gain_s for stir in worths(told)] == pytest.approx([stir.gain_s for stir in found], abs=1.0)
    many = replace(night, baker=replace(night.baker, stirs_s=every(5, 60.0 * 5 * (MOST_WEIGHED + 1))))
    assert {stir.gain_s for stir in worths(many)} == {0.0}
    assert stirs(_night("stirred-kettle")) == ()


def test_a_stir_without_which_nothing_gets_into_range_is_worth_more_than_any_time():
    night = _night("lamp-box")
    course = night.runner(night.warmer().model()).run()
    found = _stir(600.0, replace(course, band_s=None), course)
    assert found.gain_s == float("inf")
    assert "else it is not in range within a day" in worth(found)


def test_a_stir_is_asked_for_so_long_after_the_prompts_before_it_are_answered():
    night = _night("mat-box", 74.0)
    night = replace(night, baker=replace(night.baker, down_to_c=66.0))
    wanted = Wishes(stirs=tuple(Stir(60.0 * at, 0.0, 9.0, 0.0) for at in (40, 90)), busy_s=600.0)
    asked = [step.due for step in programme(night, wanted).step if step.due is not None]
    assert asked == ["30 min", "49 min"], "a minute for the stir itself"
    alone = programme(_night("mat-box"), wanted)
    assert [step.due for step in alone.step if step.due is not None] == ["40 min", "49 min"]


class _Ends:
    """Ends by the time of a stir, min: up to 110 it does not end the way, from there on it does."""

    def __init__(self, ends_min):
        self._ends_min = ends_min

    def end_s(self, at_s):
        return 60.0 * self._ends_min[round(at_s / 60)]

    def ends_it(self, at_s):
        return self.end_s(at_s) - at_s <= 120.0 and round(at_s / 60) >= 115


@pytest.mark.parametrize(("dear", "at_min"), [(0, 115), (20, 110)])
def test_a_stir_that_surely_ends_the_way_is_waited_for_where_that_is_not_long(dear, at_min):
    ends = {100: 125, 105: 124, 110: 111, 115: 116 + dear, 120: 121 + dear}
    assert _sure(_Ends(ends), [60.0 * at for at in ends]) == 60.0 * at_min


def test_a_stir_surely_ends_the_way_where_it_does_so_in_a_slower_warmer():
    night = _night("mat-box")
    runner = night.runner(night.warmer().model())
    courses = _Courses(runner, night.baker, (4800.0,), 12 * 3600.0)
    soon, sure = 60.0 * 140, 60.0 * 150
    assert courses.end_s(soon) - soon <= 120.0
    assert not courses.ends_it(soon)
    assert courses.ends_it(sure)


def test_stirs_every_so_often_end_before_the_end():
    assert every(30, 5400.0) == (1800.0, 3600.0, 5400.0)
    assert every(30, 1799.0) == ()


@pytest.mark.parametrize(("paste_c", "down"), [(74.0, 66.0), (69.0, 66.0), (67.0, None), (62.0, None)])
def test_only_a_mix_well_over_the_hold_is_stirred_down(paste_c, down):
    assert down_to_c(_night("mat-box", paste_c)) == down


def test_the_programme_has_the_baker_in_it_and_the_hold_can_run_it():
    night = _night("mat-box", 74.0, cold_c=None)
    night = replace(night, baker=replace(night.baker, down_to_c=down_to_c(night)))
    found = foretell(night, 1)
    wanted = Wishes(malt=True, stirs=stirs(_night("jacket"), most=1))
    made = programme(night, wanted)
    prompts = [step.prompt or "" for step in made.step]
    assert [bool(prompt) for prompt in prompts] == [True, True, True, True, False]
    for prompt, word in zip(prompts, ("66 °C", "malt", "Lid on", "Stir to the bottom"), strict=False):
        assert word in prompt
    assert made.step[-1] == night.settings.programme.step[-1]
    assert all(step.to is not None for step in made.step), "the relay keeps the paste warm at every prompt"
    assert made.step[1].unanswered == "keep-waiting", "without its malt the night is for nothing"
    settings = msgspec.structs.replace(night.settings, programme=made)
    assert contradictions(settings) == contradictions(night.settings)
    assert msgspec.convert(msgspec.to_builtins(settings), Settings) == settings
    said = steps(night, found, wanted)
    times = [step.at_s for step in said if "Stir to the bottom:" not in step.words]
    assert times == sorted(times)
    busy = replace(night, baker=replace(night.baker, hands_s=2 * 3600.0))
    assert foretell(busy, 1).ready_s[1] == pytest.approx(found.course.down_s + 6 * 3600.0), (
        "its clock waits for hands"
    )
    assert "amylases end" in said[0].words


def test_what_the_forecast_counts_on_in_an_own_programme_is_said():
    settings = told("mat-box")
    own, code = settings.programme, code_of(settings)
    assert counted_on(own, code) == ()
    cooled = (
        *own.step,
        Step(fall_to=45.0),
        Step(prompt="Leaven in?", to=45.0),
        Step(to=45.0, hold_for="2 h"),
        Step(prompt="Out?", to=45.0, wait="30 min", unanswered="go-on"),
    )
    falls, lukewarm, prompts = counted_on(msgspec.structs.replace(own, step=cooled), code)
    assert "Step 2 lets the paste fall to 45 °C" in falls
    assert "Step 4 holds at 45 °C" in lukewarm
    assert "3-501.16" in lukewarm
    assert "answered within 2 min" in prompts
    assert "Step 3 waits for you" in prompts
    first = msgspec.structs.replace(own, step=(Step(fall_to=66.0), *own.step))
    assert counted_on(first, code) == (), "a fall to the hold is none that a code sees"


def test_an_open_vessel_is_not_told_to_put_its_lid_on():
    night = _night("small-pot", 74.0)
    vessel = Vessel(inner_diameter_cm=12.0, lid=Lid.OFF)
    bare = replace(night, settings=msgspec.structs.replace(night.settings, vessel=vessel))
    made = programme(replace(bare, baker=replace(bare.baker, down_to_c=66.0)), Wishes(malt=True))
    assert not any("Lid" in (step.prompt or "") for step in made.step)


def test_no_hotter_mix_is_offered_than_boiling_water_makes():
    night = _night("lamp-box", 60.0)
    tried = [other.start.paste_c for _, other in _hotter(replace(night, most_mix_c=71.5))]
    assert tried == [63.0, 66.0, 70.0, 71.0]
    assert [other.start.paste_c for _, other in _hotter(replace(night, most_mix_c=60.4))] == []
