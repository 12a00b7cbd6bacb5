"""One night run ahead in a model, as a curve: from the mix to the end of the hold, with the baker's stirs in it."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.march import March, reach
from holdctl.control.model import MEDIUM, PASTE, ThermalModel
from holdctl.control.wish import Wish
from holdctl.paste.evaporation import Surface, open_w_m2
from holdctl.plan.lid import LidHeat

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

FIRST_STEP_S, STEP_S, LATE_STEP_S = 20.0, 60.0, 120.0
FIRST_S = 1200.0
"""So long the first step: hot paste and a cold wall change each other fast."""
LONGEST_S = 24 * 3600.0
SETTLED_S = 1800.0
"""In range for so long is for good."""
STIR_S = 60.0
"""A stir takes so long, the lid off."""
MIX_S = 3.0
"""One round of the spoon: after it the paste is even, and hot walls have new paste at them, which takes up more heat
than paste at rest."""
LONGEST_DOWN_S = 3600.0
"""Nobody stirs a mix down for longer."""
LID_K = 1.0
"""While a lid is colder by more than this steps are short."""
STIRRED_FACTOR = 1.5
"""Loss of an open surface that moves, against one at rest (common sense, no source)."""


@dataclass(frozen=True, slots=True)
class Start:
    """How the night begins, °C: the mix with its range; vessel and warmer, the mix's own where None."""

    paste_c: float
    low_c: float
    high_c: float
    vessel_c: float | None = None
    """Bottom and side of the vessel."""
    warmer_c: float | None = None
    """Heater, and water or air about the vessel; the vessel's where None."""

    def paste(self, where: float) -> float:
        """Return the mix's temperature at a place in its range, −1 (lowest) to 1."""
        side = self.high_c - self.paste_c if where > 0 else self.paste_c - self.low_c
        return self.paste_c + where * side


@dataclass(frozen=True, slots=True)
class Baker:
    """What the baker does: how far the mix is stirred down first, °C, and at what times it is stirred, s."""

    down_to_c: float | None = None
    hands_s: float = 0.0
    """How long malt and lid take after that: a hold's clock does not run before."""
    stirs_s: tuple[float, ...] = ()


ALONE = Baker()


@dataclass(frozen=True, slots=True)
class Course:
    """What a run goes through: s, °C, and the duty from each moment to the next."""

    t_s: "Floats"
    coldest_c: "Floats"
    hottest_c: "Floats"
    mean_c: "Floats"
    place_c: "Floats"
    wall_c: "Floats"
    duty: "Floats"
    band_s: float | None
    """From here on every part is in range for good; None: not within the run."""
    down_s: float
    """How long the mix was stirred down."""
    power_w: float

    @property
    def steps_s(self) -> "Floats":
        """Length of each step."""
        import numpy as np

        return np.diff(self.t_s, append=self.t_s[-1])

    def energy_j(self, upto_s: float = math.inf) -> float:
        """Return the heater's energy until a moment, J."""
        return float((self.duty * self.steps_s)[self.t_s < upto_s].sum() * self.power_w)

    def below_s(self, limit_c: float, floor_c: float = -math.inf) -> float:
        """Return for how long the coldest paste is under a limit, and over a floor, s."""
        found = (self.coldest_c < limit_c) & (self.coldest_c > floor_c)
        return float(self.steps_s[found].sum())

    def above_s(self, limit_c: float) -> float:
        """Return for how long the hottest paste is over a limit, s."""
        return float(self.steps_s[self.hottest_c > limit_c].sum())

    def at_c(self, t_s: float) -> tuple[float, float]:
        """Return coldest and hottest paste at a moment, °C."""
        import numpy as np

        return (
            float(np.interp(t_s, self.t_s, self.coldest_c)),
            float(np.interp(t_s, self.t_s, self.hottest_c)),
        )

    def extremes_c(self, from_s: float, upto_s: float) -> tuple[float, float]:
        """Return coldest and hottest paste of a stretch, °C; those at its begin where it has no moment in it."""
        found = (self.t_s >= from_s) & (self.t_s <= upto_s)
        if not found.any():
            return self.at_c(from_s)
        return float(self.coldest_c[found].min()), float(self.hottest_c[found].max())


def begin(model: ThermalModel, start: Start, where: float = 0.0) -> "Floats":
    """Return the modes of a model at the start; `where` in the range of the mix, −1 to 1."""
    import numpy as np

    paste = start.paste(where)
    vessel = paste if start.vessel_c is None else start.vessel_c
    warmer = vessel if start.warmer_c is None else start.warmer_c
    temps = np.full(model.nodes, vessel)
    temps[: MEDIUM + 1] = warmer
    temps[PASTE:] = paste
    return model.begin(temps - model.parameters.ambient_c)


