"""The heat balance of a scald: which temperature flour, hot water and vessel reach together.

    Σ m (h(T) − h(T₀))  +  swelling(T)  +  lost while stirring(T)  =  heat of hydration

Each term rises with T, so there is one T; it is found by halving. Water is IF97 water, flour is Choi and Okos (see
`thermal`). What is not known is a `Term` with a standard deviation; the range that comes with a result is two of
them, each term moved by itself and added in squares, so about 19 mixes of 20 should lie in it. Where a vessel has
been learnt from earlier mixes, one measured figure stands for vessel and stirring together.
"""

import math
from dataclasses import dataclass, replace

from holdctl.paste.enthalpy import Body, Portion, Vessel, root
from holdctl.paste.evaporation import Surface, open_w_m2
from holdctl.paste.gelatinisation import SWELLING_SD, Starch, swelling_j_kg
from holdctl.settings import Material

HYDRATION_J_KG, HYDRATION_SD_J_KG = 15_120.0, 5_000.0
"""Heat that a kilogram of flour at 11–12 % moisture gives when it is wetted: 6.5 Btu/lb (a baking dictionary); how
far it may be off is from memory."""
CP_J_KGK = {
    Material.STEEL: 500.0,
    Material.ALUMINIUM: 900.0,
    Material.GLASS: 800.0,
    Material.STONEWARE: 870.0,
    Material.PLASTIC: 1900.0,
}
"""Heat capacity of a vessel's material, J/(kg K) (handbook values, from memory)."""
_WARMED, _WARMED_SD = 0.8, 0.12
"""Part of a vessel that takes the mix's temperature within minutes: the rim above it stays cooler (from memory)."""
_UNKNOWN_PART, _UNKNOWN_SD = 0.4, 0.25
"""J/K for each gram of scald, of a vessel that nobody weighed: a thin pot has 0.15, a heavy bowl 0.9 (from memory)."""
STIRRING_S, _STIRRING_SD = 120.0, 0.5
"""Usual stirring by hand, s, and the standard deviation of its logarithm (common practice, no source)."""
_WATER_SD_K, _POUR_K, _POUR_SD_K = 0.5, 0.5, 0.5
"""The thermometer in the water; what water near boiling loses while it is poured (from memory)."""
_POURED_FROM_C = 90.0
_FLOUR_SD_K, _FLOUR_CP_SD = 1.0, 0.05


@dataclass(frozen=True, slots=True)
class Term:
    """One thing that a mix does not know exactly: what it does to the temperature, K, one standard deviation."""

    name: str
    sd_k: float


@dataclass(frozen=True, slots=True)
class Mix:
    """A mix temperature, °C, the range it will be in, and what the range is made of, largest first."""

    temp_c: float
    low_c: float
    high_c: float
    terms: tuple[Term, ...] = ()


@dataclass(frozen=True, slots=True)
class Loss:
    """What vessel and stirring take, J for each kelvin between mix and room, as learnt from measured mixes."""

    j_k: float
    sd_j_k: float


@dataclass(frozen=True, slots=True)
class Scalding:
    """Everything that meets in the bowl. `waters` are poured, ice among them; `flour` is the scald's."""

    flour: Portion
    waters: tuple[Body, ...]
    vessel: Vessel
    surface: Surface
    starch: Starch
    stirring_s: float = STIRRING_S
    hydration_j_kg: float = HYDRATION_J_KG
    swelling: float = 1.0
    """Multiplies the heat of swelling; 0 leaves it out."""
    loss: Loss | None = None
    """Learnt; instead of vessel and stirring."""
    others: tuple[Portion, ...] = ()
    """Salt, seeds, syrup that go into the scald, too."""

    @property
    def mass_g(self) -> float:
        """All of it but the vessel."""
        return sum(p.mass_g for p in (self.flour, *self.waters, *self.others) if not isinstance(p, Vessel))


def vessel(mass_g: float, material: Material, temp_c: float) -> Vessel:
    """Return a vessel that was weighed empty."""
    j_k = mass_g / 1000.0 * CP_J_KGK[material]
    return Vessel(_WARMED * j_k, temp_c, _WARMED_SD * j_k)


def unknown_vessel(scald_g: float, temp_c: float) -> Vessel:
    """Return what is believed of a vessel that nobody weighed."""
    return Vessel(_UNKNOWN_PART * scald_g, temp_c, _UNKNOWN_SD * scald_g)


def surface_of(scald_g: float, diameter_cm: float | None, room_c: float, humidity: float = 0.5) -> Surface:
    """Return the open surface of a scald in a vessel of this inner diameter; a heap as high as half as wide without."""
    litres_m3 = scald_g / 1.12e6  # a paste has 1120 kg/m³ near 65 °C
    radius = (litres_m3 / math.pi) ** (1.0 / 3.0) if diameter_cm is None else diameter_cm / 200.0
    return Surface(math.pi * radius**2, room_c, humidity)


def mix_c(s: Scalding) -> float:
    """Return the temperature after stirring, °C. Raises ValueError where the bodies have none between 0 and 102 °C."""
    found = root(lambda temp_c: excess_j(s, temp_c))
    if found is None:
        raise ValueError("these don't mix to a paste between 0 and 102 °C")
    return found


