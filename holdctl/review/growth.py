"""What may have grown in a recorded night, and what its heat did to vegetative bacteria.

Growth is an estimate from published fits, none of them measured on a scald; `holdctl.food.growth_range` says how the
range comes about. Heat counts on the coldest paste, by estimate, less its deviation and the probes' error. What was not
recorded counts against the baker: as the fastest growth, and as no heat. After the record's end nothing is known.
"""

from typing import TYPE_CHECKING

import msgspec

from holdctl.food.curves import segments
from holdctl.food.growth import EMETIC_C, EMETIC_LOG
from holdctl.food.growth_range import GrowthRange, growth_range
from holdctl.food.layers import ranked
from holdctl.food.lethality import (
    BENCHMARK_MIN,
    BENCHMARK_RULE,
    BENCHMARK_SOURCE,
    MEANS,
    RESISTANCES,
    SPORES_SURVIVE,
    Z_BURGER_K,
    Z_LISTERIA_K,
    log_reduction,
    p70_min,
)
from holdctl.food.organisms import HIGHEST_LOG, SPORES_LOG, Organism
from holdctl.food.windows import GAP_S
from holdctl.review.words import clock, duration, look_of

if TYPE_CHECKING:
    from rich.console import RenderableType

    from holdctl.review.night import Floats, Night

OF_GROWTH = (
    f"Estimates, log10 of the count, from {SPORES_LOG:g} per g at the start to {HIGHEST_LOG:g} at most, by published "
    f"fits of rice, cereal dishes, meat and broth, none of a scald. Least: with the lag, by the slowest fit; most: "
    f"without a lag, by the fastest; no part of the paste exceeds the last figure"
)
EMETIC_RULE = (
    f"Emetic toxin of B. cereus is counted on from {EMETIC_LOG:g} log10 per g at {EMETIC_C[0]:g} to "
    f"{EMETIC_C[1]:g} °C; no heat here destroys it."
)
EMETIC_SOURCE = "drawn from Häggblom et al. 2002, Finlay et al. 2000, Jääskeläinen et al. 2003"
_MANY_LOG = 12.0
"""Beyond this a reduction is no figure any more."""
_SHOWN_LOG = 0.005
"""Less growth than this is none."""


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


def growth_account(night: "Night") -> GrowthAccount:
    """Return what may have grown and what the heat did."""
    import numpy as np

    t, columns = night.columns.t_s, night.columns
    low, high = night.ends_c()
    known = np.isfinite(low) & np.isfinite(high)
    layers = ranked(*(np.where(known, values, np.nan) for values in (columns.coldest_c, columns.hottest_c)))
    found = [growth_range(organism, t, layers, GAP_S, ends_c=(low, high)) for organism in Organism]
    return GrowthAccount(
        organisms=tuple(_growth(one) for one in found),
        unrecorded_s=segments(t, low, GAP_S).unknown_s,
        emetic=next((_emetic(one) for one in found if one.emetic), None),
        lethality=_lethality(t, low),
    )


def growth_lines(account: GrowthAccount, units: str) -> "list[RenderableType]":
    """Return growth and heat as they stand in a report."""
    from rich.table import Table
    from rich.text import Text

    look, grown = look_of(units), [one for one in account.organisms if one.any_part_log >= _SHOWN_LOG]
    table = Table(box=None, padding=(0, 2, 0, 0))
    for head in ("growth, log10", "least", "most", "no part over", "most in"):
        table.add_column(head, justify="right" if head in ("least", "most", "no part over") else "left")
    for one in grown:
        name = one.organism + (" *" if one.upper_bound else "")
        where = f"the {one.layer} paste" if one.most_log >= _SHOWN_LOG else "–"
        table.add_row(name, f"{one.least_log:.2f}", f"{one.most_log:.2f}", f"{one.any_part_log:.2f}", where)
    words = [*(_growth_words(account, grown) if grown else [_none(account)]), *heat_words(account)]
    return [Text(""), *([table] if grown else []), *(Text(look.text(line)) for line in words)]


