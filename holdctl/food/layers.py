"""Parts of the paste between its coldest and its hottest: one curve of temperature for each.

The record keeps estimates of the coldest and the hottest paste. Layers are ranked between them: a layer keeps its share
of the way from the coldest to the hottest all night. That is an assumption: while the paste warms, the core is the
coldest part and the edge the hottest, while it cools it is the other way round, so a ranked layer is no one place.
A layer says what a part that is always, say, half-way went through; `fastest_c` gives what no part can exceed.
"""

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from holdctl.food.curves import Floats

NAMES = ("coldest", "colder", "middle", "hotter", "hottest")
"""Of the five layers, by their share of the way from the coldest to the hottest paste: 0, ¼, ½, ¾, 1."""


class Layer(NamedTuple):
    """One part of the paste."""

    name: str
    temp_c: "Floats"


def ranked(coldest_c: "Floats", hottest_c: "Floats") -> tuple[Layer, ...]:
    """Return the five ranked layers; NaN where either end is not known."""
    step = 1 / (len(NAMES) - 1)
    return tuple(Layer(name, coldest_c + k * step * (hottest_c - coldest_c)) for k, name in enumerate(NAMES))


def fastest_c(optimum_c: float, coldest_c: "Floats", hottest_c: "Floats") -> "Floats":
    """Return at each time the temperature among all parts at which growth is fastest.

    Growth rises up to one optimum and falls from there, so no part, wherever it moves between the coldest and the
    hottest, grows faster than this curve.
    """
    import numpy as np

    fastest: Floats = np.minimum(np.maximum(optimum_c, coldest_c), hottest_c)
    return fastest
