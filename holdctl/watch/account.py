"""What the night has done to the paste so far, as the screen has room for it: ranges, and that spores survive.

The figures are the review's (`holdctl.food.tally`); what they are drawn from stands there.
"""

from collections.abc import Iterable

from holdctl.food.accounts import SHOWN_LOG, BreadAccount, Growth, GrowthAccount, Part
from holdctl.watch.snapshot import Snapshot
from holdctl.watch.words import Look, span

Range = tuple[float, float]
_SPORES = "spores survive"
_UNKNOWN = "amylases and index unknown: mix or malt not told"
_TELL = "`holdctl note --mix-peak … --malt …`"


def account_text(shot: Snapshot, look: Look) -> str:
    """Return it in one paragraph of two or three lines."""
    found = [_growth(shot.growth), f"{_heat(shot.growth)}, {_SPORES}"]
    found += [_bread(shot.bread)] if shot.bread else []
    return look.text(f"{_toxin(shot, look)}So far: {'; '.join(found)}.")


def account_line(shot: Snapshot, look: Look) -> str:
    """Return what of it matters most, in one line."""
    most = max((one.any_part_log for one in shot.growth.grown), default=0.0)
    grown = f"growth under {most:.2f} log10 everywhere" if most else "no growth"
    return look.text(f"{_toxin(shot, look)}So far, by published fits: {grown}; {_SPORES}.")


def account_lines(shot: Snapshot, look: Look) -> list[str]:
    """Return it at length: every organism, the heat with its benchmark, and the paste layer by layer."""
    growth, bread = shot.growth, shot.bread
    organisms = [_organism(one) for one in growth.grown]
    grown = "; ".join(organisms) or "none, no part of the paste was where it could"
    heat = growth.lethality
    met = "reached" if heat.benchmark_met else "not reached"
    burger = f"benchmark for cooking (2 min) {met}, {_SPORES}"
    lines = [
        *([_toxin(shot, look).rstrip()] if growth.emetic else []),
        f"So far, growth in log10 (published fits, none of a scald): {grown}.",
        f"Heat on the coldest paste {_heat(growth)[5:]} (z 6 to 7.5 K): {burger}.",
    ]
    if bread is not None and bread.missing:
        lines.append(f"Starch gelatinised {_percent(_starch(bread.parts))}; {_UNKNOWN} ({_TELL}).")
    sources = f"Sources: {_fits(growth.grown)}{heat.source}{_enzymes(bread)}; in full in `holdctl review`."
    return [look.text(line) for line in [*lines, *(_table(bread) if bread else ()), sources]]


def _toxin(shot: Snapshot, look: Look) -> str:
    """Say that emetic toxin may have formed, and from when on; empty where it has not."""
    flag = shot.growth.emetic
    if flag is None:
        return ""
    at = shot.sample.at if shot.sample else None
    base_ms = shot.hold.started_utc_ms if at is None else at.utc_ms - at.hold_ms
    since = look.time(base_ms + round(1000 * flag.from_s))
    return f"EMETIC TOXIN may have formed from {since} on: {flag.action[:1].lower()}{flag.action[1:]} "


def _growth(account: GrowthAccount) -> str:
    grown = account.grown
    if not grown:
        return "no growth by published fits"
    bound = max(one.any_part_log for one in grown)
    if max(one.most_log for one in grown) < SHOWN_LOG:
        return f"no growth seen, none over {bound:.2f} log10 by published fits"
    first = max(grown, key=lambda one: (one.upper_bound == "", one.most_log))
    most = max((one.most_log for one in grown if one is not first), default=0.0)
    others = f", others up to {most:.2f}" if most >= SHOWN_LOG else ""
    return f"growth {_short(first)} {_logs(first)}{others} log10, no part over {bound:.2f}"


def _organism(one: Growth) -> str:
    upper = ", an upper bound" if one.upper_bound else ""
    return f"{_short(one)} {_logs(one)} (no part over {one.any_part_log:.2f}{upper})"


def _fits(grown: Iterable[Growth]) -> str:
    """Return whose fits these figures are from, as `Juneja et al. 2019`, up to where the heat's source follows."""
    names = dict.fromkeys(source.split(",")[0].split(" (")[0] for one in grown for source in one.sources)
    return f"growth by {', '.join(names)}; heat by " if names else "heat by "


def _enzymes(bread: BreadAccount | None) -> str:
    if bread is None or bread.missing:
        return ""
    names = dict.fromkeys(source.split(": ")[1].split(",")[0] for source in bread.amylase_sources)
    return f"; amylases by {', '.join(names)} (low to medium)"


def _short(one: Growth) -> str:
    genus, _, species = one.organism.partition(" ")
    return f"{genus[0]}. {species}"


def _logs(one: Growth) -> str:
    low, high = f"{one.least_log:.2f}", f"{one.most_log:.2f}"
    return low if low == high else f"{low}–{high}"


def _heat(account: GrowthAccount) -> str:
    low, high = sorted((account.lethality.p70_min, account.lethality.p70_burger_min))
    if high < 0.05:
        return "heat as under 0.1 min at 70 °C"
    digits = 1 if low < 10 else 0
    first, last = f"{low:.{digits}f}", f"{high:.{digits}f}"
    return f"heat as {first if first == last else f'{first}–{last}'} min at 70 °C"


def _bread(bread: BreadAccount) -> str:
    """Return starch, amylases and index from the worst to the best of all layers and half-lives."""
    parts = bread.parts
    starch = f"starch {_percent(_starch(parts))}"
    if bread.missing:
        return f"{starch}, {_UNKNOWN}"
    beta, alpha = (
        _percent(_ends(shares)) for shares in ((p.beta_left for p in parts), (p.alpha_left for p in parts))
    )
    index = _ends(p.index for p in parts)
    said = "unknown" if index is None else f"{index[0]:.2f}–{index[1]:.2f}"
    return f"{starch}, β-amylase left {beta}, α {alpha}, index {said}"


def _starch(parts: Iterable[Part]) -> Range | None:
    return _ends(part.gelatinised for part in parts)


def _ends(found: Iterable[tuple[float, ...] | None]) -> Range | None:
    there = [value for values in found if values is not None for value in values]
    return (min(there), max(there)) if there else None


def _percent(shares: Range | None) -> str:
    if shares is None:
        return "not known"
    low, high = (f"{100 * share:.0f}" for share in shares)
    return f"{low} %" if low == high else f"{low}–{high} %"


def _table(bread: BreadAccount) -> list[str]:
    """Return the coldest, the middle and the hottest layer; only their heads where the mix is not known."""
    if bread.missing:
        return []
    rows: list[tuple[str, ...]] = [
        ("paste", "highest", "starch", f"over {bread.limit_c:g} °C", "β left", "α left", "index (indicative)")
    ]
    rows += [_row(part) for part in bread.parts[::2]]
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    return ["  ".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)) for row in rows]


def _row(part: Part) -> tuple[str, ...]:
    highest = "–" if part.highest_c is None else f"{part.highest_c:.1f} °C"
    index = _ends([part.index])
    return (
        part.layer, highest, _percent(_ends([part.gelatinised])), span(part.above_limit_s),
        _percent(_ends([part.beta_left])), _percent(_ends([part.alpha_left])),
        "unknown" if index is None else f"{index[0]:.2f}–{index[1]:.2f}",
    )  # fmt: skip
