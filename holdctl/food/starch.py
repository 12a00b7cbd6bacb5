"""What a temperature does to starch in plenty of water: where it begins to gelatinise, is half done, is done.

Wheat: Jane et al. 1999, Cereal Chem. 76:629 (DSC, starch : water 1 : 3, 10 K/min), from memory, within about 1 K.
Rye: a band over Fredriksson 1998, Verwimp 2004 and Gomand 2011, from memory; that rye lies slightly below wheat is read
in Gomand et al. 2011, Carbohydr. Res. 346:2727. In a thick or salted or sugared paste all lie higher.

The extent that belongs to a temperature is reached in one to two minutes (J. Food Eng. 2002, 53:39, abstract), so it
follows from the highest temperature so far, and is counted at once. Between onset, peak and end the extent is taken as
straight, 0, ½ and 1: this project's choice.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from holdctl.settings import Flour

if TYPE_CHECKING:
    from holdctl.food.curves import Floats


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
_CORNERS = (0.0, 0.5, 1.0)
_OF_FLOUR = {Flour.WHITE_WHEAT: WHEAT, Flour.WHOLE_WHEAT: WHEAT, Flour.WHOLE_RYE: RYE}


def gelatinisation(flour: Flour) -> Gelatinisation:
    """Return what is known of a flour's starch."""
    return _OF_FLOUR[flour]


def gelatinised(flour: Flour, temp_c: float) -> Band:
    """Return the share of the starch that a lasting temperature gelatinises, 0 to 1, from sure to possible."""
    import numpy as np

    sure, _, possible = shares(flour, np.array([temp_c]))
    return Band(float(sure[0]), float(possible[0]))


def gelatinised_by_c(flour: Flour) -> float:
    """Return the temperature at which all starch of a flour has surely gelatinised, °C: the upper end of its band."""
    return gelatinisation(flour).end_c.high


def shares(flour: Flour, temp_c: "Floats") -> "tuple[Floats, Floats, Floats]":
    """Return the share for many temperatures: sure, half-way between, possible."""
    import numpy as np

    one = gelatinisation(flour)
    late = np.interp(temp_c, [one.onset_c.high, one.peak_c.high, one.end_c.high], _CORNERS)
    early = np.interp(temp_c, [one.onset_c.low, one.peak_c.low, one.end_c.low], _CORNERS)
    return late, (late + early) / 2, early
