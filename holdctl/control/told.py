"""What is told of a warmer before its first night, turned into physical parameters.

Nothing here is measured: power, vessel and scald come from the settings, the rest are nominal coefficients with
their source. A later identification may replace every number; the names stay.
"""

import math
from dataclasses import dataclass

from holdctl.paste import USUAL_RATIO, paste_properties
from holdctl.settings import Lid, Place, Settings

CONTACT_W_M2K = 250.0
"""Wall to paste, W/m²K: a thin film between metal and gel (from memory, order of magnitude)."""

TOP_W_M2K = {Lid.BOXED: 8.0, Lid.INSULATED: 8.0, Lid.ON: 10.0, Lid.OFF: 75.0}
"""Paste surface to lid, W/m²K: still air between two plates near 65 °C (radiation 6, convection 2 to 4; from memory).
Lid off: to the room, convection 8 + radiation 6 + evaporation 36–87 (ASHRAE pool … Lewis with Stefan flow, from 65 °C
into still air at 20 °C, 50 % RH)."""

LID_SHARE = {Lid.BOXED: 0.95, Lid.INSULATED: 0.85, Lid.ON: 0.4, Lid.OFF: 0.0}
"""Where the lid's temperature lies between the room (0) and the wall (1): warm air and metal carry the wall's heat into
a covered lid (from memory; the simulated warmers lie near these)."""

PLACE_RADIUS = {Place.CORE: 0.0, Place.MID: 0.5, Place.EDGE: 0.9}
"""Where a place lies between axis (0) and wall (1)."""

_FIRST_ZERO_J0 = 2.404825557695773
"""First zero of the Bessel function J0 (Abramowitz & Stegun, table 9.5)."""


@dataclass(frozen=True, slots=True)
class Told:
    """Nominal parameters of one warmer with its scald: W, J/K, W/K, m, s."""

    power_w: float
    wall_j_k: float
    """Heater and wall together."""
    wall_loss_w_k: float
    delay_s: float
    stirred: bool
    ambient_c: float
    radius_m: float
    height_m: float
    paste_j_k: float
    rho_cp_j_m3k: float
    k_w_mk: float
    top_w_m2k: float
    lid_share: float
    wall_paste_w_k: float
    """Wall to the paste that touches it, contact film only."""

    @property
    def alpha_m2_s(self) -> float:
        """Thermal diffusivity of the paste."""
        return self.k_w_mk / self.rho_cp_j_m3k

    @property
    def tau_s(self) -> float:
        """Slowest time constant of the paste behind an isothermal side and bottom, s.

        Unstirred: first mode of the finite cylinder, 1/τ = α[(2.405/R)² + (π/2H)²] (Carslaw & Jaeger 1959, §8.3).
        Stirred: lumped, paste heat capacity over contact conductance.
        """
        if self.stirred:
            return self.paste_j_k / self.wall_paste_w_k
        rate = (_FIRST_ZERO_J0 / self.radius_m) ** 2 + (math.pi / (2 * self.height_m)) ** 2
        return 1.0 / (self.alpha_m2_s * rate)


def told(settings: Settings) -> Told:
    """Derive nominal parameters from `settings`; properties of the paste are taken at 65 °C."""
    scald = settings.scald
    ratio = USUAL_RATIO[scald.flour] if scald.ratio is None else scald.ratio
    paste = paste_properties(scald.flour, ratio, 65.0)
    mass_kg = scald.mass_g / 1000
    radius = settings.vessel.inner_diameter_cm / 200
    height = mass_kg / (paste.rho_kg_m3 * math.pi * radius**2)
    touched = math.pi * radius**2 + 2 * math.pi * radius * height
    warmer = settings.warmer
    return Told(
        power_w=warmer.power_w,
        wall_j_k=warmer.heat_capacity_j_k,
        wall_loss_w_k=warmer.loss_w_k,
        delay_s=warmer.delay_s,
        stirred=warmer.stirred,
        ambient_c=settings.room.ambient_c,
        radius_m=radius,
        height_m=height,
        paste_j_k=mass_kg * paste.cp_j_kgk,
        rho_cp_j_m3k=paste.rho_kg_m3 * paste.cp_j_kgk,
        k_w_mk=paste.k_w_mk,
        top_w_m2k=TOP_W_M2K[settings.vessel.lid],
        lid_share=LID_SHARE[settings.vessel.lid],
        wall_paste_w_k=CONTACT_W_M2K * touched,
    )
