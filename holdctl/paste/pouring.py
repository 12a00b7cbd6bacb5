"""Which water to pour: how hot for a wanted mix, how much boiling and how much cold, how much ice, and why.

The choice weighs two things. Starch must swell: wheat's has done so at 66 °C, rye's at about 64 (see `gelatinisation`).
Amylases must live to make it sweet: rye's beta-amylase works best at 49–54 °C and is gone at about 70, its
alpha-amylase at 60–70 and is gone at 85 (Chizhova et al., handbook for bakery laboratories). So 70 °C parts two
ways: stay below it and keep the flour's own, or pour boiling water and add malt once the paste has
come below it (common practice).
"""

from dataclasses import dataclass, replace

from holdctl.errors import ConfigError
from holdctl.paste.boiling import Boiling
from holdctl.paste.enthalpy import WATER, Portion, enthalpy, ice_enthalpy, root
from holdctl.paste.flours import AMYLASES_C
from holdctl.paste.mixing import Mix, Scalding, excess_j, mix, mix_c, poured

_OVER_END_K, _HIGHEST_KEPT_C = 2.0, 68.0
_STIFFEST = 1.0
"""Water : flour below which a paste can't be stirred smooth (common practice, no source)."""
_QUICK_C = 67.0


@dataclass(frozen=True, slots=True)
class Pour:
    """What to pour and what comes of it. `hot_g` of boiling and `cold_g` of cold water make `water_c` together."""

    water_c: float
    hot_g: float
    cold_g: float
    mix: Mix
    boil_first: bool
    """The flour's amylases don't outlive it: malt must come later."""
    why: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Kitchen:
    """What water there is: boiling, and cold at this temperature, °C."""

    boiling: Boiling
    cold_c: float

    @property
    def hot_c(self) -> float:
        """Boiling water as it meets the flour, °C."""
        return poured(self.boiling.temp_c)


def water_for(s: Scalding, wanted_c: float, water_g: float) -> float | None:
    """Return the temperature of `water_g` of water, beside the waters in `s`, for a mix at `wanted_c`.

    None where no liquid water below 102 °C can.
    """
    need = excess_j(s, wanted_c)
    return root(lambda temp_c: -need - Portion(water_g, temp_c).heat_j(wanted_c))


def hot_for(s: Scalding, wanted_c: float, water_g: float, hot_c: float, cold_c: float) -> float | None:
    """Return how much of `water_g`, g, must be at `hot_c`, the rest at `cold_c`, for a mix at `wanted_c`.

    None where neither all hot nor all cold would do.
    """
    hot = Portion(water_g, hot_c).heat_j(wanted_c)
    cold = Portion(water_g, cold_c).heat_j(wanted_c)
    if hot == cold:
        return None
    part = (excess_j(s, wanted_c) + cold) / (cold - hot)
    return part * water_g if 0.0 <= part <= 1.0 else None


def blend_hot_g(water_g: float, water_c: float, hot_c: float, cold_c: float) -> float:
    """Return how much of `water_g` must be at `hot_c`, the rest at `cold_c`, for water at `water_c`; 0 to all of it."""
    cold, hot = enthalpy(WATER, cold_c), enthalpy(WATER, hot_c)
    part = 1.0 if hot == cold else (enthalpy(WATER, water_c) - cold) / (hot - cold)
    return water_g * min(1.0, max(0.0, part))


def ice_for(total_g: float, tap_c: float, wanted_c: float, ice_c: float = 0.0) -> float:
    """Return how much of `total_g` of water must be ice, g, for it to stand at `wanted_c`; 0 where the tap is colder.

    The ice replaces water: what it replaces need not be cooled, so the tap's temperature stands below the line,
    W (h_tap - h_wanted) / (L + h_tap). With the wanted temperature there it would be ice on top, a tenth more.
    """
    tap = enthalpy(WATER, tap_c)
    return max(0.0, total_g * (tap - enthalpy(WATER, wanted_c)) / (tap - ice_enthalpy(ice_c)))


def hottest_c(s: Scalding, water_g: float, kitchen: Kitchen) -> float:
    """Return the hottest mix that can be had, °C: all its water boiling."""
    return mix_c(_with(s, water_g, kitchen.hot_c))


def choose(
    s: Scalding, water_g: float, kitchen: Kitchen, *, malt: bool, wanted_c: float | None = None
) -> Pour:
    """Return how to pour `water_g` of water, beside the waters in `s`, and why.

    With a wanted mix temperature for that; else boiling where malt comes later, and for a paste without malt just
    hot enough for its starch. Raises ConfigError where a wanted mix can't be had, with the nearest that can.
    """
    if wanted_c is not None:
        return _wanted(s, water_g, kitchen, wanted_c)
    top_c = hottest_c(s, water_g, kitchen)
    if top_c < s.starch.end_c:
        return _pour(s, water_g, kitchen, kitchen.hot_c, _too_cold(s, top_c, malt=malt))
    if malt:
        pour = _pour(s, water_g, kitchen, kitchen.hot_c, _boil_first(s, top_c))
        return replace(pour, notes=(*pour.notes, *_quick(s, water_g, kitchen)))
    target = min(s.starch.end_c + _OVER_END_K, _HIGHEST_KEPT_C)
    water_c = water_for(s, target, water_g)
    if water_c is None or water_c > kitchen.hot_c:
        return _pour(s, water_g, kitchen, kitchen.hot_c, _keeps(s, kitchen.hot_c, top_c))
    return _pour(s, water_g, kitchen, water_c, _keeps(s, water_c, target))


