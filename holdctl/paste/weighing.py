"""What to weigh: a formula with its scald in the steps of a kitchen scale, adding up exactly.

Each ingredient's whole mass is rounded so that all of them add up to the whole bread (largest remainder), then its
part in the scald; the final dough gets the rest. So scald + final dough = all, ingredient by ingredient and in sum,
with no gram lost or made.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from holdctl.paste.amounts import apportion, nearest
from holdctl.paste.formula import MALT, Into
from holdctl.paste.scalding import Conversion


class Sort(StrEnum):
    """What a line of the sheet is."""

    FLOUR = "flour"
    WATER = "water"
    MALT = "malt"
    OTHER = "other"


@dataclass(frozen=True, slots=True)
class Scale:
    """Steps in which masses are read, g: of the big scale, of a fine one for what is below `fine_below_g`."""

    step_g: Fraction = Fraction(1)
    fine_step_g: Fraction = Fraction(1, 10)
    fine_below_g: Fraction = Fraction(20)

    def step(self, mass_g: Fraction) -> Fraction:
        """Return the step in which so much is weighed."""
        return self.fine_step_g if mass_g < self.fine_below_g else self.step_g


@dataclass(frozen=True, slots=True)
class Line:
    """One ingredient, g as weighed."""

    name: str
    sort: Sort
    scald_g: Fraction
    dough_g: Fraction
    percent: Fraction
    """Of all flour, exact."""
    exact_scald_g: Fraction
    exact_g: Fraction
    """Before rounding."""

    @property
    def total_g(self) -> Fraction:
        """In scald and final dough."""
        return self.scald_g + self.dough_g


@dataclass(frozen=True, slots=True)
class Sheet:
    """All lines of one bread."""

    lines: tuple[Line, ...]

    def scald_g(self, *sorts: Sort) -> Fraction:
        """Return what is weighed into the scald: everything, or only of these sorts."""
        return _sum(line.scald_g for line in self.lines if not sorts or line.sort in sorts)

    def dough_g(self, *sorts: Sort) -> Fraction:
        """Return what is weighed into the final dough beside the scald: everything, or only of these sorts."""
        return _sum(line.dough_g for line in self.lines if not sorts or line.sort in sorts)

    def total_g(self, *sorts: Sort) -> Fraction:
        """Return both together."""
        return self.scald_g(*sorts) + self.dough_g(*sorts)

    def lost(self) -> list[str]:
        """Return the names of what is too light for the scale and would read 0."""
        return [line.name for line in self.lines if line.exact_g > 0 and line.total_g == 0]


def weigh(done: Conversion, scale: Scale = Scale()) -> Sheet:
    """Return what to weigh, in the steps of `scale`."""
    exact = list(_exact(done))
    totals = _totals(exact, scale)
    lines = []
    for (name, sort, scald_g, whole_g), total_g in zip(exact, totals, strict=True):
        percent = whole_g / done.formula.flour_g * 100
        part = _part(scald_g, whole_g, total_g, scale)
        lines.append(Line(name, sort, part, total_g - part, percent, scald_g, whole_g))
    return Sheet(tuple(lines))


def _exact(done: Conversion) -> Iterable[tuple[str, Sort, Fraction, Fraction]]:
    """Yield name, sort, mass in the scald and mass in all of every ingredient, g."""
    flour_g = done.formula.flour_g
    for flour, scalded in done.scalded:
        yield flour.name, Sort.FLOUR, scalded * flour_g, flour.part * flour_g
    yield "water", Sort.WATER, done.scald_water * flour_g, done.water * flour_g
    if done.malt:
        yield MALT, Sort.MALT, done.malt * flour_g, done.malt * flour_g
    for i in done.formula.ingredients:
        mass = i.part * flour_g
        yield i.name, Sort.OTHER, mass if i.into is Into.SCALD else Fraction(0), mass


def _totals(exact: list[tuple[str, Sort, Fraction, Fraction]], scale: Scale) -> list[Fraction]:
    """Round the whole masses: the light ones among themselves, the others to what is left of the whole."""
    light = [scale.step(whole) == scale.fine_step_g for *_, whole in exact]
    fine = [(name, whole) for (name, _, _, whole), is_light in zip(exact, light, strict=True) if is_light]
    coarse = [
        (name, whole) for (name, _, _, whole), is_light in zip(exact, light, strict=True) if not is_light
    ]
    fine_g = apportion(fine, scale.fine_step_g, _sum(g for _, g in fine))
    rest = _sum(whole for *_, whole in exact) - _sum(fine_g)
    low, high = iter(fine_g), iter(apportion(coarse, scale.step_g, rest))
    return [next(low) if is_light else next(high) for is_light in light]


def _part(scald_g: Fraction, whole_g: Fraction, total_g: Fraction, scale: Scale) -> Fraction:
    if scald_g == whole_g:
        return total_g
    return min(nearest(scald_g, scale.step(whole_g)), total_g)


def _sum(values: Iterable[Fraction]) -> Fraction:
    return sum(values, Fraction(0))
