"""A night foretold: when every part is in range, how cold and hot the paste gets, what a stir is worth, and the code.

The warmer that is believed is run once with the baker as planned; others that it may be as well give early and late
(`holdctl.plan.warmer`). What the code asks is judged on the coldest paste of the model, with the late bound. Pure.
"""

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from holdctl.control.model import ThermalModel
from holdctl.control.wish import Wish, wish_for
from holdctl.events import Identified
from holdctl.food.codes import code_of
from holdctl.hold.programme import duration_ms
from holdctl.plan.course import ALONE, LONGEST_S, Baker, Course, Runner, Start, begin
from holdctl.plan.falling import falls_s, too_slow
from holdctl.plan.keeping import Kept, judge
from holdctl.plan.warmer import KnownWarmer, known_warmer
from holdctl.settings import Settings

if TYPE_CHECKING:
    from holdctl.control.model import Floats

EARLY, LATE = 0.1, 0.9
MIX = 0.6408
"""Where 10 and 90 % of mixes lie in their range, −1 to 1, whose ends are two standard deviations away."""
SKIN_S = 600.0
"""Before this the coldest paste is a skin at a cold wall, thinner than a millimetre: not told as coldest on the way."""
MODEL_SD = 0.06
"""A forecast is not surer than this share of what it foretells: measured on simulated warmers, see docs/plan.md."""
STRONG_DUTY = 0.7
"""A heater that needs more than this in the hold has no reserve for a colder room or low mains (this project's)."""
SLOW = 2.0
"""Where the paste's own thickness makes the come-up this many times longer than moving it all the time would …"""
LONG_S = 2 * 3600.0
"""… and longer than this, the layer is too thick."""
_GOLDEN = 0.6180339887498949
"""Multiples of it fill a range evenly, in an order that goes with nothing else that is drawn."""


@dataclass(frozen=True, slots=True)
class NightForecast:
    """One night; seconds from the start, °C."""

    course: Course
    """As expected, with the baker's stirs, to the end of the hold."""
    learnt: bool
    """Whether the warmer was identified by an earlier hold."""
    band_s: tuple[float, float, float] | None
    """Until every part is in range: early, expected, late; None: not within a day."""
    ready_s: tuple[float, float, float] | None
    """Until the last hold or fall is done; None, too, where a fall is not done within a day."""
    coldest_c: tuple[float, float]
    """On the way, after ten minutes: expected, and low bound."""
    hottest_c: tuple[float, float]
    """On the way: expected, and high bound."""
    hold_c: tuple[float, float]
    """Coldest and hottest at the end of the hold, expected."""
    rules: tuple[Kept, ...]
    """What the code's times make of it, on its late bound; the worst first."""
    energy_j: float
    """Of the heater, until the programme is done."""
    duty: float
    """Needed in the hold, 0 to 1."""
    even_band_s: float | None
    """Until in range if the paste were kept moving: what the heater alone needs."""
    late_course: Course
    """The one of the other warmers whose coldest paste is longest under the code's limit."""
    fall_s: tuple[float, float, float] | None = (0.0, 0.0, 0.0)
    """What falls after a hold take, in `ready_s`; None: more than a day."""
    slow_fall: str = ""
    """Which of them is too slow for the code's cooling rule, in one sentence."""

    @property
    def kept(self) -> bool:
        """Whether every rule with a time is kept."""
        return all(rule.kept for rule in self.rules)

    @property
    def strong(self) -> bool:
        """Whether the heater has a reserve in the hold."""
        return self.duty <= STRONG_DUTY

    @property
    def thick(self) -> bool:
        """Whether the paste's own thickness, not the heater, makes the come-up."""
        if self.even_band_s is None:
            return False
        band = LONGEST_S if self.course.band_s is None else self.course.band_s
        return band > max(LONG_S, SLOW * self.even_band_s)


@dataclass(frozen=True, slots=True)
class Night:
    """What is to be foretold: settings with their programme, how it starts, what is known, what the baker does."""

    settings: Settings
    start: Start
    known: Identified | None = None
    baker: Baker = ALONE
    waited_s: float = 0.0
    """Between mixing and the start: the mixed paste stands in the cold warmer and cools."""

    @property
    def setpoint_c(self) -> float:
        """Of the first hold step, °C; 65 without one."""
        return next((s.to for s in self.settings.programme.step if s.hold_for and s.to is not None), 65.0)

    @property
    def hold_s(self) -> float:
        """All hold steps together."""
        return sum(duration_ms(s.hold_for) for s in self.settings.programme.step if s.hold_for) / 1000

    def warmer(self) -> KnownWarmer:
        """Return what is known of the warmer."""
        return known_warmer(self.settings, self.known, self.start.paste_c)

    def wish(self, start_c: float) -> Wish:
        """Return what the hold will strive for."""
        first = start_c if self.baker.down_to_c is None else min(start_c, self.baker.down_to_c)
        return wish_for(self.settings, self.setpoint_c, max(self.settings.programme.ceiling, first))

    def runner(self, model: ThermalModel, where: float = 0.0, open_at: float = 0.0) -> Runner:
        """Return what runs a model of this warmer; `where` the mix and an open surface's loss lie in their ranges."""
        start_c = self.start.paste(where)
        modes = begin(model, self.start, where)
        if self.waited_s > 0.0:
            modes = model.advance(modes, 0.0, self.waited_s)
        return Runner(model, self.wish(start_c), modes, self.settings.warmer.cycle_s, open_at)


