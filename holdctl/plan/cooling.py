"""The way down of a plan: how long the scald takes to the dough's temperature, and whether a food code's stages hold.

A range, not a figure: films between paste and air are known within a third. Only what holds in the slow case is called
met; what fails in the fast case, too, is not met; between the two it is open, and the baker is told to measure.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import msgspec

from holdctl.food.codes import code_of
from holdctl.food.rules import Cooling, CoolingStage, limit_words
from holdctl.hold.programme import hot_holding_c
from holdctl.paste.cooling import Around, CoolingCurve, Form, Stand, around, cool_down
from holdctl.paste.thermal import Properties, paste_properties
from holdctl.plan.bread import Bread
from holdctl.plan.mixing import room_c
from holdctl.plan.plan import CoolingPart, ScaldPart, StagePart
from holdctl.plan.words import number, span
from holdctl.settings import Settings

_MIDDLE_C = 40.0
"""Paste between 65 and 20 °C has nearly the properties that it has here."""
_HOLD_C = 65.0
_FILMS = (1.4, 0.7)
"""Fast and slow, of the usual films: 8 to 12 W/(m² K) for most surfaces, 6 for polished metal (computed)."""
_CONDUCTS = (1.2, 0.95)
"""Of conductivity in series: parallel layers conduct a fifth more."""
_STANDS = {Stand.ROOM: "in the room", Stand.FRIDGE: "in the fridge", Stand.ICE_BATH: "in ice water"}
_WAYS = (
    ("spread 2 cm deep in the fridge", Stand.FRIDGE, 0.02),
    ("spread 2 cm deep in ice water", Stand.ICE_BATH, 0.02),
    ("spread 1 cm deep in the fridge", Stand.FRIDGE, 0.01),
    ("spread 1 cm deep in ice water", Stand.ICE_BATH, 0.01),
)
"""What is offered where the plan's way does not keep the code."""
Met = Literal["yes", "no", "open"]


@dataclass(frozen=True, slots=True)
class _Way:
    """One way to cool: its fast and its slow curve."""

    words: str
    curves: tuple[CoolingCurve, CoolingCurve]


def cooling_part(bread: Bread, scald: ScaldPart, settings: Settings | None) -> CoolingPart:
    """Return how the scald cools as `[cooling]` says, and the nearest way that keeps the code where that does not."""
    stand, start_c = Stand(bread.cooling.where), _start_c(settings)
    paste = paste_properties(scald.like, (scald.mass_g - scald.flour_g) / scald.flour_g, _MIDDLE_C)
    form = _form(bread, scald, paste, settings)
    material = settings.vessel.material if settings else None
    usual = {one: around(one, room_c(bread, settings), material=material) for one in Stand}

    def make(words: str, stand: Stand, form: Form) -> _Way:
        return _way(words, form, paste, start_c, usual[stand])

    rule = _rule(settings)
    way = make(_words(bread, stand, form), stand, form)
    stages = tuple(_begun(stage, start_c) for stage in _stages(way, rule))
    kept = _kept(stages)
    before = next((stage.from_c for stage in stages if start_c < stage.from_c), None)
    fails = rule is not None and kept in ("no", "open") and before is None
    return CoolingPart(
        where=stand.value,
        start_c=start_c,
        depth_cm=round(100 * form.depth_m, 1),
        dough_c=bread.dough.scald_c,
        dough_s=_dough_s(way, bread.dough.scald_c),
        way=way.words,
        rule=rule.source if rule else "",
        stages=stages,
        kept=kept,
        nearest=_nearest(make, rule, scald.mass_g / 1000, paste) if rule and fails else "",
        notes=(*_notes(rule), *_begun_words(before)),
    )


def _start_c(settings: Settings | None) -> float:
    """Return what the paste has when the programme is done: what is held after it, else what its last step leaves."""
    if settings is None:
        return _HOLD_C
    own = settings.programme
    ends = [step.fall_to if step.hold_for is None else step.to for step in own.step if step.prompt is None]
    last_c = hot_holding_c(own) if own.after.then == "hot-holding" else next(reversed(ends), None)
    return _HOLD_C if last_c is None else last_c


def _begun(stage: StagePart, start_c: float) -> StagePart:
    """Return a stage whose clock began before the programme was done as one that is not surely kept."""
    if start_c >= stage.from_c or stage.met != "yes":
        return stage
    return msgspec.structs.replace(stage, met="open")


def _begun_words(from_c: float | None) -> tuple[str, ...]:
    if from_c is None:
        return ()
    return (f"It has been under {from_c:g} °C in the warmer by then: what it spent there counts, too.",)


def _rule(settings: Settings | None) -> Cooling | None:
    found = code_of(settings).of(Cooling) if settings else ()
    return found[0] if found else None


def _form(bread: Bread, scald: ScaldPart, paste: Properties, settings: Settings | None) -> Form:
    """Return the paste as spread, else as in the vessel, else as wide as a heap half as high."""
    mass_kg = scald.mass_g / 1000
    if bread.cooling.layer_cm is not None:
        return _spread(bread.cooling.layer_cm / 100, mass_kg, paste)
    if settings is not None:
        return Form.in_vessel(mass_kg, settings.vessel.inner_diameter_cm / 100, paste)
    return Form.in_vessel(mass_kg, 2 * (mass_kg / paste.rho_kg_m3 / math.pi) ** (1 / 3), paste)