class Runner:
    """Runs one model from one start; `run` may be called for several bakers."""

    def __init__(
        self, model: ThermalModel, wish: Wish, start: "Floats", cycle_s: float, open_at: float = 0.0
    ) -> None:
        """`open_at` is where an open surface's loss lies between the published rules, −1 (least) to 1 (most)."""
        self._model, self._wish, self._start, self._cycle_s = model, wish, start, cycle_s
        self._open = open_at
        self._ambient, self._power_w = model.parameters.ambient_c, model.geometry.power_w
        self._low, self._high = reach(model, wish)

    def run(self, baker: Baker = ALONE, hold_s: float = 0.0, longest_s: float = LONGEST_S) -> Course:
        """Return the course until `hold_s` after every part is in range, SETTLED_S at least, `longest_s` at most."""
        import numpy as np

        march = March(self._model, self._start, 0.0, self._wish, self._cycle_s)
        rows: list[tuple[float, ...]] = []
        lid = LidHeat(self._model.geometry)
        down_s = time_s = self._stirred_down(march, baker, lid, rows)
        stirs = [] if self._model.geometry.stirred else sorted(baker.stirs_s)
        since: float | None = None
        while time_s < longest_s:
            while stirs and stirs[0] <= time_s:
                stirs.pop(0)
                duty = march.asked()
                rows.append(self._row(march, time_s, duty))
                self._stir(march, STIR_S, duty, lid)
                time_s += STIR_S
            duty = march.asked()
            rows.append(self._row(march, time_s, duty))
            inside = rows[-1][1] >= self._low and rows[-1][2] <= self._high
            since = (time_s if since is None else since) if inside else None
            if since is not None and time_s - since >= max(SETTLED_S, hold_s):
                break
            step_s = FIRST_STEP_S if lid.short_k > LID_K else _step_s(time_s, since, stirs)
            march.pass_by(step_s, duty)
            if lid.short_k > 0.0:
                march.chill_top(lid.on(step_s))
            time_s += step_s
        columns = np.array(rows).T
        t_s, coldest, hottest, mean, place, wall, duty = columns
        c = self._ambient
        return Course(
            t_s, coldest + c, hottest + c, mean + c, place + c, wall + c, duty, since, down_s, self._power_w
        )

    def _stirred_down(self, march: March, baker: Baker, lid: LidHeat, rows: list[tuple[float, ...]]) -> float:
        """Stir until the mix has come down, the heater off; return how long that took, s."""
        time_s = 0.0
        while (
            baker.down_to_c is not None
            and march.mean > baker.down_to_c - self._ambient
            and time_s < LONGEST_DOWN_S
        ):
            rows.append(self._row(march, time_s, 0.0))
            self._stir(march, MIX_S, 0.0, lid)
            time_s += MIX_S
        return time_s

    def _stir(self, march: March, seconds: float, duty: float, lid: LidHeat) -> None:
        """Let a stir take its time: the paste is evened out again and again, the lid beside the vessel."""
        lid.off(march.mean + self._ambient, seconds)
        for _ in range(max(1, round(seconds / MIX_S))):
            march.stir(self._stir_k(march, MIX_S))
            march.pass_by(MIX_S, duty)
        march.stir()

    def _row(self, march: March, time_s: float, duty: float) -> tuple[float, ...]:
        coldest, hottest = march.extremes
        return (time_s, coldest, hottest, march.mean, march.place, march.wall, duty)

    def _stir_k(self, march: March, seconds: float) -> float:
        """Return by how much a stir of some seconds changes the paste beside evening it out, K."""
        area_m2 = math.pi * self._model.geometry.radius_m**2
        least, most = open_w_m2(min(99.0, march.mean + self._ambient), Surface(area_m2, self._ambient))
        between = math.sqrt(least * most) * math.exp(0.5 * self._open * math.log(most / least))
        lost_w = STIRRED_FACTOR * area_m2 * between
        return -lost_w * seconds / float(self._model.capacity[PASTE:].sum())


def _step_s(time_s: float, since: float | None, stirs: list[float]) -> float:
    """Return the length of the next step: short at first, long in the hold, and up to the next stir."""
    step_s = FIRST_STEP_S if time_s < FIRST_S else STEP_S
    if since is not None and time_s - since >= SETTLED_S:
        step_s = LATE_STEP_S
    return min(step_s, max(1.0, stirs[0] - time_s)) if stirs else step_s
