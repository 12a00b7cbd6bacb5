"""A programme run ahead in one model: the mix stirred down, malt and lid, stirs on the way, then step by step.

As the hold does it: a hold's clock begins once every part is in range and the baker is done, a fall goes on with the
relay off until its hottest paste is there, a prompt keeps its own temperature until it is answered. Pure.
"""

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from holdctl.control.march import March, reach
from holdctl.control.model import ThermalModel
from holdctl.control.wish import Wish
from holdctl.plan.course import ALONE, LONGEST_S, STIR_S, Baker, Course, Span
from holdctl.plan.legs import ANSWER_S, Leg
from holdctl.plan.pacing import FIRST_S, FIRST_STEP_S, SETTLED_S, step_s
from holdctl.plan.spoon import MIX_S, Spoon

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

NEAR_K = 0.5
"""The end of a fall is looked for in short steps from here on."""
SKIMMED_S = 3600.0
"""A hold that has settled and lasts for longer than this may be taken to end in its steady profile."""
LONGEST_DOWN_S = 3600.0
"""Nobody stirs a mix down for longer."""


class Runner:
    """Runs one model from one start; `run` may be called for several bakers."""

    def __init__(
        self,
        model: ThermalModel,
        wish: Callable[[float], Wish],
        start: "Floats",
        legs: tuple[Leg, ...],
        cycle_s: float,
        open_at: float = 0.0,
    ) -> None:
        """`wish` is asked for each set temperature, °C; `open_at` is where an open surface's loss lies between the
        published rules, −1 (least) to 1 (most).
        """
        self.model, self.wish, self.start, self.legs, self.cycle_s = model, wish, start, legs, cycle_s
        self.open_at = open_at

    def run(
        self,
        baker: Baker = ALONE,
        longest_s: float = LONGEST_S,
        *,
        whole: bool = False,
        skim: bool = False,
    ) -> Course:
        """Return the course until every part is in range for good, `longest_s` at most; `whole`: to the last step.

        With `skim` a long hold is not run through.
        """
        return _Run(self, baker, longest_s).go(whole, skim)