def _none(account: GrowthAccount) -> str:
    *most, last = (one.organism for one in account.organisms)
    where = f"no part of the paste was where {', '.join(most)} or {last} grows"
    return f"Growth: none in what is recorded: {where} (published fits, none of a scald)."


def _growth_words(account: GrowthAccount, grown: list[Growth]) -> list[str]:
    gap = f", in which {duration(account.unrecorded_s)} not recorded count at the fastest growth"
    words = [f"{OF_GROWTH}{gap if account.unrecorded_s else ''}."]
    words += [f"* {one.organism}: {one.upper_bound}." for one in grown if one.upper_bound]
    flag = account.emetic
    if flag is None:
        return [*words, f"Not reached by these fits: {EMETIC_RULE[0].lower()}{EMETIC_RULE[1:]}"]
    part = f", {duration(flag.unrecorded_s)} of it not recorded" if flag.unrecorded_s else ""
    span = f"from {clock(flag.from_s)} on for {duration(flag.lasted_s)}{part}"
    return [*words, f"EMETIC TOXIN may have formed {span}. {flag.rule} ({flag.source}) {flag.action}"]


def heat_words(account: GrowthAccount) -> list[str]:
    """Return what the heat did, with the benchmark and that spores survive."""
    heat = account.lethality
    met = "is reached" if heat.benchmark_met else "is NOT reached"
    burger = f"{_minutes(heat.p70_burger_min)} at z {Z_BURGER_K:g} K"
    as_at_70 = f"as {_minutes(heat.p70_min)} at 70 °C (z {Z_LISTERIA_K:g} K; {burger})"
    cells = (
        f"Decimal reductions of vegetative cells ({MEANS}): {_reductions(heat.reductions_log)}. {heat.spores}"
    )
    return [f"Heat on the coldest paste: {as_at_70}; {heat.rule} {met} ({heat.source}).", cells]


def _reductions(logs: dict[str, float]) -> str:
    if min(logs.values()) > _MANY_LOG:
        return f"over {_MANY_LOG:g} each for {', '.join(logs)}"
    return ", ".join(f"{name} {_log(value)}" for name, value in logs.items())


def _minutes(value: float) -> str:
    return f"{value:.2f} min" if value < 10 else f"{value:.0f} min"


def _log(value: float) -> str:
    return f"over {_MANY_LOG:g}" if value > _MANY_LOG else f"{value:.1f}"


def _growth(one: GrowthRange) -> Growth:
    sources = dict.fromkeys(f"{g.fit.source} ({g.fit.food}; {g.fit.sureness})" for g in one.sets)
    return Growth(
        organism=one.organism.value, least_log=one.least_log, most_log=one.most_log,
        any_part_log=one.any_part_log, layer=one.layer, fits=len(one.sets), sources=tuple(sources),
        upper_bound=one.upper_bound,
    )  # fmt: skip


def _emetic(one: GrowthRange) -> Emetic | None:
    flag = one.emetic
    return flag and Emetic(
        from_s=flag.from_s, lasted_s=flag.lasted_s, unrecorded_s=flag.unrecorded_s, rule=EMETIC_RULE,
        source=EMETIC_SOURCE, action="Discard the paste.",
    )  # fmt: skip


def _lethality(t_s: "Floats", coldest_c: "Floats") -> Lethality:
    found = segments(t_s, coldest_c, GAP_S)
    listeria, burger = p70_min(found), p70_min(found, Z_BURGER_K)
    return Lethality(
        p70_min=listeria, p70_burger_min=burger, benchmark_met=min(listeria, burger) >= BENCHMARK_MIN,
        rule=BENCHMARK_RULE, source=BENCHMARK_SOURCE,
        reductions_log={one.name: log_reduction(found, one) for one in RESISTANCES if not one.spores},
        spores=SPORES_SURVIVE,
    )  # fmt: skip