def _wanted(s: Scalding, water_g: float, kitchen: Kitchen, wanted_c: float) -> Pour:
    low_c, high_c = mix_c(_with(s, water_g, kitchen.cold_c)), mix_c(_with(s, water_g, kitchen.hot_c))
    if not low_c <= wanted_c <= high_c:
        word, nearest = ("boiling", high_c) if wanted_c > high_c else ("cold", low_c)
        raise ConfigError(
            f"A mix of {wanted_c:g} °C can't be had: even with all its water {word} it comes to {nearest:.1f} °C; "
            f"nearest: {nearest:.1f} °C{', or a warmed bowl and more water' if word == 'boiling' else ''}."
        )
    water_c = water_for(s, wanted_c, water_g)
    if water_c is None:  # cannot be between two that mix
        raise ConfigError(f"No water makes a mix of {wanted_c:g} °C.")
    return _pour(
        s, water_g, kitchen, water_c, f"Water at {water_c:.0f} °C, because you asked for {wanted_c:g} °C."
    )


def _with(s: Scalding, water_g: float, water_c: float) -> Scalding:
    return replace(s, waters=(*s.waters, Portion(water_g, water_c)))


def _pour(s: Scalding, water_g: float, kitchen: Kitchen, water_c: float, why: str) -> Pour:
    mixed = mix(_with(s, water_g, water_c))
    hot_g = blend_hot_g(water_g, water_c, kitchen.hot_c, kitchen.cold_c)
    notes = []
    if mixed.high_c > AMYLASES_C >= mixed.temp_c:
        notes.append(
            f"It may come out as hot as {mixed.high_c:.0f} °C: measure at once, and stir until it is below 70 °C."
        )
    if mixed.temp_c >= s.starch.end_c > mixed.low_c:
        notes.append(
            f"It may come out as cold as {mixed.low_c:.0f} °C, below the {s.starch.end_c:.0f} °C at which all its "
            "starch has swollen: measure, and have hot water ready."
        )
    return Pour(water_c, hot_g, water_g - hot_g, mixed, mixed.temp_c > AMYLASES_C, why, tuple(notes))


def _boil_first(s: Scalding, top_c: float) -> str:
    name, end = s.starch.name, s.starch.end_c
    if top_c <= AMYLASES_C:
        return (
            f"Boiling water: at about {top_c:.0f} °C all {name} starch has swollen (its end is {end:.0f} °C), and "
            "below 70 °C the malt may go in as soon as it is stirred smooth."
        )
    return (
        f"Boiling water first, malt later: at about {top_c:.0f} °C all {name} starch swells (its end is {end:.0f} °C) "
        "but amylases end within minutes, so the malt goes in once the whole paste has been stirred to below 70 °C."
    )


def _keeps(s: Scalding, water_c: float, mix_temp_c: float) -> str:
    return (
        f"Water at {water_c:.0f} °C: there is no malt, so the flour's own amylases must live, and "
        f"{mix_temp_c:.0f} °C is hot enough for all {s.starch.name} starch "
        f"({s.starch.end_c:.0f} °C) yet below the 70 °C at which they end."
    )


def _too_cold(s: Scalding, top_c: float, *, malt: bool) -> str:
    later = " The malt may go in as soon as it is smooth." if malt else ""
    return (
        f"Boiling water, and even that comes to about {top_c:.0f} °C only, where {s.starch.name} starch has not all "
        f"swollen (its end is {s.starch.end_c:.0f} °C): warm the bowl and the flour first, or pour more water.{later}"
    )


def _quick(s: Scalding, water_g: float, kitchen: Kitchen) -> tuple[str, ...]:
    """Return a way without waiting: part of the water boiling, the rest cold once the starch has swollen."""
    hot_g = hot_for(s, _QUICK_C, water_g, kitchen.hot_c, kitchen.cold_c)
    if hot_g is None or hot_g < _STIFFEST * s.flour.mass_g or water_g - hot_g < 0.05 * water_g:
        return ()
    peak = mix_c(_with(s, hot_g, kitchen.hot_c))
    if peak < s.starch.end_c:
        return ()
    way = (
        f"Without waiting: {hot_g:.0f} g boiling water first (about {peak:.0f} °C), stir two minutes, then "
        f"{water_g - hot_g:.0f} g cold: about {_QUICK_C:.0f} °C, and the malt may go in at once."
    )
    return (way,)
