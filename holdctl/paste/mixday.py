"""The scald is mixed and was measured: what to do now.

Four answers, by temperature: too cold for its starch (hot water within the formula, or warm on), right (malt in, lid
on), too hot for amylases (stir it down: left alone a thick paste keeps its core above 70 °C for an hour or more), and
not to be believed (measure again). Each comes with what it is worth.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

from holdctl.errors import ConfigError
from holdctl.paste.enthalpy import Portion
from holdctl.paste.evaporation import open_w_m2
from holdctl.paste.flours import AMYLASES_C
from holdctl.paste.gelatinisation import swelling_j_kg
from holdctl.paste.mixing import Loss, Mix, Scalding, mix_c, pooled_loss_j_k
from holdctl.paste.pouring import Kitchen
from holdctl.paste.thermal import wetted

_OVER_HOLD_K = 1.0
"""So far above the hold stirring ends: what is left evens out by itself (common practice)."""
_OVER_END_K = 1.0
_SWOLLEN = 0.9
"""From this part of swollen starch on a paste is left alone (from memory)."""
_WORTH_K, _LEAST_G = 0.5, 1.0
_BELIEVED_K = 3.0
"""A mix may be so much hotter than its balance without any loss before the thermometer is doubted."""
_LOST_C = 75.0
_AS_PLANNED_K = 1.0


class Act(StrEnum):
    """What a baker can do with a mix."""

    MEASURE_AGAIN = "measure-again"
    ADD_HOT_WATER = "add-hot-water"
    STIR_DOWN = "stir-down"
    LET_FALL = "let-fall"
    ADD_MALT = "add-malt"
    WARM_ON = "warm-on"


@dataclass(frozen=True, slots=True)
class Advice:
    """One thing to do: in words, with the temperature it leads to, °C, water, g, and least and most minutes."""

    act: Act
    words: str
    to_c: float | None = None
    water_g: float | None = None
    minutes: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Day:
    """What was planned and what there is to act with."""

    scalding: Scalding
    """As planned, its waters in it."""
    planned: Mix
    kitchen: Kitchen
    hold_c: float
    coldest_c: float
    """Least that every part must have in the hold."""
    limit_c: float | None
    """The food code's hot-holding limit; None: no code is known."""
    spare_water_g: float = 0.0
    """Water of the final dough, which may go into the scald instead."""
    malt_g: float = 0.0

    @property
    def water_g(self) -> float:
        """Water poured."""
        return self.scalding.mass_g - self.scalding.flour.mass_g - sum(p.mass_g for p in self.scalding.others)


@dataclass(frozen=True, slots=True)
class MixDay:
    """What to do, in order, and from which temperature the hold then starts."""

    measured_c: float
    off_k: float
    """Measured less planned."""
    expected: bool
    """Whether it lies in the planned range."""
    advice: tuple[Advice, ...]
    start_c: float
    loss_j_k: float | None
    """What vessel and stirring took, J/K: for the next plan."""

    @property
    def words(self) -> str:
        """How the mix came out, in one sentence."""
        side = "hotter" if self.off_k > 0.0 else "colder"
        came = f"It came out at {self.measured_c:.1f} °C"
        if abs(self.off_k) < _AS_PLANNED_K:
            return f"{came}, as planned."
        open_ = "within what the plan left open" if self.expected else "more than the plan left open"
        return f"{came}, {abs(self.off_k):.1f} K {side} than planned, {open_}."


def mix_day(day: Day, measured_c: float) -> MixDay:
    """Return what to do with a mix that came out at `measured_c`. Raises ConfigError for what no paste can have."""
    if not 0.0 <= measured_c <= 102.0:
        raise ConfigError(
            f"A paste can't be at {measured_c:g} °C: measure again in the middle, after stirring."
        )
    off = measured_c - day.planned.temp_c
    expected = day.planned.low_c <= measured_c <= day.planned.high_c
    doubt = _doubt(day, measured_c)
    if doubt is not None:
        return MixDay(measured_c, off, expected, (doubt,), measured_c, None)
    advice = _hot(day, measured_c) if measured_c > AMYLASES_C else _cool(day, measured_c)
    start = next((a.to_c for a in reversed(advice) if a.to_c is not None), measured_c)
    return MixDay(measured_c, off, expected, tuple(advice), start, pooled_loss_j_k(day.scalding, measured_c))


