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
from holdctl.plan import bounds
from holdctl.plan.course import ALONE, LONGEST_S, Baker, Course, Start, begin
from holdctl.plan.falling import cooled_from_s, too_slow
from holdctl.plan.keeping import Kept, judge
from holdctl.plan.legs import first_c, legs_of
from holdctl.plan.pacing import SETTLED_S
from holdctl.plan.runner import Runner
from holdctl.plan.warmer import KnownWarmer, known_warmer
from holdctl.settings import Settings

if TYPE_CHECKING:
    from holdctl.control.model import Floats

MIX = 0.6408
"""Where 10 and 90 % of mixes lie in their range, −1 to 1, whose ends are two standard deviations away."""
SKIN_S = 600.0
"""Before this the coldest paste is a skin at a cold wall, thinner than a millimetre: not told as coldest on the way."""
STRONG_DUTY = 0.7
"""A heater that needs more than this in the hold has no reserve for a colder room or low mains (this project's)."""
SLOW = 2.0
"""Where the paste's own thickness makes the come-up this many times longer than moving it all the time would …"""
LONG_S = 2 * 3600.0
"""… and longer than this, the layer is too thick."""


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
    """Until the last step is done; None, too, where one is not done within a day."""
    coldest_c: tuple[float, float]
    """On the way, after ten minutes: expected, and low bound."""
    hottest_c: tuple[float, float]
    """On the way: expected, and high bound."""
    hold_c: tuple[float, float]
    """Coldest and hottest at the end of the holds, expected."""
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
    slow_fall: str = ""
    """Which fall is too slow for the code's cooling rule, in one sentence."""

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
    most_mix_c: float = 100.0
    """The hottest mix that boiling water makes of this scald."""

    @property
    def setpoint_c(self) -> float:
        """Of the first hold step, °C."""
        return first_c(self.settings.programme)

    @property
    def hold_s(self) -> float:
        """The first hold step; 0 without one."""
        first = next((step for step in self.settings.programme.step if step.hold_for), None)
        return 0.0 if first is None or first.hold_for is None else duration_ms(first.hold_for) / 1000

    def warmer(self) -> KnownWarmer:
        """Return what is known of the warmer."""
        return known_warmer(self.settings, self.known, self.start.paste_c)

    def wish(self, start_c: float, to_c: float | None = None) -> Wish:
        """Return what the hold will strive for at a set temperature, the first hold's where None, °C."""
        first = start_c if self.baker.down_to_c is None else min(start_c, self.baker.down_to_c)
        wanted_c = self.setpoint_c if to_c is None else to_c
        return wish_for(self.settings, wanted_c, max(self.settings.programme.ceiling, first))

    def runner(self, model: ThermalModel, where: float = 0.0, open_at: float = 0.0) -> Runner:
        """Return what runs a model of this warmer; `where` the mix and an open surface's loss lie in their ranges."""
        start_c = self.start.paste(where)
        modes = begin(model, self.start, where)
        if self.waited_s > 0.0:
            modes = model.advance(modes, 0.0, self.waited_s)
        legs, cycle_s = legs_of(self.settings.programme), self.settings.warmer.cycle_s
        return Runner(model, lambda to_c: self.wish(start_c, to_c), modes, legs, cycle_s, open_at)


def foretell(night: Night, pairs: int | None = None) -> NightForecast:
    """Return the forecast; `pairs` of other warmers are drawn. Raises ConfigError where settings lack something."""
    warmer = night.warmer()
    model = warmer.model()
    course = night.runner(model).run(night.baker, whole=True)
    longest = LONGEST_S if course.band_s is None else min(LONGEST_S, 3.0 * course.band_s + 2 * 3600.0)
    drawn = warmer.drawn() if pairs is None else warmer.drawn(pairs)
    others = [
        night.runner(other, 0.0, at).run(night.baker, longest, whole=True, skim=True)
        for other, at in zip(drawn, bounds.open_at(len(drawn)), strict=True)
    ]
    mixes = [
        night.runner(model, where).run(night.baker, longest, whole=True, skim=True) for where in (-MIX, MIX)
    ]
    own, place = night.settings.programme, night.wish(night.setpoint_c).place
    band = bounds.band(own, course, others, mixes, longest)
    cold, hot = zip(*[_on_the_way(one) for one in (course, *others)], strict=True)
    ways = [_on_the_way(one) for one in mixes]
    rules, late = _judged(night, course, [*others, *mixes])
    ready = bounds.ready(own, band, course, [*others, *mixes])
    even = replace(warmer, told=replace(warmer.told, stirred=True)).model()
    return NightForecast(
        course=course,
        learnt=warmer.learnt,
        band_s=band,
        ready_s=ready,
        coldest_c=(
            cold[0],
            cold[0]
            - bounds.off(cold[0] - bounds.quantile(cold, bounds.EARLY), max(cold[0] - w[0] for w in ways)),
        ),
        hottest_c=(
            hot[0],
            hot[0] + bounds.off(bounds.quantile(hot, bounds.LATE) - hot[0], max(w[1] - hot[0] for w in ways)),
        ),
        hold_c=_in_the_holds(night, course),
        rules=rules,
        energy_j=course.energy_j(math.inf if ready is None else ready[1]),
        duty=_holding_duty(model, night),
        even_band_s=course.band_s if warmer.told.stirred else night.runner(even).run().band_s,
        late_course=late,
        slow_fall=too_slow(model, place, own, code_of(night.settings)),
    )


def _in_the_holds(night: Night, course: Course) -> tuple[float, float]:
    """Return the coldest and hottest paste at the holds' ends, °C; at the end of the run where none was run."""
    steps = night.settings.programme.step
    ends = [
        span.ended_s
        for span in course.spans
        if span.ended_s is not None and span.number and steps[span.number - 1].hold_for
    ] or [float(course.t_s[-1])]
    found = [course.at_c(end_s) for end_s in ends]
    return min(one[0] for one in found), max(one[1] for one in found)


def _on_the_way(course: Course) -> tuple[float, float]:
    upto = math.inf if course.band_s is None else max(course.band_s, SKIN_S)
    return course.extremes_c(SKIN_S, upto)[0], course.extremes_c(0.0, upto)[1]


def _judged(night: Night, course: Course, others: list[Course]) -> tuple[tuple[Kept, ...], Course]:
    """Return the rules on the late bound, and the course that it is taken from: by how long it is under the limit."""
    own, hot_c = night.settings.programme, code_of(night.settings).hot_holding_c

    def upto_s(one: Course) -> float:
        come_up_s = math.inf if one is course or one.band_s is None else one.band_s + SETTLED_S
        return min(come_up_s, cooled_from_s(own, one, hot_c))

    ranked = sorted((course, *others), key=lambda one: one.below_s(hot_c, upto_s=upto_s(one)))
    own_rank = next(n for n, one in enumerate(ranked) if one is course)
    late = ranked[max(round(bounds.LATE * (len(ranked) - 1)), own_rank)]
    upto = late.t_s <= upto_s(late)
    return tuple(judge(night.settings, late.t_s[upto], late.coldest_c[upto], night.waited_s)), late


def _holding_duty(model: ThermalModel, night: Night) -> float:
    wish = night.wish(night.setpoint_c)
    full: Floats = model.row(wish.place) @ model.steady_rise
    return float((night.setpoint_c - model.parameters.ambient_c) / full)
