"""What is said before the night starts."""

import msgspec
import pytest

from holdctl.hold import outlook
from holdctl.settings import After, Lid, Place, Probe, Programme, Room, Step, Vessel
from holdsim import PRESETS
from tests.closed_loop import told


def _settings(name="jacket", lid=None, code="fda-2022", **changes):
    base = told(name)
    vessel = base.vessel if lid is None else Vessel(inner_diameter_cm=base.vessel.inner_diameter_cm, lid=lid)
    return msgspec.structs.replace(base, vessel=vessel, food_code=code, **changes)


def _named(settings):
    return {notice.name: notice for notice in outlook(settings)}


@pytest.mark.parametrize("ambient_c", [18.0, 24.0])
@pytest.mark.parametrize("name", sorted(PRESETS))
def test_the_presets_have_nothing_to_fear(name, ambient_c):
    assert outlook(told(name, ambient_c=ambient_c)) == []


def test_an_open_pot_cannot_keep_every_part_and_is_told_so_with_what_would_help():
    said = _named(_settings("small-pot", Lid.OFF))
    assert {"coldest-part", "code-limit"} <= set(said)
    text = said["coldest-part"].text
    assert "its clock would not run" in text
    assert "stirring" in text
    assert "a warmer lid" in text


def test_the_coldest_paste_that_is_named_is_the_steady_one():
    settings = _settings("small-pot", Lid.OFF)
    plant = PRESETS["small-pot"].build(lid=Lid.OFF, ambient_c=20.0)
    coldest = _named(settings)["coldest-part"].detail["coldest_c"]
    truth = plant.steady(65.0, Place.MID).coldest_c
    print(f"said {coldest:.1f}, simulated {truth:.1f}")
    assert abs(coldest - truth) <= 6.0


def test_where_a_higher_setpoint_would_do_it_is_offered_and_then_nothing_is_left_to_say():
    lukewarm = Programme(step=(Step(to=63.0, hold_for="1 h"),))
    settings = _settings(programme=lukewarm)
    said = _named(settings)["coldest-part"]
    offered = said.detail["setpoint_c"]
    assert f"a setpoint of {offered:.1f} °C" in said.text
    mended = Programme(step=(Step(to=offered + 0.01, hold_for="1 h"),))
    assert outlook(msgspec.structs.replace(settings, programme=mended)) == []


def test_no_setpoint_above_the_range_is_offered():
    said = _named(_settings("small-pot", Lid.OFF))["coldest-part"]
    assert said.detail["setpoint_c"] > 67.0
    assert "a setpoint of" not in said.text


def test_the_probes_error_counts_against_the_codes_limit():
    settings = _settings(code="uk", programme=Programme(step=(Step(to=64.0, hold_for="1 h"),)))
    probes = tuple(msgspec.structs.replace(probe, error_k=0.2) for probe in settings.probe)
    said, exact = _named(settings), _named(msgspec.structs.replace(settings, probe=probes))
    difference = exact["code-limit"].detail["coldest_c"] - said["code-limit"].detail["coldest_c"]
    assert difference == pytest.approx(0.3)


def test_a_hold_of_62_under_the_uk_code_names_its_63_and_its_source():
    said = _named(
        _settings("stirred-kettle", code="uk", programme=Programme(step=(Step(to=62.5, hold_for="1 h"),)))
    )
    text = said["code-limit"].text
    assert "63 °C" in text
    assert "SI 2013/2996" in text
    assert "a setpoint of 63.5 °C" in text
    assert "stirring" not in text, "it is stirred already"


def test_the_temperature_of_the_hot_holding_is_looked_at_too():
    cool = Programme(step=(Step(to=65.0, hold_for="1 h"),), after=After(to=55.0))
    assert "code-limit" in _named(_settings("stirred-kettle", programme=cool))
    off = Programme(step=(Step(to=65.0, hold_for="1 h"),), after=After(then="relay-off"))
    assert outlook(_settings("stirred-kettle", programme=off)) == []


@pytest.mark.parametrize("name", ["jacket", "mat-box"])
def test_a_lid_that_is_insulated_or_boxed_is_not_told_to_be_warmer(name):
    lukewarm = Programme(step=(Step(to=62.1, hold_for="1 h"),))
    assert "a warmer lid" not in _named(_settings(name, programme=lukewarm))["coldest-part"].text


def test_paste_at_the_wall_that_would_be_too_hot_is_warned_of():
    cold_room = Room(ambient_c=-10.0)
    said = _named(_settings("jacket", Lid.ON, room=cold_room))
    assert "hottest-part" in said
    assert said["hottest-part"].detail["hottest_c"] > 67.0


def test_a_probe_at_the_edge_sees_less_of_the_cold_middle_than_one_in_the_core():
    def coldest(place):
        probe = (Probe(channel=1, place=place, error_k=0.5),)
        return _named(_settings("small-pot", Lid.OFF, probe=probe))["coldest-part"].detail["coldest_c"]

    assert coldest(Place.EDGE) < coldest(Place.CORE)


def _chilled(code="fda-2022", **programme):
    base = _settings(code=code)
    scald = msgspec.structs.replace(base.scald, begins="chilled")
    return msgspec.structs.replace(
        base, scald=scald, programme=msgspec.structs.replace(base.programme, **programme)
    )


def test_a_chilled_scald_under_a_ceiling_of_70_c_is_told_before_the_night_that_the_rule_cannot_be_met():
    # FDA Food Code 3-403.11: every part 74 °C for 15 s within 2 h.
    text = _named(_chilled())["chilled-scald"].text
    assert "3-403.11" in text
    assert "this hold can't meet the rule" in text
    assert "Heat it to 74 °C first, every part, for 15 s" in text
    assert "or discard it" in text
    assert outlook(_chilled())[0].name == "chilled-scald"


def test_a_chilled_scald_where_the_rule_can_be_met_is_told_the_rule_only():
    text = _named(_chilled("anz"))["chilled-scald"].text
    assert "60 °C" in text
    assert "can't meet" not in text
    assert "has no figure here" in _named(_chilled("uk"))["chilled-scald"].text


def test_a_fresh_mix_has_nothing_of_the_kind_said():
    assert "chilled-scald" not in _named(_settings())


def test_a_scald_under_time_control_from_the_cold_is_told_its_rule_and_not_to_be_reheated():
    chilled = msgspec.structs.replace(told("jacket").scald, begins="chilled")
    said = _named(_settings(scald=chilled, time_control="6 h from cold"))
    assert "chilled-scald" not in said
    assert "3-501.19(C)" in said["time-control"].text and "21 °C (70 °F)" in said["time-control"].text
    assert "chilled-scald" in _named(_settings(scald=chilled, time_control=True))


def test_a_step_that_falls_below_the_limit_is_said_to_be_a_cooling_and_one_in_the_hot_zone_is_not():
    steps = (
        Step(fall_to=66.0),
        Step(to=65.0, hold_for="1 h"),
        Step(fall_to=32.0),
        Step(prompt="add the culture"),
    )
    programme = Programme(step=steps, after=After(then="relay-off"))
    said = _named(_settings(programme=programme))["planned-fall"]
    assert said.text.startswith("Step 3 lets the paste fall to 32 °C")
    assert "57 °C (135 °F) to 21 °C (70 °F) within 2 h" in said.text and "3-501.14(A)" in said.text
    assert "no numbers" in _named(_settings(programme=programme, code="uk"))["planned-fall"].text
    assert "planned-fall" not in _named(_settings(programme=Programme(step=steps[:2])))
