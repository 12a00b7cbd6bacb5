"""Declared spells of a hold: a cooling, a souring, or a fall that its programme plans.

What is declared is told apart from an unsafe window. A spell is declared by a person (`holdctl cool`, `holdctl sour`)
and stands in the record as two notices of kind `spell` named by what it is, with `{"begins": true}` or `{"begins":
false}` in the detail; one that is never ended lasts as long as its hold does. A souring may run beside a hold that
keeps the paste at the starter's temperature; a cooling can't: with it the relay is off.

A step of the programme that lets the paste fall below the hot-holding limit is declared too, before the night began: a
cooling, judged as one. It lasts until the next step, or until a person declares something. A fall that ends above the
limit is none: whatever is below the limit in it stays an unsafe window.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise

from holdctl.settings import Programme


class SpellKind(StrEnum):
    """What has been declared."""

    COOLING = "cooling"
    SOURING = "souring"
    PLANNED = "planned fall"
    """A step of the programme: no notice says it."""


COOLINGS = (SpellKind.COOLING, SpellKind.PLANNED)
"""What is judged as a cooling."""


@dataclass(frozen=True, slots=True)
class Spell:
    """One spell, from its declaration to its end, s since the start of the hold."""

    kind: SpellKind
    start_s: float
    end_s: float


def spells(said: Iterable[tuple[float, str, bool]], end_s: float) -> tuple[Spell, ...]:
    """Return the spells of a hold from its notices (t s, name, begins) in order of time; `end_s`: the hold's end.

    Saying again what is declared already changes nothing.
    """
    found: list[Spell] = []
    running: dict[SpellKind, float] = {}
    for t_s, name, begins in said:
        kind = SpellKind(name)
        if begins:
            running.setdefault(kind, t_s)
        elif kind in running:
            found.append(Spell(kind, running.pop(kind), t_s))
    found += [Spell(kind, start_s, max(start_s, end_s)) for kind, start_s in running.items()]
    return tuple(sorted(found, key=lambda spell: (spell.start_s, spell.kind)))


def falling_steps(programme: Programme, limit_c: float) -> frozenset[int]:
    """Return which steps, from 0, let the paste fall below a limit, °C."""
    return frozenset(
        k for k, step in enumerate(programme.step) if step.fall_to is not None and step.fall_to < limit_c
    )


def with_falls(
    declared: Sequence[Spell], entered: Iterable[tuple[float, int]], falling: frozenset[int], end_s: float
) -> tuple[Spell, ...]:
    """Return what was declared and the planned falls, in order; `entered` is when each step was, s, and its number."""
    steps = [*entered, (end_s, -1)]
    found = list(declared)
    for (start_s, step), (next_s, _) in pairwise(steps):
        said_s = min((spell.start_s for spell in declared if spell.start_s >= start_s), default=math.inf)
        running = any(spell.start_s < start_s < spell.end_s for spell in declared)
        if step in falling and not running and min(next_s, said_s, end_s) > start_s:
            found.append(Spell(SpellKind.PLANNED, start_s, min(next_s, said_s, end_s)))
    return tuple(sorted(found, key=lambda spell: (spell.start_s, spell.kind)))
