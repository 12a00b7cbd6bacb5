"""At which temperature water boils in this kitchen.

Saturation line: IAPWS-IF97 (2007 revision), region 4, equations 30 and 31 with the constants of its table 34. Pressure
at an altitude: U.S. Standard Atmosphere 1976, lowest layer. The weather moves the pressure by tens of hPa, 0.028 K for
each, which is why a boiling point from the altitude alone comes with a range.

The trap: weather services and most phones give the pressure *reduced to sea level* (QNH). In a kitchen at 1000 m that
reads 1013 hPa where the air has 899. Only the station pressure, of a barometer in the kitchen that was not corrected
for altitude, is the one that water feels.
"""

import math
from dataclasses import dataclass

from holdctl.errors import ConfigError

ZERO_C = 273.15
SEA_LEVEL_HPA = 1013.25
_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
_EARTH_M = 6_356_766.0
_LAPSE_K_M, _SEA_LEVEL_K = 0.0065, 288.15
_EXPONENT = 9.80665 * 0.0289644 / (8.31432 * _LAPSE_K_M)
_HIGHEST_M, _LOWEST_M = 5_000.0, -450.0
_PRESSURES_HPA = (500.0, 1100.0)
_WEATHER_HPA = 20.0
"""The weather seldom moves a place's pressure further from its mean (from memory; 980 to 1040 hPa at sea level)."""
_REDUCED_HPA = 60.0
"""Further above the standard atmosphere than this no weather goes: then it is a pressure reduced to sea level."""


@dataclass(frozen=True, slots=True)
class Boiling:
    """Boiling point of water, °C, with the range that is left open, and the station pressure, hPa."""

    temp_c: float
    low_c: float
    high_c: float
    station_hpa: float
    note: str = ""


def boiling_c(station_hpa: float) -> float:
    """Return the boiling point, °C, at a station pressure of 500 to 1100 hPa (IF97, equation 31).

    Raises ConfigError outside.
    """
    low, high = _PRESSURES_HPA
    if not low <= station_hpa <= high:
        raise ConfigError(
            f"A station pressure of {station_hpa:g} hPa is outside {low:g} to {high:g} hPa; give the altitude instead."
        )
    n, beta = _N, math.sqrt(math.sqrt(station_hpa * 1e-4))
    e = beta**2 + n[2] * beta + n[5]
    f = n[0] * beta**2 + n[3] * beta + n[6]
    g = n[1] * beta**2 + n[4] * beta + n[7]
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    both = n[9] + d
    return 0.5 * (both - math.sqrt(both * both - 4.0 * (n[8] + n[9] * d))) - ZERO_C


def saturation_pa(temp_c: float) -> float:
    """Return the vapour pressure of water, Pa, at 0 to 350 °C (IF97, equation 30). Raises ValueError outside."""
    if not 0.0 <= temp_c <= 350.0:
        raise ValueError(f"no vapour pressure at {temp_c} °C")
    n, kelvin = _N, temp_c + ZERO_C
    theta = kelvin + n[8] / (kelvin - n[9])
    a = theta**2 + n[0] * theta + n[1]
    b = n[2] * theta**2 + n[3] * theta + n[4]
    c = n[5] * theta**2 + n[6] * theta + n[7]
    return float((2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4) * 1e6


def pressure_hpa(altitude_m: float) -> float:
    """Return the station pressure of the standard atmosphere, hPa, at -450 to 5000 m. Raises ConfigError outside."""
    if not _LOWEST_M <= altitude_m <= _HIGHEST_M:
        raise ConfigError(
            f"An altitude of {altitude_m:g} m is outside {_LOWEST_M:g} to {_HIGHEST_M:g} m; "
            "give the station pressure instead."
        )
    geopotential = _EARTH_M * altitude_m / (_EARTH_M + altitude_m)
    return float(SEA_LEVEL_HPA * (1.0 - _LAPSE_K_M * geopotential / _SEA_LEVEL_K) ** _EXPONENT)


def boiling_point(altitude_m: float | None = None, station_hpa: float | None = None) -> Boiling:
    """Return the boiling point from the station pressure, else from the altitude, else for sea level.

    With both the pressure counts, and must fit the altitude: a pressure reduced to sea level does not. Raises
    ConfigError for what is out of range or does not fit.
    """
    if station_hpa is None:
        standard = pressure_hpa(altitude_m or 0.0)
        return Boiling(
            boiling_c(standard),
            boiling_c(standard - _WEATHER_HPA),
            boiling_c(standard + _WEATHER_HPA),
            standard,
            "" if altitude_m is not None else "taken at sea level: give the altitude of the kitchen",
        )
    if altitude_m is not None and station_hpa > pressure_hpa(altitude_m) + _REDUCED_HPA:
        raise ConfigError(
            f"{station_hpa:g} hPa can't be the air at {altitude_m:g} m (about {pressure_hpa(altitude_m):.0f} hPa): "
            "it is the pressure reduced to sea level that weather services give; leave it out, or read a barometer "
            "that is not corrected for altitude."
        )
    temp = boiling_c(station_hpa)
    return Boiling(temp, temp, temp, station_hpa, _doubt(altitude_m, station_hpa))


def _doubt(altitude_m: float | None, station_hpa: float) -> str:
    if altitude_m is None and station_hpa > SEA_LEVEL_HPA - _WEATHER_HPA:
        return (
            "right only if this is the pressure in the kitchen, not the one reduced to sea level (QNH) that weather "
            "services give"
        )
    return ""
