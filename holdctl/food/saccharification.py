"""The saccharification index: what a curve of temperature let the amylases do, as one number without a unit.

    index = 1/(60 min) ∫ g ½ (aα + aβ) f dt

| | |
| --- | --- |
| g | share of the starch that has gelatinised so far (`holdctl.food.starch`): raw starch is hardly touched |
| aα, aβ | share of each amylase left (`holdctl.food.amylase`) |
| f | how fast it works at this temperature, 1 at 65 °C: 1.5 for each 10 K, as wheat's amylases between 35 and 45 °C \
(1.48 to 1.56, second-hand), extrapolated |

So 1 is what one hour at 65 °C would do with all starch gelatinised and no amylase lost. It never falls with time, it is
the larger the more of the amylases outlast, and it says nothing of how much of them a flour or malt brings, nor of when
the starch is used up. **Indicative only**, made by this project, measured against nothing: it compares nights of one
bakery with one formula and no others. The equal weight of both amylases is this project's choice.

The reckoning begins at the mix, for a mix with boiling water is hot enough to end the β-amylase before the hold begins.
Where malt goes in later its amylases are the ones that count, from then on; the flour's own are left out.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from holdctl.food.amylase import ALPHA, BETA, Amylase, Spread, exposures_min, left
from holdctl.food.curves import Segments, exponential_mean, segments, since, time_above_s
from holdctl.food.starch import gelatinised, shares
from holdctl.paste.flours import AMYLASES_C
from holdctl.paste.gelatinisation import Band
from holdctl.settings import Flour

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from holdctl.food.curves import Floats

Q10 = 1.5
HOUR_MIN = 60.0
NOTHING = Spread(0.0, 0.0, 0.0)
MIXED_S = 120.0
"""Shortest time that a mix stays at its peak, s; this project's choice."""


@dataclass(frozen=True, slots=True)
class Mix:
    """How the paste was before the record begins."""

    peak_c: float
    """Temperature of the mix when flour and water had just come together, °C."""
    before_s: float | None = None
    """Time from then to the record's begin, s; None where nobody has said it: `MIXED_S` at the peak is counted."""
    malt_s: float | None = None
    """When malt went in, s since the record's begin, negative before; None: none, or with the flour."""


@dataclass(frozen=True, slots=True)
class State:
    """How far it has come; `advance` takes it on."""

    alpha_min: float = 0.0
    """Minutes at 65 °C that would have done the same to the α-amylase."""
    beta_min: float = 0.0
    highest_c: float = -math.inf
    """Highest temperature so far, °C."""
    index: Spread = NOTHING
    """With the shortest half-lives and sure gelatinisation, nominal, and with the longest and possible."""


@dataclass(frozen=True, slots=True)
class Conversion:
    """What a curve did to one part of the paste."""

    highest_c: float | None
    """Highest recorded temperature, °C."""
    gelatinised: Band | None
    """Share of the starch, from sure to possible; the mix counts where it is known."""
    above_limit_s: float
    """Recorded time above `AMYLASES_C`."""
    unrecorded_s: float
    """Time about which nothing is known; it counts as nothing here."""
    alpha_left: Spread | None = None
    beta_left: Spread | None = None
    index: Spread | None = None
    """None, as the shares left, where mix and malt are not known."""


def conversion(
    t_s: "ArrayLike", temp_c: "ArrayLike", flour: Flour, mix: Mix | None, gap_s: float = math.inf
) -> Conversion:
    """Return what a curve (s since the record's begin, °C) did; without a `mix` no amylase and no index is given."""
    recorded = segments(t_s, temp_c, gap_s)
    end = None if mix is None else state(t_s, temp_c, flour, mix, gap_s)
    return converted(
        flour, highest_known_c(recorded), time_above_s(recorded, AMYLASES_C), recorded.unknown_s, mix, end
    )


def converted(
    flour: Flour,
    highest_c: float | None,
    above_s: float,
    unknown_s: float,
    mix: Mix | None,
    end: State | None,
) -> Conversion:
    """Return the same from what a curve has come to; `end` goes with `mix`."""
    reached = [temp for temp in (highest_c, None if mix is None else mix.peak_c) if temp is not None]
    share = gelatinised(flour, max(reached)) if reached else None
    if end is None:
        return Conversion(highest_c, share, above_s, unknown_s)
    return Conversion(
        highest_c, share, above_s, unknown_s, left(ALPHA, end.alpha_min), left(BETA, end.beta_min), end.index
    )


