"""Where the starch of each flour swells, in plenty of water, and what heat that takes.

Onset, peak and end of the endotherm. Wheat: Jane et al. (1999), Cereal Chem. 76:629, DSC at 1:3 and 10 K/min: 57.1,
61.6, 66.2 °C and 10.7 J/g (from memory). Rye: the band over Fredriksson (1998), Verwimp (2004) and Gomand et al. (2011)
is 49–55, 54–60, 60–68 °C and 9–12 J/g (from memory), of which the middles are taken. What a temperature allows to swell
has swollen within one or two minutes (J. Food Eng. 2002, 53:39).
"""

from dataclasses import dataclass

from holdctl.paste.flours import Composition
from holdctl.settings import Flour

STARCH_PART = 0.92
"""Starch in the carbohydrate without fibre; the rest is sugars (from memory)."""
SWELLING_J_KG, SWELLING_SD = 10_000.0, 0.25
"""Heat that a kilogram of starch takes, and the relative standard deviation (9 to 12 J/g, from memory)."""


@dataclass(frozen=True, slots=True)
class Starch:
    """Onset, peak and end of the swelling, °C."""

    name: str
    onset_c: float
    peak_c: float
    end_c: float

    def swollen(self, temp_c: float) -> float:
        """Return the part of the starch that has swollen at `temp_c`, 0 to 1: straight from onset to peak to end."""
        if temp_c <= self.peak_c:
            return max(0.0, 0.5 * (temp_c - self.onset_c) / (self.peak_c - self.onset_c))
        return min(1.0, 0.5 + 0.5 * (temp_c - self.peak_c) / (self.end_c - self.peak_c))


_WHEAT = Starch("wheat", 57.1, 61.6, 66.2)
STARCH = {
    Flour.WHITE_WHEAT: _WHEAT,
    Flour.WHOLE_WHEAT: _WHEAT,
    Flour.WHOLE_RYE: Starch("rye", 52.0, 57.0, 64.0),
}
"""Of each known flour."""


def swelling_j_kg(flour: Composition) -> float:
    """Return the heat that the starch of a kilogram of flour takes when all of it swells, J."""
    return SWELLING_J_KG * STARCH_PART * flour.carbohydrate
