"""What a recorded night did for the bread: starch, amylases and the saccharification index, layer by layer.

The index is indicative: it compares nights of one bakery with one formula, nothing else, and it is given only where it
is known how hot the mix was and when malt went in, for both can end the amylases before the record begins. What the
baker measured stands beside it.
"""

from collections.abc import Sequence
from typing import TYPE_CHECKING

from holdctl.food.accounts import BreadAccount
from holdctl.food.measured import Measured, read_detail
from holdctl.food.saccharification import Mix
from holdctl.review.words import clock, duration, look_of, temp

if TYPE_CHECKING:
    from rich.console import RenderableType

    from holdctl.record.rows import EventRow, HoldRow

OF_INDEX = (
    "Saccharification index: 1 is what one hour at 65 °C would do with all starch gelatinised and no amylase lost. "
    "Indicative, measured against nothing: it compares nights of one bakery with one formula and no others."
)
OF_LAYERS = (
    "A layer keeps its share of the way from the coldest to the hottest paste all night (an assumption)."
)


def measured_of(events: "Sequence[EventRow]", hold: "HoldRow | None" = None) -> tuple[Measured, ...]:
    """Return what was measured during a hold, in order; with the hold's row also when it was, after its end."""
    found = []
    for event in events:
        value = read_detail(event.detail) if event.source == "out" and event.kind == "note" else None
        if value is not None and value.of_hold is None:
            at_s = _at_s(event, hold)
            found.append(Measured(at_s=at_s, by=str(event.detail.get("by", "")), value=value))
    return tuple(found)


def _at_s(event: "EventRow", hold: "HoldRow | None") -> float:
    """Return when it was, s since the start; of a hold whose own clock no longer ran by UTC."""
    if hold is None or hold.ended_utc_ms is None or event.utc_ms <= hold.ended_utc_ms:
        return event.hold_ms / 1000
    return max(event.hold_ms, event.utc_ms - hold.started_utc_ms) / 1000


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
            f"Reckoned from {_reckoned(account.mix, account.measured)}. {OF_INDEX}",
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
