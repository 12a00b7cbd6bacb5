"""Heat that leaves for the room: still-air convection, radiation, evaporation. Laws, one line each.

Natural convection in short form, h = c (ΔT/L)^¼: c = 1.42 for an upright wall (within 3 % of Churchill and
Chu at 65 °C, L 0.12 m), 1.32 for a warm face looking up, 0.59 for one looking down (textbook forms for air,
from memory). Evaporation after the ASHRAE form for pools in still air, (pw - pa) · 0.089 / hfg per m² (from
memory); published rules for open warm water at 65 °C differ by a factor of 2.5, this one is near the low
end.
"""

import math
from dataclasses import dataclass
from enum import Enum

STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m² K⁴), CODATA 2018
ZERO_C = 273.15
BOILING_C = 100.0
BOILING_J_KG = 2256.5e3  # heat of vaporisation at 100 °C, IAPWS-IF97
RELATIVE_HUMIDITY = 0.5
PASTE_EMISSIVITY = 0.95  # wet surfaces, from memory


class Facing(Enum):
    """Which way a warm surface looks, with its constant c of h = c (ΔT/L)^¼."""

    UP = 1.32
    SIDE = 1.42
    DOWN = 0.59


@dataclass(frozen=True)
class Surface:
    """An outer surface of one body that faces the room."""

    body: str
    area_m2: float
    length_m: float
    """Height of an upright face; of a level one a quarter of its diameter (area by perimeter)."""
    facing: Facing = Facing.SIDE
    emissivity: float = 0.9

    @property
    def convection(self) -> float:
        """W/K^1.25: multiplies |ΔT|^0.25 ΔT."""
        return self.area_m2 * float(self.facing.value) / math.sqrt(math.sqrt(self.length_m))

    @property
    def radiation(self) -> float:
        """W/K⁴: multiplies the difference of the fourth powers."""
        return self.area_m2 * self.emissivity * STEFAN_BOLTZMANN

    @property
    def law(self) -> tuple[float, float]:
        """Both constants, for loops that cannot afford a call."""
        return self.convection, self.radiation

    def loss_w(self, temp_c: float, ambient_c: float) -> float:
        """Return the heat that leaves, W (negative when the room is warmer)."""
        diff = temp_c - ambient_c
        fourth = (temp_c + ZERO_C) ** 4 - (ambient_c + ZERO_C) ** 4
        return self.convection * diff * math.sqrt(math.sqrt(abs(diff))) + self.radiation * fourth


def saturation_pa(temp_c: float) -> float:
    """Return the vapour pressure of water, Pa: Buck (1981, constants of 1996), within 0.1 % to 100 °C."""
    return 611.21 * math.exp((18.678 - temp_c / 234.5) * temp_c / (257.14 + temp_c))


def latent_heat_j_kg(temp_c: float) -> float:
    """Return the heat of vaporisation, J/kg: fitted to IAPWS-IF97, 1 to 99 °C, within 0.03 %."""
    return 2500291.0 - 2300.742 * temp_c - 1.309548 * temp_c**2


def evaporation_w_m2(surface_c: float, ambient_c: float) -> float:
    """Return the latent heat that leaves open wet paste in still air, W/m²; never negative (no dew)."""
    excess = saturation_pa(surface_c) - RELATIVE_HUMIDITY * saturation_pa(ambient_c)
    return max(0.0, 0.089 * excess)


def open_paste_loss(temp_c: float, ambient_c: float, area_m2: float, radius_m: float) -> tuple[float, float]:
    """Return heat, W, and water, kg/s, leaving `area_m2` of open paste in a vessel of this radius."""
    dry = Surface("paste", area_m2, 0.5 * radius_m, Facing.UP, PASTE_EMISSIVITY).loss_w(temp_c, ambient_c)
    latent = area_m2 * evaporation_w_m2(temp_c, ambient_c)
    return dry + latent, latent / latent_heat_j_kg(temp_c)
