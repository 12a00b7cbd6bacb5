"""The `night` and `programme` of a plan: the forecast of this scald on this warmer, in numbers and words."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime

import msgspec

from holdctl.errors import ConfigError
from holdctl.events import Identified
from holdctl.food.say import lasting
from holdctl.paste.evaporation import J_PER_KWH, Surface, between, cost, evaporated_g, top_up
from holdctl.plan import waiting
from holdctl.plan.course import Baker, Start
from holdctl.plan.night import Night, NightForecast, foretell
from holdctl.plan.nightly import Wishes, down_to_c, hands_s, programme, steps, worth
from holdctl.plan.plan import MixPart, NightPart, PlanStep, ProgrammePart, ScaldPart
from holdctl.plan.ready import Latest, latest_start
from holdctl.plan.remedies import Remedy, remedies
from holdctl.plan.stirring import every, stirs, worths
from holdctl.settings import Lid, Place, Settings

TOLD = "as told of its kind, no hold has identified it yet"
_LONGEST_STIRRED_S = 8 * 3600.0
_NO_WALL = (
    "With no probe at the wall the hold keeps power back for what it can't see: simulated come-ups took 1.1 times as "
    "long as this with a probe at the edge, 1.3 halfway, 1.9 in the core."
)


@dataclass(frozen=True, slots=True)
class Evening:
    """What is known and wanted of this night beside bread and warmer."""

    known: Identified | None = None
    """What an earlier hold has identified of the warmer."""
    known_words: str = TOLD
    ready: datetime | None = None
    """When the hold should be done, with its zone; `now` then, too."""
    now: datetime | None = None
    vessel_c: float | None = None
    """Vessel and warmer when the scald goes in, °C; the room's where None."""
    stir_every_min: float | None = None
    """The baker will stir this often until every part is in range."""
    stir_advised: bool = False
    """The baker will stir when a stir is worth the way."""
    price_per_kwh: float | None = None


def of_this_scald(settings: Settings, scald: ScaldPart) -> Settings:
    """Return the settings with the plan's scald in the vessel."""
    mass_g = max(10.0, scald.mass_g)
    known = msgspec.structs.replace(
        settings.scald, flour=scald.like, mass_g=mass_g, ratio=round(scald.ratio, 4)
    )
    return msgspec.structs.replace(settings, scald=known)


def night_of(settings: Settings, scald: ScaldPart, mix: MixPart, evening: Evening) -> Night:
    """Return the night as planned, the baker in it."""
    room = settings.room.ambient_c
    cold = room if evening.vessel_c is None else evening.vessel_c
    start = Start(mix.mix_c, mix.low_c, mix.high_c, cold, cold)
    most_c = 100.0 if mix.most_c is None else mix.most_c
    night = Night(of_this_scald(settings, scald), start, evening.known, most_mix_c=most_c)
    times = () if evening.stir_every_min is None else every(evening.stir_every_min, _LONGEST_STIRRED_S)
    busy_s = hands_s(settings, Wishes(scald.malt_g > 0.0))
    night = replace(night, baker=Baker(down_to_c(night), busy_s, times))
    if not evening.stir_advised:
        return night
    return replace(night, baker=replace(night.baker, stirs_s=tuple(stir.at_s for stir in stirs(night))))


def night_parts(
    settings: Settings, scald: ScaldPart, mix: MixPart, evening: Evening
) -> tuple[NightPart, ProgrammePart]:
    """Return both parts. Raises ConfigError for a time that can't be kept and for settings that lack something."""
    night = night_of(settings, scald, mix, evening)
    forecast = foretell(night)
    band = forecast.course.band_s
    if band is not None:  # nobody stirs what is in range
        kept = tuple(t for t in night.baker.stirs_s if t < band)
        night = replace(night, baker=replace(night.baker, stirs_s=kept))
    latest = _latest(forecast, evening)
    malt = scald.malt_g > 0.0
    wanted = Wishes(malt, worths(night), forecast.course.down_s + hands_s(settings, Wishes(malt)))
    others = remedies(night, forecast)
    part = NightPart(
        warmer=settings.warmer.name,
        known=evening.known_words if forecast.learnt else TOLD,
        start_c=mix.mix_c,
        band_s=forecast.band_s,
        ready_s=forecast.ready_s,
        coldest_c=round(min(forecast.coldest_c[0], forecast.hold_c[0]), 1),
        hottest_c=round(max(forecast.hottest_c[0], forecast.hold_c[1]), 1),
        food_code=settings.food_code,
        code_kept=forecast.kept and forecast.band_s is not None and not forecast.slow_fall,
        verdict=verdict(forecast),
        energy_kwh=round(forecast.energy_j / J_PER_KWH, 3),
        cost=None
        if evening.price_per_kwh is None
        else cost(forecast.energy_j / J_PER_KWH, evening.price_per_kwh),
        evaporation_g=_evaporation(night, forecast),
        nearest=_nearest(others, forecast),
        vessel_c=evening.vessel_c,
        stir_every_min=evening.stir_every_min,
        stir_advised=evening.stir_advised,
        mind=tuple(_minds(forecast)),
        notes=tuple(_notes(night, forecast, others)),
    )
    plan_steps = steps(night, forecast, wanted)
    return part, ProgrammePart(
        steps=plan_steps if latest is None else _clocked(plan_steps, latest),
        settings=programme(night, wanted),
        start_utc_ms=None if latest is None else latest.start_utc_ms,
        ready_utc_ms=None if latest is None else latest.ready_utc_ms,
    )


