"""A measured mix: what is advised from a kept plan, and what it teaches the next plan in the same vessel."""

import msgspec
import pytest

from holdctl.config.load import load
from holdctl.errors import ConfigError
from holdctl.paste.mixday import Act
from holdctl.paste.mixing import mix
from holdctl.plan import make, reading
from holdctl.plan.learned import Memory, vessel_name
from holdctl.plan.measuring import advise, bread_of, planned, seen_dough, seen_mix
from tests.daemon.rig import PLAIN_RIG
from tests.plan.breads import AT_MS, bread, plan

TOLD = {"at_utc_ms": AT_MS, "origin": "told"}
STEEL = {"vessel_g": 900, "stir_min": 2}


def settings(tmp_path):
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG, "utf-8")
    return load(path).settings


def test_the_examples_mix_that_came_out_at_61_and_a_half_gets_hot_water_out_of_the_dough():
    found = advise(plan(), None, Memory(), 61.5)
    hot = found.advice[0]
    assert hot.act is Act.ADD_HOT_WATER
    assert "550 g" in hot.words
    assert "1:1.4" in hot.words


def test_hold_and_code_are_those_of_the_warmer(tmp_path):
    last = advise(plan(), settings(tmp_path), Memory(), 50.0)
    assert any("57 °C" in a.words for a in last.advice) or last.advice[0].act is Act.ADD_HOT_WATER
    without = advise(plan(scald={"share": 20, "increase": 0, "ratio": 3.3}), None, Memory(), 50.0)
    assert not any("food code" in a.words for a in without.advice)


def test_the_malt_of_the_plan_goes_in():
    made = plan(scald={"share": 15, "malt": 4})
    assert Act.ADD_MALT in [a.act for a in advise(made, None, Memory(), 68.0).advice]


def test_a_plan_put_together_again_mixes_as_it_was_planned():
    made = plan(mixing=STEEL)
    again = planned(made, None, Memory())
    assert again.mix.temp_c == made.mix.mix_c
    assert again.bowl.mass_g == made.scald.mass_g
    assert bread_of(made).name == made.name


def test_a_vessel_is_named_by_its_mass_or_as_the_warmers(tmp_path):
    assert vessel_name(bread_of(plan(mixing=STEEL)), None) == "vessel of 900 g, steel"
    assert vessel_name(bread_of(plan()), None) == "your vessel"
    warmer = settings(tmp_path)
    assert vessel_name(bread_of(plan()), warmer) == f"vessel of {warmer.warmer.name}"


def test_a_colder_mix_teaches_a_larger_loss_and_the_next_plan_expects_it():
    made = plan()
    memory = Memory()
    for night in range(3):
        one = seen_mix(made, None, made.mix.mix_c - 3.0, at_utc_ms=AT_MS + night, origin=str(night))
        memory = memory.with_one(one)
    after = planned(made, None, memory)
    taught = mix(after.bowl)
    assert taught.temp_c == pytest.approx(made.mix.mix_c - 3.0, abs=0.6)
    assert taught.high_c - taught.low_c < made.mix.high_c - made.mix.low_c


def test_a_mix_as_planned_teaches_little_more_than_was_believed():
    made = plan(mixing=STEEL)
    memory = Memory().with_one(seen_mix(made, None, made.mix.mix_c, **TOLD))
    assert mix(planned(made, None, memory).bowl).temp_c == pytest.approx(made.mix.mix_c, abs=0.3)


def test_the_probe_teaches_less_surely_than_a_thermometer_in_the_mix():
    made = plan()
    told, probe = (seen_mix(made, None, 64.0, **TOLD, by_probe=by) for by in (False, True))
    assert probe.sd > 1.3 * told.sd
    assert probe.value == told.value


def test_what_heat_can_not_explain_teaches_nothing():
    assert seen_mix(plan(), None, 95.0, **TOLD) is None
    assert seen_mix(plan(), None, 20.4, **TOLD) is None


def test_a_plan_without_mix_or_bread_is_refused_in_a_sentence():
    with pytest.raises(ConfigError, match="make it again"):
        planned(msgspec.structs.replace(plan(), mix=None), None, Memory())
    with pytest.raises(ConfigError, match="make it again"):
        bread_of(msgspec.structs.replace(plan(), bread={}))


def test_the_bread_in_a_plan_is_the_one_it_was_made_from():
    data = bread(mixing=STEEL)
    kept = msgspec.to_builtins(bread_of(plan(mixing=STEEL)))
    assert kept["mixing"]["vessel_g"] == data["mixing"]["vessel_g"]


def test_a_warmer_dough_teaches_a_larger_rise_and_the_next_plan_pours_colder():
    made = plan()
    memory = Memory()
    for night in range(3):
        memory = memory.with_one(
            seen_dough(made, None, made.dough.dough_c + 3.0, at_utc_ms=night, origin=str(night))
        )
    read = reading.bread(bread(), "test")
    after = make.make(read, None, AT_MS, memory)
    assert after.dough.rise_k == pytest.approx(made.dough.rise_k + 3.0, abs=0.8)
    assert after.dough.water_c < made.dough.water_c - 5.0
    assert "learnt from 3 doughs" in after.dough.rise_how


def test_what_the_baker_says_of_the_rise_goes_before_what_was_learnt():
    made = plan()
    memory = Memory().with_one(seen_dough(made, None, 30.0, **TOLD))
    told = make.make(reading.bread(bread(dough={"mixing_rise_k": 2.0}), "test"), None, AT_MS, memory)
    assert told.dough.rise_k == 2.0


def test_other_water_and_scald_than_planned_are_taken_into_account():
    made = plan()
    as_planned = seen_dough(made, None, 26.0, **TOLD).value
    colder = seen_dough(made, None, 26.0, water_c=made.dough.water_c - 5.0, **TOLD).value
    warmer = seen_dough(made, None, 26.0, scald_c=made.dough.scald_c + 10.0, **TOLD).value
    assert colder == pytest.approx(as_planned + 5.0 * 0.44, abs=0.2)  # 550 g of water in 1778 g of dough
    assert warmer < as_planned - 1.5


def test_what_mixing_can_not_have_done_is_refused():
    with pytest.raises(ConfigError, match="mixing does not do that"):
        seen_dough(plan(), None, 60.0, **TOLD)
    with pytest.raises(ConfigError, match="make it again"):
        seen_dough(msgspec.structs.replace(plan(), dough=None), None, 26.0, **TOLD)


def test_the_next_plan_says_that_it_reckons_with_earlier_mixes():
    made = plan()
    memory = Memory().with_one(seen_mix(made, None, made.mix.mix_c - 4.0, **TOLD))
    after = make.make(reading.bread(bread(), "test"), None, AT_MS, memory)
    assert any("last mix in this vessel" in note for note in after.mix.notes)
    assert after.mix.mix_c < made.mix.mix_c or after.mix.water_c > made.mix.water_c
    other = make.make(reading.bread(bread(mixing=STEEL), "test"), None, AT_MS, memory)
    assert not any("in this vessel" in note for note in other.mix.notes)
