"""Breads that anybody might write, for property tests."""

from fractions import Fraction

from hypothesis import strategies as st

from holdctl.paste.formula import Formula, Ingredient, Into, known_flour
from holdctl.paste.scalding import Wish
from holdctl.settings import Flour


def tenths(low: int, high: int):
    """Numbers with one decimal, from `low` to `high`."""
    return st.integers(low * 10, high * 10).map(lambda n: Fraction(n, 10))


@st.composite
def formulas(draw):
    """One to three flours in grams, water enough for any usual scald, up to four other things."""
    flours = draw(st.lists(st.sampled_from(Flour), min_size=1, max_size=3, unique=True))
    grams = [draw(tenths(1, 5000)) for _ in flours]
    flour_g = sum(grams)
    weights = [None] * len(flours)
    parts = tuple(
        known_flour(flour, g / flour_g, weight)
        for flour, g, weight in zip(flours, grams, weights, strict=True)
    )
    names = draw(st.lists(st.sampled_from(["salt", "yeast", "syrup", "seeds"]), unique=True))
    others = tuple(
        Ingredient(
            name,
            draw(tenths(0, 300)) / flour_g,
            draw(tenths(0, 90)) / 100,
            draw(st.sampled_from(list(Into))),
        )
        for name in names
    )
    return Formula(flour_g, parts, draw(tenths(60, 110)) / 100, others)


wishes = st.builds(Wish, tenths(1, 20).map(lambda n: n / 100), malt=tenths(0, 10).map(lambda n: n / 100))
"""Shares of at most 20 %: their water (at most 60 % of the flour) is always there."""
