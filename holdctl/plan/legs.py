"""The steps of a programme as they are run ahead: holds, prompts that somebody answers, falls."""

from collections.abc import Iterator
from dataclasses import dataclass

from holdctl.hold.programme import duration_ms, hot_holding_c
from holdctl.settings import Programme, Step

ANSWER_S = 120.0
"""From a prompt to its answer, hands included (common sense, no source)."""
_USUAL_C = 65.0


@dataclass(frozen=True, slots=True)
class Leg:
    """One step; a hold has `hold_s`, a fall `fall_to_c`, all else is a prompt."""

    number: int
    """From 1; 0: none of the programme's."""
    to_c: float | None
    """Set temperature; None: relay off."""
    hold_s: float | None = None
    fall_to_c: float | None = None
    due_s: float | None = None
    """So long after it is entered a prompt is asked, unless every part is in range before; None: at once, always."""


def first_c(own: Programme) -> float:
    """Return the set temperature of the first hold, °C; without one that of the hot holding, or the usual 65."""
    first = next((step.to for step in own.step if step.hold_for and step.to is not None), None)
    after = hot_holding_c(own) if first is None else first
    return _USUAL_C if after is None else after


def legs_of(own: Programme) -> tuple[Leg, ...]:
    """Return a programme's steps; of one that holds nothing the way to its hot holding comes last."""
    found = tuple(_legs(own))
    if any(leg.hold_s is not None for leg in found):
        return found
    return (*found, Leg(0, first_c(own), 0.0))


def _legs(own: Programme) -> Iterator[Leg]:
    for number, step in enumerate(own.step, 1):
        if step.fall_to is not None:
            yield Leg(number, None, fall_to_c=step.fall_to)
        elif step.prompt is not None:
            yield Leg(number, step.to, due_s=None if step.due is None else duration_ms(step.due) / 1000)
        elif step.hold_for is not None and step.to is not None:
            yield Leg(number, step.to, duration_ms(step.hold_for) / 1000)


def extra_s(step: Step) -> float:
    """Return by how much later than `ANSWER_S` a programme goes on where nobody answers a prompt, s; inf: never."""
    if step.unanswered != "go-on" or step.wait is None:
        return float("inf")
    return max(0.0, duration_ms(step.wait) / 1000 - ANSWER_S)
