"""What is told of a warmer before its first night, turned into physical parameters.

Nothing here is measured: power, vessel and scald come from the settings, the rest are nominal coefficients with
their source, for the warmer itself those of its kind (`holdctl.control.kinds`). A later identification may replace
every number; the names stay.
"""

import math
from dataclasses import dataclass, replace

from holdctl.control.kinds import Prior, Vessel, prior
from holdctl.errors import ConfigError
from holdctl.paste import USUAL_RATIO, paste_properties
from holdctl.settings import Kind, Lid, Material, Place, Settings, Warmer

CONTACT_W_M2K = 350.0
"""Wall to paste, W/m²K: a thin film between metal and gel, 200 to 600 (from memory, order of magnitude)."""

TOP_W_M2K = {Lid.BOXED: 8.0, Lid.INSULATED: 8.0, Lid.ON: 10.0, Lid.OFF: 75.0}
"""Paste surface to lid, W/m²K: still air between two plates near 65 °C (radiation 6, convection 2 to 4; from memory).
Lid off: to the room, convection 8 + radiation 6 + evaporation 36–87 (ASHRAE pool … Lewis with Stefan flow, from 65 °C
into still air at 20 °C, 50 % RH)."""

LID_SHARE = {Lid.BOXED: 0.95, Lid.INSULATED: 0.89, Lid.ON: 0.4, Lid.OFF: 0.0}
"""Where the lid's temperature lies between the room (0) and the wall (1): warm air and metal carry the wall's heat into
a covered lid (from memory). Insulated: 8 W/m²K from the paste against 1 through 4 cm of foam is 8/9 without the rim."""

PLACE_RADIUS = {Place.CORE: 0.0, Place.MID: 0.5, Place.EDGE: 0.9}
"""Where a place lies between axis (0) and wall (1)."""

_GUESSED_SHARE, _GUESSED_DELAY_S, _GUESSED_LOSS_W_K = 1 / 3, 30.0, 0.5
"""Of a warmer of no kind: share of its heat capacity in the heater, and the settings' defaults."""
_CAPACITY_SD, _SHARE_SD, _LINK_SD, _LOSS_SD = 0.3, 0.5, 0.7, 0.5
"""Standard deviations of the logarithms of figures that a person gave, and of what is guessed with them."""
_LEAST_LAG_S = 5.0

_FIRST_ZERO_J0 = 2.404825557695773
"""First zero of the Bessel function J0 (Abramowitz & Stegun, table 9.5)."""


@dataclass(frozen=True, slots=True)
class Told:
    """Nominal parameters of one warmer with its scald: W, J/K, W/K, m, s.

    A `_sd` is the standard deviation of the logarithm of what it is named after.
    """

    power_w: float
    wall_j_k: float
    """Heater and wall together, with all that is warmed before the paste."""
    capacity_sd: float
    heater_share: float
    """Share of `wall_j_k` on the heater's side (element, plate, jacket water, box lining), 0 to 1."""
    heater_share_sd: float
    heater_wall_w_k: float
    """From there to the wall that touches the paste."""
    heater_wall_sd: float
    wall_loss_w_k: float
    loss_sd: float
    delay_s: float
    """From the relay to the wall, the heater's lag included."""
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
    kind: Kind | None = None
    material: Material | None = None
    lid: Lid = Lid.ON

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
    """Derive nominal parameters from `settings`; properties of the paste are taken at 65 °C.

    Raises ConfigError where the warmer has neither a kind nor a heat capacity.
    """
    scald = settings.scald
    ratio = USUAL_RATIO[scald.flour] if scald.ratio is None else scald.ratio
    paste = paste_properties(scald.flour, ratio, 65.0)
    mass_kg = scald.mass_g / 1000
    radius = settings.vessel.inner_diameter_cm / 200
    height = mass_kg / (paste.rho_kg_m3 * math.pi * radius**2)
    touched = math.pi * radius**2 + 2 * math.pi * radius * height
    vessel = Vessel(radius, height, settings.vessel.material, settings.vessel.lid)
    heating = _heating(settings.warmer, vessel)
    return Told(
        power_w=settings.warmer.power_w,
        wall_j_k=heating.wall_j_k,
        capacity_sd=heating.capacity_sd,
        heater_share=heating.share,
        heater_share_sd=heating.share_sd,
        heater_wall_w_k=heating.heater_wall_w_k,
        heater_wall_sd=heating.heater_wall_sd,
        wall_loss_w_k=heating.loss_w_k,
        loss_sd=heating.loss_sd,
        delay_s=heating.delay_s,
        stirred=settings.warmer.stirred,
        ambient_c=settings.room.ambient_c,
        radius_m=radius,
        height_m=height,
        paste_j_k=mass_kg * paste.cp_j_kgk,
        rho_cp_j_m3k=paste.rho_kg_m3 * paste.cp_j_kgk,
        k_w_mk=paste.k_w_mk,
        top_w_m2k=TOP_W_M2K[settings.vessel.lid],
        lid_share=LID_SHARE[settings.vessel.lid],
        wall_paste_w_k=CONTACT_W_M2K * touched,
        kind=settings.warmer.kind,
        material=settings.vessel.material,
        lid=settings.vessel.lid,
    )