def _doubt(day: Day, measured_c: float) -> Advice | None:
    """Tell a reading that heat can't have made."""
    highest = mix_c(replace(day.scalding, loss=Loss(0.0, 0.0)))
    if measured_c > highest + _BELIEVED_K:
        words = (
            f"Measure again: {measured_c:.1f} °C is more than flour and water can have made together ({highest:.1f} °C "
            "without any loss). Was it all the flour, and was the water weighed?"
        )
        return Advice(Act.MEASURE_AGAIN, words)
    if measured_c < day.scalding.surface.room_c:
        return Advice(Act.MEASURE_AGAIN, f"Measure again: {measured_c:.1f} °C is colder than the room.")
    return None


def _hot(day: Day, measured_c: float) -> list[Advice]:
    to_c = day.hold_c + _OVER_HOLD_K
    minutes = stirring_minutes(day.scalding, measured_c, to_c)
    lost = ""
    if measured_c > _LOST_C and not day.malt_g:
        lost = " The flour's own amylases are ending: without diastatic malt, below 70 °C, it gets little sweeter."
    words = (
        f"Stir it with the lid off until it reads {to_c:.0f} °C everywhere, some {minutes[0]:.0f} to "
        f"{minutes[1]:.0f} min: left alone its core would stay above 70 °C for an hour or more.{lost}"
    )
    return [Advice(Act.STIR_DOWN, words, to_c, None, minutes), *_malt(day, to_c, "then"), _lid(day, to_c)]


def _cool(day: Day, measured_c: float) -> list[Advice]:
    starch = day.scalding.starch
    advice: list[Advice] = []
    now_c = measured_c
    if starch.swollen(measured_c) < _SWOLLEN:
        hot = _hot_water(day, measured_c)
        if hot is not None:
            advice.append(hot)
            now_c = hot.to_c or now_c
    advice += _malt(day, now_c, "then" if advice else "now")
    if now_c > day.hold_c + _OVER_HOLD_K:
        words = f"Let it fall to {day.hold_c:g} °C by itself, lid on: it is below 70 °C, where amylases live."
        return [*advice, Advice(Act.LET_FALL, words, now_c)]
    return [*advice, _lid(day, now_c)]


def _lid(day: Day, now_c: float) -> Advice:
    starch = day.scalding.starch
    words = f"Lid on, and warm on to {day.hold_c:g} °C."
    swollen = starch.swollen(max(now_c, day.hold_c))
    if starch.swollen(now_c) < _SWOLLEN:
        words += (
            f" About {100 * starch.swollen(now_c):.0f} % of the {starch.name} starch has swollen; at {day.hold_c:g} °C "
            f"it will be about {100 * swollen:.0f} %."
        )
    if day.limit_c is not None and now_c < day.limit_c:
        words += (
            f" It is below the food code's {day.limit_c:g} °C: the time until every part is above counts, so begin "
            "now, stir on the way, and don't let it wait."
        )
    elif now_c < day.coldest_c:
        words += f" The hold's clock starts once every part has {day.coldest_c:g} °C; stirring on the way is quicker."
    return Advice(Act.WARM_ON, words, now_c)