def foretell(night: Night, pairs: int | None = None) -> NightForecast:
    """Return the forecast; `pairs` of other warmers are drawn. Raises ConfigError where settings lack something."""
    warmer = night.warmer()
    model = warmer.model()
    course = night.runner(model).run(night.baker, night.hold_s)
    longest = LONGEST_S if course.band_s is None else min(LONGEST_S, 3.0 * course.band_s + 2 * 3600.0)
    drawn = warmer.drawn() if pairs is None else warmer.drawn(pairs)
    others = [
        night.runner(other, 0.0, at).run(night.baker, 0.0, longest)
        for other, at in zip(drawn, _open_at(len(drawn)), strict=True)
    ]
    mixes = [night.runner(model, where).run(night.baker, 0.0, longest) for where in (-MIX, MIX)]
    came, mixed = ([longest if o.band_s is None else o.band_s for o in some] for some in (others, mixes))
    band = _range(course.band_s, came, mixed)
    cold, hot = zip(*[_on_the_way(one) for one in (course, *others)], strict=True)
    ways = [_on_the_way(one) for one in mixes]
    rules, late = _judged(night, course, [*others, *mixes])
    end = math.inf if course.band_s is None else course.band_s + night.hold_s
    own, place = night.settings.programme, night.wish(night.setpoint_c).place
    fall = falls_s(model, drawn, place, own)
    even = replace(warmer, told=replace(warmer.told, stirred=True)).model()
    return NightForecast(
        course=course,
        learnt=warmer.learnt,
        band_s=band,
        ready_s=_ready(band, course.down_s + night.baker.hands_s, night.hold_s, fall),
        coldest_c=(
            cold[0],
            cold[0] - _off(cold[0] - _quantile(cold, EARLY), max(cold[0] - w[0] for w in ways)),
        ),
        hottest_c=(hot[0], hot[0] + _off(_quantile(hot, LATE) - hot[0], max(w[1] - hot[0] for w in ways))),
        hold_c=course.at_c(float(course.t_s[-1])),
        rules=rules,
        energy_j=course.energy_j(end),
        duty=_holding_duty(model, night),
        even_band_s=course.band_s if warmer.told.stirred else night.runner(even).run().band_s,
        late_course=late,
        fall_s=fall,
        slow_fall=too_slow(model, place, own, code_of(night.settings)),
    )


def _open_at(runs: int) -> list[float]:
    """Return where an open surface's loss lies in each of so many runs: evenly over its range, in a mixed order."""
    return [2.0 * ((n * _GOLDEN) % 1.0) - 1.0 for n in range(1, runs + 1)]


def _range(
    expected: float | None, others: list[float], mixes: list[float]
) -> tuple[float, float, float] | None:
    """Return early, expected and late, s; other warmers and other mixes count beside each other, in squares."""
    if expected is None:
        return None
    own = 1.2816 * MODEL_SD * expected
    early = expected - _off(own, expected - _quantile(others, EARLY), expected - min(mixes))
    late = expected + _off(own, _quantile(others, LATE) - expected, max(mixes) - expected)
    return max(0.0, early), expected, late


def _off(*parts: float) -> float:
    """Return by how much independent parts move a figure together; one that moves it the other way counts not."""
    return math.hypot(*(max(0.0, part) for part in parts))


Three = tuple[float, float, float]


def _ready(band: Three | None, hands_s: float, hold_s: float, fall: Three | None) -> Three | None:
    """Return the ends of holds that begin when every part is in range and the baker is done, and of falls after."""
    if band is None or fall is None:
        return None
    early, expected, late = (
        max(one, hands_s) + hold_s + fallen for one, fallen in zip(band, fall, strict=True)
    )
    return early, expected, late


def _on_the_way(course: Course) -> tuple[float, float]:
    upto = math.inf if course.band_s is None else max(course.band_s, SKIN_S)
    return course.extremes_c(SKIN_S, upto)[0], course.extremes_c(0.0, upto)[1]


def _judged(night: Night, course: Course, others: list[Course]) -> tuple[tuple[Kept, ...], Course]:
    """Return the rules on the late bound, and the course that it is taken from."""
    found = [(judge(night.settings, o.t_s, o.coldest_c, night.waited_s), o) for o in (course, *others)]

    def used(pair: tuple[list[Kept], Course]) -> float:
        return max((rule.used_s - rule.limit_s for rule in pair[0]), default=0.0)

    ranked = sorted(found, key=used)
    at = max(round(LATE * (len(ranked) - 1)), ranked.index(found[0]))
    return tuple(ranked[at][0]), ranked[at][1]


def _holding_duty(model: ThermalModel, night: Night) -> float:
    wish = night.wish(night.setpoint_c)
    full: Floats = model.row(wish.place) @ model.steady_rise
    return float((night.setpoint_c - model.parameters.ambient_c) / full)


def _quantile(values: "tuple[float, ...] | list[float]", share: float) -> float:
    import numpy as np

    return float(np.quantile(values, share)) if len(values) else math.nan
