"""What is known of how fast bacteria of scalds grow, as data: published fits of growth rate to temperature.

Each set says what it was measured on, in which unit its rate is, how long the lag is, where the numbers were read
and how far they can be trusted. No set was measured on a scald; cooked rice comes closest.

Sureness: "high" read in the paper's abstract or proven on a published worked example; "medium" read second-hand, or
its unit follows from a comparison; "low" its unit is not known, so it stands here to be seen and is in no range.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal


class Form(StrEnum):
    """The equation that a set belongs to; see `holdctl.food.rates`."""

    MODIFIED = "modified Ratkowsky"
    SQUARED = "Ratkowsky 1983"
    CARDINAL = "cardinal temperatures, Rosso 1993"


class Organism(StrEnum):
    """Whose growth a set describes."""

    BACILLUS_CEREUS = "Bacillus cereus"
    CLOSTRIDIUM_PERFRINGENS = "Clostridium perfringens"
    STAPHYLOCOCCUS_AUREUS = "Staphylococcus aureus"
    BACILLUS_SUBTILIS = "Bacillus subtilis"


UPPER_BOUND = {
    Organism.CLOSTRIDIUM_PERFRINGENS: "an upper bound, from meat; a flour paste is a poor medium for it (from memory)",
    Organism.STAPHYLOCOCCUS_AUREUS: "an upper bound, from broth; it comes with hands, not with flour (from memory)",
}
"""Why an organism's figures are more than a paste would give."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ParameterSet:
    """One published fit. Temperatures in °C."""

    id: str
    organism: Organism
    food: str
    form: Form
    rate: float
    """`a` of the two Ratkowsky forms, per h and K²; the highest rate, per h, of the cardinal form."""
    min_c: float
    max_c: float
    optimum_c: float | None = None
    """Of the cardinal form only; the others have theirs by calculation."""
    steepness: float | None = None
    """`c` of the two Ratkowsky forms, per K."""
    unit: Literal["ln/h", "log10/h"] = "ln/h"
    """Whether the rate is that of the natural or the decimal logarithm of the count."""
    unit_known: str = "stated"
    h0: float | None = None
    """The work to be done before growth (Baranyi & Roberts): lag time times growth rate, dimensionless."""
    lag_from: str = ""
    source: str
    how: str
    sureness: Literal["high", "medium", "low"]

    def __post_init__(self) -> None:
        """Check what the equations need; raises ValueError."""
        optimum = self.optimum_c
        if self.form is Form.CARDINAL:
            if optimum is None or not (self.min_c + self.max_c) / 2 < optimum < self.max_c:
                raise ValueError(
                    f"{self.id}: the cardinal form needs an optimum in the upper half of its range"
                )
        elif self.steepness is None or not self.steepness > 0:
            raise ValueError(f"{self.id}: the {self.form} form needs a steepness")
        if not (self.rate > 0 and self.min_c < self.max_c):
            raise ValueError(f"{self.id}: no rate, or no range of growth")

    @property
    def counts(self) -> bool:
        """Whether the set is in a range: sets whose unit nobody knows are not."""
        return self.sureness != "low"

    @property
    def upper_bound(self) -> str:
        """Why its figures are more than a paste would give; empty where they are not."""
        return UPPER_BOUND.get(self.organism, "")


def h0_of_q0(q0: float) -> float:
    """Return h0 from the initial physiological state q0 > 0: ln(1 + 1 / q0) (Baranyi & Roberts 1994)."""
    return math.log1p(1 / q0)


def le_marc_rate(nacl_percent: float, ph: float) -> float:
    """Return `a` per h and K² of C. perfringens in bulk meat for its salt (% of the water phase) and pH.

    Le Marc et al. 2008, Int. J. Food Microbiol. 128:41; the unit ln/h follows from its generation times.
    """
    bw = 1 - nacl_percent * (5.2471 + 0.12206 * nacl_percent) / 1000
    return 7.45 * (bw - 0.9755) * (2 - bw - 0.9755) * (ph - 4.76)


