"""How long the amylases last: the share of each that a curve of temperature leaves.

Both are taken to die by a first-order law whose half-life falls tenfold every z:

    β-amylase   half-life at 65 °C 10 min (4 to 20), z 5.3 K
    α-amylase   half-life at 65 °C 72 min (60 to 144), z 9.8 K

β: 4.2 min are the constants of Brandam et al. 2003 (Biochem. Eng. J. 13:43) for a thin mash, from memory, medium. In a
thick mash it halves in about 10 min, 17 % are left at 30 min and 8 % at 60 min (Muller 1990/91, second-hand, low).
α: Brandam et al., from memory; more than half is left at 60 min (Muller, second-hand). The upper end is twice the
middle, as for β: this project's choice. Both z are what Brandam's activation energies (224.2 and 410.7 kJ/mol) come to
near 65 °C.

A thick, sweet paste lies at the long end, or beyond: 85 to 93 % of barley's β-amylase outlasts 120 min at 63 °C in 0.4
to 0.5 mol/l maltose (J. Am. Soc. Brew. Chem. 2016), where this law's longest leaves 17 %. So "β gone" may be wrong
for a paste that is sweet already.

An exposure is a time at 65 °C that would do the same; exposures of parts add up.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from holdctl.food.curves import Segments, tenfold_minutes

if TYPE_CHECKING:
    from holdctl.food.curves import Floats

REFERENCE_C = 65.0


class Spread(NamedTuple):
    """A figure with the ends between which it lies."""

    low: float
    nominal: float
    high: float


@dataclass(frozen=True, slots=True)
class Amylase:
    """What is known of one enzyme's dying."""

    name: str
    half_life_min: Spread
    """At 65 °C, min."""
    z_k: float
    source: str
    sureness: str


BETA = Amylase(
    "β-amylase", Spread(4.0, 10.0, 20.0), 5.3,
    "Brandam et al. 2003, Biochem. Eng. J. 13:43; Muller 1990/91 for thick mash", "low to medium: memory, second-hand",
)  # fmt: skip
ALPHA = Amylase(
    "α-amylase", Spread(60.0, 72.0, 144.0), 9.8,
    "Brandam et al. 2003, Biochem. Eng. J. 13:43; Muller 1990/91", "low to medium: memory, second-hand",
)  # fmt: skip


def half_life_min(enzyme: Amylase, temp_c: float) -> Spread:
    """Return the half-life at a temperature, min: shortest, nominal, longest."""
    factor = 10.0 ** ((REFERENCE_C - temp_c) / enzyme.z_k)
    return Spread(*(factor * one for one in enzyme.half_life_min))


def exposures_min(enzyme: Amylase, found: Segments) -> "Floats":
    """Return each segment's minutes at 65 °C that would do the same to the enzyme; nothing where unknown."""
    return tenfold_minutes(found, REFERENCE_C, enzyme.z_k)


def exposure_min(enzyme: Amylase, found: Segments) -> float:
    """Return the minutes at 65 °C that would do the same to the enzyme as the whole curve."""
    return float(exposures_min(enzyme, found).sum())


def left(enzyme: Amylase, exposed_min: float) -> Spread:
    """Return the share left after an exposure, 0 to 1: with the shortest, the nominal and the longest half-life."""
    return Spread(*(math.exp2(-exposed_min / one) for one in enzyme.half_life_min))


def left_after(enzyme: Amylase, temp_c: float, minutes: float) -> Spread:
    """Return the share left after minutes at one temperature."""
    return left(enzyme, minutes * 10.0 ** ((temp_c - REFERENCE_C) / enzyme.z_k))
