"""Settings that contradict each other: one test for each sentence, and none for settings that don't."""

import msgspec
import pytest

from holdctl.safety.contradictions import contradictions
from holdctl.settings import (
    After,
    Control,
    Flour,
    Limits,
    Place,
    Probe,
    Programme,
    Scald,
    Settings,
    Step,
    Vessel,
    Warmer,
)
from holdsim import PRESETS
from tests.closed_loop import told

HOLD = Step(to=65.0, hold_for="4 h")
PROBES = (Probe(channel=1, place=Place.MID, error_k=0.5), Probe(channel=2, place=Place.WALL, error_k=0.5))
WARMER = {"name": "mat", "power_w": 60.0, "heat_capacity_j_k": 850.0}


def _settings(**changes) -> Settings:
    base = Settings(
        food_code="uk",
        warmer=Warmer(**WARMER),
        vessel=Vessel(inner_diameter_cm=14.0),
        scald=Scald(flour=Flour.WHITE_WHEAT, mass_g=1000.0),
        probe=PROBES,
        programme=Programme(step=(HOLD,)),
    )
    return msgspec.structs.replace(base, **changes)


def _steps(*steps, **kwargs) -> Settings:
    return _settings(programme=Programme(step=steps, **kwargs))


def _only(settings: Settings) -> str:
    found = contradictions(settings)
    assert len(found) == 1, found
    assert found[0].endswith(".")
    return found[0]


def test_plain_settings_contradict_nothing():
    assert contradictions(_settings()) == []


@pytest.mark.parametrize("name", sorted(PRESETS))
def test_the_presets_contradict_nothing(name):
    assert contradictions(told(name)) == []


def test_a_channel_given_twice():
    twice = (PROBES[0], Probe(channel=1, place=Place.WALL, error_k=0.5))
    assert _only(_settings(probe=twice)) == "probe: channel 1 is given twice; give each probe its own."


def test_no_probe_in_the_paste():
    found = _only(_settings(probe=(PROBES[1],)))
    assert found == "probe: none sits in the paste; place one at “core”, “mid” or “edge”."


def test_two_probes_at_the_wall():
    two = (*PROBES, Probe(channel=3, place=Place.WALL, error_k=0.5))
    assert "two sit at the wall" in _only(_settings(probe=two))


def test_an_empty_range_for_every_part():
    assert "programme.every_part: 67 is not below 62" in "".join(
        contradictions(_steps(HOLD, every_part=(67.0, 62.0)))
    )


def test_a_floor_of_the_wall_that_is_not_below_its_ceiling():
    control = Control(wall_floor_c=66.5, wall_ceiling_c=66.5)
    assert "floor 66.5 °C is not below its ceiling 66.5 °C" in _only(_settings(control=control))


def test_a_ceiling_of_the_wall_that_keeps_the_paste_from_its_set_temperature():
    found = _only(_settings(control=Control(wall_ceiling_c=65.5)))
    assert found.startswith(
        "control.wall_ceiling_c: 65.5 °C is less than 1 K above the set temperature 65 °C"
    )


def test_a_set_temperature_outside_the_range_whose_clock_could_never_run():
    found = _only(_steps(Step(to=61.0, hold_for="1 h")))
    assert found == "programme.step 1: to = 61 is outside every_part 62…67, so its clock could never run."


def test_hot_holding_with_nothing_to_hold():
    assert "programme.after: hot holding needs `to`" in _only(_steps(Step(fall_to=32.0)))
    assert contradictions(_steps(Step(fall_to=32.0), after=After(to=60.0))) == []
    assert contradictions(_steps(Step(fall_to=32.0), after=After(then="relay-off"))) == []


@pytest.mark.parametrize(
    "step", [Step(to=65.0), Step(to=65.0, hold_for="1 h", prompt="stir"), Step(prompt="stir", fall_to=32.0)]
)
def test_a_step_that_is_not_exactly_one_kind(step):
    assert "programme.step 2: give exactly one of" in "".join(contradictions(_steps(HOLD, step)))


