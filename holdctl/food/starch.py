"""What a temperature does to starch in plenty of water: where it begins to gelatinise, is half done, is done.

The temperatures and their sources stand in `holdctl.paste.gelatinisation`. In a thick or salted or sugared paste all
lie higher.

The extent that belongs to a temperature is reached in one to two minutes (J. Food Eng. 2002, 53:39, abstract), so it
follows from the highest temperature so far, and is counted at once. Between onset, peak and end the extent is taken as
straight, 0, ½ and 1: this project's choice.
"""

from typing import TYPE_CHECKING

from holdctl.paste.gelatinisation import GELATINISATION, Band, Gelatinisation
from holdctl.settings import Flour

if TYPE_CHECKING:
    from holdctl.food.curves import Floats


_CORNERS = (0.0, 0.5, 1.0)


def gelatinisation(flour: Flour) -> Gelatinisation:
    """Return what is known of a flour's starch."""
    return GELATINISATION[flour]


def gelatinised(flour: Flour, temp_c: float) -> Band:
    """Return the share of the starch that a lasting temperature gelatinises, 0 to 1, from sure to possible."""
    import numpy as np

    sure, _, possible = shares(flour, np.array([temp_c]))
    return Band(float(sure[0]), float(possible[0]))


def shares(flour: Flour, temp_c: "Floats") -> "tuple[Floats, Floats, Floats]":
    """Return the share for many temperatures: sure, half-way between, possible."""
    import numpy as np

    one = gelatinisation(flour)
    late = np.interp(temp_c, [one.onset_c.high, one.peak_c.high, one.end_c.high], _CORNERS)
    early = np.interp(temp_c, [one.onset_c.low, one.peak_c.low, one.end_c.low], _CORNERS)
    return late, (late + early) / 2, early
