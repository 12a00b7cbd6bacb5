"""What heat does to vegetative bacteria: minutes at 70 °C that would do the same, and log reductions.

    P70 = ∫ 10^((T - 70) / z) dt          log reduction = ∫ dt / D(T),  D(T) = Dref 10^((Tref - T) / z)

z 7.5 K is that of Listeria monocytogenes (FSAI 2018; ACMSF), 6.0 K that of the ACMSF's report on burgers (2007); 2 min
at 70 °C stand for a sixfold decimal reduction of L. monocytogenes (MPI Technical Paper 2016/05).

**Spores survive.** At 65 °C the published means give B. cereus spores a D of about 14 h and C. perfringens spores 9 h,
both extrapolated from above 85 °C; emetic toxin stands 90 min at 121 °C. So the spores' reduction in a hold is 0 here,
whatever the arithmetic would give, and every text says that they survive.
"""

from dataclasses import dataclass
from typing import Literal, NamedTuple

from holdctl.food.curves import Segments, tenfold_minutes

Z_LISTERIA_K = 7.5
Z_BURGER_K = 6.0
BENCHMARK_MIN = 2.0
"""At 70 °C."""
BENCHMARK_RULE = "the benchmark for cooking, 70 °C for 2 min or the same (6 log of Listeria monocytogenes)"
BENCHMARK_SOURCE = "FSAI 2018; ACMSF 2007; MPI Technical Paper 2016/05; no rule for scalds"
SPORES_SURVIVE = (
    "Spores (Bacillus cereus, Clostridium perfringens, Bacillus subtilis) survive the scald and the hold: "
    "what cools slowly afterwards can grow again."
)


@dataclass(frozen=True, slots=True)
class Resistance:
    """A D-value and its z: how one kind of cell stands heat."""

    name: str
    spores: bool
    reference_c: float
    d_min: float
    """Minutes at the reference for one decimal reduction."""
    z_k: float
    source: str
    sureness: Literal["high", "medium", "low"]

    def d_at_min(self, temp_c: float) -> float:
        """Return the minutes at a temperature for one decimal reduction."""
        return self.d_min * float(10.0 ** ((self.reference_c - temp_c) / self.z_k))


MEANS = "published means, van Asselt & Zwietering 2006"
_MEANS = (
    "van Asselt & Zwietering 2006, Int. J. Food Microbiol. 107:73 (means of 4066 D-values), read second-hand"
)

RESISTANCES = (
    Resistance("Listeria monocytogenes", False, 70.0, 10**-1.06, 7.0, _MEANS, "high"),
    Resistance("Salmonella", False, 70.0, 10**-0.83, 9.1, _MEANS, "high"),
    Resistance("Staphylococcus aureus", False, 70.0, 10**-0.59, 8.8, _MEANS, "high"),
    Resistance("Clostridium perfringens, vegetative", False, 70.0, 10**-0.42, 10.3, _MEANS, "high"),
    Resistance("Bacillus cereus, spores", True, 120.0, 10**-1.38, 12.8, _MEANS, "medium"),
    Resistance("Clostridium perfringens, spores", True, 120.0, 10**-0.52, 16.8, _MEANS, "medium"),
)
"""Published means; those of spores are extrapolated below 85 °C and never used for a hold."""


class Published(NamedTuple):
    """Minutes at a temperature that a published table sets equal to 2 min at 70 °C."""

    temp_c: float
    minutes: float


UK_TABLE = (
    Published(60.0, 45.0), Published(65.0, 10.0), Published(70.0, 2.0), Published(75.0, 0.5), Published(80.0, 0.1),
)  # fmt: skip
"""The United Kingdom's table (read in a training page, medium): the line of z 7.5, rounded up."""


def p70_min(found: Segments, z_k: float = Z_LISTERIA_K) -> float:
    """Return the minutes at 70 °C that would do the same as the curve; what is not known counts as nothing."""
    return float(tenfold_minutes(found, 70.0, z_k).sum())


def equivalent_min(temp_c: float, z_k: float = Z_LISTERIA_K) -> float:
    """Return the minutes at a temperature that do the same as 2 min at 70 °C."""
    return BENCHMARK_MIN * float(10.0 ** ((70.0 - temp_c) / z_k))


def log_reduction(found: Segments, one: Resistance) -> float:
    """Return the decimal reductions that a curve brings; 0 for spores, which a hold does not kill."""
    if one.spores:
        return 0.0
    return float(tenfold_minutes(found, one.reference_c, one.z_k).sum()) / one.d_min


class HeatTally:
    """What the heat did, added up stretch by stretch; what is not known counts as nothing."""

    def __init__(self) -> None:
        self.p70_min = 0.0
        """Minutes at 70 °C that would do the same, z 7.5 K."""
        self.p70_burger_min = 0.0
        """With z 6.0 K."""
        self.reductions_log = {one.name: 0.0 for one in RESISTANCES if not one.spores}
        """Decimal reductions of vegetative cells, by published means."""

    def add(self, found: Segments) -> None:
        """Take a further stretch of the coldest paste."""
        self.p70_min += p70_min(found)
        self.p70_burger_min += p70_min(found, Z_BURGER_K)
        for one in RESISTANCES:
            if not one.spores:
                self.reductions_log[one.name] += log_reduction(found, one)
