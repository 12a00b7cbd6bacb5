"""The settings of a cooling without a warmer: what such a file need not say.

A baker without a warmer writes a food code, a probe and a port. `[vessel]` and `[scald]` may be there: with them the
forecast knows from the first minute how the paste cools. What is filled in here stands for nothing that is heated.
"""

import copy
from collections.abc import Mapping
from typing import Any

_INSTEAD: dict[str, Any] = {
    "warmer": {"name": "Cooling", "power_w": 1.0, "heat_capacity_j_k": 1000.0},
    "vessel": {"inner_diameter_cm": 16.0},
    "scald": {"flour": "whole-rye", "mass_g": 1000.0},
    "programme": {"name": "cooling", "step": [{"to": 65.0, "for": "1 h"}]},
}
PASTE = ("vessel", "scald")
"""Tables that tell what cools."""


def filled(data: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a file says with what a cooling does without in the place of missing tables."""
    return {**copy.deepcopy(_INSTEAD), **data}


def unknown(data: Mapping[str, Any]) -> bool:
    """Whether a file does not tell what cools."""
    return any(table not in data for table in PASTE)
