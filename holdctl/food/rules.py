"""What a rule of a food code can be: numbers with the sentence, the source and how sure it is.

°C inside; where a code writes °F itself, its own figure stands beside (it is not the conversion of the other). Times
are in s. A code is a list of such rules (`holdctl.food.codes`); what they find in a record is `holdctl.food.findings`.
"""

from dataclasses import dataclass
from typing import Literal, TypeVar

Force = Literal["law", "recommendation", "advisory"]
"""Binding text, advice of an authority (or a model code not adopted), or this project's own by analogy."""


def limit_words(value_c: float, value_f: float | None, units: str) -> str:
    """Return a limit as the code itself writes it in `units`, "C" or "F"; converted where it has none in °F."""
    if units == "C":
        return f"{value_c:g} °C"
    return f"{round(value_c * 1.8 + 32, 1) if value_f is None else value_f:g} °F"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What every rule carries."""

    name: str
    """Its key within the code, as `hot-holding`."""
    text: str
    """The rule in one sentence."""
    source: str
    """Where the text stands."""
    force: Force
    sureness: str
    """How the number was obtained and how far it can be trusted."""
    remarks: str = ""
    short: str = ""
    """The source as a screen has room for it; `source` where it is empty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HotHolding(Rule):
    """Food kept hot stays at or above a limit."""

    limit_c: float
    limit_f: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OnceBelow(Rule):
    """One single period below the hot-holding limit, shorter than a time, may be shown in defence."""

    shorter_than_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdHolding(Rule):
    """Food kept cold stays at or below a limit."""

    limit_c: float
    limit_f: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingStage:
    """From one temperature to another within a time; the clock starts when the food passes `clock_from_c`.

    The Food Code's total runs from 57 °C, not from the end of its first stage; the Australian second stage does run
    from the end of the first. Both start when the food passes the temperature, not when heating stops.
    """

    to_c: float
    within_s: float
    clock_from_c: float
    to_f: float | None = None
    clock_from_f: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cooling(Rule):
    """Cooling of cooked food, in stages; no stage at all where the text has no number."""

    stages: tuple[CoolingStage, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reheating(Rule):
    """Cooked and cooled food heated again for hot holding: every part, for how long, within what time."""

    to_c: float
    to_f: float | None = None
    dwell_s: float = 0.0
    from_c: float | None = None
    """Where the time starts: the food leaves cold holding here."""
    within_s: float | None = None
    """None: the text has no number of hours."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Heating(Rule):
    """A fresh mix heated for hot holding: what it must reach, within what time if the text has one."""

    to_c: float
    to_f: float | None = None
    within_s: float | None = None
    zone_c: tuple[float, float] | None = None
    """Time between these counts, °C; None: all the time until `to_c`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeControl(Rule):
    """Time instead of temperature: out of control for so long at most, then it is discarded."""

    longest_s: float
    cold_c: float
    """It starts at or below this,"""
    hot_c: float | None
    """or at or above this, °C; None: only from the cold."""
    never_above_c: float | None = None
    """It must not pass this meanwhile, °C."""
    cold_f: float | None = None
    never_above_f: float | None = None
    """The code's own figures in °F."""
    cumulative: bool = False
    """All times between `cold_c` and `hot_c` are added up, whether or not it was declared."""
    reuse_within_s: float | None = None
    """Of a cumulative time: shorter than this, the food may be chilled or held hot again."""
    at_end: str = ""
    """What follows at its end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DateMarking(Rule):
    """How long ready-to-eat food is kept cold, the day it was made counted as the first."""

    days: int
    at_most_c: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Thermometer(Rule):
    """How far a food thermometer may be off."""

    error_k: float


R = TypeVar("R", bound=Rule)


@dataclass(frozen=True, slots=True)
class FoodCode:
    """One code: its rules, the first of which is hot holding."""

    id: str
    name: str
    rules: tuple[Rule, ...]
    force: Force
    remarks: str = ""

    @property
    def hot_holding(self) -> HotHolding:
        """The rule for hot holding; every code has one."""
        return self.of(HotHolding)[0]

    @property
    def hot_holding_c(self) -> float:
        """Hot food is kept at or above this, °C."""
        return self.hot_holding.limit_c

    @property
    def hot_holding_f(self) -> float | None:
        """The code's own figure in °F, where its text gives one: it is not the conversion of the other."""
        return self.hot_holding.limit_f

    @property
    def rule(self) -> str:
        """The rule for hot holding in one sentence."""
        return self.hot_holding.text

    @property
    def source(self) -> str:
        """Where the text on hot holding stands."""
        return self.hot_holding.source

    @property
    def short_source(self) -> str:
        """Where that text stands, as a screen has room for it."""
        return self.hot_holding.short or self.hot_holding.source

    @property
    def sureness(self) -> str:
        """How sure the number for hot holding is."""
        return self.hot_holding.sureness

    @property
    def cold_holding_c(self) -> float | None:
        """Cold food is kept at or below this, °C; None where the code has no number."""
        found = self.of(ColdHolding)
        return found[0].limit_c if found else None

    def of(self, kind: type[R]) -> tuple[R, ...]:
        """Return the rules of one kind, in the code's order."""
        return tuple(rule for rule in self.rules if isinstance(rule, kind))

    def limit_text(self, units: str) -> str:
        """Return the hot-holding limit as the code itself writes it in `units`, "C" or "F"."""
        return limit_words(self.hot_holding_c, self.hot_holding_f, units)


TimeControlled = bool | Literal["from cold", "6 h from cold"]
"""Whether, and from where on, a written procedure lets time alone control the paste."""
FROM_COLD = ("from cold", "6 h from cold")


def declared_time(code: FoodCode, told: TimeControlled) -> TimeControl | None:
    """Return the code's rule by which the paste was declared to be controlled; None where it has none."""
    capped = told == "6 h from cold"
    found = (r for r in code.of(TimeControl) if not r.cumulative and (r.never_above_c is not None) == capped)
    return next(found, None) if told else None
