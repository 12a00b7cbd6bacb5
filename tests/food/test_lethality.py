"""Lethality against published tables."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.food.curves import segments
from holdctl.food.lethality import (
    RESISTANCES,
    SPORES_SURVIVE,
    UK_TABLE,
    Z_BURGER_K,
    Z_LISTERIA_K,
    Resistance,
    equivalent_min,
    log_reduction,
    p70_min,
)

BY_NAME = {one.name: one for one in RESISTANCES}


def steady(temp_c, minutes):
    return segments([0, minutes * 60], [temp_c, temp_c])


# t = 2 × 10^((70 - T) / 7.5) min, z 7.5 of FSAI 2018 and ACMSF.
@pytest.mark.parametrize(
    ("temp_c", "minutes"),
    [(60, 43.0887), (63, 17.1539), (65, 9.2832), (67, 5.0238), (70, 2.0), (75, 0.4309), (80, 0.0928)],
)
def test_times_equal_to_two_minutes_at_70(temp_c, minutes):
    assert equivalent_min(temp_c) == pytest.approx(minutes, abs=6e-5)
    assert p70_min(steady(temp_c, minutes)) == pytest.approx(2.0, rel=1e-3)


def test_the_united_kingdoms_table_is_that_line_rounded_up():
    for temp_c, minutes in UK_TABLE:
        assert equivalent_min(temp_c) <= minutes <= 1.2 * equivalent_min(temp_c)


def test_burgers_at_z_6_need_what_the_acmsf_printed():
    """ACMSF 2007, Report on the safe cooking of burgers: 13.6 min at 65 °C, 18 s at 75 °C."""
    assert round(equivalent_min(65, Z_BURGER_K), 1) == 13.6
    assert round(equivalent_min(75, Z_BURGER_K) * 60) == 18


def test_a_hold_of_three_hours_and_a_ramp_have_their_p70():
    """Closed forms: 180 × 10^(-5/7.5), and (dt/dT) z/ln10 (10^((65-70)/z) - 10^((55-70)/z))."""
    assert p70_min(steady(65, 180)) == pytest.approx(38.78, abs=0.005)
    assert p70_min(segments([0, 1800], [55, 65])) == pytest.approx(2.0075, abs=5e-5)


# USDA FSIS Appendix A (1999), cooked beef, Salmonella, 6.5 log: °F and s. Below 146 °F its rows are whole minutes.
APPENDIX_A = [(146, 169), (149, 85), (150, 67), (153, 34), (155, 22), (157, 14)]


def test_appendix_a_is_one_line_of_d_and_z_within_2_percent_and_its_rounding():
    z = (157 - 146) / 1.8 / np.log10(169 / 14)
    assert z == pytest.approx(5.64, abs=0.01)
    beef = Resistance("Salmonella, beef", False, 65.0, 85 / 60 / 6.5, float(z), "FSIS Appendix A", "high")
    for fahrenheit, seconds in APPENDIX_A:
        needed = 6.5 * 60 / log_reduction(steady((fahrenheit - 32) / 1.8, 1.0), beef)
        assert abs(needed - seconds) <= 0.5 + 0.02 * seconds


def test_appendix_a_asks_less_than_the_published_mean_salmonella_would():
    """6.5 log at 65 °C: 85 s there; van Asselt & Zwietering's mean over all foods needs longer. The mean is slower."""
    assert log_reduction(steady(65, 85 / 60), BY_NAME["Salmonella"]) < 6.5


# van Asselt & Zwietering 2006, Int. J. Food Microbiol. 107:73: D in min.
@pytest.mark.parametrize(
    ("name", "temp_c", "d_min"),
    [("Listeria monocytogenes", 60, 2.34), ("Listeria monocytogenes", 65, 0.451),
     ("Listeria monocytogenes", 70, 0.087), ("Salmonella", 60, 1.86), ("Salmonella", 65, 0.524),
     ("Salmonella", 70, 0.148), ("Staphylococcus aureus", 60, 3.52), ("Staphylococcus aureus", 65, 0.951),
     ("Staphylococcus aureus", 70, 0.257), ("Clostridium perfringens, vegetative", 60, 3.56),
     ("Clostridium perfringens, vegetative", 65, 1.16), ("Clostridium perfringens, vegetative", 70, 0.380),
     ("Bacillus cereus, spores", 65, 826), ("Bacillus cereus, spores", 85, 22.6),
     ("Bacillus cereus, spores", 95, 3.74), ("Bacillus cereus, spores", 100, 1.52),
     ("Clostridium perfringens, spores", 65, 567), ("Clostridium perfringens, spores", 85, 36.6),
     ("Clostridium perfringens, spores", 95, 9.29), ("Clostridium perfringens, spores", 100, 4.68)],
)  # fmt: skip
def test_published_means_give_their_d(name, temp_c, d_min):
    assert BY_NAME[name].d_at_min(temp_c) == pytest.approx(d_min, rel=5e-3)


def test_a_hold_kills_no_spores_and_the_text_says_so():
    for one in RESISTANCES:
        reduction = log_reduction(steady(65, 12 * 60), one)
        assert (reduction == 0.0) == one.spores
    assert "survive" in SPORES_SURVIVE


def test_one_d_is_one_log():
    listeria = BY_NAME["Listeria monocytogenes"]
    assert log_reduction(steady(65, listeria.d_at_min(65)), listeria) == pytest.approx(1.0)


curves = st.lists(st.floats(20, 95), min_size=2, max_size=20)


@given(curves, st.data())
@settings(max_examples=100, deadline=None)
def test_a_colder_curve_never_brings_more(temps, data):
    t = np.arange(len(temps)) * 30.0
    colder = [temp - data.draw(st.floats(0, 20)) for temp in temps]
    for z in (Z_LISTERIA_K, Z_BURGER_K):
        assert p70_min(segments(t, colder), z) <= p70_min(segments(t, temps), z) * (1 + 1e-12)
    for one in RESISTANCES:
        assert log_reduction(segments(t, colder), one) <= log_reduction(segments(t, temps), one) * (1 + 1e-12)


@given(curves, st.integers(0, 19))
@settings(max_examples=100, deadline=None)
def test_the_parts_of_a_record_add_up_to_the_whole(temps, cut):
    t, temps, cut = np.arange(len(temps)) * 30.0, np.array(temps), min(cut, len(temps) - 1)
    whole = p70_min(segments(t, temps))
    parts = p70_min(segments(t[: cut + 1], temps[: cut + 1])) + p70_min(segments(t[cut:], temps[cut:]))
    assert parts == pytest.approx(whole, rel=1e-9)


@given(st.lists(st.floats(55, 75), min_size=3, max_size=20), st.integers(0, 18))
@settings(deadline=None)
def test_what_was_not_recorded_brings_nothing(temps, at):
    t, holed = np.arange(len(temps)) * 30.0, np.array(temps)
    holed[at % len(temps)] = np.nan
    assert p70_min(segments(t, holed)) < p70_min(segments(t, temps))
