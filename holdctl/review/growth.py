"""What may have grown in a recorded night, and what its heat did to vegetative bacteria.

Growth is an estimate from published fits, none of them measured on a scald; `holdctl.food.growth_range` says how the
range comes about. Heat counts on the coldest paste, by estimate, less its deviation and the probes' error. What was not
recorded counts against the baker: as the fastest growth, and as no heat. After the record's end nothing is known.
"""

from typing import TYPE_CHECKING

from holdctl.food.accounts import EMETIC_RULE, SHOWN_LOG, Growth, GrowthAccount
from holdctl.food.lethality import MEANS, Z_BURGER_K, Z_LISTERIA_K
from holdctl.food.organisms import HIGHEST_LOG, SPORES_LOG
from holdctl.review.words import clock, duration, look_of

if TYPE_CHECKING:
    from rich.console import RenderableType

OF_GROWTH = (
    f"Estimates in log10 per g, from {SPORES_LOG:g} at the record's begin (what grew before it is not in them) to "
    f"{HIGHEST_LOG:g} at most, by published fits of rice, cereal dishes, meat and broth, none of a scald. Least: with "
    "the lag, by the slowest fit; most: without a lag, by the fastest; no part of the paste exceeds the last figure"
)
_MANY_LOG = 12.0
"""Beyond this a reduction is no figure any more."""


def growth_lines(account: GrowthAccount, units: str) -> "list[RenderableType]":
    """Return growth and heat as they stand in a report."""
    from rich.table import Table
    from rich.text import Text

    look, grown = look_of(units), account.grown
    table = Table(box=None, padding=(0, 2, 0, 0))
    for head in ("growth, log10", "least", "most", "no part over", "most in"):
        table.add_column(head, justify="right" if head in ("least", "most", "no part over") else "left")
    for one in grown:
        name = one.organism + (" *" if one.upper_bound else "")
        where = f"the {one.layer} paste" if one.most_log >= SHOWN_LOG else "–"
        table.add_row(name, f"{one.least_log:.2f}", f"{one.most_log:.2f}", f"{one.any_part_log:.2f}", where)
    words = [*(_growth_words(account, grown) if grown else [_none(account)]), *heat_words(account)]
    return [Text(""), *([table] if grown else []), *(Text(look.text(line)) for line in words)]


def _none(account: GrowthAccount) -> str:
    *most, last = (one.organism for one in account.organisms)
    where = f"no part of the paste was where {', '.join(most)} or {last} grows"
    return f"Growth: none in what is recorded: {where} (published fits, none of a scald)."


def _growth_words(account: GrowthAccount, grown: tuple[Growth, ...]) -> list[str]:
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
