"""The mix of a plan: what meets in the bowl, which water to pour, and what comes of it."""

from dataclasses import replace

from holdctl.paste.amounts import exact, nearest
from holdctl.paste.boiling import Boiling, boiling_point
from holdctl.paste.enthalpy import Portion
from holdctl.paste.flours import Composition
from holdctl.paste.gelatinisation import STARCH
from holdctl.paste.mixing import Scalding, surface_of, unknown_vessel, vessel
from holdctl.paste.pouring import Kitchen, Pour, choose, hottest_c
from holdctl.plan.bread import Bread
from holdctl.plan.learned import NOTHING, Memory, Seen, learnt, vessel_name
from holdctl.plan.plan import FormulaPart, MixPart, ScaldPart
from holdctl.plan.reading import scale
from holdctl.settings import Settings

_ROOM_C = 20.0
"""Of a kitchen that nobody told about."""
_LITTLE = 0.02
"""Less cold water than this part of it is not worth a second jug."""


def mix_part(
    bread: Bread,
    formula: FormulaPart,
    scald: ScaldPart,
    settings: Settings | None,
    memory: Memory = NOTHING,
) -> MixPart:
    """Return how to pour the scald's water and the mix it makes. Raises ConfigError for a mix that can't be had.

    What earlier mixes in this vessel have taught is taken from `memory`.
    """
    bowl, boils = scalding(bread, formula, scald, settings), boiling(bread)
    water = Kitchen(boils, bread.kitchen.cold_water_c)
    pour = _poured(bowl, bread, scald, water)
    taught = memory.of("mix", vessel_name(bread, settings))
    if taught:
        bowl = replace(bowl, waters=(Portion(scald.water_g, pour.water_c),))
        bowl = replace(learnt(bowl, memory, vessel_name(bread, settings)), waters=())
        pour = _poured(bowl, bread, scald, water)
    hot_g, cold_g = _jugs(pour, scald.water_g, bread)
    return MixPart(
        water_c=round(pour.water_c, 1),
        mix_c=round(pour.mix.temp_c, 1),
        low_c=round(pour.mix.low_c, 1),
        high_c=round(pour.mix.high_c, 1),
        boiling_c=round(boils.temp_c, 1),
        why=pour.why,
        boil_first=pour.boil_first,
        hot_water_g=hot_g,
        cold_water_g=cold_g,
        notes=(*pour.notes, *_taught(taught)),
        most_c=round(hottest_c(bowl, scald.water_g, water), 1),
    )


def _poured(bowl: Scalding, bread: Bread, scald: ScaldPart, water: Kitchen) -> Pour:
    return choose(bowl, scald.water_g, water, malt=scald.malt_g > 0, wanted_c=bread.mixing.mix_c)


def _taught(seen: tuple[Seen, ...]) -> tuple[str, ...]:
    if not seen:
        return ()
    mixes = "the last mix" if len(seen) == 1 else f"{len(seen)} earlier mixes"
    return (f"Reckoned with what {mixes} in this vessel took.",)


def boiling(bread: Bread) -> Boiling:
    """Return at what temperature water boils in this kitchen. Raises ConfigError for a pressure that can't be."""
    return boiling_point(bread.kitchen.altitude_m, bread.kitchen.pressure_hpa)


def room_c(bread: Bread, settings: Settings | None) -> float:
    """Return the kitchen's temperature: as the bread says, else the warmer's room, else 20 °C."""
    if bread.kitchen.room_c is not None:
        return bread.kitchen.room_c
    return settings.room.ambient_c if settings else _ROOM_C


def flour_c(bread: Bread, settings: Settings | None) -> float:
    """Return the flour's temperature: as the bread says, else the room's, °C."""
    told = bread.kitchen.flour_c
    return max(0.0, room_c(bread, settings) if told is None else told)


def scalding(bread: Bread, formula: FormulaPart, scald: ScaldPart, settings: Settings | None) -> Scalding:
    """Return everything that meets in the bowl but the water to pour; malt comes later and is not in it."""
    room, flour = room_c(bread, settings), flour_c(bread, settings)
    wide_cm = settings.vessel.inner_diameter_cm if settings else None
    mass_g = scald.mass_g - scald.malt_g
    about = bread.mixing
    at_c = room if about.vessel_c is None else about.vessel_c
    return Scalding(
        flour=Portion(scald.flour_g, flour, Composition(*scald.composition)),
        waters=(),
        vessel=unknown_vessel(mass_g, at_c) if about.vessel_g is None else vessel(
            about.vessel_g, about.vessel_material, at_c
        ),
        surface=surface_of(mass_g, wide_cm, room),
        starch=STARCH[scald.like],
        stirring_s=60.0 * about.stir_min,
        others=tuple(_others(bread, formula, room)),
    )  # fmt: skip


def _others(bread: Bread, formula: FormulaPart, at_c: float) -> list[Portion]:
    """Return what else is scalded; beside its water it is taken for starch, which matters little."""
    wet = {entry.name: entry.moisture / 100 for entry in bread.ingredient}
    lines = [line for line in formula.lines if line.sort == "other" and line.scald_g]
    return [
        Portion(
            line.scald_g,
            max(0.0, at_c),
            Composition(wet[line.name], 0.0, 0.0, 1.0 - wet[line.name], 0.0, 0.0),
        )
        for line in lines
    ]


def _jugs(pour: Pour, water_g: float, bread: Bread) -> tuple[float, float]:
    """Return boiling and cold water as weighed, g; together all of it."""
    whole = exact(water_g)
    if pour.cold_g < _LITTLE * water_g:
        return water_g, 0.0
    hot = min(whole, nearest(exact(pour.hot_g), scale(bread).step(whole)))
    return float(hot), float(whole - hot)