def verdict(forecast: NightForecast) -> str:
    """Return what the code's times make of the night, the worst rule first."""
    if forecast.band_s is None:
        return "Not every part gets into the programme's range within a day."
    if forecast.slow_fall:
        broken = [rule.words for rule in forecast.rules[:1] if not rule.kept]
        return " ".join([*broken, forecast.slow_fall])
    return forecast.rules[0].words if forecast.rules else "The code has no time for the way up."


def _latest(forecast: NightForecast, evening: Evening) -> Latest | None:
    if evening.ready is None or evening.now is None:
        return None
    if forecast.band_s is not None and forecast.ready_s is None:
        raise ConfigError(
            "--ready: a step of your programme is not done within a day: a fall to less than the warmer and its room "
            "come down to, or a hold that is not reached. Name a higher `fall_to`, or take the paste out to cool."
        )
    needs_s = None if forecast.ready_s is None else forecast.ready_s[2]
    return latest_start(evening.ready, needs_s, evening.now)


def _clocked(found: tuple[PlanStep, ...], latest: Latest) -> tuple[PlanStep, ...]:
    first = PlanStep(at_s=0.0, words=f"Mix and start, at {latest.start:%H:%M} at the latest, to be ready by "
                     f"{latest.ready:%H:%M}.")  # fmt: skip
    return (first, *found)


def _nearest(others: tuple[Remedy, ...], forecast: NightForecast) -> str:
    said = [f"Nearest that keeps it: {others[0].sentence}"] if others else []
    if forecast.slow_fall:
        said.append(
            "Nearest: leave that fall out, take the paste out after the hold and cool it as told below."
        )
    return " ".join(said)


def _evaporation(night: Night, forecast: NightForecast, lid: Lid | None = None) -> tuple[float, float]:
    """Return the least and most water that leaves, g; under another lid than the vessel's where that is given."""
    told = night.warmer().told
    hours = (forecast.course.t_s[-1] if forecast.ready_s is None else forecast.ready_s[1]) / 3600.0
    surface = Surface(3.1416 * told.radius_m**2, night.settings.room.ambient_c)
    cover = night.settings.vessel.lid if lid is None else lid
    low, high = evaporated_g(night.setpoint_c, float(hours), surface, cover)
    return round(low, 1), round(high, 1)


def _minds(forecast: NightForecast) -> Iterator[str]:
    """Yield what must not be left out on a small screen."""
    if not forecast.strong:
        yield (
            f"The heater needs {100 * forecast.duty:.0f} % of its power to hold: too weak for a colder room or low "
            "mains. A warmer lid, a wrapped side or a stronger heater would help."
        )


def _advice(night: Night) -> Iterator[str]:
    """Yield the stirs that are worth the way of a baker who promised none."""
    advised = stirs(night)
    for stir in advised:
        yield f"A stir to the bottom {lasting(stir.at_s)} after the start: {worth(stir)}."
    if advised:
        yield "If you will be there, `--stir` has the night ask for that."


def _notes(night: Night, forecast: NightForecast, others: tuple[Remedy, ...]) -> Iterator[str]:
    for other in others[1:]:
        yield f"Or: {other.sentence}"
    if not others and not (forecast.kept and forecast.band_s is not None):
        yield "Nothing that was tried keeps it: a hotter mix, stirring, a thinner layer, a smaller batch."
    if not night.baker.stirs_s:
        yield from _advice(night)
    if forecast.thick and forecast.even_band_s is not None:
        deep = 100.0 * night.warmer().told.height_m
        yield (
            f"The layer is thick ({deep:.0f} cm): moved all the time it would be in range after "
            f"{lasting(forecast.even_band_s)}; at rest heat has to creep through it."
        )
    if (
        all(probe.place is not Place.WALL for probe in night.settings.probe)
        and not night.settings.warmer.stirred
    ):
        yield _NO_WALL
    if forecast.kept and forecast.band_s is not None:
        yield waiting.words(night)
    yield top_up(_evaporation(night, forecast), night.settings.scald.mass_g)
    if night.settings.vessel.lid is Lid.OFF:
        yield f"Under a lid it would lose {between(_evaporation(night, forecast, Lid.ON))} g."
    else:
        yield f"Without its lid it would lose {between(_evaporation(night, forecast, Lid.OFF))} g."
