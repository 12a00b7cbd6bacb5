"""What a hold did to its paste, as plain values with rule and source: growth, heat, starch and amylases.

The same figures live and in the review; `holdctl.food.tally` adds them up.
"""

from collections.abc import Sequence

import msgspec

from holdctl.food.growth import EMETIC_C, EMETIC_LOG
from holdctl.food.measured import Measured
from holdctl.food.saccharification import Mix

EMETIC_RULE = (
    f"Emetic toxin of B. cereus is counted on from {EMETIC_LOG:g} log10 per g at {EMETIC_C[0]:g} to "
    f"{EMETIC_C[1]:g} °C; no heat here destroys it."
)
EMETIC_SOURCE = "drawn from Häggblom et al. 2002, Finlay et al. 2000, Jääskeläinen et al. 2003"
SHOWN_LOG = 0.005
"""Less growth than this is none."""
_NO_MIX = "how hot the mix was (`holdctl note --mix-peak 78.5`)"
_NO_MALT = "whether and when malt went in (`holdctl note --malt none`, `--malt mix`, `--malt 21:40`)"


class Growth(msgspec.Struct, frozen=True, kw_only=True):
    """Growth of one organism over the record, log10 of its count."""

    organism: str
    least_log: float
    most_log: float
    any_part_log: float
    """What no part of the paste exceeds."""
    layer: str
    """Where most grew."""
    fits: int
    sources: tuple[str, ...]
    upper_bound: str
    """Why even the range is more than a paste would give; empty where it is not."""


class Emetic(msgspec.Struct, frozen=True, kw_only=True):
    """Time in which emetic toxin may have formed, s since the start of the hold."""

    from_s: float
    lasted_s: float
    unrecorded_s: float
    rule: str
    source: str
    action: str


class Lethality(msgspec.Struct, frozen=True, kw_only=True):
    """What the coldest paste's heat did to vegetative bacteria."""

    p70_min: float
    """Minutes at 70 °C that would do the same, z 7.5 K."""
    p70_burger_min: float
    """With z 6.0 K."""
    benchmark_met: bool
    """Whether both reach 2 min."""
    rule: str
    source: str
    reductions_log: dict[str, float]
    """Decimal reductions by published means."""
    spores: str


class GrowthAccount(msgspec.Struct, frozen=True, kw_only=True):
    """Growth and heat of one night."""

    organisms: tuple[Growth, ...]
    unrecorded_s: float
    """Time that counts at the fastest growth and as no heat."""
    emetic: Emetic | None
    lethality: Lethality

    @property
    def grown(self) -> tuple[Growth, ...]:
        """The organisms of which there is growth to speak of, in some part of the paste or in a gap."""
        return tuple(one for one in self.organisms if one.any_part_log >= SHOWN_LOG)


class Part(msgspec.Struct, frozen=True, kw_only=True):
    """One layer of the paste; shares 0 to 1 as (low, nominal, high) or (sure, possible)."""

    layer: str
    highest_c: float | None
    gelatinised: tuple[float, float] | None
    above_limit_s: float
    """Recorded time above the amylases' limit."""
    alpha_left: tuple[float, float, float] | None
    beta_left: tuple[float, float, float] | None
    index: tuple[float, float, float] | None


class BreadAccount(msgspec.Struct, frozen=True, kw_only=True):
    """What one night did for the bread."""

    starch: str
    gelatinises_c: tuple[tuple[float, float], tuple[float, float], tuple[float, float]]
    """Onset, peak and end, each from lowest to highest."""
    starch_source: str
    starch_sureness: str
    limit_c: float
    """Above it the paste is too hot for its amylases."""
    amylase_sources: tuple[str, ...]
    parts: tuple[Part, ...]
    """From the coldest layer to the hottest."""
    unrecorded_s: float
    """Time that counts as nothing."""
    mix: Mix | None
    """What the reckoning begins with; None where it is not known."""
    missing: tuple[str, ...]
    """What would have to be known for an index; empty where there is one."""
    measured: tuple[Measured, ...]


def mix_of(measured: Sequence[Measured]) -> tuple[Mix | None, tuple[str, ...]]:
    """Return how the paste was before the record, by the last entries; or None and what is not known."""
    mixes = [one.value for one in measured if one.value.mix_c is not None]
    malts = [one for one in measured if one.value.malt is not None or one.value.malt_s is not None]
    missing = (() if mixes else (_NO_MIX,)) + (() if malts else (_NO_MALT,))
    if missing:
        return None, missing
    mix, malt = mixes[-1], malts[-1]
    before = None if mix.mix_s is None else max(0.0, -mix.mix_s)
    malt_s = malt.at_s if malt.value.malt == "now" else malt.value.malt_s
    return Mix(peak_c=mix.mix_c or 0.0, before_s=before, malt_s=malt_s), ()
