"""Where a night does not keep the code: other nights near it that do, each foretold, none guessed.

In the order of how little they change: the mix hotter, the vessel warmed first, stirring, a thinner layer in a wider
vessel, a smaller batch. Of each kind the smallest change that keeps the code is offered.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import msgspec

from holdctl.food.say import lasting
from holdctl.plan.course import Start
from holdctl.plan.keeping import judge
from holdctl.plan.night import Night, NightForecast, foretell
from holdctl.plan.stirring import every

PAIRS = 4
"""So many pairs of other warmers are drawn for each try: it is tried often."""
HOTTER_C = (50.0, 55.0, 60.0, 63.0, 66.0, 70.0, 74.0)
STIR_MIN = (60, 40, 30, 20, 15, 10)
LESS = (0.8, 0.67, 0.5, 0.35)
_DEAREST_STIRS = 12
"""Nobody stirs more often in one come-up."""


@dataclass(frozen=True, slots=True)
class Remedy:
    """Another night that keeps the code."""

    words: str
    """What to do, as a sentence's begin: “Start with a mix of 66 °C”."""
    night: Night
    forecast: NightForecast

    @property
    def sentence(self) -> str:
        """What to do and what comes of it."""
        band = self.forecast.band_s
        when = "" if band is None else f": every part in range after {lasting(band[1])}"
        return f"{self.words}{when}."


def remedies(night: Night, forecast: NightForecast) -> tuple[Remedy, ...]:
    """Return one remedy of each kind that there is, the nearest first; none where nothing is to mend."""
    if forecast.kept and forecast.band_s is not None:
        return ()
    found = []
    for kind in (_hotter(night), _warmed(night), _stirred(night, forecast), _wider(night), _smaller(night)):
        for words, other in kind:
            if not _may_keep(other):
                continue
            seen = foretell(other, PAIRS)
            if seen.kept and seen.band_s is not None:
                found.append(Remedy(words, other, seen))
                break
    return tuple(found)


def _may_keep(night: Night) -> bool:
    """Whether the warmer that is believed keeps the code: else others need not be asked."""
    course = night.runner(night.warmer().model()).run(night.baker)
    rules = judge(night.settings, course.t_s, course.coldest_c, night.waited_s)
    return course.band_s is not None and all(rule.kept for rule in rules)


Tries = Iterator[tuple[str, Night]]


def _hotter(night: Night) -> Tries:
    most_c = float(int(night.most_mix_c))
    for paste_c in sorted({*HOTTER_C, most_c}):
        if night.start.paste_c + 0.5 < paste_c <= most_c:
            yield (
                f"Start with a mix of {paste_c:g} °C",
                replace(night, start=_at(night.start, paste_c), waited_s=0.0),
            )


def _warmed(night: Night) -> Tries:
    start = night.start
    if start.vessel_c is not None and start.vessel_c < 50.0:
        warm = replace(start, vessel_c=60.0, warmer_c=60.0)
        yield "Warm vessel and warmer to 60 °C first", replace(night, start=warm, waited_s=0.0)


def _stirred(night: Night, forecast: NightForecast) -> Tries:
    if night.settings.warmer.stirred:
        return
    upto = 6 * 3600.0 if forecast.course.band_s is None else forecast.course.band_s
    for minutes in STIR_MIN:
        times = every(minutes, upto)
        if times and len(times) <= _DEAREST_STIRS:
            baker = replace(night.baker, stirs_s=times)
            yield f"Stir to the bottom every {minutes} min until it is in range", replace(night, baker=baker)


def _wider(night: Night) -> Tries:
    """The same paste in a wider vessel."""
    for share in LESS:
        vessel = night.settings.vessel
        wide = round(vessel.inner_diameter_cm / share**0.5, 1)
        other = msgspec.structs.replace(vessel, inner_diameter_cm=wide)
        settings = msgspec.structs.replace(night.settings, vessel=other)
        deep = 100.0 * replace(night, settings=settings, known=None).warmer().told.height_m
        words = f"Spread it thinner, {deep:.0f} cm deep in a vessel {wide:.0f} cm wide"
        yield words, replace(night, settings=settings)


def _smaller(night: Night) -> Tries:
    """Less paste in the same vessel."""
    for share in LESS:
        mass = 10.0 * round(share * night.settings.scald.mass_g / 10.0)
        scald = msgspec.structs.replace(night.settings.scald, mass_g=max(10.0, mass))
        settings = msgspec.structs.replace(night.settings, scald=scald)
        yield f"Make a smaller batch, {mass:g} g of scald", replace(night, settings=settings)


def _at(start: Start, paste_c: float) -> Start:
    off = paste_c - start.paste_c
    return replace(start, paste_c=paste_c, low_c=start.low_c + off, high_c=start.high_c + off)
