"""Enthalpy of water, flour, paste and ice: the heat capacities of `thermal`, integrated exactly.

All are J/kg above the liquid (or the dry matter) at 0 °C, so that differences are heats. The water of every material is
IF97 water; from 1 to 99 °C its integral is within 6 J/kg (0.0014 K) of IAPWS-IF97 at 101.325 kPa.
"""

from collections.abc import Callable
from dataclasses import dataclass

from holdctl.paste.flours import Composition
from holdctl.paste.thermal import COMPONENTS, component_heat_j_kg

WATER = Composition(1.0, 0.0, 0.0, 0.0, 0.0, 0.0)
FUSION_J_KG = 333_420.0
"""Ice to water at 0 °C and 1 atm: IAPWS R10-06 with IAPWS-IF97 (333.5 kJ/kg in much practice)."""
_ICE_CP_J_KGK, _ICE_CP_SLOPE = 2097.0, 7.4
"""Of ice at 0 °C, and how much less for each K below: 2097 at 0 °C, 2023 at -10 °C (IAPWS R10-06)."""
HOTTEST_C = 102.0
_CLOSE_K = 1e-7


@dataclass(frozen=True, slots=True)
class Portion:
    """So much of one material at one temperature: flour, water, malt, dough."""

    mass_g: float
    temp_c: float
    made_of: Composition = WATER

    def heat_j(self, temp_c: float) -> float:
        """Return the heat that takes it from its temperature to `temp_c`, J; negative where it cools."""
        return self.mass_g / 1000.0 * (enthalpy(self.made_of, temp_c) - enthalpy(self.made_of, self.temp_c))


@dataclass(frozen=True, slots=True)
class Ice:
    """So much ice, g, at 0 °C or below."""

    mass_g: float
    temp_c: float = 0.0

    def heat_j(self, temp_c: float) -> float:
        """Return the heat that melts it and warms the water to `temp_c`, J."""
        return self.mass_g / 1000.0 * (enthalpy(WATER, temp_c) - ice_enthalpy(self.temp_c))


@dataclass(frozen=True, slots=True)
class Vessel:
    """What is warmed along, J/K, and how sure that is (one standard deviation)."""

    j_k: float
    temp_c: float
    sd_j_k: float = 0.0

    def heat_j(self, temp_c: float) -> float:
        """Return the heat that takes it to `temp_c`, J."""
        return self.j_k * (temp_c - self.temp_c)


Body = Portion | Ice | Vessel


def enthalpy(made_of: Composition, temp_c: float) -> float:
    """Return the enthalpy of a material that freezes not, J/kg above 0 °C. Raises ValueError outside 0 to 102 °C."""
    if not 0.0 <= temp_c <= HOTTEST_C:
        raise ValueError(f"no enthalpy of paste at {temp_c} °C")
    return float(sum(getattr(made_of, name) * component_heat_j_kg(name, temp_c) for name in COMPONENTS))


def ice_enthalpy(temp_c: float) -> float:
    """Return the enthalpy of ice, J/kg above water at 0 °C (so negative). Raises ValueError outside -40 to 0 °C."""
    if not -40.0 <= temp_c <= 0.0:
        raise ValueError(f"no ice at {temp_c} °C")
    return -FUSION_J_KG + _ICE_CP_J_KGK * temp_c + 0.5 * _ICE_CP_SLOPE * temp_c**2


def root(excess: Callable[[float], float], low: float = 0.0, high: float = HOTTEST_C) -> float | None:
    """Return where a function that rises with the temperature is zero, within 10⁻⁷ K; None where it isn't between.

    False position after Illinois: an end that stays twice counts half, so that neither end stays for good.
    """
    below, above = excess(low), excess(high)
    if below > 0.0 or above < 0.0:
        return None
    at, side = low, 0
    while high - low > _CLOSE_K and above > below:
        last, at = at, (low * above - high * below) / (above - below)
        here = excess(at)
        if here < 0.0:
            low, below, above, side = at, here, above * (0.5 if side < 0 else 1.0), -1
        else:
            high, above, below, side = at, here, below * (0.5 if side > 0 else 1.0), 1
        if abs(at - last) < _CLOSE_K:
            break
    return at