def excess_j(s: Scalding, temp_c: float) -> float:
    """Return the heat that is missing for all of it to stand at `temp_c`, J; negative where some is left over."""
    bodies: tuple[Body, ...] = (s.flour, *s.waters, *s.others)
    need = sum(body.heat_j(temp_c) for body in bodies)
    flour_kg = s.flour.mass_g / 1000.0
    need += flour_kg * s.swelling * swelling_j_kg(s.flour.made_of) * s.starch.swollen(temp_c)
    need -= flour_kg * s.hydration_j_kg
    return need + _lost_j(s, temp_c)


def _lost_j(s: Scalding, temp_c: float) -> float:
    """Heat into vessel and room."""
    above = temp_c - s.surface.room_c
    if s.loss is not None:
        return s.loss.j_k * above
    if above <= 0.0 or s.stirring_s <= 0.0:
        return s.vessel.heat_j(temp_c)
    low, high = open_w_m2(min(temp_c, 99.0), s.surface)
    return s.vessel.heat_j(temp_c) + math.sqrt(low * high) * s.surface.area_m2 * s.stirring_s


def mix(s: Scalding) -> Mix:
    """Return the mix temperature with its range. Raises ValueError like `mix_c`."""
    best = mix_c(s)
    terms = tuple(sorted(_terms(s, best), key=lambda t: -t.sd_k))
    half = 2.0 * math.sqrt(sum(t.sd_k**2 for t in terms))
    return Mix(best, best - half, best + half, terms)


def _terms(s: Scalding, best_c: float) -> list[Term]:
    def moved(name: str, other: Scalding) -> Term:
        return Term(name, abs(mix_c(other) - best_c))

    flour = s.flour
    cp_sd = _FLOUR_CP_SD * abs(flour.heat_j(best_c)) / _slope_j_k(s, best_c)
    found = [
        moved("flour temperature", replace(s, flour=replace(flour, temp_c=flour.temp_c + _FLOUR_SD_K))),
        moved("water temperature", _warmer_water(s)),
        Term("heat capacity of the flour", cp_sd),
        moved("heat of hydration", replace(s, hydration_j_kg=s.hydration_j_kg + HYDRATION_SD_J_KG)),
        moved("heat of swelling", replace(s, swelling=s.swelling * (1.0 + SWELLING_SD))),
    ]
    if s.loss is not None:
        found.append(
            moved("vessel and stirring", replace(s, loss=replace(s.loss, j_k=s.loss.j_k + s.loss.sd_j_k)))
        )
        return found
    heavier = replace(s.vessel, j_k=s.vessel.j_k + s.vessel.sd_j_k)
    found.append(moved("vessel", replace(s, vessel=heavier)))
    if s.stirring_s > 0.0:
        low, high = open_w_m2(min(max(best_c, s.surface.room_c), 99.0), s.surface)
        spread = math.hypot(_STIRRING_SD, 0.25 * math.log(max(high / low, 1.0)) if low > 0.0 else 0.0)
        found.append(moved("loss while stirring", replace(s, stirring_s=s.stirring_s * math.exp(spread))))
    return found


def _warmer_water(s: Scalding) -> Scalding:
    waters = tuple(
        replace(w, temp_c=w.temp_c - _water_sd_k(w)) if isinstance(w, Portion) and w.temp_c > 1.0 else w
        for w in s.waters
    )
    return replace(s, waters=waters)


def _water_sd_k(water: Portion) -> float:
    near = water.temp_c >= _POURED_FROM_C
    return math.hypot(_WATER_SD_K, _POUR_SD_K) if near else _WATER_SD_K


def poured(boiling_c: float) -> float:
    """Return the temperature of boiling water as it meets the flour, °C: half a kelvin less (from memory)."""
    return boiling_c - _POUR_K


def _slope_j_k(s: Scalding, temp_c: float) -> float:
    """Heat that one kelvin of the whole mix takes, J/K."""
    return excess_j(s, temp_c) - excess_j(s, temp_c - 1.0)


def pooled_loss_j_k(s: Scalding, measured_c: float) -> float | None:
    """Return what vessel and stirring have taken of a mix that was measured, J/K; None at the room's temperature."""
    above = measured_c - s.surface.room_c
    if above < 1.0:
        return None
    return -excess_j(replace(s, loss=Loss(0.0, 0.0)), measured_c) / above


def believed_loss(s: Scalding, temp_c: float) -> Loss:
    """Return vessel and stirring as one `Loss` at this mix temperature, as believed before anything was measured."""
    above = max(temp_c - s.surface.room_c, 1.0)
    low, high = open_w_m2(min(temp_c, 99.0), s.surface)
    stirred = math.sqrt(low * high) * s.surface.area_m2 * s.stirring_s / above
    spread = math.hypot(_STIRRING_SD, 0.25 * math.log(high / low)) if low > 0.0 else _STIRRING_SD
    taken = s.vessel.heat_j(temp_c) / above
    return Loss(taken + stirred, math.hypot(s.vessel.sd_j_k, spread * stirred))
