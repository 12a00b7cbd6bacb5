"""The mix of a plan: its water is the scald's, its temperature that of the heat balance for this kitchen."""

from decimal import Decimal

import pytest

from holdctl.config.load import load
from holdctl.errors import ConfigError
from holdctl.plan import make, reading
from tests.daemon.rig import PLAIN_RIG
from tests.plan.breads import AT_MS, bread, plan

MALT = {"share": 15, "malt": 3}


def test_an_adiabatic_scald_comes_to_the_tabulated_temperature():
    # Enthalpy balance of white flour at 20 °C and boiling water 1:1.4 at 99.97 °C with IF97 water, Choi–Okos flour,
    # 15.1 kJ/kg of hydration and 6.8 kJ/kg of swelling: 80.84 °C (79.78 without the heats), computed with CoolProp and
    # iapws. Water that is poured has lost 0.5 K, which is 0.4 K of the mix.
    made = plan(scald=MALT, mixing={"vessel_g": 0, "stir_min": 0})
    assert made.mix.mix_c == pytest.approx(80.84 - 0.4, abs=0.2)
    assert made.mix.boil_first


@pytest.mark.parametrize("scald", [{"share": 15}, MALT])
def test_the_jugs_together_are_the_water_of_the_scald(scald):
    made = plan(scald=scald)
    jugs = Decimal(repr(made.mix.hot_water_g)) + Decimal(repr(made.mix.cold_water_g))
    assert jugs == Decimal(repr(made.scald.water_g))


def test_the_expected_mix_lies_in_its_range_and_the_water_is_no_hotter_than_boiling():
    for scald in ({"share": 15}, MALT):
        mix = plan(scald=scald).mix
        assert mix.low_c < mix.mix_c < mix.high_c <= mix.water_c <= mix.boiling_c
        assert mix.why


def test_without_malt_the_flours_own_amylases_are_kept():
    mix = plan(scald={"share": 15}).mix
    assert not mix.boil_first
    assert mix.mix_c <= 70
    assert mix.cold_water_g > 0


def test_in_the_mountains_the_same_boiling_water_makes_a_colder_mix():
    sea, high = plan(scald=MALT), plan(scald=MALT, kitchen={"altitude_m": 1500})
    assert high.mix.boiling_c == pytest.approx(94.984, abs=0.05)  # U.S. Standard Atmosphere 1976 and IF97
    assert high.mix.mix_c < sea.mix.mix_c - 2


def test_a_bowl_that_was_weighed_makes_the_range_narrower():
    known = plan(scald=MALT, mixing={"vessel_g": 100}).mix
    unknown = plan(scald=MALT).mix
    assert known.high_c - known.low_c < unknown.high_c - unknown.low_c


def test_seeds_in_the_scald_cool_it():
    seeds = bread()["ingredient"] + [{"name": "linseed", "grams": 80, "into": "scald"}]
    assert plan(scald=MALT, ingredient=seeds).mix.mix_c < plan(scald=MALT).mix.mix_c - 2


def test_a_wanted_mix_is_met_and_an_impossible_one_gets_the_nearest():
    assert plan(mixing={"mix_c": 66}).mix.mix_c == pytest.approx(66, abs=0.1)
    with pytest.raises(ConfigError, match="nearest"):
        plan(mixing={"mix_c": 95})


def test_room_and_vessel_are_the_warmers_unless_the_bread_says_otherwise(tmp_path):
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG + "[room]\nambient_c = 5\n", "utf-8")
    settings = load(path).settings
    cold = make.make(reading.bread(bread(scald=MALT), ""), settings, AT_MS).mix.mix_c
    told = make.make(reading.bread(bread(scald=MALT, kitchen={"room_c": 20}), ""), settings, AT_MS).mix.mix_c
    assert cold < told - 3
    fridge = bread(scald=MALT, kitchen={"flour_c": 1})
    assert make.make(reading.bread(fridge, ""), settings, AT_MS).mix.mix_c < cold


def test_the_hottest_mix_that_is_told_is_the_hottest_that_can_be_asked_for():
    most_c = plan(scald={"share": 15}).mix.most_c
    assert plan(scald=MALT).mix.mix_c == pytest.approx(most_c, abs=0.1), "malt means boiling water"
    assert plan(scald={"share": 15}, mixing={"mix_c": most_c - 0.1}).mix.water_c > 98.0
    with pytest.raises(ConfigError, match=f"nearest: {most_c:.1f}"):
        plan(scald={"share": 15}, mixing={"mix_c": most_c + 0.2})
