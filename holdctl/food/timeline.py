"""Which rule a record's time falls under: come-up of a fresh mix, hot holding, declared spells, time control."""

from dataclasses import dataclass
from typing import Literal

from holdctl.food.findings import Declared
from holdctl.food.leaving import left_s
from holdctl.food.rules import FROM_COLD, FoodCode, Heating, Reheating, TimeControl, declared_time
from holdctl.food.spells import COOLINGS, SpellKind
from holdctl.food.worst_case import Curve, Span

COLD_START_C = 10.0
"""Paste that begins at or below this was cooled before, whatever was told; this project's choice."""

Piece = tuple[float, float]
"""From and to, s."""


@dataclass(frozen=True, slots=True)
class Timeline:
    """A record cut into what each of its times is."""

    curve: Curve
    declared: Declared
    code: FoodCode
    begins: Literal["fresh", "chilled"]
    reached_s: float | None
    """When the coldest paste was first known at or above the hot-holding limit."""

    @property
    def limit_c(self) -> float:
        """The hot-holding limit, °C."""
        return self.code.hot_holding_c

    @property
    def come_up(self) -> Piece:
        """From the start until the limit was reached, or to the end."""
        return (self.curve.start_s, self.curve.end_s if self.reached_s is None else self.reached_s)

    @property
    def come_up_judged_elsewhere(self) -> bool:
        """Whether another rule than hot holding is asked about the come-up."""
        if self.begins == "chilled":
            return bool(self.code.of(Reheating))
        return self.reached_s is not None or not self.declared.ended or bool(self.code.of(Heating))

    def spells(self, kind: SpellKind) -> tuple[Piece, ...]:
        """Return the declared times of one kind, within the record."""
        end = self.curve.end_s
        found = ((s.start_s, min(s.end_s, end)) for s in self.declared.spells if s.kind is kind)
        return tuple((a, b) for a, b in found if b > a)

    def coolings(self) -> list[Piece]:
        """Return the declared coolings and the planned falls, in order."""
        return sorted(piece for kind in COOLINGS for piece in self.spells(kind))

    def hot(self) -> tuple[Piece, ...]:
        """Return the times that hot holding is asked for, declared spells left out."""
        if self.left_cold() is not None:
            return ()
        start = self.come_up[1] if self.come_up_judged_elsewhere else self.curve.start_s
        return without((start, self.curve.end_s), self.all_spells())

    def all_spells(self) -> list[Piece]:
        """Return the declared times of all kinds, in order."""
        return sorted(p for kind in SpellKind for p in self.spells(kind))

    def hot_windows(self) -> tuple[Span, ...]:
        """Return every interval below the hot-holding limit that nothing else accounts for; gaps of the come-up too.

        A gap in a come-up may hide that the limit was reached and lost again: the worst case counts.
        """
        found: list[Span] = []
        if self.left_cold() is not None:
            return ()
        if self.come_up_judged_elsewhere:
            for piece in without(self.come_up, self.all_spells()):
                found += self.curve.cut(*piece).unrecorded()
        for piece in self.hot():
            found += self.curve.cut(*piece).below(self.limit_c)
        return tuple(found)

    def out(self) -> Piece | None:
        """Return the time under time control: from the first fall below the limit to the end; None without one."""
        if self.declared.time_control is not True or self.reached_s is None or self.time_rule is None:
            return None
        windows = [w for w in self.hot_windows() if w.end_s > self.reached_s]
        return (windows[0].start_s, self.curve.end_s) if windows else None

    @property
    def timed(self) -> TimeControl | None:
        """The rule by which time alone controls the paste since it left the heat or the cold; None: none does."""
        since = self.out() or self.left_cold()
        return self.time_rule if since is not None and since[1] > since[0] else None

    @property
    def time_rule(self) -> TimeControl | None:
        """The rule by which time was declared to control the paste."""
        return declared_time(self.code, self.declared.time_control)

    def left_cold(self) -> Piece | None:
        """Return the time under time control from cold holding, from the first moment it may have left it to the end.

        None where that was not declared or the paste was not shown to begin cold. It is empty where it never left.
        """
        rule, curve = self.time_rule, self.curve
        if self.declared.time_control not in FROM_COLD or rule is None or not curve.known:
            return None
        start = left_s(curve, rule.cold_c)
        return None if start is None else (start, curve.end_s)


def timeline(curve: Curve, declared: Declared, code: FoodCode) -> Timeline:
    """Cut a record."""
    begins = declared.begins
    if _cold(curve):
        begins = "chilled"
    return Timeline(curve, declared, code, begins, curve.first_at_least(code.hot_holding_c))


def _cold(curve: Curve) -> bool:
    """Whether the first known paste was colder than any fresh mix."""
    import numpy as np

    known = np.flatnonzero(np.isfinite(curve.high_c))
    return bool(len(known)) and float(curve.high_c[known[0]]) <= COLD_START_C


def without(piece: Piece, holes: list[Piece]) -> tuple[Piece, ...]:
    """Return what of a time is left outside others, these in order."""
    start, end = piece
    left: list[Piece] = []
    for a, b in holes:
        if a > start:
            left.append((start, min(a, end)))
        start = max(start, b)
    left.append((start, end))
    return tuple((a, b) for a, b in left if b > a)
