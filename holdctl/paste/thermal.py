"""How flour, water and the paste of both carry heat.

Component polynomials of Choi and Okos (1986) as printed in the ASHRAE Handbook, Refrigeration (2006),
chapter 9, tables 1 and 2, for -40 to 150 °C; the heat capacity of water from IAPWS-IF97, because the
polynomial for water is 1 % low between 20 and 90 °C. Heats of hydration and gelatinisation are left out,
and so is entrained air, which lowers density and conductivity.
"""

from dataclasses import dataclass

from holdctl.paste.flours import COMPOSITIONS, Composition
from holdctl.settings import Flour

COMPONENTS = ("water", "protein", "fat", "carbohydrate", "fibre", "ash")

# a0 + a1 T + a2 T² + …, T in °C.
# Water: fitted to IAPWS-IF97 at 101.325 kPa, 1 to 99 °C, residual at most 2.1 J/(kg K).
_CP_J_KGK = {
    "water": (4216.398, -2.523533, 5.721151e-2, -5.378120e-4, 2.194899e-6),
    "protein": (2008.2, 1.2089, -1.3129e-3),
    "fat": (1984.2, 1.4733, -4.8008e-3),
    "carbohydrate": (1548.8, 1.9625, -5.9399e-3),
    "fibre": (1845.9, 1.8306, -4.6509e-3),
    "ash": (1092.6, 1.8896, -3.6817e-3),
}
_K_W_MK = {
    "water": (0.57109, 1.7625e-3, -6.7036e-6),
    "protein": (0.17881, 1.1958e-3, -2.7178e-6),
    "fat": (0.18071, -2.7604e-4, -1.7749e-7),
    "carbohydrate": (0.20141, 1.3874e-3, -4.3312e-6),
    "fibre": (0.18331, 1.2497e-3, -3.1683e-6),
    "ash": (0.32962, 1.4011e-3, -2.9069e-6),
}
_RHO_KG_M3 = {
    "water": (997.18, 3.1439e-3, -3.7574e-3),
    "protein": (1329.9, -0.5184),
    "fat": (925.59, -0.41757),
    "carbohydrate": (1599.1, -0.31046),
    "fibre": (1311.5, -0.36589),
    "ash": (2423.8, -0.28063),
}


@dataclass(frozen=True, slots=True)
class Properties:
    """Thermal properties at one temperature."""

    cp_j_kgk: float
    rho_kg_m3: float
    k_w_mk: float

    @property
    def alpha_m2_s(self) -> float:
        """Thermal diffusivity, m²/s."""
        return self.k_w_mk / (self.rho_kg_m3 * self.cp_j_kgk)


def paste_properties(flour: Flour, ratio: float, temp_c: float) -> Properties:
    """Return the properties of a scald of 1 part flour and `ratio` parts water by mass at `temp_c` (0 to
    100 °C).

    Heat capacity is mass-weighted and good to about 5 %. Conductivity is that of layers in series: of the
    usual mixing rules the one that fitted measured starch gels best (J. Food Sci. 1991,
    10.1111/j.1365-2621.1991.tb05379.x: 0.434 to 0.548 W/(m K) at 1 to 4 kg water per kg dry matter, 30 to
    70 °C). It is also the lower bound of every mixing rule, so what is computed with it errs towards slow.

    Raises ValueError if the ratio is negative or the temperature outside 0 to 100 °C.
    """
    if not ratio >= 0.0:
        raise ValueError(f"a scald can't have {ratio} parts of water")
    return _mixture(wetted(COMPOSITIONS[flour], ratio), temp_c)


def flour_properties(flour: Flour, temp_c: float) -> Properties:
    """Return the properties of the flour's solid matter at `temp_c`, without the air between the grains.

    Raises ValueError outside 0 to 100 °C.
    """
    return paste_properties(flour, 0.0, temp_c)


def water_cp_j_kgk(temp_c: float) -> float:
    """Return the heat capacity of liquid water at atmospheric pressure, J/(kg K), within 0.06 % of
    IAPWS-IF97.

    Raises ValueError outside 0 to 100 °C.
    """
    _check(temp_c)
    return _at(_CP_J_KGK["water"], temp_c)


def component_heat_j_kg(name: str, temp_c: float) -> float:
    """Return the integral of one component's heat capacity from 0 °C to `temp_c`, J/kg."""
    total = 0.0
    for power, a in reversed(list(enumerate(_CP_J_KGK[name], start=1))):
        total = total * temp_c + a / power
    return total * temp_c


def wetted(dry: Composition, ratio: float) -> Composition:
    """Return the composition of one part of `dry` with `ratio` parts of water added."""
    part = 1.0 / (1.0 + ratio)
    return Composition(
        (dry.water + ratio) * part,
        dry.protein * part,
        dry.fat * part,
        dry.carbohydrate * part,
        dry.fibre * part,
        dry.ash * part,
    )


def _mixture(mix: Composition, temp_c: float) -> Properties:
    """Apply the mixing rules: cp by mass, volumes added, conductivity in series by volume."""
    _check(temp_c)
    mass = {name: getattr(mix, name) for name in COMPONENTS}
    volume = {name: mass[name] / _at(_RHO_KG_M3[name], temp_c) for name in COMPONENTS}
    whole = sum(volume.values())
    resistance = sum(volume[name] / whole / _at(_K_W_MK[name], temp_c) for name in COMPONENTS)
    cp = sum(mass[name] * _at(_CP_J_KGK[name], temp_c) for name in COMPONENTS)
    return Properties(cp, 1.0 / whole, 1.0 / resistance)


def _at(coefficients: tuple[float, ...], temp_c: float) -> float:
    total = 0.0
    for a in reversed(coefficients):
        total = total * temp_c + a
    return total


def _check(temp_c: float) -> None:
    if not 0.0 <= temp_c <= 100.0:
        raise ValueError(f"no properties of paste at {temp_c} °C")
