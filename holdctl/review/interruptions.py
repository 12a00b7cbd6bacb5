"""The times in which nobody looked after a hold, as the hold itself judged them."""

from collections.abc import Iterable

import msgspec

from holdctl.hold.resume import INTERRUPTION
from holdctl.record.rows import EventRow
from holdctl.review.words import clock, temp


class Interrupted(msgspec.Struct, frozen=True, kw_only=True):
    """One interruption: a restart, or a computer that slept."""

    at_s: float
    """When it was over, s since the start of the hold."""
    gap_s: float | None
    """None: no clock could tell. Then it is in no duration of this review."""
    clock: str
    """`boot`, or `wall`, which nobody vouches for."""
    restarted: bool
    coldest_c: float | None
    """Coldest that any paste can credibly have been in it, by the model with the heater off."""
    hottest_c: float | None
    """Hottest, with the last lease run to its end."""
    went_on: bool
    """By itself; else it waited for a person."""


def interruptions(events: Iterable[EventRow]) -> tuple[Interrupted, ...]:
    """Return the interruptions of a hold, in order."""
    return tuple(_one(e) for e in events if e.source == "out" and e.name == INTERRUPTION)


def _one(event: EventRow) -> Interrupted:
    gap_ms = event.detail.get("gap_ms")
    return Interrupted(
        at_s=event.hold_ms / 1000,
        gap_s=None if gap_ms is None else gap_ms / 1000,
        clock=str(event.detail.get("clock", "")),
        restarted=event.detail.get("restarted") is True,
        coldest_c=event.detail.get("coldest_c"),
        hottest_c=event.detail.get("hottest_c"),
        went_on=event.detail.get("goes_on") is True,
    )


def lines(found: tuple[Interrupted, ...], units: str) -> list[str]:
    """Return them in words: one line each, and one more for what is in no figure."""
    said = [_line(one, units) for one in found]
    if any(one.gap_s is None for one in found):
        said.append(
            "  A gap of unknown length is in none of these durations: count it as the worst you can think of."
        )
    return said


def _line(one: Interrupted, units: str) -> str:
    cause = "restarted" if one.restarted else "computer slept"
    length = "unknown length" if one.gap_s is None else _length(one.gap_s)
    by = (
        ", by the wall clock, which nobody vouches for"
        if one.clock == "wall" and one.gap_s is not None
        else ""
    )
    credible = ""
    if one.coldest_c is not None and one.hottest_c is not None:
        credible = (
            f"; by the model paste at {temp(one.coldest_c, units)} to {temp(one.hottest_c, units)} meanwhile"
        )
    then = "went on by itself" if one.went_on else "waited for you"
    return f"Interrupted until {clock(one.at_s)} ({cause}, {length}{by}){credible}; {then}."


def _length(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
