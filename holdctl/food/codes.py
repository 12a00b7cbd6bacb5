"""The food codes that holdctl knows, and a code of the user's own. Which one applies is for the local authority to say.

The rules themselves stand in `code_data`, what a rule can be in `rules`.
"""

from holdctl.errors import ConfigError
from holdctl.food.code_data import CODES
from holdctl.food.own_code import own_code
from holdctl.food.rules import FoodCode, Force
from holdctl.settings import OWN_CODE, Settings

__all__ = ["AUTHORITY", "CODES", "FoodCode", "Force", "code", "code_of"]

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


def code_of(settings: Settings) -> FoodCode:
    """Return the code that settings name, the user's own included. Raises ConfigError where there is none."""
    own = settings.own_code
    if settings.food_code != OWN_CODE:
        if own is not None:
            raise ConfigError(
                f'[own_code] is there, but food_code names "{settings.food_code}": write food_code = "{OWN_CODE}", or '
                f"take the table out. {AUTHORITY}"
            )
        return code(settings.food_code)
    if own is None:
        raise ConfigError(
            f'food_code = "{OWN_CODE}" needs a table [own_code] with at least name, source, force and hot_holding_c. '
            f"{AUTHORITY}"
        )
    return own_code(own)
