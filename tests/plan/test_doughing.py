"""The final dough's water: from the masses and temperatures of this plan."""

import pytest

from holdctl.paste.dough import friction_factor
from holdctl.plan.card import card
from holdctl.plan.text import render
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
    assert hot.ice_g == round(hot.ice_g), "as the scale reads it"


@pytest.mark.parametrize(("scald_c", "tap_c"), [(65, 14), (32, 24)])
def test_ice_stands_beside_the_water_that_it_replaces_on_the_smallest_card_too(scald_c, tap_c):
    """One too warm a tap, or a scald for which no water is cold enough: together they are the dough's water."""
    made = plan(dough={"scald_c": scald_c, "dough_c": 22}, kitchen={"cold_water_c": tap_c})
    found = made.dough
    assert found.ice_g > 0
    line = next(said for said in render(card(made), 18).splitlines() if said.startswith("Dough"))
    assert f"{found.water_g - found.ice_g:g} g water at {tap_c} °C and {found.ice_g:g} g crushed" in line


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


def test_a_friction_factor_of_an_earlier_dough_is_its_part_for_each_temperature():
    """The trade's example: 225 - 65 - 65 - 8 = 87 °F, a factor of 8 °F with three temperatures: 8/1.8/3 K."""
    factor_k = friction_factor((87 + 65 + 65 + 8) / 3, (65, 65, 87)) / 1.8
    assert factor_k == pytest.approx(8 / 1.8)
    found = plan(dough={"friction_factor_k": factor_k}).dough
    assert found.rise_k == pytest.approx(factor_k / 3, abs=0.01)
    four = plan(dough={"friction_factor_k": 12, "friction_temperatures": 4}).dough
    assert (four.rise_k, four.rise_how) == (3.0, "your friction factor of 12 K with 4 temperatures")
    same = plan(dough={"mixing_rise_k": 3}).dough
    assert (four.water_c, four.rule_c) == (same.water_c, same.rule_c)
    assert four.high_c - four.low_c > same.high_c - same.low_c, "a sum that knows no masses is less sure"


def test_what_was_measured_as_a_rise_goes_before_a_factor():
    assert plan(dough={"mixing_rise_k": 5, "friction_factor_k": 12}).dough.rise_k == 5


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