def _spread(depth_m: float, mass_kg: float, paste: Properties) -> Form:
    return Form(depth_m, math.sqrt(4 * mass_kg / paste.rho_kg_m3 / depth_m / math.pi))


def _words(bread: Bread, stand: Stand, form: Form) -> str:
    body = "spread " if bread.cooling.layer_cm is not None else ""
    return f"{_STANDS[stand]}, {body}{number(100 * form.depth_m)} cm deep"


def _way(words: str, form: Form, paste: Properties, start_c: float, usual: Around) -> _Way:
    fast, slow = (
        cool_down(replace(paste, k_w_mk=paste.k_w_mk * k), form, start_c, _with(usual, film))
        for film, k in zip(_FILMS, _CONDUCTS, strict=True)
    )
    return _Way(words, (fast, slow))


def _with(usual: Around, factor: float) -> Around:
    return replace(
        usual,
        side_w_m2k=usual.side_w_m2k * factor,
        bottom_w_m2k=usual.bottom_w_m2k * factor,
        top_w_m2k=usual.top_w_m2k * factor,
    )


def _dough_s(way: _Way, to_c: float) -> tuple[float | None, float | None]:
    """Return when the paste, stirred then, has the dough's temperature: fast and slow."""
    fast, slow = (curve.when(to_c, curve.mean_c) for curve in way.curves)
    return fast, slow


def _stages(way: _Way, rule: Cooling | None) -> tuple[StagePart, ...]:
    return tuple(_stage(way, stage) for stage in (rule.stages if rule else ()))


def _stage(way: _Way, stage: CoolingStage) -> StagePart:
    """Return one stage: its clock runs from the coldest paste's fall to when the hottest is there."""
    fast, slow = (_took_s(curve, stage) for curve in way.curves)
    met: Met = "open"
    if slow is not None and slow <= stage.within_s:
        met = "yes"
    elif fast is None or fast > stage.within_s:
        met = "no"
    return StagePart(
        from_c=stage.clock_from_c,
        from_f=stage.clock_from_f,
        to_c=stage.to_c,
        to_f=stage.to_f,
        within_s=stage.within_s,
        fast_s=fast,
        slow_s=slow,
        met=met,
    )


def _took_s(curve: CoolingCurve, stage: CoolingStage) -> float | None:
    begins, ends = curve.when(stage.clock_from_c, curve.coldest_c), curve.when(stage.to_c)
    return None if ends is None else ends - (begins or 0.0)


def _kept(stages: tuple[StagePart, ...]) -> Met | Literal[""]:
    verdicts = [stage.met for stage in stages]
    if not verdicts:
        return ""
    return "no" if "no" in verdicts else "open" if "open" in verdicts else "yes"


def _nearest(
    make: Callable[[str, Stand, Form], _Way], rule: Cooling, mass_kg: float, paste: Properties
) -> str:
    """Return the first of the usual ways that keeps the code in the slow case."""
    for words, stand, depth_m in _WAYS:
        if _kept(_stages(make(words, stand, _spread(depth_m, mass_kg, paste)), rule)) == "yes":
            return f"{words} would keep it, as reckoned"
    return "none of the usual ways is sure to keep it unstirred: stir it in ice water, and measure"


def _notes(rule: Cooling | None) -> tuple[str, ...]:
    if rule is None or rule.stages:
        return ()
    return (f"{rule.text} ({rule.source})",)


def words(part: CoolingPart, units: str = "C") -> tuple[str, str, str]:
    """Return what the card says: the way to the dough, whether it may be stored instead, and the times for that.

    The last two are empty where no rule has a number.
    """
    fast, slow = part.dough_s
    if fast is None:
        dough = f"To {number(part.dough_c)} °C not within a day {part.way}."
    else:
        late = "or longer" if slow is None else f"to {span(slow)}"
        dough = f"To {number(part.dough_c)} °C in {span(fast)} {late} {part.way}."
    if not part.stages:
        return dough, "", ""
    kept = {"yes": "kept this way", "no": "NOT kept this way", "open": "not surely kept this way"}[
        part.kept or "open"
    ]
    nearest = f"; {part.nearest}" if part.nearest else ", as reckoned"
    times = "; ".join(_of_stage(stage, units) for stage in part.stages)
    return dough, f"To store it: {part.rule} {kept}.", f"{times}{nearest}."


def _of_stage(stage: StagePart, units: str) -> str:
    ends = (limit_words(stage.from_c, stage.from_f, units), limit_words(stage.to_c, stage.to_f, units))
    way, allowed = f"{ends[0]} to {ends[1]}:", f"({span(stage.within_s)} allowed)"
    if stage.fast_s is None:
        return f"{way} not within a day {allowed}"
    late = "or longer" if stage.slow_s is None else f"to {span(stage.slow_s)}"
    return f"{way} {span(stage.fast_s)} {late} {allowed}"
