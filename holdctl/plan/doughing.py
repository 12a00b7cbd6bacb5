"""The final dough of a plan: which water makes the desired dough temperature with this scald in it."""

from holdctl.paste.amounts import exact, nearest
from holdctl.paste.dough import Dough, Rise, by_the_rule, moist, rise_of_factor, usual_rise, water_for_dough
from holdctl.paste.enthalpy import Portion
from holdctl.paste.flours import Composition, blend
from holdctl.paste.thermal import wetted
from holdctl.plan.bread import Bread
from holdctl.plan.learned import NOTHING, Memory, mixing_rise
from holdctl.plan.mixing import boiling, flour_c, room_c
from holdctl.plan.plan import DoughPart, FormulaPart, ScaldPart
from holdctl.plan.reading import made_of, scale
from holdctl.settings import Settings

_MEASURED_SD_K = 0.5
"""How far a rise that a baker measured once may be off (from memory)."""


def dough_part(
    bread: Bread, formula: FormulaPart, scald: ScaldPart, settings: Settings | None, memory: Memory = NOTHING
) -> DoughPart:
    """Return the final dough's water, and the bakers' sum of temperatures beside it."""
    parts, wish = dough(bread, formula, scald, settings, memory), bread.dough
    water_g = sum(line.dough_g for line in formula.lines if line.sort == "water")
    found = water_for_dough(
        parts, wish.dough_c, water_g, tap_c=bread.kitchen.cold_water_c, boiling_c=boiling(bread).temp_c
    )
    one_c = found.water_c if found.as_one_c is None else found.as_one_c
    rule = by_the_rule(parts, wish.dough_c, water_g, one_c) if water_g > 0 else None
    return DoughPart(
        wanted_c=wish.dough_c,
        dough_c=round(found.dough.temp_c, 1),
        low_c=round(found.dough.low_c, 1),
        high_c=round(found.dough.high_c, 1),
        met=found.met,
        water_c=round(found.water_c, 1),
        water_g=water_g,
        ice_g=_weighed(found.ice_g, bread),
        scald_c=parts.scald.temp_c,
        rise_k=round(parts.rise.k, 2),
        rise_how=parts.rise.how,
        rule_c=None if rule is None else round(rule.water_c, 1),
        rule_dough_c=None if rule is None or rule.dough_c is None else round(rule.dough_c, 1),
        why="" if rule is None else rule.why,
        notes=found.notes,
    )


def _weighed(ice_g: float, bread: Bread) -> float:
    """Return so much ice as the scale reads it, g."""
    steps = scale(bread)
    return float(nearest(exact(ice_g), steps.step(exact(ice_g))))


def dough(
    bread: Bread, formula: FormulaPart, scald: ScaldPart, settings: Settings | None, memory: Memory = NOTHING
) -> Dough:
    """Return everything in the final dough but its water."""
    room = max(0.0, room_c(bread, settings))
    paste = wetted(Composition(*scald.composition), (scald.mass_g - scald.flour_g) / scald.flour_g)
    return Dough(
        flour=_flour(bread, formula, flour_c(bread, settings)),
        scald=Portion(scald.mass_g, bread.dough.scald_c, paste),
        room_c=room,
        rise=rise(bread, memory),
        others=tuple(_others(bread, formula, room)),
    )


def rise(bread: Bread, memory: Memory = NOTHING) -> Rise:
    """Return what mixing adds: as the bread says, else as earlier doughs have taught, else by common practice."""
    about = bread.dough
    if about.mixing_rise_k is not None:
        return Rise(about.mixing_rise_k, _MEASURED_SD_K, "measured by you")
    if about.friction_factor_k is not None:
        return rise_of_factor(about.friction_factor_k, about.friction_temperatures)
    usual = usual_rise(about.mixing_min)
    return mixing_rise(memory, usual, about.mixing_min) or usual


def _flour(bread: Bread, formula: FormulaPart, at_c: float) -> Portion:
    masses = {line.name: line.dough_g for line in formula.lines if line.sort == "flour"}
    whole = sum(masses.values())
    used = masses if whole else dict.fromkeys(masses, 1.0)  # all is scalded: nothing weighs nothing
    return Portion(whole, at_c, blend((made_of(entry), used[entry.name]) for entry in bread.flour))


def _others(bread: Bread, formula: FormulaPart, at_c: float) -> list[Portion]:
    wet = {entry.name: entry.moisture / 100 for entry in bread.ingredient}
    lines = (line for line in formula.lines if line.sort == "other" and line.dough_g)
    return [Portion(line.dough_g, at_c, moist(wet[line.name])) for line in lines]
