"""The last holds side by side: a table of their figures, and what an overlay picture needs."""

from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.errors import StoreError
from holdctl.events import Phase
from holdctl.record.query import Record
from holdctl.review.figures import Figures, figures
from holdctl.review.report import cautions
from holdctl.review.words import difference, duration, local_of, temp, with_doubt

if TYPE_CHECKING:
    from rich.console import RenderableType


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """The figures of the last holds of one record, oldest first."""

    holds: tuple[Figures, ...]


def compare(record: Record, n: int = 5) -> Comparison:
    """Return the figures of the last `n` holds that have samples; StoreError when there is none."""
    return Comparison(holds=tuple(figures(record, hold_id) for hold_id in holds_with_samples(record, n)))


def holds_with_samples(record: Record, n: int) -> list[int]:
    """Return the numbers of the last `n` holds that have samples, oldest first; StoreError when there is
    none.
    """
    found: list[int] = []
    for hold in reversed(record.holds()):
        if len(found) < n and record.latest(hold.id) is not None:
            found.append(hold.id)
    if not found:
        raise StoreError(
            f"The record {record.path} has no hold to compare yet: start one with `holdctl run`."
        )
    return found[::-1]


def render_comparison(comparison: Comparison, *, units: str | None = None) -> "RenderableType":
    """Return the table of a comparison, one column a hold, for 80 columns up to five holds."""
    from rich.console import Group
    from rich.padding import Padding
    from rich.table import Table

    holds = comparison.holds
    units = units or holds[-1].units
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("hold")
    for f in holds:
        table.add_column(str(f.hold), justify="right")
    zones = {local_of(f.started_utc, "%Z") for f in holds}
    names = _names(zones.pop() if len(zones) == 1 else "local", units)
    for name, cells in zip(names, zip(*(_cells(f, units) for f in holds), strict=True), strict=True):
        table.add_row(name, *cells)
    return Group(table, Padding(cautions(units), (1, 0, 0, 0)))


def _names(zone: str, units: str) -> tuple[str, ...]:
    return (
        f"started ({zone})", "ended", "length", "until the hold", "hold time earned", "of", "setpoint",
        "paste probe lowest", "paste probe highest", "rms deviation", f"coldest estimate °{units}",
        f"hottest estimate °{units}", "wall highest", "switch-ons an hour", "heat, kWh", "below the limit",
        "not recorded", "alarms, trips",
    )  # fmt: skip


def _cells(f: Figures, units: str) -> tuple[Any, ...]:
    hold = f.phase(Phase.HOLD)
    low, high, rms, per_h = (
        (hold.paste_min_c, hold.paste_max_c, hold.deviation_rms_k, hold.switch_ons_per_h)
        if hold
        else (None,) * 4
    )
    return (
        local_of(f.started_utc, "%m-%d %H:%M"), f.state, duration(f.length_s), duration(f.until_hold_s),
        duration(f.credit_s), duration(f.asked_s), temp(f.setpoint_c, units), temp(low, units), temp(high, units),
        difference(rms, units), with_doubt(f.coldest_c, f.coldest_sd_k, units),
        with_doubt(f.hottest_c, f.hottest_sd_k, units), temp(f.wall_max_c, units),
        "–" if per_h is None else f"{per_h:.0f}", f"{f.energy_relay_kwh:.3f}" if f.heated else "–",
        duration(f.below_limit_s),
        duration(f.unrecorded_s), f"{f.alarms}, {f.trips}",
    )  # fmt: skip
