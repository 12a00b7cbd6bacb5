"""What a recorded night did for the bread: starch, amylases and the saccharification index, layer by layer.

The index is indicative: it compares nights of one bakery with one formula, nothing else, and it is given only where it
is known how hot the mix was and when malt went in, for both can end the amylases before the record begins. What the
baker measured stands beside it.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import msgspec

from holdctl.food.amylase import ALPHA, BETA
from holdctl.food.layers import ranked
from holdctl.food.measured import Measured, read_detail
from holdctl.food.saccharification import Mix, conversion
from holdctl.food.starch import gelatinisation
from holdctl.food.windows import GAP_S
from holdctl.paste.flours import AMYLASES_C
from holdctl.paste.gelatinisation import Band
from holdctl.review.words import clock, duration, look_of, temp

if TYPE_CHECKING:
    from rich.console import RenderableType

    from holdctl.record.rows import EventRow
    from holdctl.review.night import Night

OF_INDEX = (
    "Saccharification index: 1 is what one hour at 65 °C would do with all starch gelatinised and no amylase lost. "
    "Indicative, measured against nothing: it compares nights of one bakery with one formula and no others."
)
OF_LAYERS = (
    "A layer keeps its share of the way from the coldest to the hottest paste all night (an assumption)."
)
_NO_MIX = "how hot the mix was (`holdctl note --mix-peak 78.5`)"
_NO_MALT = "whether and when malt went in (`holdctl note --malt none`, `--malt mix`, `--malt 21:40`)"


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
    reckoned_from: str
    """What the reckoning begins with, in words."""
    missing: tuple[str, ...]
    """What would have to be known for an index; empty where there is one."""
    measured: tuple[Measured, ...]


def bread_account(night: "Night") -> BreadAccount:
    """Return what a night did for the bread."""
    measured = measured_of(night.events)
    mix, missing = mix_of(measured)
    flour, t = night.settings.scald.flour, night.columns.t_s
    starch = gelatinisation(flour)
    found = [
        (layer.name, conversion(t, layer.temp_c, flour, mix, GAP_S))
        for layer in ranked(night.columns.coldest_c, night.columns.hottest_c)
    ]
    return BreadAccount(
        starch=starch.starch,
        gelatinises_c=(_pair(starch.onset_c), _pair(starch.peak_c), _pair(starch.end_c)),
        starch_source=starch.source, starch_sureness=starch.sureness, limit_c=AMYLASES_C,
        amylase_sources=tuple(f"{one.name}: {one.source}; {one.sureness}" for one in (BETA, ALPHA)),
        parts=tuple(
            Part(
                layer=name, highest_c=one.highest_c, gelatinised=one.gelatinised and _pair(one.gelatinised),
                above_limit_s=one.above_limit_s, alpha_left=one.alpha_left, beta_left=one.beta_left,
                index=one.index,
            )
            for name, one in found
        ),
        unrecorded_s=found[0][1].unrecorded_s, reckoned_from=_reckoned(mix, measured), missing=missing,
        measured=measured,
    )  # fmt: skip


def measured_of(events: "Sequence[EventRow]") -> tuple[Measured, ...]:
    """Return what was measured during a hold, in order."""
    found = []
    for event in events:
        value = read_detail(event.detail) if event.source == "out" and event.kind == "note" else None
        if value is not None:
            found.append(Measured(at_s=event.hold_ms / 1000, by=str(event.detail.get("by", "")), value=value))
    return tuple(found)


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


def bread_lines(account: BreadAccount, units: str) -> "list[RenderableType]":
    """Return starch, amylases and index as they stand in a report, the baker's own measurements beside them."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 2, 0, 0))
    limit = f"over {temp(account.limit_c, units, 0)}"
    for head in ("paste", "highest", "starch %", limit, "β left %", "α left %", "index"):
        table.add_column(head, justify="left" if head == "paste" else "right")
    for part in account.parts[::2]:
        table.add_row(
            part.layer, temp(part.highest_c, units), _percent(part.gelatinised), duration(part.above_limit_s),
            _percent(part.beta_left), _percent(part.alpha_left), _index(part.index),
        )  # fmt: skip
    look = look_of(units)
    return [Text(""), table, *(Text(look.text(line)) for line in _words(account))]


def _words(account: BreadAccount) -> list[str]:
    ends = ", ".join(
        f"{name} {_c(band)}"
        for name, band in zip(("onset", "peak", "end"), account.gelatinises_c, strict=True)
    )
    starch = f"Starch: the share that gelatinised; {account.starch} {ends} °C"
    lines = [f"{starch} ({account.starch_source}, {account.starch_sureness}). {OF_LAYERS}"]
    if account.unrecorded_s:
        lines.append(f"Not recorded and counted as nothing: {duration(account.unrecorded_s)}.")
    if account.missing:
        lines.append(
            f"No index and no amylase left is given: it is not known {' nor '.join(account.missing)}."
        )
    else:
        lines += [
            f"Reckoned from {account.reckoned_from}. {OF_INDEX}",
            f"{'. '.join(account.amylase_sources)}.",
        ]
    return lines + [
        f"Measured at {clock(one.at_s)} by {one.by}: {one.value.words()}." for one in account.measured
    ]


def _reckoned(mix: Mix | None, measured: Sequence[Measured]) -> str:
    if mix is None:
        return ""
    when = "just before the record (when was not entered)"
    if mix.before_s is not None:
        when = f"{round(mix.before_s / 60)} min before the record"
    no_malt = [one.value.malt for one in measured if one.value.malt or one.value.malt_s is not None][
        -1
    ] == "none"
    own = "amylases are the flour's own" if no_malt else "amylases are the flour's and the malt's together"
    return f"the mix at {mix.peak_c:g} °C {when}; {own if mix.malt_s is None else _later(mix.malt_s)}"


def _later(malt_s: float) -> str:
    if malt_s < 0:
        return f"amylases are the malt's, from {round(-malt_s / 60)} min before the record on"
    return f"amylases are the malt's, from {clock(malt_s)} on"


def _pair(band: Band) -> tuple[float, float]:
    return band.low, band.high


def _c(band: tuple[float, float]) -> str:
    return f"{band[0]:g}" if band[0] == band[1] else f"{band[0]:g} to {band[1]:g}"


def _percent(shares: tuple[float, ...] | None) -> str:
    """Return a share in percent as `12 (1–30)`, `80–100` or `100`; a dash for none."""
    if shares is None:
        return "–"
    low, high = (f"{100 * one:.0f}" for one in (shares[0], shares[-1]))
    if low == high:
        return low
    return f"{low}–{high}" if len(shares) == 2 else f"{100 * shares[1]:.0f} ({low}–{high})"


def _index(index: tuple[float, float, float] | None) -> str:
    return "–" if index is None else f"{index[1]:.2f} ({index[0]:.2f}–{index[2]:.2f})"
