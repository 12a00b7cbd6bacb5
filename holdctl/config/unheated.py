"""The settings of a cooling without a warmer: what such a file need not say.

A baker without a warmer writes a food code, a probe and a port. `[vessel]` and `[scald]` may be there: with them the
forecast knows from the first minute how the paste cools. What is filled in here stands for nothing: `untold` names it,
and no screen, report or label shows a figure of it.
"""

import copy
from collections.abc import Mapping
from typing import Any

from msgspec.structs import replace

from holdctl.settings import Settings

UNTOLD = "untold"
_INSTEAD: dict[str, Any] = {
    "warmer": {"name": "Cooling", "power_w": 1.0, "heat_capacity_j_k": 1000.0},
    "vessel": {"inner_diameter_cm": 16.0},
    "scald": {"flour": "whole-rye", "mass_g": 1000.0},
    "programme": {"name": "cooling", "step": [{"to": 65.0, "for": "1 h"}]},
}
PASTE = ("vessel", "scald")
"""Tables that tell what cools."""
HEAT = ("warmer", "programme")
"""Tables that tell what heats, and to what."""


def filled(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a file says with what a cooling does without in the place of missing tables, and these named."""
    return {**copy.deepcopy(_INSTEAD), **data, UNTOLD: [table for table in _INSTEAD if table not in data]}


def alone(settings: Settings) -> Settings:
    """Return the settings of a cooling with no hold before it: nothing heats, whatever the file tells."""
    told = [table for table in settings.untold if table not in HEAT]
    return replace(settings, untold=(*HEAT, *told))


def heated(settings: Settings) -> bool:
    """Whether there is a warmer and a programme in what a record keeps; else it is a cooling alone."""
    return "warmer" not in settings.untold


def unknown(data: Mapping[str, Any]) -> bool:
    """Whether a file does not tell what cools."""
    return any(table not in data for table in PASTE)