def state(t_s: "ArrayLike", temp_c: "ArrayLike", flour: Flour, mix: Mix, gap_s: float = math.inf) -> "State":
    """Return the state at a curve's end: gelatinisation from the mix on, amylases from the mix or the malt on."""
    import numpy as np

    before, record = _before(t_s, temp_c, mix), (np.asarray(t_s, float), np.asarray(temp_c, float))
    now = State(highest_c=mix.peak_c)
    if mix.malt_s is not None:
        early = record[0] <= mix.malt_s
        reached = highest_known_c(segments(record[0][early], record[1][early], gap_s))
        now = State(highest_c=max(mix.peak_c, -math.inf if reached is None else reached))
        before, record = since(*before, mix.malt_s), since(*record, mix.malt_s)
    now = advance(now, segments(*before), flour)
    return advance(now, segments(*record, gap_s), flour)


def advance(now: State, found: Segments, flour: Flour) -> State:
    """Return the state after a further stretch of the curve; two stretches one after the other give the whole."""
    import numpy as np

    if not len(found.length_s):
        return now
    top = np.where(found.known, np.fmax(found.start_c, found.end_c), -np.inf)
    begun = np.where(found.known, found.start_c, -np.inf)[0]
    highest = np.maximum.accumulate(np.concatenate(([max(now.highest_c, begun)], top)))
    alpha, beta = exposures_min(ALPHA, found), exposures_min(BETA, found)
    pace = _pace_min(found) / (2 * HOUR_MIN)
    gained = []
    for which, share in enumerate(shares(flour, highest)):
        alive = _mean_left(ALPHA, which, now.alpha_min, alpha) + _mean_left(BETA, which, now.beta_min, beta)
        gained.append(float((pace * (share[:-1] + share[1:]) / 2 * alive).sum()))
    return State(
        now.alpha_min + float(alpha.sum()), now.beta_min + float(beta.sum()), float(highest[-1]),
        Spread(*(was + more for was, more in zip(now.index, gained, strict=True))),
    )  # fmt: skip


def _pace_min(found: Segments) -> "Floats":
    """Return each segment's minutes at 65 °C in which the same work would be done by amylases that do not die."""
    import numpy as np

    start, end = ((np.where(found.known, temp, 65.0) - 65.0) * (math.log(Q10) / 10) for temp in found[1:3])
    pace: Floats = np.where(found.known, found.length_s / 60 * exponential_mean(start, end), 0.0)
    return pace


def _mean_left(enzyme: Amylase, which: int, before_min: float, exposed_min: "Floats") -> "Floats":
    """Return the mean share left within each segment, for the shortest, nominal or longest half-life."""
    import numpy as np

    rate = math.log(2) / enzyme.half_life_min[which]
    ends = np.exp(-rate * (before_min + np.concatenate(([0.0], np.cumsum(exposed_min)))))
    dying = rate * exposed_min
    mean: Floats = ends[:-1] * np.where(dying > 1e-8, -np.expm1(-dying) / np.maximum(dying, 1e-8), 1.0)
    return mean


def _before(t_s: "ArrayLike", temp_c: "ArrayLike", mix: Mix) -> "tuple[Floats, Floats]":
    """Return the curve before the record: the mix's peak for a while, then straight to the first known value."""
    import numpy as np

    t, temp = np.asarray(t_s, dtype=float), np.asarray(temp_c, dtype=float)
    first = np.flatnonzero(np.isfinite(temp))[:1]
    at = float(t[first[0]]) if len(first) else 0.0
    fell_s = max(0.0, (mix.before_s or 0.0) - MIXED_S)
    begin = at - fell_s - MIXED_S
    if not (len(first) and fell_s):
        return np.array([begin, begin + MIXED_S]), np.array([mix.peak_c] * 2)
    return np.array([begin, begin + MIXED_S, at]), np.array([mix.peak_c, mix.peak_c, temp[first[0]]])


def highest_known_c(found: Segments) -> float | None:
    """Return the highest recorded temperature, °C; None where nothing is known."""
    import numpy as np

    known = np.fmax(found.start_c, found.end_c)[found.known]
    return float(known.max()) if len(known) else None