class _Run:
    """One run; times in s, temperatures as excess over the room unless named `_c`."""

    def __init__(self, runner: Runner, baker: Baker, longest_s: float) -> None:
        self._model, self._wish, self._cycle_s = runner.model, runner.wish, runner.cycle_s
        self._legs, self._baker, self._longest_s = runner.legs, baker, longest_s
        self._ambient = self._model.parameters.ambient_c
        self._spoon = Spoon(self._model, runner.open_at)
        self._first_c = next(leg.to_c for leg in runner.legs if leg.hold_s is not None) or 0.0
        self._set_c = self._first_c
        self._march = self._marching(runner.start)
        self._rows: list[tuple[float, ...]] = []
        self._spans: list[Span] = []
        self._time_s = self._entered_s = self._down_s = self._way_s = 0.0
        self._ends_of: Floats | None = None
        self._last_ends = (0.0, 0.0)
        self._calm_s = FIRST_S
        self._since_s: float | None = None
        self._band_s: float | None = None

    def go(self, whole: bool, skim: bool) -> Course:
        self._stir_down()
        self._way()
        for leg in self._legs:
            self._entered_s = self._time_s
            span = self._leg(leg, skim, hold=whole)
            self._spans.append(span)
            if span.ended_s is None or (leg.hold_s is not None and not whole):
                break
        self._note(0.0)
        return self._course()

    def _course(self) -> Course:
        import numpy as np

        t_s, coldest, hottest, mean, place, wall, duty = np.array(self._rows).T
        c = self._ambient
        return Course(
            t_s, coldest + c, hottest + c, mean + c, place + c, wall + c, duty, self._band_s, self._down_s,
            self._model.geometry.power_w, tuple(self._spans), self._way_s,
        )  # fmt: skip

    def _marching(self, modes: "Floats") -> March:
        """Return what drives the model to the set temperature, from here."""
        wish = self._wish(self._set_c)
        self._low, self._high = reach(self._model, wish)
        return March(self._model, modes, 0.0, wish, self._cycle_s)

    def _set(self, to_c: float) -> None:
        if to_c != self._set_c:
            self._set_c = to_c
            self._march = self._marching(self._march.modes)
            self._since_s, self._calm_s = None, self._time_s + FIRST_S

    @property
    def _ends(self) -> tuple[float, float]:
        """Coldest and hottest paste now, reckoned once."""
        if self._ends_of is not self._march.modes:
            self._ends_of, self._last_ends = self._march.modes, self._march.extremes
        return self._last_ends

    def _look(self) -> bool:
        """Return whether every part is in range now, and keep since when."""
        coldest, hottest = self._ends
        inside = coldest >= self._low and hottest <= self._high
        if not inside:
            self._since_s = None
        elif self._since_s is None:
            self._since_s = self._time_s
        return inside

    def _pass(self, heated: bool, upto_s: float = math.inf) -> None:
        """Let one step pass, which ends at a moment at the latest."""
        duty = self._march.asked() if heated else 0.0
        self._note(duty)
        usual_s = step_s(self._time_s, self._calm_s, self._since_s, self._spoon.lid.short_k)
        took_s = min(usual_s, max(1.0, upto_s - self._time_s))
        self._march.pass_by(took_s, duty)
        self._spoon.rest(self._march, took_s)
        self._time_s += took_s

    def _note(self, duty: float) -> None:
        march = self._march
        self._rows.append((self._time_s, *self._ends, march.mean, march.place, march.wall, duty))

    def _stir_down(self) -> None:
        """Stir until the mix has come down, the heater off."""
        down_c = self._baker.down_to_c
        if down_c is None:
            return
        while self._march.mean > down_c - self._ambient and self._time_s < LONGEST_DOWN_S:
            self._note(0.0)
            self._stir(MIX_S, 0.0)
        self._down_s = self._time_s

    def _way(self) -> None:
        """Malt and lid, then the stirs on the way: each at its time, none once every part is in range."""
        stirs = [] if self._model.geometry.stirred else sorted(self._baker.stirs_s)
        busy_s = self._time_s + self._baker.hands_s
        while (stirs or self._time_s < busy_s) and self._time_s < self._longest_s:
            if self._look() and self._time_s >= busy_s:
                break
            if stirs and stirs[0] <= self._time_s:
                stirs.pop(0)
                duty = self._march.asked()
                self._note(duty)
                self._stir(STIR_S, duty)
            else:
                self._pass(True, stirs[0] if stirs else busy_s)
        self._way_s = self._time_s

    def _leg(self, leg: Leg, skim: bool, *, hold: bool) -> Span:
        if leg.hold_s is not None:
            return self._hold(leg, leg.hold_s if hold else 0.0, skim)
        if leg.fall_to_c is not None:
            return self._fall(leg, leg.fall_to_c)
        return self._prompt(leg)

    def _hold(self, leg: Leg, hold_s: float, skim: bool) -> Span:
        self._set(self._first_c if leg.to_c is None else leg.to_c)
        begun_s: float | None = None
        most_s = self._longest_s if self._band_s is None else self._entered_s + LONGEST_S
        while begun_s is not None or self._time_s < most_s:
            self._look()
            if begun_s is None and self._since_s is not None:
                begun_s = self._settled(hold_s)
            if begun_s is None:
                self._pass(True)
                continue
            end_s = begun_s + hold_s
            if skim and end_s - self._time_s > SKIMMED_S:
                self._rest(end_s)
            if self._time_s >= end_s:
                return Span(leg.number, self._entered_s, begun_s, end_s)
            self._pass(True, end_s)
        return Span(leg.number, self._entered_s, self._time_s if begun_s is None else begun_s, None)

    def _settled(self, hold_s: float) -> float | None:
        """Return since when the clock runs, once every part has been in range for good, or for all of a short hold."""
        since_s = self._time_s if self._since_s is None else self._since_s
        begun_s = max(since_s, self._entered_s)
        wanted_s = min(hold_s, SETTLED_S) if hold_s > 0.0 else SETTLED_S
        if self._time_s - since_s < wanted_s:
            return None
        if self._band_s is None:
            self._band_s = since_s
        return begun_s

    def _rest(self, end_s: float) -> None:
        """Take the hold to be in its steady profile at its end."""
        self._note(self._march.asked())
        place = self._march.wish.place
        rest = (self._set_c - self._ambient) * self._model.holding(place)
        self._march.modes = self._model.begin(rest)
        self._time_s = end_s

    def _fall(self, leg: Leg, to_c: float) -> Span:
        begun_s, self._since_s, self._calm_s = self._time_s, None, self._time_s + FIRST_S
        while (above_k := self._march.extremes[1] + self._ambient - to_c) > 0.0:
            if self._time_s - begun_s >= LONGEST_S:
                return Span(leg.number, begun_s, begun_s, None)
            self._pass(False, math.inf if above_k > NEAR_K else self._time_s + FIRST_STEP_S)
        return Span(leg.number, begun_s, begun_s, self._time_s)

    def _prompt(self, leg: Leg) -> Span:
        entered_s = self._time_s
        heated = leg.to_c is not None
        if leg.to_c is not None:
            self._set(leg.to_c)
        asked_s = entered_s + (leg.due_s or 0.0)
        while leg.due_s is not None and self._time_s < asked_s:
            if self._look():
                return Span(leg.number, entered_s, self._time_s, self._time_s, True)
            self._pass(heated, asked_s)
        answered_s = self._time_s + ANSWER_S
        while self._time_s < answered_s:
            self._look()
            self._pass(heated, answered_s)
        return Span(leg.number, entered_s, asked_s, self._time_s)

    def _stir(self, seconds: float, duty: float) -> None:
        self._spoon.stir(self._march, seconds, duty)
        self._time_s += seconds
