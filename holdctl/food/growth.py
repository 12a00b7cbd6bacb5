"""How far a count of bacteria may have grown over a curve of temperature: the primary model of Baranyi & Roberts.

    dq/dt = mu(T) q                              q: physiological state; 1 / (1 + 1/q) of the rate is at work
    dlnN/dt = mu(T) q / (1 + q) (1 - N / Nmax)   N: count; q starts at q0 = 1 / (exp(h0) - 1)

(Baranyi & Roberts 1994, Int. J. Food Microbiol. 23:277; from memory, and proven on a published worked example.)

With S = ∫ mu dt both equations integrate in closed form, whatever the temperature did:

    q = q0 exp(S)
    A = ∫ mu q / (1 + q) dt = ln((1 + q) / (1 + q0)) = ln(1 + exp(-h0) (exp(S) - 1))      (no lag, h0 = 0: A = S)
    N = Nmax / (1 + (Nmax / N0 - 1) exp(-A))                    since d lnN / dA = 1 - N / Nmax

So the only sum over time is S, which `holdctl.food.rates` gives exactly for a temperature that is straight between
samples; S of two parts add up to S of the whole. What a later heat kills is never taken off: toxin and spores stay.
"""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from holdctl.food.curves import Segments, time_within_s
from holdctl.food.organisms import HIGHEST_LOG, SPORES_LOG, Organism, ParameterSet
from holdctl.food.rates import mean_rates_ln_h, optimum

if TYPE_CHECKING:
    from holdctl.food.curves import Floats

LN10 = math.log(10)
_BLOCK = 4096
"""Segments reckoned at once: few enough that every step of the sum stays within the processor's cache."""
EMETIC_C = (10.0, 40.0)
"""Where emetic toxin (cereulide) may form: minimal at 8 °C and below and at 40 °C (Häggblom et al. 2002, Appl. Environ.
Microbiol. 68:2479), none above 37 °C and most at 12 to 15 °C (Finlay et al. 2000, Lett. Appl. Microbiol. 31:385)."""
EMETIC_LOG = 5.0
"""From this count on, log10 per g: an order of magnitude below the 6 at which it was found in bakery goods
(Jääskeläinen et al. 2003, J. Food Prot. 66:1047); 5 is unacceptable in ready-to-eat food by itself."""


@dataclass(frozen=True, slots=True)
class Exposure:
    """∫ mu dt of one parameter set over a curve, in ln units; exposures of parts add up."""

    recorded: float = 0.0
    gaps: float = 0.0
    """What the time without a known temperature could add at the temperature of fastest growth: the worst case."""

    def __add__(self, other: "Exposure") -> "Exposure":
        return Exposure(self.recorded + other.recorded, self.gaps + other.gaps)

    @property
    def worst(self) -> float:
        """Both together."""
        return self.recorded + self.gaps


def exposure(one: ParameterSet, found: Segments) -> Exposure:
    """Return the exposure of a set over a curve."""
    recorded = float(gained(one, found).sum())
    return Exposure(recorded, optimum(one)[1] * found.unknown_s / 3600)


def log_count(
    exposed: float, h0: float, start_log: float = SPORES_LOG, highest_log: float = HIGHEST_LOG
) -> float:
    """Return the count, log10 per g, after an exposure (ln units); `h0` 0 without a lag.

    Raises ValueError unless exposure and h0 are not negative and the start is below the highest count.
    """
    if not (exposed >= 0 and h0 >= 0 and start_log < highest_log):
        raise ValueError(
            f"no count follows from an exposure of {exposed}, h0 {h0}, {start_log} to {highest_log} log"
        )
    work = math.log1p(math.exp(-h0) * math.expm1(exposed)) if exposed < 500 else exposed - h0
    room = math.expm1((highest_log - start_log) * LN10)
    return highest_log - math.log1p(room * math.exp(-work)) / LN10


def exposure_until(
    count_log: float, h0: float, start_log: float = SPORES_LOG, highest_log: float = HIGHEST_LOG
) -> float:
    """Return the exposure after which a count is reached, ln units: `log_count` the other way round."""
    if count_log <= start_log:
        return 0.0
    if count_log >= highest_log:
        return math.inf
    work = math.log(
        math.expm1((highest_log - start_log) * LN10) / math.expm1((highest_log - count_log) * LN10)
    )
    return math.log1p(math.exp(h0) * math.expm1(work))


