"""Starch and amylases of the paste's layers while the samples come in: `saccharification` stretch by stretch.

How hot the mix was and when malt went in may be told at any time, also long after: what has come in is kept (three
numbers a sample and layer), so that the reckoning can begin anew with the mix.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from holdctl.food.curves import segments, time_above_s
from holdctl.food.layers import Layer
from holdctl.food.saccharification import (
    Conversion,
    Mix,
    State,
    advance,
    converted,
    highest_known_c,
    state,
)
from holdctl.paste.flours import AMYLASES_C
from holdctl.settings import Flour

if TYPE_CHECKING:
    from holdctl.food.curves import Floats


@dataclass(slots=True)
class _Part:
    """One layer so far."""

    name: str
    kept: "list[tuple[Floats, Floats]]" = field(default_factory=list)
    """Times and temperatures; each stretch begins with the last sample of the one before."""
    highest_c: float | None = None
    above_s: float = 0.0
    unknown_s: float = 0.0
    now: State | None = None
    """None where it has to be reckoned from the mix on."""


class ConversionTally:
    """What the hold did to each layer, added up; stretches that share a sample add up to the whole."""

    def __init__(self, flour: Flour, names: Sequence[str], gap_s: float) -> None:
        self._flour, self._gap_s = flour, gap_s
        self._parts = [_Part(name) for name in names]
        self._mix: Mix | None = None

    def add(self, t_s: "Floats", layers: Sequence[Layer]) -> None:
        """Take a further stretch, °C of each layer; the last sample of one is the first of the next."""
        for part, layer in zip(self._parts, layers, strict=True):
            found = segments(t_s, layer.temp_c, self._gap_s)
            tops = [top for top in (part.highest_c, highest_known_c(found)) if top is not None]
            part.highest_c = max(tops, default=None)
            part.above_s += time_above_s(found, AMYLASES_C)
            part.unknown_s += found.unknown_s
            part.kept.append((t_s, layer.temp_c))
            if part.now is not None:
                part.now = advance(part.now, found, self._flour)

    def conversions(self, mix: Mix | None) -> tuple[tuple[str, Conversion], ...]:
        """Return what was done to each layer, coldest first; without a mix no amylase and no index."""
        if mix != self._mix:
            self._mix = mix
            for part in self._parts:
                part.now = None
        return tuple((part.name, self._of(part, mix)) for part in self._parts)

    def _of(self, part: _Part, mix: Mix | None) -> Conversion:
        end = None if mix is None else self._state(part, mix)
        return converted(self._flour, part.highest_c, part.above_s, part.unknown_s, mix, end)

    def _state(self, part: _Part, mix: Mix) -> State:
        if part.now is not None:
            return part.now
        t_s, temp_c = _whole(part.kept)
        end = state(t_s, temp_c, self._flour, mix, self._gap_s)
        begun = part.highest_c is not None and (mix.malt_s is None or mix.malt_s <= t_s[-1])
        part.now = end if begun else None  # else the next sample may change what it begins with
        return end


def _whole(kept: "list[tuple[Floats, Floats]]") -> "tuple[Floats, Floats]":
    """Return the stretches as one curve, the samples that two of them share only once."""
    import numpy as np

    if not kept:
        return np.array([]), np.array([])
    if len(kept) > 1:
        first, *rest = kept
        joined = (
            np.concatenate([first[0], *(t[1:] for t, _ in rest)]),
            np.concatenate([first[1], *(temp[1:] for _, temp in rest)]),
        )
        kept[:] = [joined]
    return kept[0]
