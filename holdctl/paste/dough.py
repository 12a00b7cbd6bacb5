"""The final dough: which water makes the desired dough temperature, with a scald that may be large and warm.

A balance of mass and heat: flour, scald, water and the rest come to one temperature, and mixing adds the *rise*. The
rise is what a baker measures: machine work, heat of hydration, mixer bowl and room together; a friction factor is the
same in the words of the bakers' sum of temperatures. That sum counts temperatures as if all weighed the same, so it
goes wrong where a scald is a large part of the dough and not at the room's temperature.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from holdctl.errors import ConfigError
from holdctl.paste.enthalpy import Body, Ice, Portion, root
from holdctl.paste.flours import Composition
from holdctl.paste.mixing import Mix, Term
from holdctl.paste.pouring import ice_for

RISE_K_MIN, RISE_SD_K_MIN = 0.4, 0.15
"""Rise for each minute in a mixer: 0.3–0.5 K in one page of the trade, 1.1 K in another (common practice)."""
USUAL_MINUTES = 8.0
FACTOR_SD_K = 1.0
"""How far off a rise from a friction factor may be: the sum that it comes from knows no masses (from memory)."""
MOST_ICE = 0.6
"""Part of the water that may be ice and still melts while the dough is mixed (from memory)."""
YEAST_C = 45.0
"""Water above this harms yeast that it touches (common practice, no source)."""
_SCALD_SD_K, _FLOUR_SD_K, _WATER_SD_K = 1.0, 1.0, 0.5


@dataclass(frozen=True, slots=True)
class Rise:
    """What mixing adds to the dough's temperature, K, and how sure that is (one standard deviation)."""

    k: float
    sd_k: float
    how: str = "common practice"


@dataclass(frozen=True, slots=True)
class Dough:
    """Everything in the final dough but its water. `others` are salt, yeast, seeds, syrup."""

    flour: Portion
    scald: Portion
    room_c: float
    rise: Rise
    others: tuple[Portion, ...] = ()
    heat_j: float = 0.0
    """Heat from within that is not in the rise, J."""

    @property
    def dry(self) -> tuple[Portion, ...]:
        """All but the water."""
        return (self.flour, self.scald, *self.others)


@dataclass(frozen=True, slots=True)
class DoughWater:
    """The water to pour: `water_g` at `water_c`, or with `ice_g` of it as ice and the rest at `water_c`."""

    water_c: float
    water_g: float
    ice_g: float
    dough: Mix
    met: bool
    """Whether the desired temperature is had; else this is the nearest."""
    notes: tuple[str, ...] = ()
    as_one_c: float | None = None
    """All of the water at one temperature that would do the same; None where that would be below 0 °C."""


@dataclass(frozen=True, slots=True)
class SumRule:
    """What the bakers' sum of temperatures asks for, the dough that it would make, °C, and why it differs."""

    water_c: float
    dough_c: float | None
    why: str


def usual_rise(minutes: float = USUAL_MINUTES) -> Rise:
    """Return the rise of so many minutes in a mixer by common practice. Raises ConfigError below 0."""
    if not 0.0 <= minutes <= 60.0:
        raise ConfigError(f"{minutes:g} minutes of mixing can't be; give 0 (by hand) to 60.")
    how = f"common practice, {minutes:g} min of mixing"
    return Rise(RISE_K_MIN * minutes, max(0.5, RISE_SD_K_MIN * minutes), how)


def moist(moisture: float) -> Composition:
    """Return the composition that stands for an ingredient of which only its water is known, 0 to 1."""
    return Composition(moisture, 0.0, 0.0, 1.0 - moisture, 0.0, 0.0)


def dough_c(dough: Dough, waters: Sequence[Body]) -> float:
    """Return the temperature after mixing, °C. Raises ValueError where the parts have none between 0 and 102 °C."""
    found = root(lambda temp_c: _excess_j(dough, waters, temp_c))
    if found is None:
        raise ValueError("these don't make a dough between 0 and 102 °C")
    return found + dough.rise.k


def rise_of(dough: Dough, waters: Sequence[Body], measured_c: float) -> float:
    """Return the rise, K, of a dough that was measured: what the balance of its parts does not explain."""
    return measured_c - dough_c(replace(dough, rise=Rise(0.0, 0.0)), waters)


