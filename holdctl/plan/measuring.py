"""From a plan and a thermometer: what to do with a mix that was measured, and what mix and dough teach."""

import math
from dataclasses import dataclass, replace

import msgspec

from holdctl.errors import ConfigError
from holdctl.food.codes import code_of
from holdctl.paste.dough import rise_of
from holdctl.paste.enthalpy import Body, Ice, Portion
from holdctl.paste.mixday import Day, MixDay, mix_day
from holdctl.paste.mixing import Mix, Scalding, excess_j, mix, pooled_loss_j_k
from holdctl.paste.pouring import Kitchen
from holdctl.plan.bread import Bread
from holdctl.plan.doughing import dough
from holdctl.plan.learned import BY_PROBE, TOLD, Memory, Seen, learnt, vessel_name
from holdctl.plan.mixing import boiling, scalding
from holdctl.plan.plan import Plan
from holdctl.settings import Programme, Settings

_HOLD_C, _EVERY_PART = 65.0, (62.0, 67.0)
_BY_HAND_K = 1.0
"""Standard deviation of a thermometer stuck into a mix by hand (common practice: ±2 K)."""
_LEAST_RISE_K, _MOST_RISE_K = -5.0, 25.0
"""Of mixing, in reason: a cold bowl takes, a fast mixer gives."""
_COLDEST_MIX_C, _HOTTEST_MIX_C = 0.0, 110.0
"""No mix of flour and water is colder or hotter than this."""
_BY_PROBE_K = 2.0
"""Of the mix as the warmer's probe saw it, some minutes later."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A plan's mix, put together again."""

    bowl: Scalding
    mix: Mix
    vessel: str


def bread_of(plan: Plan) -> Bread:
    """Return the bread that a plan was made from. Raises ConfigError where it does not say."""
    try:
        return msgspec.convert(plan.bread, Bread)
    except msgspec.ValidationError as error:
        raise ConfigError(f"Plan {plan.id} does not say its bread ({error}); make it again.") from None


def planned(plan: Plan, settings: Settings | None, memory: Memory) -> Planned:
    """Return what a plan mixes. Raises ConfigError for a plan without a mix."""
    if plan.mix is None:
        raise ConfigError("This plan says nothing of its mix; make it again.")
    bread = bread_of(plan)
    dry = scalding(bread, plan.formula, plan.scald, settings)
    bowl = replace(dry, waters=(Portion(plan.scald.water_g, plan.mix.water_c),))
    name = vessel_name(bread, settings)
    bowl = learnt(bowl, memory, name)
    return Planned(bowl, Mix(plan.mix.mix_c, plan.mix.low_c, plan.mix.high_c), name)


def advise(plan: Plan, settings: Settings | None, memory: Memory, measured_c: float) -> MixDay:
    """Return what to do with a plan's mix that came out at `measured_c`. Raises ConfigError."""
    made, bread = planned(plan, settings, memory), bread_of(plan)
    programme = settings.programme if settings else None
    if plan.programme is not None and plan.programme.settings is not None:
        programme = plan.programme.settings
    day = Day(
        made.bowl,
        made.mix,
        Kitchen(boiling(bread), bread.kitchen.cold_water_c),
        hold_c(programme),
        (programme.every_part if programme else _EVERY_PART)[0],
        code_of(settings).hot_holding_c if settings else None,
        _dough_water_g(plan),
        plan.scald.malt_g,
    )
    return mix_day(day, measured_c)


def hold_c(programme: Programme | None) -> float:
    """Return the set temperature of the first hold step, °C; 65 without one."""
    steps = programme.step if programme else ()
    return next((step.to for step in steps if step.hold_for and step.to is not None), _HOLD_C)


def _dough_water_g(plan: Plan) -> float:
    return sum(line.dough_g for line in plan.formula.lines if line.sort == "water")


def seen_mix(
    plan: Plan,
    settings: Settings | None,
    measured_c: float,
    *,
    at_utc_ms: int,
    origin: str,
    by_probe: bool = False,
) -> Seen | None:
    """Return what a measured mix teaches of its vessel; None where it can't teach anything.

    What heat can't explain (below no loss at all) teaches nothing, and so does a mix near the room's temperature.
    """
    made = planned(plan, settings, Memory())
    if not _COLDEST_MIX_C <= measured_c <= _HOTTEST_MIX_C:
        return None
    taken = pooled_loss_j_k(made.bowl, measured_c)
    if taken is None or taken < 0.0:
        return None
    own = ("vessel", "loss while stirring", "vessel and stirring")
    others = sum(t.sd_k**2 for t in mix(made.bowl).terms if t.name not in own)
    off_k = math.hypot(math.sqrt(others), _BY_PROBE_K if by_probe else _BY_HAND_K)
    slope = excess_j(made.bowl, measured_c) - excess_j(made.bowl, measured_c - 1.0)
    return Seen(
        kind="mix", vessel=made.vessel, value=taken, sd=off_k * slope / (measured_c - made.bowl.surface.room_c),
        measured_c=measured_c, planned_c=made.mix.temp_c, at_utc_ms=at_utc_ms, origin=origin,
        how=BY_PROBE if by_probe else TOLD,
    )  # fmt: skip


def seen_dough(
    plan: Plan,
    settings: Settings | None,
    measured_c: float,
    *,
    water_c: float | None = None,
    scald_c: float | None = None,
    at_utc_ms: int,
    origin: str,
) -> Seen:
    """Return what a measured dough teaches of mixing; water and scald as planned where not told. Raises ConfigError."""
    about, bread = plan.dough, bread_of(plan)
    if about is None:
        raise ConfigError("This plan says nothing of its final dough; make it again.")
    parts = dough(bread, plan.formula, plan.scald, settings)
    if scald_c is not None:
        parts = replace(parts, scald=replace(parts.scald, temp_c=scald_c))
    waters: list[Body] = [Portion(about.water_g, about.water_c if water_c is None else water_c)]
    if about.ice_g and water_c is None:
        waters = [Portion(about.water_g - about.ice_g, about.water_c), Ice(about.ice_g)]
    try:
        added = rise_of(parts, waters, measured_c)
    except ValueError as error:
        raise ConfigError(f"Water and scald like that make no dough: {error}.") from None
    if not _LEAST_RISE_K <= added <= _MOST_RISE_K:
        raise ConfigError(
            f"A dough of {measured_c:g} °C is {added:+.1f} K from the {measured_c - added:.1f} °C that its parts make: "
            "mixing does not do that; look at the temperatures of scald and water (--scald, --water)."
        )
    return Seen(
        kind="dough", vessel="", value=added, sd=math.hypot(_BY_HAND_K, 0.5), measured_c=measured_c,
        planned_c=about.dough_c, at_utc_ms=at_utc_ms, origin=origin, minutes=bread.dough.mixing_min or None,
    )  # fmt: skip
