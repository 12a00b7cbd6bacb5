"""The final dough against a textbook problem, worked sums of temperatures of the trade, and its own inverse."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.errors import ConfigError
from holdctl.paste import COMPOSITIONS
from holdctl.paste.dough import (
    MOST_ICE,
    Dough,
    Rise,
    by_the_rule,
    dough,
    dough_c,
    friction_factor,
    moist,
    rise_of,
    scald_for,
    sum_rule,
    usual_rise,
    water_for_dough,
)
from holdctl.paste.enthalpy import WATER, Ice, Portion
from holdctl.paste.thermal import wetted
from holdctl.settings import Flour
from tests.paste.scalds import mixed_c

WHITE = COMPOSITIONS[Flour.WHITE_WHEAT]
NONE = Portion(0.0, 20.0, WHITE)
TAP = {"tap_c": 14.0, "boiling_c": 99.97}


def _dough(scald_c=20.0, rise=Rise(3.2, 1.2), ratio=1.4):  # noqa: B008
    scald = Portion(150.0 * (1.0 + ratio), scald_c, wetted(WHITE, ratio))
    salt = Portion(28.0, 20.0, moist(0.0))
    return Dough(Portion(850.0, 20.0, WHITE), scald, 21.0, rise, (salt,))


def test_heat_of_hydration_is_taken_by_colder_water_as_in_a_textbook_problem():
    # Cengel & Boles, Thermodynamics, 8th ed., problem 5-157: 2 kg flour, 1 kg water, 15 kJ/kg of dough, flour and
    # dough at 15 °C: 15 - 45/4.18 = 4.234 °C. Water at 4 to 15 °C has 4.19 to 4.21 kJ/(kg K) in IAPWS-IF97.
    parts = Dough(Portion(2000.0, 15.0, WHITE), NONE, 15.0, Rise(0.0, 0.0), heat_j=45_000.0)
    assert water_for_dough(parts, 15.0, 1000.0, **TAP).as_one_c == pytest.approx(15.0 - 45.0 / 4.20, abs=0.03)


def test_a_dough_is_the_balance_of_an_independent_integration():
    bodies = [
        (850.0, WHITE, 20.0),
        (360.0, wetted(WHITE, 1.4), 50.0),
        (28.0, moist(0.0), 20.0),
        (550.0, WATER, 11.0),
    ]
    got = dough_c(_dough(50.0), [Portion(550.0, 11.0)])
    assert got == pytest.approx(mixed_c(bodies) + 3.2, abs=0.01)


@pytest.mark.parametrize(
    ("wanted", "temps", "friction", "water"),
    [
        (75, (65, 65), 8, 87),  # °F, a baking school's handout
        (80, (65, 75), 35, 65),  # °F, a trade magazine
        (25, (20, 21, 22), 6, 31),  # four factors, with a preferment
        (24, (18, 18), 8, 28),  # 72 - 18 - 18 - 8
        (58 / 3, (18, 18), 0, 22),  # base temperature 58
        (16, (21, 21), 0, 6),  # base temperature 48
        (21, (27,), 0, 15),  # 2 x dough - flour
    ],
)
def test_the_bakers_sum_gives_the_worked_examples_of_the_trade(wanted, temps, friction, water):
    assert sum_rule(wanted, temps, friction) == pytest.approx(water)


@settings(max_examples=50, deadline=None)
@given(st.floats(10.0, 35.0), st.lists(st.floats(0.0, 40.0), min_size=2, max_size=4), st.floats(0.0, 20.0))
def test_the_friction_factor_is_the_sum_turned_round(wanted, temps, friction):
    water = sum_rule(wanted, temps, friction)
    assert friction_factor(wanted, [*temps, water]) == pytest.approx(friction, abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(st.floats(5.0, 65.0), st.floats(20.0, 30.0))
def test_the_water_that_is_asked_for_makes_the_dough_that_was_wanted(scald_c, wanted_c):
    got = water_for_dough(_dough(scald_c), wanted_c, 550.0, **TAP)
    assert got.met
    assert got.dough.temp_c == pytest.approx(wanted_c, abs=1e-3)
    if got.ice_g:
        iced = [Portion(550.0 - got.ice_g, TAP["tap_c"]), Ice(got.ice_g)]
        assert dough_c(_dough(scald_c), iced) == pytest.approx(wanted_c, abs=1e-3)


def test_ice_is_used_where_no_water_is_cold_enough():
    parts = replace(_dough(64.0, ratio=3.0), flour=Portion(480.0, 20.0, WHITE))
    got = water_for_dough(parts, 28.0, 340.0, **TAP)
    assert got.met
    assert 0.0 < got.ice_g < MOST_ICE * 340.0
    assert got.notes == ()


def test_where_ice_is_not_enough_the_nearest_is_said_and_how_far_to_cool_the_scald():
    parts = replace(_dough(64.0, ratio=3.0), flour=Portion(480.0, 26.0, WHITE))
    got = water_for_dough(parts, 22.0, 150.0, **TAP)
    assert not got.met
    assert got.ice_g == pytest.approx(0.6 * 150.0)
    said = got.notes[0]
    assert f"nearest: {got.dough.temp_c:.1f} °C" in said
    cooled = replace(parts, scald=replace(parts.scald, temp_c=float(said.split("cool to ")[1].split(" ")[0])))
    assert dough_c(cooled, [Portion(150.0, 14.0)]) == pytest.approx(22.0, abs=0.5)


def test_a_dough_that_boiling_water_can_not_warm_says_the_nearest():
    got = water_for_dough(_dough(5.0), 45.0, 100.0, **TAP)
    assert not got.met
    assert "even with boiling water" in got.notes[0]
    assert got.dough.temp_c < 45.0


def test_water_that_harms_yeast_is_told():
    assert any("yeast last" in note for note in water_for_dough(_dough(5.0), 30.0, 300.0, **TAP).notes)


def test_a_dough_without_water_of_its_own_is_told_so():
    got = water_for_dough(_dough(40.0), 26.0, 0.0, **TAP)
    assert got.water_g == 0.0
    assert "No water is left" in got.notes[0]
    right = float(got.notes[0].split("scald at ")[1].split(" ")[0])
    assert dough_c(_dough(right), ()) == pytest.approx(26.0, abs=0.5)


def test_a_scald_that_can_not_help_is_none():
    assert scald_for(_dough(), 26.0, [Portion(5000.0, 90.0)]) is None


def test_the_bakers_sum_goes_wrong_with_a_warm_scald_and_says_why():
    parts = _dough(50.0)
    balance = water_for_dough(parts, 26.0, 550.0, **TAP)
    rule = by_the_rule(parts, 26.0, 550.0, balance.water_c)
    assert rule.water_c == pytest.approx(4 * 26 - 20 - 21 - 50 - 4 * 3.2)
    assert rule.dough_c == pytest.approx(21.2, abs=0.1)
    assert "29 % of what the water meets" in rule.why
    assert "room weighs nothing" in rule.why


def test_the_bakers_sum_that_asks_for_the_impossible_is_told():
    rule = by_the_rule(_dough(64.0), 26.0, 550.0, 3.9)
    assert rule.dough_c is None
    assert "can't be" in rule.why


def test_the_bakers_sum_is_not_scolded_where_it_agrees():
    parts = _dough(27.6, Rise(3.2, 1.2))
    balance = water_for_dough(parts, 26.0, 550.0, **TAP)
    rule = by_the_rule(parts, 26.0, 550.0, balance.water_c)
    assert rule.dough_c == pytest.approx(26.0, abs=0.5)
    assert "agrees" in rule.why


@settings(max_examples=50, deadline=None)
@given(st.floats(0.0, 12.0))
def test_a_measured_dough_gives_back_its_rise(rise_k):
    waters = [Portion(550.0, 15.0)]
    measured = dough_c(_dough(35.0, Rise(rise_k, 1.0)), waters)
    assert rise_of(_dough(35.0), waters, measured) == pytest.approx(rise_k, abs=1e-5)


def test_a_known_rise_narrows_the_range():
    waters = [Portion(550.0, 15.0)]
    guessed, known = dough(_dough(35.0), waters), dough(_dough(35.0, Rise(3.2, 0.3)), waters)
    assert known.high_c - known.low_c < 0.6 * (guessed.high_c - guessed.low_c)
    assert guessed.terms[0].name == "mixing"


def test_the_usual_rise_grows_with_the_minutes_and_is_marked_as_common_practice():
    assert usual_rise(10.0).k == pytest.approx(4.0)
    assert "common practice" in usual_rise().how
    assert usual_rise(0.0).sd_k > 0.0
    with pytest.raises(ConfigError, match="minutes"):
        usual_rise(-1.0)


def test_what_would_freeze_is_no_dough():
    with pytest.raises(ValueError, match="don't make a dough"):
        dough_c(_dough(5.0), [Ice(3000.0, -20.0)])