def rise_of_factor(factor_k: float, temperatures: int) -> Rise:
    """Return the rise that a baker's friction factor stands for: its part for each temperature of the sum.

    The sum counted that dough's parts as if all weighed the same, so the rise has their error in it.
    """
    how = f"your friction factor of {factor_k:g} K with {temperatures} temperatures"
    return Rise(factor_k / temperatures, FACTOR_SD_K, how)


def friction_factor(measured_c: float, temps_c: Sequence[float]) -> float:
    """Return the bakers' friction factor of a measured dough: so many times the dough, less all temperatures."""
    return len(temps_c) * measured_c - sum(temps_c)


def dough(parts: Dough, waters: Sequence[Body]) -> Mix:
    """Return the dough's temperature with its range."""
    best = dough_c(parts, waters)
    flour, scald = parts.flour, parts.scald
    warmer = replace(parts, flour=replace(flour, temp_c=flour.temp_c + _FLOUR_SD_K))
    hotter = replace(parts, scald=replace(scald, temp_c=scald.temp_c + _SCALD_SD_K))
    moved = [replace(w, temp_c=w.temp_c + _WATER_SD_K) if isinstance(w, Portion) else w for w in waters]
    found = (
        Term("mixing", parts.rise.sd_k),
        Term("scald temperature", abs(dough_c(hotter, waters) - best)),
        Term("flour temperature", abs(dough_c(warmer, waters) - best)),
        Term("water temperature", abs(dough_c(parts, moved) - best)),
    )
    half = 2.0 * sum(t.sd_k**2 for t in found) ** 0.5
    return Mix(best, best - half, best + half, tuple(sorted(found, key=lambda t: -t.sd_k)))


def water_for_dough(
    parts: Dough, wanted_c: float, water_g: float, *, tap_c: float, boiling_c: float, ice_c: float = 0.0
) -> DoughWater:
    """Return which water, or water and ice, makes the desired dough temperature; else the nearest, in a sentence."""
    if not water_g > 0.0:
        return _no_water(parts, wanted_c, tap_c)
    need = _excess_j(parts, (), wanted_c - parts.rise.k)
    water_c = root(lambda temp_c: -need - Portion(water_g, temp_c).heat_j(wanted_c - parts.rise.k))
    if water_c is not None and water_c <= boiling_c:
        return _liquid(parts, water_g, water_c, tap_c, ice_c)
    if Portion(water_g, 0.0).heat_j(wanted_c - parts.rise.k) + need > 0.0:
        return _too_cold(parts, wanted_c, water_g, boiling_c)
    return _iced(parts, wanted_c, water_g, tap_c, ice_c)


def _no_water(parts: Dough, wanted_c: float, tap_c: float) -> DoughWater:
    mixed, scald_c = dough(parts, ()), scald_for(parts, wanted_c, ())
    right = "" if scald_c is None else f"; with the scald at {scald_c:.0f} °C it would be right"
    note = f"No water is left for the dough, so nothing sets its temperature: it comes to {mixed.temp_c:.1f} °C{right}."
    return DoughWater(tap_c, 0.0, 0.0, mixed, abs(mixed.temp_c - wanted_c) < 0.5, (note,))


def _liquid(parts: Dough, water_g: float, water_c: float, tap_c: float, ice_c: float) -> DoughWater:
    ice_g, mixed = ice_for(water_g, tap_c, water_c, ice_c), dough(parts, [Portion(water_g, water_c)])
    if ice_g > 0.0:
        note = f"Or all of the water at {water_c:.0f} °C, from the fridge."
        return DoughWater(tap_c, water_g, ice_g, mixed, True, (note,), water_c)
    notes: tuple[str, ...] = ()
    if water_c > YEAST_C:
        notes = (f"Above {YEAST_C:.0f} °C water harms yeast: mix it with the flour first, the yeast last.",)
    return DoughWater(water_c, water_g, 0.0, mixed, True, notes, water_c)