def log_counts(
    one: ParameterSet,
    found: Segments,
    h0: float,
    start_log: float = SPORES_LOG,
    highest_log: float = HIGHEST_LOG,
) -> "Floats":
    """Return the count at every sample, log10 per g; a gap adds nothing here."""
    import numpy as np

    exposed = np.concatenate(([0.0], np.cumsum(gained(one, found))))
    work = np.log1p(math.exp(-h0) * np.expm1(exposed))
    room = math.expm1((highest_log - start_log) * LN10)
    counts: Floats = highest_log - np.log1p(room * np.exp(-work)) / LN10
    return counts


class Emetic(NamedTuple):
    """Time in which emetic toxin may have formed."""

    from_s: float
    """Since the curve's begin: the count was there and the temperature in `EMETIC_C`."""
    lasted_s: float
    unrecorded_s: float
    """Part of `lasted_s` about which nothing is known."""


class Ripening(NamedTuple):
    """How far a curve has come towards toxin; `ripened` takes it on, a stretch at a time."""

    exposed: float = 0.0
    """Exposure so far, ln units, gaps at the fastest rate."""
    passed_s: float = 0.0
    found: Emetic | None = None

    def later(self, passed_s: float) -> "Ripening":
        """Return the state after a time in which nothing can grow, too hot or too cold."""
        return self._replace(passed_s=self.passed_s + passed_s)


def emetic(one: ParameterSet, found: Segments, h0: float, start_log: float = SPORES_LOG) -> Emetic | None:
    """Return when toxin may have formed, None where it may not; gaps as the worst case, for B. cereus only."""
    if one.organism is not Organism.BACILLUS_CEREUS:
        return None
    return ripened(
        one, found, gained(one, found), Ripening(), exposure_until(EMETIC_LOG, h0, start_log)
    ).found


def ripened(one: ParameterSet, found: Segments, grew: "Floats", was: Ripening, until: float) -> Ripening:
    """Return the state after a further stretch, whose `gained` is `grew`; toxin counts from the exposure `until`."""
    import numpy as np

    worst = np.where(found.known, grew, optimum(one)[1] * found.length_s / 3600)
    exposed = was.exposed + np.cumsum(worst)
    passed_s = was.passed_s + float(found.length_s.sum())
    end = float(exposed[-1]) if len(exposed) else was.exposed
    there = exposed >= until
    low, high = EMETIC_C
    inside = (np.fmax(found.start_c, found.end_c) >= low) & (np.fmin(found.start_c, found.end_c) <= high)
    may = there & (inside | ~found.known)
    if not may.any():
        return Ripening(end, passed_s, was.found)
    begin = was.passed_s + float(found.length_s[: int(np.flatnonzero(may)[0])].sum())
    unrecorded = float(found.length_s[may & ~found.known].sum())
    late = Segments(found.length_s[there], found.start_c[there], found.end_c[there], found.known[there])
    lasted = time_within_s(late, low, high) + unrecorded
    before = was.found or Emetic(begin, 0.0, 0.0)
    return Ripening(
        end, passed_s, Emetic(before.from_s, before.lasted_s + lasted, before.unrecorded_s + unrecorded)
    )


def gained(one: ParameterSet, found: Segments) -> "Floats":
    """Return ∫ mu dt of each segment, ln units; 0 where nothing is known."""
    import numpy as np

    grew: Floats = np.zeros(len(found.length_s))
    for begin in range(0, len(grew), _BLOCK):
        part = slice(begin, begin + _BLOCK)
        start, end, known = found.start_c[part], found.end_c[part], found.known[part]
        cool, warm = (start < one.max_c) | (end < one.max_c), (start > one.min_c) | (end > one.min_c)
        grows = known & cool & warm
        if grows.all():
            grew[part] = mean_rates_ln_h(one, start, end)
        elif grows.any():
            grew[part][grows] = mean_rates_ln_h(one, start[grows], end[grows])
    return grew * (found.length_s / 3600)