_JUNEJA_2019 = "Juneja et al. 2019, Int. J. Food Microbiol. 290:49"
_JUNEJA_2011 = "Juneja et al. 2011, Food Microbiol. 28:791"
_SECOND_HAND = "read second-hand, the paper's table was not seen"
_LIKE_2008 = (
    "read as log10/h it gives the growth that the same laboratory published in 2008, as ln/h it does not"
)
_BORROWED = "borrowed from the first rice set"
_FROM_LAG = "from a lag of 6 h at 19 °C, the shorter of the published 6 to 8 h"

SETS = (
    ParameterSet(
        id="bc-rice-juneja-a", organism=Organism.BACILLUS_CEREUS, food="cooked rice, cooling; spores",
        form=Form.MODIFIED, rate=0.0046, min_c=8.67, max_c=49.68, steepness=0.0656,
        unit_known="proven on the published worked example of cooling rice", h0=4.1, lag_from="the same paper",
        source=_JUNEJA_2019, how="quoted", sureness="high",
    ),
    ParameterSet(
        id="bc-rice-juneja-b", organism=Organism.BACILLUS_CEREUS, food="cooked rice, cooling; spores",
        form=Form.MODIFIED, rate=0.0053, min_c=5.90, max_c=49.46, steepness=0.0444,
        unit_known="inferred from the first rice set", h0=4.1, lag_from=_BORROWED,
        source=f"{_JUNEJA_2019}, another primary model", how=_SECOND_HAND, sureness="medium",
    ),
    ParameterSet(
        id="bc-rice-juneja-c", organism=Organism.BACILLUS_CEREUS, food="cooked rice, cooling; spores",
        form=Form.MODIFIED, rate=0.0028, min_c=5.77, max_c=48.47, steepness=0.1069,
        unit_known="inferred from the first rice set", h0=4.1, lag_from=_BORROWED,
        source=f"{_JUNEJA_2019}, another primary model", how=_SECOND_HAND, sureness="medium",
    ),
    ParameterSet(
        id="bc-rice-juneja-d", organism=Organism.BACILLUS_CEREUS, food="cooked rice, cooling; spores",
        form=Form.MODIFIED, rate=0.0055, min_c=5.42, max_c=47.86, steepness=0.0815,
        unit_known="not known", h0=4.1, lag_from=_BORROWED,
        source=f"{_JUNEJA_2019}, another primary model", how=_SECOND_HAND, sureness="low",
    ),
    ParameterSet(
        id="bc-rice-hwang", organism=Organism.BACILLUS_CEREUS, food="cooked rice",
        form=Form.CARDINAL, rate=2.21, min_c=8.23, optimum_c=37.6, max_c=46.8,
        unit_known="inferred from the first rice set", h0=4.1, lag_from=_BORROWED,
        source="Hwang & Huang 2019, Food Control 96:403", how=_SECOND_HAND, sureness="medium",
    ),
    ParameterSet(
        id="bc-cereal-group-3", organism=Organism.BACILLUS_CEREUS, food="cereal dishes; group III (emetic strains)",
        form=Form.CARDINAL, rate=1.41, min_c=7.3, optimum_c=39.06, max_c=47.76,
        h0=1.86, lag_from=_FROM_LAG,
        source="Ellouze et al. 2021", how="quoted from the code of a public risk model that cites it",
        sureness="medium",
    ),
    ParameterSet(
        id="bc-cereal-group-4", organism=Organism.BACILLUS_CEREUS, food="cereal dishes; group IV",
        form=Form.CARDINAL, rate=1.41, min_c=7.44, optimum_c=38.71, max_c=47.44,
        h0=1.89, lag_from=_FROM_LAG,
        source="Ellouze et al. 2021", how="quoted from the code of a public risk model that cites it",
        sureness="medium",
    ),
    ParameterSet(
        id="cp-roast-chicken", organism=Organism.CLOSTRIDIUM_PERFRINGENS, food="roasted chicken",
        form=Form.CARDINAL, rate=6.06, min_c=8.8, optimum_c=46.4, max_c=51.5,
        source="one-step cooling study of roasted chicken and braised beef, Food Control, abstract",
        how="quoted", sureness="high",
    ),
    ParameterSet(
        id="cp-braised-beef", organism=Organism.CLOSTRIDIUM_PERFRINGENS, food="braised beef",
        form=Form.CARDINAL, rate=5.64, min_c=10.3, optimum_c=43.5, max_c=53.4,
        source="one-step cooling study of roasted chicken and braised beef, Food Control, abstract",
        how="quoted", sureness="high",
    ),
    ParameterSet(
        id="cp-beef-juneja", organism=Organism.CLOSTRIDIUM_PERFRINGENS, food="cooked uncured beef; spores",
        form=Form.MODIFIED, rate=0.050**2, min_c=10.15, max_c=53.0, steepness=0.238,
        unit="log10/h", unit_known=_LIKE_2008, h0=h0_of_q0(0.0699), lag_from="the same paper (q0 0.0699)",
        source=_JUNEJA_2011, how=_SECOND_HAND, sureness="medium",
    ),
    ParameterSet(
        id="cp-chicken-juneja", organism=Organism.CLOSTRIDIUM_PERFRINGENS, food="cooked uncured chicken; spores",
        form=Form.MODIFIED, rate=0.048**2, min_c=9.74, max_c=52.1, steepness=0.208,
        unit="log10/h", unit_known=_LIKE_2008, h0=h0_of_q0(0.0105), lag_from="the same paper (q0 0.0105)",
        source=_JUNEJA_2011, how=_SECOND_HAND, sureness="medium",
    ),
    ParameterSet(
        id="cp-pork-juneja", organism=Organism.CLOSTRIDIUM_PERFRINGENS, food="cooked uncured pork; spores",
        form=Form.MODIFIED, rate=0.047**2, min_c=10.69, max_c=52.8, steepness=0.252,
        unit="log10/h", unit_known=_LIKE_2008, h0=h0_of_q0(0.0137), lag_from="the same paper (q0 0.0137)",
        source=_JUNEJA_2011, how=_SECOND_HAND, sureness="medium",
    ),
    ParameterSet(
        id="cp-meat-le-marc", organism=Organism.CLOSTRIDIUM_PERFRINGENS, food="bulk meat, here without salt, pH 6.5",
        form=Form.MODIFIED, rate=le_marc_rate(0.0, 6.5), min_c=12.20, max_c=54.47, steepness=0.095,
        unit_known="inferred from generation times of about 10 min",
        source="Le Marc et al. 2008, Int. J. Food Microbiol. 128:41", how=_SECOND_HAND, sureness="medium",
    ),
    ParameterSet(
        id="sa-medvedova", organism=Organism.STAPHYLOCOCCUS_AUREUS, food="strain 2064, broth",
        form=Form.CARDINAL, rate=1.97, min_c=7.7, optimum_c=40.6, max_c=46.7,
        source="Medved'ová et al. 2019, Ital. J. Food Saf. 8:8287", how="quoted", sureness="high",
    ),
    ParameterSet(
        id="bs-rosso", organism=Organism.BACILLUS_SUBTILIS, food="broth",
        form=Form.CARDINAL, rate=1.2, min_c=13.4, optimum_c=38.7, max_c=51.0,
        source="Rosso et al. 1993, J. Theor. Biol. 162:447", how=_SECOND_HAND, sureness="medium",
    ),
)  # fmt: skip
"""All sets, those first that count most for a scald."""

SPORES_LOG = 2.0
"""Count at the start, log10 per g: bakery raw materials carry 1 to 100 such spores per g that survive 10 min at 100 °C
(Rosenkvist & Hansen 1995, Int. J. Food Microbiol.); the upper end is taken."""
HIGHEST_LOG = 8.03
"""Count that growth levels off at, log10 per g: B. cereus in rice, the published worked example; taken for all."""


def sets_of(organism: Organism) -> tuple[ParameterSet, ...]:
    """Return the sets of an organism that count."""
    return tuple(one for one in SETS if one.organism is organism and one.counts)
