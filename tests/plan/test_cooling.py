"""The way down of a plan: with this vessel, and against the stages of the food code chosen."""

import msgspec
import pytest

from holdctl.config.load import load
from holdctl.paste.cooling import cool_down
from holdctl.plan import make, reading
from holdctl.plan.cooling import words
from holdctl.settings import After, Step
from tests.closed_loop import told
from tests.daemon.rig import PLAIN_RIG
from tests.plan.breads import AT_MS, COOLING, bread

THIN = {"where": "ice-bath", "layer_cm": 2}


@pytest.fixture
def cooling(tmp_path):
    """Return the cooling of the white bread on the plain rig (vessel 14 cm), with changes to the bread and a code."""

    def cooled(code="fda-2022", **changes):
        path = tmp_path / "holdctl.toml"
        path.write_text(PLAIN_RIG.replace("fda-2022", code), "utf-8")
        return make.make(reading.bread(bread(**changes), ""), load(path).settings, AT_MS).cooling

    return cooled


def test_the_paste_stands_as_deep_as_its_mass_in_the_warmers_vessel(cooling):
    # 360 g at 1130 kg/m³ (paste 1:1.4 at 40 °C: between 1143 at 20 and 1128 at 65 °C) on a circle of 14 cm.
    assert cooling().depth_cm == pytest.approx(360 / 1.137 / (3.14159 * 49), abs=0.1)
    assert cooling(cooling={"layer_cm": 1.5}).depth_cm == 1.5


def test_ice_water_is_faster_than_the_fridge_and_the_fridge_than_the_room(cooling):
    times = [cooling(cooling={"where": where}).dough_s for where in ("ice-bath", "fridge", "room")]
    assert times == sorted(times)
    assert all(fast < slow for fast, slow in times)


def test_a_stage_is_met_only_where_the_slow_case_keeps_it(cooling):
    seen = set()
    for layer, where in ((1, "ice-bath"), (2, "fridge"), (8, "fridge")):
        found = cooling(cooling={"where": where, "layer_cm": layer})
        for stage in found.stages:
            if stage.met == "yes":
                assert stage.slow_s <= stage.within_s
            elif stage.met == "no":
                assert stage.fast_s is None or stage.fast_s > stage.within_s
            else:
                assert stage.fast_s <= stage.within_s
                assert stage.slow_s is None or stage.slow_s > stage.within_s
            seen.add(stage.met)
        assert (found.kept == "yes") is all(stage.met == "yes" for stage in found.stages)
    assert seen == {"yes", "no", "open"}


def test_where_the_code_is_not_kept_a_way_is_named_that_keeps_it(cooling):
    deep = cooling(scald={"share": 15}, flour=[{"name": "white-wheat", "grams": 5000}], water={"grams": 3300})
    assert deep.kept == "no"
    assert "spread 2 cm deep in ice water would keep it" in deep.nearest
    again = cooling(flour=[{"name": "white-wheat", "grams": 5000}], water={"grams": 3300}, cooling=THIN)
    assert again.kept == "yes"
    assert again.nearest == ""


def test_stages_are_those_of_the_code_chosen(cooling):
    assert [(s.from_c, s.to_c, s.within_s) for s in cooling("anz").stages] == [(60, 21, 7200), (21, 5, 14400)]
    assert cooling("anz").rule.startswith("Food Standards Code")


def test_in_fahrenheit_a_code_keeps_its_own_figures(cooling):
    assert "135 °F to 70 °F" in words(cooling(), "F")[2]


def test_a_code_without_a_number_is_quoted_and_nothing_is_judged(cooling):
    found = cooling("uk")
    assert (found.stages, found.kept, found.nearest) == ((), "", "")
    assert "as quickly as possible" in found.notes[0]
    assert words(found)[1:] == ("", "")


def test_without_settings_no_code_is_judged(cooling):
    found = make.make(reading.bread(bread(), ""), None, AT_MS).cooling
    assert found.stages == ()
    assert found.rule == ""
    assert found.start_c == 65


def test_a_room_as_warm_as_the_dough_wants_never_gets_there(cooling):
    found = cooling(cooling={"where": "room"}, kitchen={"room_c": 30}, dough={"scald_c": 28})
    assert found.dough_s == (None, None)
    assert "not within a day" in words(found)[0]


def test_the_clock_of_a_stage_runs_from_the_coldest_to_the_hottest_paste(cooling, monkeypatch):
    seen = []

    def keep(*arguments, **more):
        seen.append(cool_down(*arguments, **more))
        return seen[-1]

    monkeypatch.setattr("holdctl.plan.cooling.cool_down", keep)
    found = cooling(cooling=THIN)
    for curve, took in zip(seen[:2], (found.stages[0].fast_s, found.stages[0].slow_s), strict=True):
        assert took == curve.when(21, curve.hottest_c) - curve.when(57, curve.coldest_c)
        assert took > curve.when(21, curve.hottest_c) - curve.when(57, curve.hottest_c)


def test_what_is_said_names_rule_verdict_and_times():
    dough, stored, times = words(COOLING)
    assert dough == "To 30 °C in 40 min to 1 h 10 min in the fridge, spread 2 cm deep."
    assert stored == "To store it: FDA Food Code 2022, 3-501.14(A) kept this way."
    assert times == "57 °C to 21 °C: 50 min to 1 h 40 min (2 h allowed), as reckoned."
    late = msgspec.structs.replace(COOLING, kept="no", nearest="spread thin would keep it")
    assert "NOT kept this way" in words(late)[1]
    assert "; spread thin would keep it" in words(late)[2]


def _programmed(*steps, then="hot-holding", to=None):
    settings = told("lamp-box")
    own = msgspec.structs.replace(
        settings.programme, step=steps, every_part=(40.0, 68.0), after=After(then=then, to=to)
    )
    settings = msgspec.structs.replace(settings, programme=own)
    return make.make(reading.bread(bread(cooling=THIN), ""), settings, AT_MS).cooling


HOLD, FALL, SOUR = Step(to=65.0, hold_for="2 h"), Step(fall_to=45.0), Step(to=44.0, hold_for="1 h")


def test_it_cools_from_what_the_programme_leaves_the_paste_at():
    assert _programmed(HOLD).start_c == 65.0
    assert _programmed(HOLD, to=62.0).start_c == 62.0
    assert _programmed(HOLD, FALL, then="relay-off").start_c == 45.0
    assert _programmed(HOLD, FALL, SOUR).start_c == 44.0
    assert _programmed(HOLD, FALL).start_c == 65.0, "hot holding takes it up again"


def test_a_stage_whose_clock_began_in_the_warmer_is_never_called_kept():
    found = _programmed(HOLD, FALL, SOUR, then="relay-off")
    assert found.kept == "open"
    assert found.nearest == ""
    assert "under 57 °C in the warmer by then" in found.notes[-1]
    assert _programmed(HOLD).kept == "yes"
