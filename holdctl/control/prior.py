"""What is believed of a warmer before its first night: nominal parameters and how far each may be off.

Built from what is told (power, mass, diameter, kind, material, scald, lid) by geometry and handbook figures from
memory. A spread is one standard deviation of the logarithm, or of the value itself for the names in `LINEAR`.
"""

import math
from dataclasses import replace

from holdctl.control.identify import START, Belief
from holdctl.control.kinds import K_W_MK, RHO_C, THICK_M
from holdctl.control.model import BASE, SIDE, Layout, Parameters, ThermalModel
from holdctl.control.told import CONTACT_W_M2K, Told
from holdctl.settings import Kind, Material

LAYOUTS = {
    Kind.PLATE: Layout(medium=False, base_film=1.0, lid_in_medium=False, hot=BASE),
    Kind.JACKET: Layout(medium=True, base_film=1.0, lid_in_medium=False, hot=SIDE),
    Kind.BOX: Layout(medium=True, base_film=0.4, lid_in_medium=True, hot=BASE),
    Kind.MAT: Layout(medium=False, base_film=1.0, lid_in_medium=False, hot=BASE),
    None: Layout(medium=False, base_film=1.0, lid_in_medium=False, hot=BASE),
}
SPREAD = {
    "heater_j_k": 0.7, "medium_j_k": 0.5, "vessel_j_k": 0.3, "heater_medium_w_k": 0.5, "heater_base_w_k": 0.6,
    "film_w_m2k": 0.35, "around_w_k": 0.4, "contact_w_m2k": 0.4, "paste_j_m3k": 0.04, "k_w_mk": 0.10, "top_w_m2k": 0.3,
    "loss_w_k": 0.6, "delay_s": 0.9,
    "lid_share": 0.15, "ambient_c": 1.5,
}  # fmt: skip
"""Paste: mass ±3 % and power ±5 %; the others orders of magnitude, from memory."""
RULER_M = 0.0015
"""A radius is told so well: a ruler across a round rim, within 5 mm of the diameter. In a few centimetres of paste that
is several percent of the time that heat takes to the core."""
STIRRED_CONTACT_W_M2K = 200.0
STIRRED = {"contact_w_m2k": 0.8, "top_w_m2k": 0.6}
"""A moving, scraped or badly scraped film: 50 to 800."""
BOXED = {"heater_base_w_k": 1.0}
"""Whether the heater of a box shines at the vessel's bottom, and how much, nobody tells."""
START_COLD_K, START_SHARE, START_UNSEEN_SHARE = 0.5, 0.2, 0.45
"""Wall and heater at the start: half a kelvin from the paste, and a share of its excess over the room (a hot scald in a
vessel that may be colder). Where paste that nobody stirs keeps the wall from the probe, nothing but this tells a cold
vessel from a warmer that loses all its heat: it has to be credible, at two deviations."""
NO_KIND = {"vessel_j_k": 1.0}
"""Without a kind nobody tells how much of what is warmed lies before the vessel's own wall, as a jacket's water does.
Only a probe at the wall can find it out: without one a fit would trade it for heat that the paste has not got."""
NEVER = 1e-9
"""A conductance that is not there, W/K."""
AGAIN = {"contact_w_m2k": 0.1, "delay_s": 0.1, "around_w_k": 0.1, "loss_w_k": 0.1, "top_w_m2k": 0.1, "lid_share": 0.05,
         "vessel_j_k": 0.05, "heater_base_w_k": 0.1, "film_w_m2k": 0.05}  # fmt: skip
"""How much a warmer may differ from one night to the next."""


