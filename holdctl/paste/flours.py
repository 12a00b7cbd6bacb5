"""What flours are made of, and the water that a scald of each usually takes.

Mass fractions of the flour as it is sold. Flours vary: 12 to 14 % water moves the flour's heat capacity by
2.5 %, the kind of flour moves the paste's by less than 1 %.
"""

from dataclasses import dataclass

from holdctl.settings import Flour


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
