"""Turn a bread formula into one with a scald: part of its flour goes into hot water, and the dough takes more water.

Pure arithmetic in exact fractions. The rules (ratio of each flour, points of water more, share of 10 to 20 %) are
common practice without a source; each can be changed. What can't be is refused in one sentence with the nearest that
can.
"""

from dataclasses import dataclass
from fractions import Fraction

from holdctl.errors import ConfigError
from holdctl.paste.amounts import HUNDRED, ceil_to, floor_to, text
from holdctl.paste.flours import USUAL_MALT, USUAL_SHARE, Composition, blend
from holdctl.paste.formula import FlourPart, Formula
from holdctl.settings import Flour

_TENTH = Fraction(1, 1000)
"""A tenth of a percent: to this the nearest possible values are told."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What the scald is to be."""

    share: Fraction
    """Flour in the scald, of all flour, 0 to 1."""
    ratio: Fraction | None = None
    """Water : flour by mass; the flours' own, weighted by what is scalded, where None."""
    increase: Fraction | None = None
    """More water, of all flour (0.1 is ten points); the flours' own, weighted alike, where None."""
    malt: Fraction = Fraction(0)
    """Diastatic malt, of the scald's flour."""


@dataclass(frozen=True, slots=True)
class Conversion:
    """A formula with its scald; parts are of all flour by mass."""

    formula: Formula
    wish: Wish
    scalded: tuple[tuple[FlourPart, Fraction], ...]
    """Each flour with its part in the scald; 0 for one that stays out."""
    ratio: Fraction
    increase: Fraction

    @property
    def scald_water(self) -> Fraction:
        """Water poured into the scald."""
        return self.wish.share * self.ratio

    @property
    def water(self) -> Fraction:
        """Water poured in all."""
        return self.formula.water + self.increase

    @property
    def dough_water(self) -> Fraction:
        """Water poured into the final dough."""
        return self.water - self.scald_water

    @property
    def malt(self) -> Fraction:
        """Diastatic malt in the scald."""
        return self.wish.malt * self.wish.share

    @property
    def hydration(self) -> Fraction:
        """All water, poured and brought, with the scald's increase."""
        return self.water + self.formula.brought

    @property
    def whole(self) -> Fraction:
        """Everything in the bread, 1 being the flour."""
        return 1 + self.water + self.malt + sum((i.part for i in self.formula.ingredients), Fraction(0))

    @property
    def made_of(self) -> Composition:
        """Composition of the scald's flour."""
        return blend((flour.made_of, float(part)) for flour, part in self.scalded)

    @property
    def like(self) -> Flour:
        """Known flour that most of the scald resembles."""
        masses = {flour: Fraction(0) for flour in Flour}
        for flour, part in self.scalded:
            masses[flour.like] += part
        return max(masses, key=lambda flour: masses[flour])


def convert(formula: Formula, wish: Wish) -> Conversion:
    """Return the formula with its scald. Raises ConfigError with the nearest possible value for what can't be."""
    if not 0 < wish.share <= 1:
        raise ConfigError(_no_such_share(wish.share))
    weights = _weights(formula)
    scalded = tuple((flour, wish.share * w) for flour, w in zip(formula.flours, weights, strict=True))
    pairs = list(zip(formula.flours, weights, strict=True))
    ratio = wish.ratio if wish.ratio is not None else sum((f.ratio * w for f, w in pairs), Fraction(0))
    usual = sum((f.increase * w for f, w in pairs), Fraction(0))
    increase = usual if wish.increase is None else wish.increase
    done = Conversion(formula, wish, scalded, ratio, increase)
    _check_flour(done)
    _check_water(done)
    return done


def scaled(formula: Formula, wish: Wish, whole_g: Fraction) -> Formula:
    """Return the formula with the flour that makes `whole_g` of dough, the scald in it. Raises ConfigError."""
    return formula.with_flour(whole_g / convert(formula, wish).whole)


def warnings(done: Conversion) -> list[str]:
    """Return a sentence for each wish outside common practice; all are allowed."""
    found = []
    low, high = USUAL_SHARE
    if not low <= done.wish.share * 100 <= high:
        found.append(
            f"A scald of {text(done.wish.share * 100)} % of the flour is outside the usual {low} to {high} % "
            "(common practice): the usual increase of water may not fit it."
        )
    if done.wish.malt * 100 > USUAL_MALT[1]:
        found.append(
            f"{text(done.wish.malt * 100)} % diastatic malt is more than the usual {USUAL_MALT[0]} to "
            f"{USUAL_MALT[1]} % of the scald's flour (common practice): the crumb may turn gummy."
        )
    return found


def _weights(formula: Formula) -> list[Fraction]:
    """Return each flour's part of the scald's flour; they add up to 1."""
    if all(flour.in_scald is None for flour in formula.flours):
        return [flour.part for flour in formula.flours]
    said = [flour.in_scald or Fraction(0) for flour in formula.flours]
    if not sum(said) > 0:
        raise ConfigError("No flour goes into the scald; give one of them in_scald above 0.")
    return [part / sum(said) for part in said]


def _no_such_share(share: Fraction) -> str:
    if share > 1:
        return f"A scald can't take {text(share * 100)} % of the flour; the nearest possible share is 100 %."
    return f"A scald of {text(share * 100)} % of the flour is none; the usual least is {USUAL_SHARE[0]} %."


def _check_flour(done: Conversion) -> None:
    """Refuse a scald that asks for more of a flour than there is."""
    short = [(flour, part) for flour, part in done.scalded if part > flour.part]
    if not short:
        return
    flour, part = max(short, key=lambda pair: pair[1] / pair[0].part if pair[0].part else HUNDRED)
    most = floor_to(done.wish.share * flour.part / part, _TENTH)
    raise ConfigError(
        f"The scald would take {text(part * 100)} % of all flour as {flour.name}, but the formula has "
        f"{text(flour.part * 100)} %; the nearest possible share is {text(most * 100)} %, or let another flour into it."
    )


def _check_water(done: Conversion) -> None:
    """Refuse a scald that drinks more than is poured."""
    if done.water < 0:
        least = ceil_to(-done.formula.water, _TENTH)
        raise ConfigError(
            f"{text(done.increase * 100)} points leave less than no water; the nearest increase is {text(least * 100)}."
        )
    if done.dough_water >= 0:
        return
    flour_g = done.formula.flour_g
    brought = done.formula.brought * flour_g
    liquid = f" ({text(brought)} g more comes in other ingredients, which can't scald)" if brought else ""
    raise ConfigError(
        f"The scald would take {text(done.scald_water * flour_g)} g of water, but the formula pours "
        f"{text(done.water * flour_g)} g{liquid}; nearest possible: {_nearest_water(done)}."
    )


def _nearest_water(done: Conversion) -> str:
    share = floor_to(done.water / done.ratio, _TENTH)
    ratio = floor_to(done.water / done.wish.share, Fraction(1, 100))
    points = ceil_to(done.scald_water - done.formula.water, _TENTH)
    values = [
        f"a share of {text(share * 100)} %" if share > 0 else "",
        f"a ratio of 1:{text(ratio, 2)}" if ratio > 0 else "",
        f"an increase of {text(points * 100)} points",
    ]
    return " or ".join(
        [", ".join(v for v in values[:-1] if v), values[-1]] if any(values[:-1]) else values[-1:]
    )
