"""What control may ask of wall and paste, from the settings alone: the same bounds in the hold and in a forecast."""

from dataclasses import dataclass

from holdctl.settings import PASTE_PLACES, Place, Settings

WALL_MARGIN_K = 0.5
"""In the loops the wall is asked for no more than this below the programme's upper `every_part`: it overshoots."""
WALL_BELOW_LIMIT_K = 5.0
"""The wall is never asked for more than this below its high limit."""
FLOOR_MARGIN_K = 1.0
"""The wall is let fall no lower than this above the lower `every_part`: the paste under the lid is colder still."""
FALL_K = 1.5
"""Nor lower than this under the setpoint: a hot core falls little sooner for it, and the edge would be chilled."""
STIRRED_FALL_K = 30.0
"""How far under the setpoint the wall of a paste that is kept moving may be let fall."""


@dataclass(frozen=True, slots=True)
class Wish:
    """What is to be reached, °C: setpoint at its place, range of all paste, ceilings of paste and walls."""

    place: Place
    setpoint_c: float
    low_c: float
    high_c: float
    ceiling_c: float
    wall_c: float
    floor_c: float
    loop_c: float
    """Least and most that the loops ask of the wall, °C."""
    margin_k: float = 0.0
    """How far under its ceiling the hottest paste is kept for what is not known."""


def wish_for(settings: Settings, setpoint_c: float, ceiling_c: float, margin_k: float = 0.0) -> Wish:
    """Return what a hold of `settings` strives for at a setpoint; `ceiling_c` is the hottest that paste may get."""
    low, high = settings.programme.every_part
    return Wish(
        place=next(p for p in settings.probe if p.place in PASTE_PLACES).place,
        setpoint_c=setpoint_c,
        low_c=low,
        high_c=high,
        ceiling_c=ceiling_c,
        wall_c=wall_most_c(settings),
        floor_c=floor_c(settings, setpoint_c),
        loop_c=loop_ceiling_c(settings, setpoint_c),
        margin_k=margin_k,
    )


def wall_most_c(settings: Settings) -> float:
    """Return the hottest that any wall may get, °C: what the baker allows, and clear of its high limit."""
    most = settings.limits.wall_high_c - WALL_BELOW_LIMIT_K
    given = settings.control.wall_ceiling_c
    return most if given is None else min(most, given)


def floor_c(settings: Settings, setpoint_c: float) -> float:
    """Return the least that the loops ask of the wall, °C."""
    if settings.warmer.stirred:  # no part of it is colder than the rest
        return setpoint_c - STIRRED_FALL_K
    given = settings.control.wall_floor_c
    least = max(settings.programme.every_part[0] + FLOOR_MARGIN_K, setpoint_c - FALL_K)
    return min(least if given is None else given, setpoint_c - 1.0)


def loop_ceiling_c(settings: Settings, setpoint_c: float) -> float:
    """Return the most that the loops ask of the wall, °C."""
    most = wall_most_c(settings)
    if settings.warmer.stirred:  # paste that is kept moving has no edge that a hot wall could spoil
        return most
    given = settings.control.wall_ceiling_c
    ceiling = settings.programme.every_part[1] - WALL_MARGIN_K if given is None else given
    return min(max(ceiling, setpoint_c + 1.0), most)
