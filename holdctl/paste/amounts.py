"""Exact masses: fractions instead of floats, and rounding to what a kitchen scale reads.

A formula is shares of shares; in floats its parts would not add up to the whole. So masses and percentages are
`Fraction`s of what was written, and are rounded once, at the end, so that the rounded parts still add up.
"""

from collections.abc import Sequence
from fractions import Fraction

HUNDRED = Fraction(100)


def exact(value: float | int | str | Fraction) -> Fraction:
    """Return the decimal number as it was written: 0.1 is one tenth, not the float nearest to it.

    Raises ValueError for what is not a finite number.
    """
    if isinstance(value, float):
        return Fraction(repr(value))
    return Fraction(value)


def nearest(value: Fraction, step: Fraction) -> Fraction:
    """Return the multiple of `step` nearest to `value`; a half goes up."""
    return floor_to(value + step / 2, step)


def floor_to(value: Fraction, step: Fraction) -> Fraction:
    """Return the largest multiple of `step` that is not above `value`."""
    return (value / step).__floor__() * step


def ceil_to(value: Fraction, step: Fraction) -> Fraction:
    """Return the smallest multiple of `step` that is not below `value`."""
    return (value / step).__ceil__() * step


def apportion(parts: Sequence[tuple[str, Fraction]], step: Fraction, whole: Fraction) -> list[Fraction]:
    """Round each named part (not negative) to a multiple of `step` so that all add up to `whole` on that grid.

    Largest remainder: each part is cut down to the grid, then the steps that are missing go to the parts that were
    cut most; of equals to the larger, then by name, so that the order of the list decides nothing. A part moves by
    less than one step where `whole` is the sum of the parts, rounded.
    """
    if not parts:
        return []
    cut = [floor_to(mass, step) for _, mass in parts]
    missing = (nearest(whole, step) - sum(cut, Fraction(0))) / step
    order = sorted(
        range(len(parts)), key=lambda k: (cut[k] - parts[k][1], -parts[k][1], parts[k][0])
    )  # the most cut first
    for turn in range(int(missing)):
        cut[order[turn % len(order)]] += step
    return cut


def text(value: Fraction, digits: int = 1) -> str:
    """Return a number without needless zeros: 150, 4.5, 1.25; `digits` at most after the point."""
    rounded = nearest(value, Fraction(1, 10**digits))
    whole = f"{float(rounded):.{digits}f}"
    return whole.rstrip("0").rstrip(".") if "." in whole else whole