def test_a_hold_without_its_set_temperature():
    assert (
        _only(_steps(HOLD, Step(hold_for="1 h")))
        == "programme.step 2: a hold needs `to`, its set temperature."
    )


@pytest.mark.parametrize("extra", [{"wait": "10 min"}, {"unanswered": "keep-waiting"}, {"due": "1 h"}])
def test_waiting_without_a_prompt(extra):
    step = Step(to=65.0, hold_for="4 h", **extra)
    assert _only(_steps(step)) == "programme.step 1: `due`, `wait` and `unanswered` belong to a prompt."


def test_a_prompt_that_is_asked_later_without_a_temperature_until_then():
    assert "needs `to`, which the relay keeps until then" in _only(
        _steps(Step(prompt="stir", due="1 h"), HOLD)
    )


def test_a_fall_with_a_set_temperature():
    assert "a fall has no `to`" in _only(_steps(HOLD, Step(fall_to=32.0, to=60.0)))


@pytest.mark.parametrize("does", ["go-on", "stop"])
def test_an_end_of_the_waiting_without_its_time(does):
    found = _only(_steps(HOLD, Step(prompt="stir", unanswered=does)))
    assert found == f"programme.step 2: say with `wait` how long the prompt waits before “{does}”."


def test_a_high_limit_too_near_a_set_temperature():
    warm = Step(prompt="add malt", to=77.0)
    assert _only(_steps(HOLD, warm)) == (
        "limits.paste_high_c: 78 °C is less than 2 K above the set temperature 77 °C."
    )


def test_the_set_temperature_of_the_hot_holding_counts_too():
    found = contradictions(_steps(HOLD, after=After(to=89.0)))
    assert [text.split(":")[0] for text in found] == ["limits.paste_high_c", "limits.wall_high_c"]


def test_a_wall_limit_too_near_the_ceiling():
    found = _only(_settings(limits=Limits(wall_high_c=71.0), control=Control(wall_ceiling_c=70.0)))
    assert found == "limits.wall_high_c: 71 °C is less than 2 K above the wall's ceiling 70 °C."


def test_a_paste_limit_too_near_the_upper_end_of_the_range():
    found = _only(_settings(limits=Limits(paste_high_c=68.0)))
    assert found == "limits.paste_high_c: 68 °C is less than 2 K above the upper every_part, 67 °C."


def test_a_cycle_shorter_than_its_least_on_and_off_times():
    warmer = Warmer(**WARMER, cycle_s=10.0, min_on_s=6.0, min_off_s=5.0)
    assert _only(_settings(warmer=warmer)) == (
        "warmer.cycle_s: 10 s is shorter than min_on_s + min_off_s = 11 s."
    )


def test_every_contradiction_is_named_at_once():
    bad = _settings(
        probe=(PROBES[1],),
        limits=Limits(paste_high_c=66.0, wall_high_c=66.0),
        warmer=Warmer(**WARMER, cycle_s=3.0),
    )
    keys = [text.split(":")[0] for text in contradictions(bad)]
    assert {"probe", "limits.paste_high_c", "limits.wall_high_c", "warmer.cycle_s"} <= set(keys)


def test_a_ceiling_under_the_range_is_refused():
    assert "programme.ceiling: 66" in _only(_steps(HOLD, ceiling=66.5))


def test_a_ceiling_that_the_hold_could_not_live_under_is_refused():
    """72 °C under the default ceiling of 70 °C would never be reached."""
    found = contradictions(_steps(Step(to=72.0, hold_for="1 h"), every_part=(68.0, 75.0)))
    assert any("programme.ceiling" in line and "72" in line for line in found)
    assert contradictions(_steps(Step(to=72.0, hold_for="1 h"), every_part=(68.0, 75.0), ceiling=75.5)) == []


def test_a_ceiling_near_the_pastes_high_limit_is_refused():
    assert "the programme's ceiling" in _only(_steps(HOLD, ceiling=77.0))


# At their borders ----------------------------------------------------------------------------------------------