def _hot_water(day: Day, measured_c: float) -> Advice | None:
    """Return how much boiling water, out of the dough's, would bring the paste over the end of its starch."""
    target = min(day.scalding.starch.end_c + _OVER_END_K, AMYLASES_C - _OVER_END_K)
    wanted = _hot_water_g(day, measured_c, target)
    water_g = min(wanted, day.spare_water_g)
    if wanted > day.spare_water_g:
        target = _after_hot_water_c(day, measured_c, water_g)
    if water_g < _LEAST_G or target < measured_c + _WORTH_K:
        return None
    ratio = day.water_g / day.scalding.flour.mass_g
    thinner = (day.water_g + water_g) / day.scalding.flour.mass_g
    words = (
        f"Stir in {water_g:.0f} g of boiling water out of the dough's {day.spare_water_g:.0f} g: it comes to about "
        f"{target:.0f} °C, the scald from 1:{ratio:.2g} to 1:{thinner:.2g}, and the bread keeps its hydration. "
        "Give the dough so much less."
    )
    return Advice(Act.ADD_HOT_WATER, words, target, water_g)


def _malt(day: Day, now_c: float, when: str) -> list[Advice]:
    if not day.malt_g:
        return []
    malt = replace(day.scalding.flour, mass_g=day.malt_g, temp_c=day.scalding.surface.room_c)
    cools = malt.heat_j(now_c) / (paste_j_k(day.scalding, now_c) + 1e-9)
    words = f"The malt ({day.malt_g:.3g} g) may go in {when}: it is below 70 °C. It cools the paste by {cools:.1f} K."
    if now_c < AMYLASES_C - 5.0 and now_c < day.coldest_c:
        words = f"The malt ({day.malt_g:.3g} g) may go in {when}; it works faster at {day.hold_c:g} °C."
    return [Advice(Act.ADD_MALT, words, now_c - cools)]


def stirring_minutes(s: Scalding, from_c: float, to_c: float) -> tuple[float, float]:
    """Return the least and the most minutes of stirring in the open from one temperature down to another."""
    if from_c <= to_c:
        return 0.0, 0.0
    low, high = open_w_m2(min(0.5 * (from_c + to_c), 99.0), s.surface)
    heat = paste_j_k(s, from_c) * (from_c - to_c)
    return heat / (high * s.surface.area_m2) / 60.0, heat / (low * s.surface.area_m2) / 60.0


def paste_j_k(s: Scalding, temp_c: float) -> float:
    """Return the heat capacity of paste and vessel, J/K."""
    return _paste(s, temp_c).heat_j(temp_c) - _paste(s, temp_c).heat_j(temp_c - 1.0) + _vessel_j_k(s)


def _paste(s: Scalding, temp_c: float) -> Portion:
    """All that is in the bowl as one body; what goes in beside flour and water is taken as water."""
    ratio = (s.mass_g - s.flour.mass_g) / s.flour.mass_g
    return Portion(s.mass_g, temp_c, wetted(s.flour.made_of, ratio))


def _vessel_j_k(s: Scalding) -> float:
    return s.vessel.j_k if s.loss is None else s.loss.j_k


def _needed_j(day: Day, from_c: float, to_c: float) -> float:
    """Heat that takes paste, vessel and starch from one temperature to another, J."""
    s = day.scalding
    swelling = s.flour.mass_g / 1000.0 * s.swelling * swelling_j_kg(s.flour.made_of)
    swelling *= s.starch.swollen(to_c) - s.starch.swollen(from_c)
    return _paste(s, from_c).heat_j(to_c) + _vessel_j_k(s) * (to_c - from_c) + swelling


def _hot_water_g(day: Day, from_c: float, to_c: float) -> float:
    gives = -Portion(1.0, day.kitchen.hot_c).heat_j(to_c)
    return _needed_j(day, from_c, to_c) / gives


def _after_hot_water_c(day: Day, from_c: float, water_g: float) -> float:
    low, high = from_c, day.kitchen.hot_c
    while high - low > 1e-3:
        middle = 0.5 * (low + high)
        gives = -Portion(water_g, day.kitchen.hot_c).heat_j(middle)
        low, high = (middle, high) if _needed_j(day, from_c, middle) < gives else (low, middle)
    return low
