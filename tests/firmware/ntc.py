"""The probes of the reference node from the other side: a published curve, and the divider's voltage.

Curve: "Sensor Temperature Resistance Curves, Reference Guide", Rev. C, November 2014, Amphenol Thermometrics,
material type 1 (B25/85 = 3977 K): R/R25 against °C, four digits, and the guide's own equation for ln(R/R25).
"""

import math

R25_OHM = 10_000.0
SERIES_OHM = 4700.0
CODES = 1024
CURVE = {
    -20: 9.681, -10: 5.525, 0: 3.264, 5: 2.539, 10: 1.990, 15: 1.571, 20: 1.249, 25: 1.0, 30: 0.8056, 35: 0.6530,
    40: 0.5325, 45: 0.4367, 50: 0.3601, 55: 0.2985, 60: 0.2487, 65: 0.2082, 70: 0.1751, 75: 0.1480, 80: 0.1256,
    85: 0.1070, 90: 0.09155, 95: 0.07864, 100: 0.06781, 105: 0.05868, 110: 0.05095, 115: 0.04439, 120: 0.03881,
    125: 0.03403,
}  # fmt: skip
_EQUATION = (-1.4195756e01, 4.4074785e03, -5.1658730e03, -1.4017368e07)


def ohm(temp_c: float) -> float:
    """Return the resistance at a temperature, by the guide's equation."""
    a, b, c, d = _EQUATION
    t = temp_c + 273.15
    return R25_OHM * math.exp(a + b / t + c / t**2 + d / t**3)


def share(resistance_ohm: float) -> float:
    """Return the divider's output as a share of its supply."""
    return resistance_ohm / (resistance_ohm + SERIES_OHM)


def exact_code(temp_c: float) -> float:
    """Return what a converter without steps would say at a temperature. The real one rounds: its data sheet puts
    the ideal first step at half a code (definition of the offset error: from memory).
    """
    return CODES * share(ohm(temp_c))


def code(temp_c: float) -> int:
    """Return the code of an ideal converter at a temperature, without noise."""
    return min(CODES - 1, int(exact_code(temp_c) + 0.5))
