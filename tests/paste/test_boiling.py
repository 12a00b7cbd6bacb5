"""Boiling points against IAPWS-IF97 (its printed check values, and iapws) and the U.S. Standard Atmosphere 1976."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from iapws import IAPWS97
from iapws.iapws97 import _PSat_T, _TSat_P
from scipy.integrate import quad

from holdctl.errors import ConfigError
from holdctl.paste.boiling import boiling_c, boiling_point, pressure_hpa, saturation_pa


@pytest.mark.parametrize(
    ("kelvin", "mpa"), [(300.0, 3.53658941e-3), (500.0, 2.63889776), (600.0, 12.3443146)]
)
def test_vapour_pressure_gives_the_printed_check_values(kelvin, mpa):
    # IAPWS-IF97 (2007), table 35.
    assert saturation_pa(kelvin - 273.15) == pytest.approx(mpa * 1e6, rel=1e-8)


def test_the_boiling_point_gives_the_printed_check_value():
    # IAPWS-IF97 (2007), table 36: 0.1 MPa, 372.755919 K.
    assert boiling_c(1000.0) == pytest.approx(372.755919 - 273.15, abs=1e-6)


@settings(deadline=None)
@given(st.floats(500.0, 1100.0))
def test_boiling_points_are_those_of_iapws(hpa):
    assert boiling_c(hpa) == pytest.approx(_TSat_P(hpa * 1e-4) - 273.15, abs=1e-6)


@settings(deadline=None)
@given(st.floats(0.1, 100.0))
def test_vapour_pressures_are_those_of_iapws(temp_c):
    assert saturation_pa(temp_c) == pytest.approx(_PSat_T(temp_c + 273.15) * 1e6, rel=1e-9)


def _standard_pa(altitude_m):
    """Integrate the weight of the air above sea level: gravity falls with height, the air cools by 6.5 K/km."""
    earth = 6_356_766.0

    def weight(z):
        kelvin = 288.15 - 0.0065 * earth * z / (earth + z)
        return 9.80665 * (earth / (earth + z)) ** 2 * 0.0289644 / (8.31432 * kelvin)

    return 101325.0 * math.exp(-quad(weight, 0.0, altitude_m)[0])


@pytest.mark.parametrize("altitude_m", [-400, 0, 250, 500, 1000, 1500, 2000, 2500, 3000])
def test_up_to_3000_m_water_boils_within_a_twentieth_of_a_kelvin_of_the_reference(altitude_m):
    expected = IAPWS97(P=_standard_pa(altitude_m) * 1e-6, x=0).T - 273.15
    assert boiling_point(altitude_m).temp_c == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(
    ("altitude_m", "pascal", "temp_c"),
    [(0, 101325.0, 99.9743), (1000, 89876.3, 96.6493), (2000, 79501.4, 93.3172), (3000, 70121.2, 89.9770)],
)
def test_altitudes_have_the_tabulated_pressure_and_boiling_point(altitude_m, pascal, temp_c):
    # U.S. Standard Atmosphere 1976, computed with fluids 1.3.1 and iapws 1.5.5.
    assert pressure_hpa(altitude_m) * 100 == pytest.approx(pascal, abs=1.0)
    assert boiling_point(altitude_m).temp_c == pytest.approx(temp_c, abs=0.002)


@pytest.mark.parametrize(("feet", "fahrenheit"), [(500, 211.1), (1000, 210.2), (10_000, 193.6)])
def test_a_printed_kitchen_chart_is_met_to_its_last_digit(feet, fahrenheit):
    assert boiling_point(feet * 0.3048).temp_c * 1.8 + 32 == pytest.approx(fahrenheit, abs=0.1)


def test_an_altitude_leaves_the_weather_open_and_a_barometer_does_not():
    from_altitude, measured = boiling_point(1000), boiling_point(station_hpa=900.0)
    assert from_altitude.high_c - from_altitude.low_c == pytest.approx(2 * 20 * 0.0305, rel=0.02)
    assert measured.low_c == measured.temp_c == measured.high_c


def test_a_pressure_reduced_to_sea_level_is_not_taken_for_the_kitchens():
    with pytest.raises(ConfigError, match="reduced to sea level"):
        boiling_point(1000, 1013.0)
    assert boiling_point(1000, 905.0).temp_c == boiling_c(905.0)
    assert "QNH" in boiling_point(station_hpa=1013.0).note
    assert not boiling_point(station_hpa=880.0).note


def test_nothing_told_means_sea_level_and_says_so():
    assert boiling_point().temp_c == pytest.approx(99.974, abs=0.001)
    assert "altitude" in boiling_point().note
    assert not boiling_point(0.0).note


@pytest.mark.parametrize(
    "given", [{"altitude_m": 6000.0}, {"altitude_m": float("nan")}, {"station_hpa": 29.92}]
)
def test_what_no_kitchen_has_is_refused_in_a_sentence(given):
    with pytest.raises(ConfigError, match="instead"):
        boiling_point(**given)
