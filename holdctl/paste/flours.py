"""What flours are made of, and the water that a scald of each usually takes.

Mass fractions of the flour as it is sold. Flours vary: 12 to 14 % water moves the flour's heat capacity by
2.5 %, the kind of flour moves the paste's by less than 1 %.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields

from holdctl.settings import Flour

_LABEL_OFF_G = 5.0


@dataclass(frozen=True, slots=True)
class Composition:
    """Mass fractions of one material; they add up to 1."""

    water: float
    protein: float
    fat: float
    carbohydrate: float
    """Without the fibre."""
    fibre: float
    ash: float


def _from_table(
    water: float, protein: float, fat: float, carbohydrate: float, fibre: float, ash: float
) -> Composition:
    """Turn a row of a food table (g in 100 g, fibre counted in the carbohydrate) into fractions."""
    total = water + protein + fat + carbohydrate + ash
    return Composition(
        water / total,
        protein / total,
        fat / total,
        (carbohydrate - fibre) / total,
        fibre / total,
        ash / total,
    )


# USDA FoodData Central (SR Legacy): "Wheat flour, white, all-purpose, unenriched" 168894, "Wheat flour,
# whole-grain" 168893, "Rye grain" 168884 (whole rye flour is the whole grain; its ash closes the sum to 100).
# The second decimals and the fibre of whole wheat are from memory.
COMPOSITIONS = {
    Flour.WHITE_WHEAT: _from_table(11.92, 10.33, 0.98, 76.31, 2.7, 0.47),
    Flour.WHOLE_WHEAT: _from_table(10.74, 13.21, 2.50, 71.97, 10.7, 1.58),
    Flour.WHOLE_RYE: _from_table(10.60, 10.34, 1.63, 75.86, 15.1, 1.57),
}
"""Composition of each flour."""

USUAL_RATIO = {Flour.WHITE_WHEAT: 1.4, Flour.WHOLE_WHEAT: 2.0, Flour.WHOLE_RYE: 3.0}
"""Water : flour by mass that a scald usually takes (common practice, no source)."""

USUAL_INCREASE = {Flour.WHITE_WHEAT: 10, Flour.WHOLE_WHEAT: 15, Flour.WHOLE_RYE: 20}
"""Points of flour by which a dough with a scald of it usually takes more water (common practice, no source)."""

USUAL_SHARE = (10, 20)
"""Flour in the scald, % of all flour: the usual range (common practice, no source). The rest warns, it is allowed."""

USUAL_MALT = (0, 10)
"""Diastatic malt, % of the scald's flour: the usual range (common practice, no source)."""


def composition(
    water: float, protein: float, fat: float, carbohydrate: float, fibre: float, ash: float
) -> Composition:
    """Return the composition of a flour of one's own from its label: g in 100 g, carbohydrate with the fibre in it.

    The row is scaled to its sum, so a label that rounds is no matter. Raises ValueError where the sum is further than
    5 g from 100 g, where a figure is negative, or where there is more fibre than carbohydrate.
    """
    row = (water, protein, fat, carbohydrate, fibre, ash)
    total = water + protein + fat + carbohydrate + ash
    if any(not part >= 0.0 for part in row) or fibre > carbohydrate:
        raise ValueError("no part may be negative, and the fibre is part of the carbohydrate")
    if not abs(total - 100.0) <= _LABEL_OFF_G:
        raise ValueError(
            f"water, protein, fat, carbohydrate (with its fibre) and ash add up to {total:g} g, not to 100 g"
        )
    return _from_table(*row)


def blend(parts: Iterable[tuple[Composition, float]]) -> Composition:
    """Return the composition of several flours mixed, each with its mass in any unit. Raises ValueError for none."""
    listed = list(parts)
    total = sum(mass for _, mass in listed)
    if not total > 0.0:
        raise ValueError("no flour to blend")
    names = (field.name for field in fields(Composition))
    return Composition(*(sum(getattr(c, n) * mass for c, mass in listed) / total for n in names))


AMYLASES_C = 70.0
"""Above this paste is too hot for its amylases, °C: rye's β-amylase is practically gone at about 70 °C, its
α-amylase at 85 °C (Chizhova et al., handbook for bakery laboratories). Malt goes in below it."""
