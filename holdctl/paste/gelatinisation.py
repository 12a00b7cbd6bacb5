"""Where the starch of each flour swells, in plenty of water, and what heat that takes.

Onset, peak and end of the endotherm, as bands. Wheat: Jane et al. (1999), Cereal Chem. 76:629, DSC at 1:3 and 10 K/min,
10.7 J/g, from memory, within about 1 K. Rye: a band over Fredriksson (1998), Verwimp (2004) and Gomand et al. (2011), 9
to 12 J/g, from memory; that rye lies slightly below wheat is read in Gomand et al. (2011), Carbohydr. Res. 346:2727.
What a temperature allows to swell has swollen within one or two minutes (J. Food Eng. 2002, 53:39, abstract).
"""

from dataclasses import dataclass
from typing import NamedTuple

from holdctl.paste.flours import Composition
from holdctl.settings import Flour

STARCH_PART = 0.92
"""Starch in the carbohydrate without fibre; the rest is sugars (from memory)."""
SWELLING_J_KG, SWELLING_SD = 10_000.0, 0.25
"""Heat that a kilogram of starch takes, and the relative standard deviation (9 to 12 J/g, from memory)."""


class Band(NamedTuple):
    """From where to where a temperature or a share lies; both the same where one value is known."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Half-way."""
        return (self.low + self.high) / 2


@dataclass(frozen=True, slots=True)
class Gelatinisation:
    """Of one starch, °C."""

    starch: str
    onset_c: Band
    peak_c: Band
    end_c: Band
    source: str
    sureness: str


WHEAT = Gelatinisation(
    "wheat", Band(57.1, 57.1), Band(61.6, 61.6), Band(66.2, 66.2),
    "Jane et al. 1999, Cereal Chem. 76:629 (DSC)", "from memory, within about 1 K",
)  # fmt: skip
RYE = Gelatinisation(
    "rye", Band(49.0, 55.0), Band(54.0, 60.0), Band(60.0, 68.0),
    "band over Fredriksson 1998, Verwimp 2004, Gomand 2011 (DSC)", "from memory, medium: a band, not one table",
)  # fmt: skip
GELATINISATION = {Flour.WHITE_WHEAT: WHEAT, Flour.WHOLE_WHEAT: WHEAT, Flour.WHOLE_RYE: RYE}
"""Of each known flour."""


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


def _middle(of: Gelatinisation) -> Starch:
    return Starch(of.starch, of.onset_c.middle, of.peak_c.middle, of.end_c.middle)


STARCH = {flour: _middle(found) for flour, found in GELATINISATION.items()}
"""The middle of each band."""


def swelling_j_kg(flour: Composition) -> float:
    """Return the heat that the starch of a kilogram of flour takes when all of it swells, J."""
    return SWELLING_J_KG * STARCH_PART * flour.carbohydrate
