"""Scalds for the tests of the heat balance, and an independent integration of their enthalpy."""

from functools import cache

from iapws import IAPWS97
from scipy.integrate import quad
from scipy.optimize import brentq

from holdctl.paste import COMPOSITIONS
from holdctl.paste.enthalpy import Portion, Vessel
from holdctl.paste.gelatinisation import STARCH
from holdctl.paste.mixing import Scalding, surface_of
from holdctl.settings import Flour

NO_VESSEL = Vessel(0.0, 20.0)
FOODS = {
    "protein": "FoodProtein",
    "fat": "FoodFat",
    "carbohydrate": "FoodCarbohydrate",
    "fibre": "FoodFiber",
    "ash": "FoodAsh",
}


def scald(flour=Flour.WHITE_WHEAT, flour_g=100.0, flour_c=20.0, vessel=NO_VESSEL, **more):
    """A scald without its water; no stirring and no heats unless asked for."""
    made = {"stirring_s": 0.0, "hydration_j_kg": 0.0, "swelling": 0.0} | more
    portion = Portion(flour_g, flour_c, COMPOSITIONS[flour])
    return Scalding(portion, (), vessel, surface_of(3.0 * flour_g, None, 20.0), STARCH[flour], **made)


@cache
def cp(name, temp_c):
    """Heat capacity, J/(kg K), of water by IF97 or of a food component by CoolProp."""
    if name == "water":
        return 1000.0 * IAPWS97(T=temp_c + 273.15, P=0.11).cp
    from CoolProp.CoolProp import PropsSI  # four seconds to load: by who asks, not by all who collect

    return PropsSI("C", "T", temp_c + 273.15, "P", 101325.0, f"INCOMP::{FOODS[name]}")


def heat_j(mass_g, made_of, low_c, high_c):
    """Integrate a body's heat capacity from one temperature to another."""

    def capacity(temp_c):
        return sum(getattr(made_of, name) * cp(name, temp_c) for name in ("water", *FOODS))

    return mass_g / 1000.0 * quad(capacity, low_c, high_c, epsabs=0.1)[0]


def mixed_c(bodies, vessel_j_k=0.0, vessel_c=20.0, given_j=0.0):
    """Temperature of bodies (mass, composition, temperature) that share all heat, with `given_j` of it from within."""

    def excess(temp_c):
        warmed = sum(heat_j(mass, made_of, at, temp_c) for mass, made_of, at in bodies)
        return warmed + vessel_j_k * (temp_c - vessel_c) - given_j

    return brentq(excess, 1.0, 99.0, xtol=1e-4)
