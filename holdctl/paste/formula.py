"""A bread formula as bakers count: every part as a share of the flour, and how much flour there is.

Everything is exact (see `amounts`): grams turn into percentages and back without a remainder, and scaling changes the
mass of the flour alone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fractions import Fraction

from holdctl.errors import ConfigError
from holdctl.paste.amounts import HUNDRED, text
from holdctl.paste.flours import COMPOSITIONS, USUAL_INCREASE, USUAL_RATIO, Composition
from holdctl.settings import Flour


class Into(StrEnum):
    """Where an ingredient goes."""

    SCALD = "scald"
    DOUGH = "dough"


@dataclass(frozen=True, slots=True)
class FlourPart:
    """One flour of a formula."""

    name: str
    part: Fraction
    """Of all flour, 0 to 1; those of a formula add up to 1."""
    ratio: Fraction
    """Water : flour by mass of a scald of it."""
    increase: Fraction
    """By how much of the flour a dough with a scald of it takes more water (0.1 is ten points)."""
    made_of: Composition
    like: Flour
    """Known flour that it resembles most."""
    in_scald: Fraction | None = None
    """Its parts of the scald's flour; None: as the others say, or in proportion where none says."""


@dataclass(frozen=True, slots=True)
class Ingredient:
    """Anything that is neither flour nor the water that is poured."""

    name: str
    part: Fraction
    """Of all flour by mass."""
    moisture: Fraction = Fraction(0)
    """Water in it, 0 to 1; 0 where nothing is said: then it does not count for the hydration."""
    into: Into = Into.DOUGH


@dataclass(frozen=True, slots=True)
class Formula:
    """A bread before it has a scald."""

    flour_g: Fraction
    flours: tuple[FlourPart, ...]
    water: Fraction
    """Poured, of all flour by mass."""
    ingredients: tuple[Ingredient, ...] = ()

    @property
    def brought(self) -> Fraction:
        """Water that ingredients bring, of all flour by mass."""
        return sum((i.part * i.moisture for i in self.ingredients), Fraction(0))

    @property
    def hydration(self) -> Fraction:
        """All water, poured and brought, of all flour by mass."""
        return self.water + self.brought

    def with_flour(self, flour_g: Fraction) -> "Formula":
        """Return the same formula with so much flour, g. Raises ConfigError unless it is more than nothing."""
        if flour_g <= 0:
            raise ConfigError(
                "A formula needs more than 0 g of flour; give the flour or the size of the batch."
            )
        return replace(self, flour_g=flour_g)


def known_flour(flour: Flour, part: Fraction, in_scald: Fraction | None = None) -> FlourPart:
    """Return a part of a known flour with the ratio and the increase of common practice."""
    ratio = Fraction(repr(USUAL_RATIO[flour]))
    increase = USUAL_INCREASE[flour] / HUNDRED
    return FlourPart(flour.value, part, ratio, increase, COMPOSITIONS[flour], flour, in_scald)


def check(formula: Formula) -> Formula:
    """Return the formula if its parts make sense. Raises ConfigError with one sentence for the first that doesn't."""
    _names([f.name for f in formula.flours] + [i.name for i in formula.ingredients])
    whole = sum((f.part for f in formula.flours), Fraction(0))
    if whole != 1:
        raise ConfigError(
            f"The flours add up to {text(whole * 100, 3)} %, not to 100 %; "
            f"nearest: {_largest(formula.flours, 1 - whole)}, or give them in grams."
        )
    if formula.water < 0:
        raise ConfigError(_too_wet(formula))
    return formula


def _names(names: Sequence[str]) -> None:
    for name in names:
        if name in ("water", MALT):
            raise ConfigError(f"“{name}” has its own place in a formula; call this one something else.")
        if names.count(name) > 1:
            raise ConfigError(f"“{name}” stands in the formula twice; put the two together or rename one.")


MALT = "diastatic malt"


def _largest(flours: Sequence[FlourPart], missing: Fraction) -> str:
    """Return the change to the largest flour that makes the sum 100 %."""
    flour = max(flours, key=lambda f: f.part)
    return f"{flour.name} at {text((flour.part + missing) * 100, 3)} %"


def _too_wet(formula: Formula) -> str:
    """Say which wish for the hydration would just do: what the ingredients bring is more than the dough may have."""
    wettest = max(formula.ingredients, key=lambda i: i.part * i.moisture, default=None)
    if wettest is None:
        return "A formula can't have less than no water; the nearest is 0."
    brought, wish = formula.brought, formula.hydration
    fits = wettest.part + formula.water / wettest.moisture
    less = f", or {wettest.name} at most {text(fits * 100, 1)} %" if fits > 0 else ""
    return (
        f"The ingredients alone bring water for a hydration of {text(brought * 100)} %, more than the "
        f"{text(wish * 100)} % asked for; nearest: hydration {text(brought * 100)} %{less}."
    )
