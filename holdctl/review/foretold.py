"""What was forecast and advised in the night, beside what came of it."""

from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.events import Forecast, NoticeKind, State
from holdctl.hold.programme import duration_ms
from holdctl.record.rows import EventRow

if TYPE_CHECKING:
    from holdctl.review.night import Night

_SHORT_S = 60.0
"""A hold step left with more than this to go was given up, not done, s."""

Span = tuple[float, float, float]
"""Early, expected and late, s since the start of the hold."""


class Foretold(msgspec.Struct, frozen=True, kw_only=True):
    """The first forecast of one hold step and what came; times in s since the start of the hold."""

    step: int
    told_s: float
    in_range_s: Span | None
    """Every part in the programme's range for good; None: not within a day, it said."""
    in_range_came_s: float | None
    """By the estimates; None where it did not come in this step."""
    done_s: Span | None
    done_came_s: float | None
    """None where the step was not earned to its end."""


class Stir(msgspec.Struct, frozen=True, kw_only=True):
    """A stir that was seen, and what it was said to have gained."""

    at_s: float
    text: str


def foretold(night: "Night") -> tuple[Foretold, ...]:
    """Return the first forecast of each hold step that had one."""
    found: dict[int, Foretold] = {}
    step = 0
    for event in night.events:
        if event.source == "out" and event.kind == NoticeKind.STEP:
            step = int(event.detail.get("step", 0))
        if (
            event.kind == NoticeKind.FORECAST
            and step not in found
            and step < len(night.settings.programme.step)
        ):
            told = _forecast(event)
            if told is not None and night.settings.programme.step[step].hold_for:
                found[step] = _against(night, step, event.hold_ms / 1000, told)
    return tuple(found.values())


def stirs(night: "Night") -> tuple[Stir, ...]:
    """Return the stirs that were reported, in order."""
    return tuple(
        Stir(at_s=event.hold_ms / 1000, text=event.text)
        for event in night.events
        if event.kind == NoticeKind.ADVICE and event.name == "stirred"
    )


def _forecast(event: EventRow) -> Forecast | None:
    try:
        return msgspec.convert(event.detail, Forecast)
    except msgspec.ValidationError:  # another version's
        return None


def _against(night: "Night", step: int, told_s: float, told: Forecast) -> Foretold:
    return Foretold(
        step=step,
        told_s=told_s,
        in_range_s=_span(told_s, told.band_ms),
        in_range_came_s=_in_range_s(night, step),
        done_s=_span(told_s, told.end_ms),
        done_came_s=_done_s(night, step),
    )


def _span(told_s: float, ahead_ms: tuple[int, int, int] | None) -> Span | None:
    if ahead_ms is None:
        return None
    early, expected, late = ahead_ms
    return told_s + early / 1000, told_s + expected / 1000, told_s + late / 1000


def _in_range_s(night: "Night", step: int) -> float | None:
    """Return when every part was estimated in range until the step's end; None where it never was."""
    import numpy as np

    low, high = night.settings.programme.every_part
    columns = night.columns
    here = np.flatnonzero(columns.step == step)
    known = here[np.isfinite(columns.coldest_c[here])]
    if not len(known):
        return None
    outside: Any = np.flatnonzero((columns.coldest_c[known] < low) | (columns.hottest_c[known] > high))
    first = int(outside[-1]) + 1 if len(outside) else 0
    return float(columns.t_s[known[first]]) if first < len(known) else None


def _done_s(night: "Night", step: int) -> float | None:
    import numpy as np

    columns = night.columns
    here = np.flatnonzero(columns.step == step)
    asked_s = duration_ms(night.settings.programme.step[step].hold_for or "0 s") / 1000
    if not len(here) or columns.credit_s[here].max() < asked_s - _SHORT_S:
        return None
    after = np.flatnonzero(columns.step > step)
    if len(after):
        return float(columns.t_s[after[0]])
    ended = night.hold.state is State.COMPLETE
    return float(columns.t_s[here[-1]]) if ended else None
