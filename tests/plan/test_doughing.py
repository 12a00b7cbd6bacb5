"""The final dough's water: from the masses and temperatures of this plan."""

import pytest

from tests.plan.breads import bread, plan


def test_the_dough_water_balances_the_heat_of_the_worked_example():
    # By hand with cp 1.98 flour, 3.26 scald 1:1.4 (the table of pastes), 4.19 water, 1.6 salt and yeast, kJ/kgK; 26 °C
    # wanted, 8 min of mixing at 0.4 K: parts meet at 22.8 °C.
    need_kj = 0.85 * 1.98 * 2.8 + 0.36 * 3.26 * (22.8 - 32) + 0.028 * 1.6 * 2.8
    by_hand_c = 22.8 + need_kj / (0.55 * 4.19)
    found = plan().dough
    assert found.water_c == pytest.approx(by_hand_c, abs=0.3)
    assert (found.dough_c, found.water_g, found.met) == (26.0, 550.0, True)
    assert found.low_c < 26 < found.high_c


def test_a_warmer_scald_wants_colder_water_and_a_very_warm_one_ice():
    waters = [plan(dough={"scald_c": c}).dough for c in (20, 32, 45)]
    assert waters[0].water_c > waters[1].water_c > waters[2].water_c
    hot = plan(dough={"scald_c": 65}).dough
    assert hot.ice_g > 0
    assert hot.ice_g < hot.water_g


def test_a_dough_that_cannot_be_had_says_so_and_gives_the_nearest():
    hot = plan(dough={"scald_c": 95, "dough_c": 10}).dough
    assert not hot.met
    assert hot.dough_c > 10
    assert any("nearest" in note for note in hot.notes)


def test_a_rise_that_the_baker_measured_goes_before_the_usual_one():
    usual, own = plan().dough, plan(dough={"mixing_rise_k": 6}).dough
    assert (usual.rise_k, own.rise_k) == (3.2, 6)
    assert own.rise_how == "measured by you"
    assert own.water_c < usual.water_c


def test_the_bakers_sum_stands_beside_it_with_the_reason_why_it_differs():
    found = plan().dough
    # Four temperatures: 4 x 26 less flour 20, room 20, scald 32 and four times the rise.
    assert found.rule_c == pytest.approx(4 * 26 - 20 - 20 - 32 - 4 * 3.2, abs=0.05)
    large = plan(
        flour=[{"name": "whole-rye", "grams": 1000}], water={"grams": 850}, scald={"share": 20}
    ).dough
    assert "the room weighs nothing" in large.why
    assert abs(large.rule_dough_c - 26) > 0.5


def test_milk_and_a_dough_without_flour_or_water_of_its_own_are_balanced_too():
    milk = [*bread()["ingredient"], {"name": "milk", "grams": 200, "moisture": 88}]
    assert plan(ingredient=milk).dough.water_c != plan().dough.water_c
    all_scalded = plan(water={"grams": 1400}, scald={"share": 100, "increase": 0})
    assert all_scalded.dough.water_g == 0
    assert all_scalded.dough.rule_c is None
    assert "nothing sets its temperature" in all_scalded.dough.notes[0]
