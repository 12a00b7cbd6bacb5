"""The food codes that holdctl knows, and a code of the user's own. Which one applies is for the local authority to say.

The rules themselves stand in `code_data`, what a rule can be in `rules`.
"""

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from holdctl.errors import ConfigError
from holdctl.food.code_data import CODES
from holdctl.food.own_code import own_code
from holdctl.food.rules import (
    ColdHolding,
    Cooling,
    CoolingStage,
    FoodCode,
    Force,
    Heating,
    HotHolding,
    Reheating,
    Rule,
)
from holdctl.settings import OWN_CODE, Settings

__all__ = ["AUTHORITY", "CODES", "FoodCode", "Force", "as_read", "code", "code_of"]

AUTHORITY = "Your local authority decides which code applies and how."

_BY_ID = {code.id: code for code in CODES}


def code(code_id: str) -> FoodCode:
    """Return a code by its id; raises ConfigError that lists the known ones."""
    found = _BY_ID.get(code_id)
    if found is None:
        known = "; ".join(f'"{c.id}" ({c.name}: {c.hot_holding_c:g} °C)' for c in CODES)
        raise ConfigError(
            f'food_code = "{code_id}" is not known here; known are {known}; "{OWN_CODE}" is one of your own in '
            f"[own_code]. {AUTHORITY}"
        )
    return found


@cache
def as_read(found: FoodCode, units: str) -> FoodCode:
    """Return a code as it binds whoever reads in `units`: in °F its own figure counts where that is the stricter.

    135 °F are 57.22 °C: a paste at 57.1 °C meets 57 °C, but a screen that says 134.8 °F and "135 °F or above" can't say
    that it meets the rule.
    """
    if units != "F":
        return found
    return replace(found, rules=tuple(_in_fahrenheit(rule) for rule in found.rules))


def _in_fahrenheit(rule: Rule) -> Rule:
    match rule:
        case HotHolding():
            return replace(rule, limit_c=_stricter(rule.limit_c, rule.limit_f, max))
        case ColdHolding():
            return replace(rule, limit_c=_stricter(rule.limit_c, rule.limit_f, min))
        case Heating() | Reheating():
            return replace(rule, to_c=_stricter(rule.to_c, rule.to_f, max))
        case Cooling():
            return replace(rule, stages=tuple(_stage(stage) for stage in rule.stages))
    return rule


def _stage(stage: CoolingStage) -> CoolingStage:
    return replace(
        stage,
        to_c=_stricter(stage.to_c, stage.to_f, min),
        clock_from_c=_stricter(stage.clock_from_c, stage.clock_from_f, max),
    )


def _stricter(value_c: float, value_f: float | None, pick: Callable[[float, float], float]) -> float:
    return value_c if value_f is None else pick(value_c, round((value_f - 32) / 1.8, 2))


def code_of(settings: Settings) -> FoodCode:
    """Return the code that settings name, the user's own included. Raises ConfigError where there is none."""
    own = settings.own_code
    if settings.food_code != OWN_CODE:
        if own is not None:
            raise ConfigError(
                f'[own_code] is there, but food_code names "{settings.food_code}": write food_code = "{OWN_CODE}", or '
                f"take the table out. {AUTHORITY}"
            )
        return as_read(code(settings.food_code), settings.units)
    if own is None:
        raise ConfigError(
            f'food_code = "{OWN_CODE}" needs a table [own_code] with at least name, source, force and hot_holding_c. '
            f"{AUTHORITY}"
        )
    return own_code(own)
