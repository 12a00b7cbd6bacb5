"""Words that several findings share. Temperatures are written `57 °C`, so that a screen can turn them into °F."""

import re

_BOTH = re.compile(r"(-?\d+(?:\.\d+)?) °C \((-?\d+(?:\.\d+)?) °F\)")
_BOTH_RANGE = re.compile(r"(-?\d+ °C to -?\d+ °C|-?\d+ to -?\d+ °C) \((-?\d+ to -?\d+ °F)\)")


def degrees(value_c: float, value_f: float | None = None) -> str:
    """Return `57 °C (135 °F)`, where a code has a figure of its own in °F; else `63 °C`."""
    return f"{value_c:g} °C" if value_f is None else f"{value_c:g} °C ({value_f:g} °F)"


def lasting(seconds: float) -> str:
    """Return a length of time as `2 h 05 min`, `12 min`, `35 s`, to the nearest unit."""
    if seconds < 119.5:
        return f"{seconds:.0f} s"
    minutes = round(seconds / 60)
    hours, rest = divmod(minutes, 60)
    return f"{minutes} min" if not hours else f"{hours} h {rest:02d} min" if rest else f"{hours} h"


def left(seconds: float) -> str:
    """Return what is left of a time, rounded down to the minute: never more than there is."""
    return lasting(seconds // 60 * 60) if seconds >= 120 else lasting(max(0.0, seconds // 1))


def unrecorded(seconds: float) -> str:
    """Return `, 15 min of it not recorded`, nothing for none."""
    return f", {lasting(seconds)} of it not recorded" if seconds > 0 else ""


def in_units(text: str, units: str) -> str:
    """Return a rule's text with one unit only: where it writes its own °F, those for "F" and none for "C"."""
    if units == "F":
        return _BOTH.sub(r"\2 °F", _BOTH_RANGE.sub(r"\2", text))
    return _BOTH.sub(r"\1 °C", _BOTH_RANGE.sub(r"\1", text))
