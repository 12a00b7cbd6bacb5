"""How much water, and with it heat, an open or covered paste gives away; energy and what it costs.

Published rules for warm open water in still air differ by a factor of 2.5 at 65 °C (2.4 to 6.0 kg/m²h into 20 °C and
50 % RH), so everything here is a range:

- least: the ASHRAE form for pools, (pw - pa) 0.089 / hfg (from memory), times 0.74 for an undisturbed surface (ASHRAE
  Transactions 1998, abstract);
- most: the analogy of heat and mass transfer after Lewis with Stefan's flow, Le^(2/3) with Le = 0.867, and the film
  that warm moist air drives up from a plate, h = 0.54 k/L Ra^¼ with virtual temperatures.

A paste's water activity is 0.98 to 0.996, as good as water's; but a skin that has dried dams it, so an unstirred open
paste may lose less than the least after an hour or two. What a lid keeps back is from memory, an order of magnitude.
"""

import math
from dataclasses import dataclass

from holdctl.errors import ConfigError
from holdctl.paste.boiling import SEA_LEVEL_HPA, ZERO_C, saturation_pa
from holdctl.settings import Lid

J_PER_KWH = 3.6e6
THROUGH_LID = {
    Lid.OFF: (1.0, 1.0),
    Lid.ON: (0.02, 0.15),
    Lid.INSULATED: (0.01, 0.10),
    Lid.BOXED: (0.01, 0.10),
}
"""Part of what an open surface loses that escapes past the lid; the rest runs back (from memory)."""
_QUIET, _POOL_W_M2PA = 0.74, 0.089
DISTURBED = 1.0 / _QUIET
"""Loss of a surface that is kept moving, against one at rest (the same abstract: pools in use and undisturbed)."""
_LEWIS = 0.867 ** (2.0 / 3.0)
_AIR_K_W_MK, _AIR_NU, _AIR_PR = 0.0275, 1.724e-5, 0.705
"""Dry air at 42.5 °C (CoolProp), about the film's mean temperature."""
_AIR_RHO_CP = 1.12 * 1007.0
_VAPOUR_J_KGK = 461.5
_G = 9.80665
_RADIATION_W_M2K = 6.8
"""Wet paste at 65 to 80 °C, emissivity 0.95, to a room at 20 °C."""


@dataclass(frozen=True, slots=True)
class Surface:
    """An area of paste, m², in a room of this temperature, °C, and relative humidity, 0 to 1."""

    area_m2: float
    room_c: float = 20.0
    humidity: float = 0.5
    pressure_pa: float = SEA_LEVEL_HPA * 100.0

    @property
    def length_m(self) -> float:
        """Area by perimeter, of a round surface."""
        return 0.5 * math.sqrt(self.area_m2 / math.pi)


def latent_j_kg(temp_c: float) -> float:
    """Return the heat of vaporisation, J/kg: a parabola through IAPWS-IF97, within 0.1 % from 1 to 99 °C."""
    return 2_500_291.0 - 2_300.742 * temp_c - 1.309548 * temp_c**2


def open_kg_m2h(temp_c: float, surface: Surface) -> tuple[float, float]:
    """Return the least and the most water that an open wet surface at `temp_c` loses, kg/m²h; 0 where dew would form.

    Raises ValueError outside 0 to 99 °C.
    """
    if not 0.0 <= temp_c <= 99.0:
        raise ValueError(f"no evaporation at {temp_c} °C: boiling is another matter")
    wet, air = saturation_pa(temp_c), surface.humidity * saturation_pa(surface.room_c)
    if wet <= air:
        return 0.0, 0.0
    least = _QUIET * _POOL_W_M2PA * (wet - air) / latent_j_kg(temp_c)
    rate = _film_w_m2k(temp_c, surface, wet, air) / (_AIR_RHO_CP * _LEWIS)
    kelvin = 0.5 * (temp_c + surface.room_c) + ZERO_C
    p = surface.pressure_pa
    most = rate * p / (_VAPOUR_J_KGK * kelvin) * math.log((p - air) / max(p - wet, 0.01 * p))
    return 3600.0 * least, 3600.0 * max(least, most)


def open_w_m2(temp_c: float, surface: Surface) -> tuple[float, float]:
    """Return the least and the most heat that an open paste at `temp_c` loses upwards, W/m²: vapour, air, radiation."""
    low, high = open_kg_m2h(temp_c, surface)
    wet, air = saturation_pa(temp_c), surface.humidity * saturation_pa(surface.room_c)
    dry = (_film_w_m2k(temp_c, surface, wet, air) + _RADIATION_W_M2K) * (temp_c - surface.room_c)
    latent = latent_j_kg(temp_c) / 3600.0
    return low * latent + dry, high * latent + dry


def evaporated_g(temp_c: float, hours: float, surface: Surface, lid: Lid) -> tuple[float, float]:
    """Return the least and the most water, g, that leaves in so many hours at `temp_c` under this lid."""
    low, high = open_kg_m2h(temp_c, surface)
    least, most = THROUGH_LID[lid]
    grams = 1000.0 * surface.area_m2 * hours
    return least * low * grams, most * high * grams


def top_up(lost_g: tuple[float, float], paste_g: float) -> str:
    """Say what to do about so much lost water in so much paste."""
    low, high = lost_g
    if high < 0.01 * paste_g:
        return f"It loses at most {_grams(high)} g of water, less than 1 % of the paste: nothing to top up."
    return (
        f"It loses {between(lost_g)} g of water: weigh it in its vessel before and after, and stir in "
        f"what is missing as hot water (at least {_grams(low)} g is sure to be)."
    )


def between(lost_g: tuple[float, float]) -> str:
    """Say a range of lost water."""
    return f"{_grams(lost_g[0])} to {_grams(lost_g[1])}"


def cost(kwh: float, price_per_kwh: float) -> float:
    """Return what so much electricity costs, in the currency of the price; no price is assumed. Raises ConfigError."""
    if not 0.0 <= price_per_kwh < math.inf:
        raise ConfigError(
            f"A price of {price_per_kwh:g} for a kilowatt-hour can't be; give what your bill says, or none."
        )
    return kwh * price_per_kwh


def _film_w_m2k(temp_c: float, surface: Surface, wet_pa: float, air_pa: float) -> float:
    """Convection from the warm moist air over the surface, h = 0.54 k/L Ra^¼ (textbook; plate facing up)."""
    warm = (temp_c + ZERO_C) / (1.0 - 0.378 * wet_pa / surface.pressure_pa)
    room = (surface.room_c + ZERO_C) / (1.0 - 0.378 * air_pa / surface.pressure_pa)
    length = surface.length_m
    rayleigh = _G * max(0.0, warm - room) / (0.5 * (warm + room)) * length**3 / _AIR_NU**2 * _AIR_PR
    return float(0.54 * _AIR_K_W_MK / length * rayleigh**0.25)


def _grams(value: float) -> str:
    return f"{value:.0f}" if value >= 10.0 else f"{value:.1f}"
