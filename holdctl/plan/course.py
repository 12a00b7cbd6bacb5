"""A night as a curve: how it begins, what the baker does in it, and what a run of it goes through."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdctl.control.model import MEDIUM, PASTE, ThermalModel

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[Any]

LONGEST_S = 24 * 3600.0
STIR_S = 60.0
"""A stir takes so long, the lid off."""


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
class Span:
    """One step of the programme in a run, s: from when it is entered to when the next one is."""

    number: int
    """From 1; 0: none of the programme's."""
    entered_s: float
    begun_s: float
    """When a hold's clock starts, a fall begins, a prompt is asked."""
    ended_s: float | None
    """None: not within the run."""
    skipped: bool = False
    """A prompt that is left out, every part being in range by then."""


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
    spans: tuple[Span, ...] = ()
    """Of the programme's steps, as far as the run went."""
    way_s: float = 0.0
    """When malt and lid are done and the stirs on the way are, or are no longer needed."""

    @property
    def end_s(self) -> float | None:
        """When the last step that was run is done; None where it is not."""
        return self.spans[-1].ended_s if self.spans else None

    @property
    def steps_s(self) -> "Floats":
        """Length of each step."""
        import numpy as np

        return np.diff(self.t_s, append=self.t_s[-1])

    def energy_j(self, upto_s: float = math.inf) -> float:
        """Return the heater's energy until a moment, J."""
        return float((self.duty * self.steps_s)[self.t_s < upto_s].sum() * self.power_w)

    def below_s(self, limit_c: float, floor_c: float = -math.inf, upto_s: float = math.inf) -> float:
        """Return for how long, up to a moment, the coldest paste is under a limit, and over a floor, s."""
        found = (self.coldest_c < limit_c) & (self.coldest_c > floor_c) & (self.t_s <= upto_s)
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