def _iced(parts: Dough, wanted_c: float, water_g: float, tap_c: float, ice_c: float) -> DoughWater:
    """Ice beyond water at 0 °C: what must melt in the dough; at most `MOST_ICE` of the water."""
    at = wanted_c - parts.rise.k
    need = _excess_j(parts, (), at)
    tap, ice = Portion(water_g, tap_c).heat_j(at), Ice(water_g, ice_c).heat_j(at)
    part = (-need - tap) / (ice - tap)
    met = part <= MOST_ICE
    ice_g = min(part, MOST_ICE) * water_g
    mixed = dough(parts, [Portion(water_g - ice_g, tap_c), Ice(ice_g, ice_c)])
    notes = () if met else (_let_cool(parts, wanted_c, water_g, tap_c, mixed.temp_c),)
    return DoughWater(tap_c, water_g, ice_g, mixed, met, notes)


def _let_cool(parts: Dough, wanted_c: float, water_g: float, tap_c: float, nearest_c: float) -> str:
    scald_c = scald_for(parts, wanted_c, [Portion(water_g, tap_c)])
    cool = (
        ""
        if scald_c is None
        else f", or let the scald cool to {scald_c:.0f} °C and take the water from the tap"
    )
    return (
        f"{wanted_c:g} °C can't be had with a scald at {parts.scald.temp_c:.0f} °C, not even with "
        f"{MOST_ICE * 100:.0f} % of the water as ice; nearest: {nearest_c:.1f} °C{cool}."
    )


def _too_cold(parts: Dough, wanted_c: float, water_g: float, boiling_c: float) -> DoughWater:
    mixed = dough(parts, [Portion(water_g, boiling_c)])
    scald_c = scald_for(parts, wanted_c, [Portion(water_g, YEAST_C)])
    warm = (
        ""
        if scald_c is None
        else f", or warm the scald to {scald_c:.0f} °C and take water at {YEAST_C:.0f} °C"
    )
    note = f"{wanted_c:g} °C can't be had even with boiling water; nearest: {mixed.temp_c:.1f} °C{warm}."
    return DoughWater(boiling_c, water_g, 0.0, mixed, False, (note,))


def scald_for(parts: Dough, wanted_c: float, waters: Sequence[Body]) -> float | None:
    """Return which temperature of the scald makes the desired dough with these waters; None where none can."""
    at = wanted_c - parts.rise.k
    without = _excess_j(replace(parts, scald=replace(parts.scald, mass_g=0.0)), waters, at)
    return root(lambda temp_c: -without - replace(parts.scald, temp_c=temp_c).heat_j(at))


def sum_rule(wanted_c: float, temps_c: Sequence[float], friction_k: float = 0.0) -> float:
    """Return the water's temperature by the bakers' sum: so many times the wanted, less all others and friction.

    `temps_c` are flour and room, and any preferment or scald; works in °F, too.
    """
    return (len(temps_c) + 1) * wanted_c - sum(temps_c) - friction_k


def by_the_rule(parts: Dough, wanted_c: float, water_g: float, balance_c: float) -> SumRule:
    """Return what the bakers' sum asks for beside the balance's water, and in a sentence why they differ."""
    temps = (parts.flour.temp_c, parts.room_c, parts.scald.temp_c)
    factor = parts.rise.k * (len(temps) + 1)
    water_c = sum_rule(wanted_c, temps, factor)
    try:
        made = dough_c(parts, [Portion(water_g, water_c)])
    except ValueError:
        why = f"The bakers' sum asks for water at {water_c:.0f} °C, which can't be: {_why(parts)}"
        return SumRule(water_c, None, why)
    if abs(made - wanted_c) < 0.5:
        return SumRule(water_c, made, "The bakers' sum of temperatures agrees here within half a kelvin.")
    return SumRule(
        water_c,
        made,
        f"The bakers' sum (friction factor {factor:.0f} K) asks for water at {water_c:.0f} °C instead of "
        f"{balance_c:.0f} °C and would make a dough of {made:.1f} °C: {_why(parts)}",
    )


def _why(parts: Dough) -> str:
    share = parts.scald.mass_g / sum(p.mass_g for p in parts.dry) * 100.0
    return (
        f"it counts scald and room as much as flour and water, but the scald is {share:.0f} % of what the water "
        "meets, and the room weighs nothing."
    )


def _excess_j(parts: Dough, waters: Sequence[Body], temp_c: float) -> float:
    return sum(body.heat_j(temp_c) for body in (*parts.dry, *waters)) - parts.heat_j
