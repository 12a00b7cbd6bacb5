"""Cold storage after a cooling: how cold, how long, and what was read in the fridge. Pure.

How cold: the code's own cold holding, and never above the 5 °C that date marking rests on. How long: date marking (FDA
Food Code 3-501.17) is a rule for ready-to-eat food, seven days at 5 °C or below, the day of preparation counted as day
1. A paste that will be baked is not ready to eat: what a label says by it is a guide, whatever code was chosen.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta, tzinfo

import msgspec

from holdctl.food.code_fda import FDA
from holdctl.food.rules import ColdHolding, Cooling, DateMarking, FoodCode
from holdctl.food.say import degrees

GUIDE = "A guide only: date marking (FDA Food Code 3-501.17) is for ready-to-eat food; the paste is not ready to eat."


@dataclass(frozen=True, slots=True)
class StorageLimit:
    """How cold the paste is kept, or has to become."""

    limit_c: float
    limit_f: float | None
    source: str
    force: str
    sureness: str

    @property
    def words(self) -> str:
        """As the code writes it."""
        return degrees(self.limit_c, self.limit_f)


def date_rule(code: FoodCode) -> DateMarking:
    """Return the code's own date marking, or the Food Code's as a guide where it has none."""
    return (*code.of(DateMarking), *FDA.of(DateMarking))[0]


def storage_limit(code: FoodCode) -> StorageLimit:
    """Return the lower of the code's cold holding and what date marking rests on."""
    rule, own = date_rule(code), code.of(ColdHolding)
    if own and own[0].limit_c <= rule.at_most_c:
        cold = own[0]
        return StorageLimit(cold.limit_c, cold.limit_f, cold.source, cold.force, cold.sureness)
    return StorageLimit(rule.at_most_c, rule.at_most_c * 1.8 + 32, rule.source, rule.force, rule.sureness)


def cooled_to(code: FoodCode) -> StorageLimit:
    """Return when a cooling is over: at the code's last stage, else at its cold holding, else the guide's."""
    rules, own = code.of(Cooling), code.of(ColdHolding)
    if rules and rules[0].stages:
        rule, last = rules[0], rules[0].stages[-1]
        return StorageLimit(last.to_c, last.to_f, rule.source, rule.force, rule.sureness)
    if own:
        return StorageLimit(own[0].limit_c, own[0].limit_f, own[0].source, own[0].force, own[0].sureness)
    return storage_limit(code)


def use_by(made_utc_ms: float, days: int, zone: tzinfo) -> date:
    """Return the last day of use: the local day on which it was made is the first of `days`.

    Days are those of the calendar in `zone`: a night in which the clocks are set is neither longer nor shorter by it.
    """
    return datetime.fromtimestamp(made_utc_ms / 1000, zone).date() + timedelta(days=days - 1)


class Stored(msgspec.Struct, frozen=True, kw_only=True):
    """One reading of the storage, as somebody entered it, against the limit."""

    at_utc_ms: int
    by: str
    temp_c: float
    over_k: float
    """By how much it was above the limit, K; 0 where it was not."""
    words: str


def judged(read: Iterable[tuple[int, str, float]], limit: StorageLimit) -> tuple[Stored, ...]:
    """Return each entry of (UTC ms, by, °C) against the limit, in words.

    A reading tells of its moment only; the error of whatever thermometer it was is not known here and not counted.
    """
    return tuple(_stored(*one, limit) for one in read)


def _stored(at_utc_ms: int, by: str, temp_c: float, limit: StorageLimit) -> Stored:
    over = max(0.0, temp_c - limit.limit_c)
    how = f"ABOVE {limit.words} by {over:.1f} K" if over else f"at or below {limit.words}"
    return Stored(at_utc_ms=at_utc_ms, by=by, temp_c=temp_c, over_k=over, words=f"{temp_c:.1f} °C, {how}")
