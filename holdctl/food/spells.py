"""Declared spells of a hold: a cooling, or a souring. What is declared is told apart from an unsafe window.

A spell is declared by a person (`holdctl cool`, `holdctl sour`) and stands in the record as two notices of kind `spell`
named by what it is, with `{"begins": true}` or `{"begins": false}` in the detail; one that is never ended lasts as long
as its hold does. A souring may run beside a hold that keeps the paste at the starter's temperature; a cooling can't:
with it the relay is off.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class SpellKind(StrEnum):
    """What has been declared."""

    COOLING = "cooling"
    SOURING = "souring"


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