def prior(told: Told, paste_c: float, *, sees_wall: bool = False) -> tuple[Belief, Layout]:
    """Return the belief and the layout for a start with all paste at `paste_c`, °C; `sees_wall` with a probe there."""
    import numpy as np

    layout = LAYOUTS[told.kind]
    parameters, fixed = _nominal(told)
    spread = {name: sd for name, sd in SPREAD.items() if name not in fixed}
    spread["loss_w_k"] = told.loss_sd
    spread |= STIRRED if told.stirred else {"radius_factor": RULER_M / told.radius_m}
    if told.kind is Kind.BOX:
        spread |= BOXED
    if told.kind is None and sees_wall:
        spread |= NO_KIND
    share = START_SHARE if sees_wall or told.stirred else START_UNSEEN_SHARE
    spread[START] = START_COLD_K + share * abs(paste_c - told.ambient_c)
    names = tuple(spread)
    return Belief(parameters, 0.0, names, np.diag([spread[name] ** 2 for name in names])), layout


def model_of(told: Told) -> ThermalModel:
    """Return the model of a warmer before anything has been identified."""
    belief, layout = prior(told, told.ambient_c)
    return ThermalModel(told, belief.parameters, layout)


def _nominal(told: Told) -> tuple[Parameters, set[str]]:
    """Return parameters and the names of those that mean nothing for this kind."""
    base_m2 = math.pi * told.radius_m**2
    side_m2 = 2 * math.pi * told.radius_m * told.height_m
    touched = base_m2 + side_m2
    material = told.material or Material.STEEL
    thick, rho_c, k = THICK_M[material], RHO_C[material], K_W_MK[material]
    around = 2 * math.pi * told.radius_m * thick * k / (0.5 * told.height_m + told.radius_m / 3)
    common = Parameters(
        heater_j_k=base_m2 * 40_000.0,
        medium_j_k=1.0,
        vessel_j_k=touched * thick * rho_c,
        heater_medium_w_k=100.0,
        heater_base_w_k=800.0 * base_m2,
        film_w_m2k=0.0,
        around_w_k=around,
        contact_w_m2k=CONTACT_W_M2K,
        paste_j_m3k=told.rho_cp_j_m3k,
        k_w_mk=told.k_w_mk,
        top_w_m2k=told.top_w_m2k,
        lid_share=told.lid_share,
        loss_w_k=told.wall_loss_w_k,
        delay_s=12.0,
        ambient_c=told.ambient_c,
    )
    fixed: set[str] = set()
    if told.stirred:
        common = replace(common, contact_w_m2k=STIRRED_CONTACT_W_M2K)
        fixed |= {"k_w_mk"}
    if told.kind is Kind.JACKET:
        water = touched * 0.015 * 4.18e6
        made = replace(
            common, heater_j_k=touched * 6_000.0, medium_j_k=water, heater_medium_w_k=600.0 * touched,
            heater_base_w_k=NEVER, film_w_m2k=400.0,
        )  # fmt: skip
        return _as_told(made, told), fixed | {"heater_base_w_k"}
    if told.kind is Kind.BOX:
        outside = 2.5 * (2 * base_m2 + side_m2)
        made = replace(
            common, heater_j_k=8_000.0 * base_m2, medium_j_k=3_000.0 * outside, heater_medium_w_k=100.0 * base_m2,
            heater_base_w_k=20.0 * base_m2, film_w_m2k=10.0,
        )  # fmt: skip
        return _as_told(made, told), fixed
    no_medium = {"medium_j_k", "heater_medium_w_k", "film_w_m2k"}
    if told.kind is Kind.PLATE:
        return _as_told(common, told), fixed | no_medium
    heater = told.wall_j_k * told.heater_share
    made = replace(
        common, heater_j_k=heater, vessel_j_k=told.wall_j_k - heater, heater_base_w_k=told.heater_wall_w_k,
        around_w_k=20.0 * told.heater_wall_w_k,
    )  # fmt: skip
    return made, fixed | no_medium | {"around_w_k"}


def _as_told(made: Parameters, told: Told) -> Parameters:
    """Scale heater and medium so that all that is warmed before the paste has the heat capacity that is told."""
    by = max(told.wall_j_k - made.vessel_j_k, 0.2 * told.wall_j_k) / (made.heater_j_k + made.medium_j_k)
    medium = made.medium_j_k if made.medium_j_k <= 1.0 else made.medium_j_k * by
    return replace(made, heater_j_k=made.heater_j_k * by, medium_j_k=medium)