def _range(every_part, ceiling, *, to=65.0, **changes) -> list[str]:
    hold = Step(to=to, hold_for="4 h")
    programme = Programme(step=(hold,), every_part=every_part, ceiling=ceiling)
    return contradictions(_settings(programme=programme, **changes))


def test_a_range_of_one_temperature_is_none():
    assert any("65 is not below 65" in text for text in _range((65.0, 65.0), 70.0))


def test_a_ceiling_at_the_upper_end_of_the_range_is_allowed_and_one_below_it_is_not():
    assert _range((62.0, 67.0), 67.0) == []
    assert any("is below the upper every_part" in text for text in _range((62.0, 67.0), 66.9))


def test_a_ceiling_a_kelvin_above_the_set_temperature_is_enough():
    assert _range((62.0, 67.0), 67.0, to=66.0) == []
    assert any("leaves less than 1 K" in text for text in _range((62.0, 67.0), 67.0, to=66.1))


def test_of_a_set_temperature_at_the_limit_less_two_kelvin_both_are_told():
    limits = Limits(paste_high_c=78.0, wall_high_c=90.0)
    told = _range((62.0, 76.5), 76.5, to=76.0, limits=limits)
    assert any("leaves less than 1 K" in text for text in told)
    beyond = _range((62.0, 77.5), 77.5, to=77.0, limits=limits)
    assert not any("leaves less than 1 K" in text for text in beyond), "the limit's own sentence says it"


@pytest.mark.parametrize(("to", "fits"), [(64.0, True), (64.1, False)])
def test_a_wall_a_kelvin_above_the_set_temperature_is_enough(to, fits):
    control = Control(wall_floor_c=60.0, wall_ceiling_c=65.0)
    found = _range((62.0, 67.0), 70.0, to=to, control=control)
    assert (found == []) is fits, found


@pytest.mark.parametrize(("to", "fits"), [(62.0, False), (62.1, True), (66.9, True), (67.0, False)])
def test_a_hold_at_the_very_end_of_the_range_would_never_run(to, fits):
    assert (
        any("so its clock could never run" in text for text in _range((62.0, 67.0), 70.0, to=to)) is not fits
    )


@pytest.mark.parametrize(("paste_high_c", "fits"), [(72.0, True), (71.9, False)])
def test_a_limit_two_kelvin_above_the_ceiling_is_enough(paste_high_c, fits):
    limits = Limits(paste_high_c=paste_high_c, wall_high_c=90.0)
    found = _range((62.0, 67.0), 70.0, limits=limits)
    assert (found == []) is fits, found


@pytest.mark.parametrize(("high_c", "told"), [(69.0, 1), (68.9, 1)])
def test_between_range_and_ceiling_the_limit_is_told_once(high_c, told):
    found = _range((62.0, 67.0), 70.0, limits=Limits(paste_high_c=high_c, wall_high_c=90.0))
    assert len([text for text in found if text.startswith("limits.paste_high_c")]) == told, found
    assert any("the upper every_part" in text for text in found) is (high_c < 69.0)


@pytest.mark.parametrize(("wall_high_c", "fits"), [(69.0, True), (68.9, False)])
def test_a_wall_limit_two_kelvin_above_the_walls_ceiling_is_enough(wall_high_c, fits):
    found = _range((62.0, 67.0), 67.0, limits=Limits(paste_high_c=78.0, wall_high_c=wall_high_c))
    assert (found == []) is fits, found


@pytest.mark.parametrize(("top_c", "fits"), [(67.0, True), (66.9, False)])
def test_a_limit_two_kelvin_above_the_set_temperature_is_enough(top_c, fits):
    found = _range((62.0, 67.0), 67.0, limits=Limits(paste_high_c=top_c, wall_high_c=90.0))
    assert any("above the set temperature 65" in text for text in found) is not fits, found


def test_a_cycle_of_just_both_shortest_times_is_enough():
    warmer = Warmer(**WARMER, cycle_s=20.0, min_on_s=8.0, min_off_s=12.0)
    assert contradictions(_settings(warmer=warmer)) == []
    assert contradictions(_settings(warmer=msgspec.structs.replace(warmer, min_off_s=12.5))) != []