@dataclass(frozen=True, slots=True)
class _Heating:
    wall_j_k: float
    capacity_sd: float
    share: float
    share_sd: float
    heater_wall_w_k: float
    heater_wall_sd: float
    loss_w_k: float
    loss_sd: float
    delay_s: float


def _heating(warmer: Warmer, vessel: Vessel) -> _Heating:
    """Return what the kind says, overruled by the figures that are given."""
    if warmer.kind is not None:
        heating = _of_kind(prior(warmer.kind, vessel, warmer.power_w))
    elif warmer.heat_capacity_j_k is not None:
        heating = _of_no_kind(warmer.heat_capacity_j_k)
    else:
        raise ConfigError("The warmer has neither kind nor heat_capacity_j_k: give one of them in [warmer].")
    if warmer.heat_capacity_j_k is not None:
        heating = replace(heating, wall_j_k=warmer.heat_capacity_j_k, capacity_sd=_CAPACITY_SD)
    if warmer.loss_w_k is not None:
        heating = replace(heating, loss_w_k=warmer.loss_w_k, loss_sd=_LOSS_SD)
    if warmer.delay_s is not None:
        heating = _delayed(heating, warmer.delay_s)
    return heating


def _of_kind(kind: Prior) -> _Heating:
    return _Heating(
        wall_j_k=kind.heater_j_k + kind.wall_j_k,
        capacity_sd=kind.capacity_sd,
        share=kind.share,
        share_sd=kind.share_sd,
        heater_wall_w_k=kind.heater_wall_w_k,
        heater_wall_sd=kind.heater_wall_sd,
        loss_w_k=kind.loss_w_k,
        loss_sd=kind.loss_sd,
        delay_s=kind.delay_s,
    )


def _of_no_kind(capacity_j_k: float) -> _Heating:
    guess = _Heating(
        wall_j_k=capacity_j_k,
        capacity_sd=_CAPACITY_SD,
        share=_GUESSED_SHARE,
        share_sd=_SHARE_SD,
        heater_wall_w_k=0.0,  # follows from the delay
        heater_wall_sd=_LINK_SD,
        loss_w_k=_GUESSED_LOSS_W_K,
        loss_sd=_LOSS_SD,
        delay_s=_GUESSED_DELAY_S,
    )
    return _delayed(guess, _GUESSED_DELAY_S)


def _delayed(heating: _Heating, delay_s: float) -> _Heating:
    """Return it with the conductance from heater to wall that makes this delay."""
    link = heating.share * heating.wall_j_k / max(delay_s, _LEAST_LAG_S)
    return replace(heating, delay_s=delay_s, heater_wall_w_k=link, heater_wall_sd=_LINK_SD)
