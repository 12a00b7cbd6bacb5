"""The programme of a night with the baker in it: stir down, malt in, lid on, stirs on the way, hold, what follows."""

from dataclasses import dataclass

import msgspec

from holdctl.paste.flours import AMYLASES_C
from holdctl.plan.falling import falls
from holdctl.plan.night import Night, NightForecast
from holdctl.plan.plan import PlanStep
from holdctl.plan.stirring import Stir
from holdctl.plan.words import span, temp
from holdctl.settings import Lid, Programme, Settings, Step

DOWN_TO_K = 1.0
"""A hot mix is stirred down to so much above the hold."""
DOWN_FROM_K = 3.0
"""A mix this far above the hold is stirred down."""
MALT_S, LID_S = 120.0, 60.0
"""How long these take (common sense, no source)."""
_WAIT_DOWN, _WAIT_MALT, _WAIT_STIR = "30 min", "20 min", "10 min"


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the baker wants of the night beside the hold."""

    malt: bool = False
    """Diastatic malt goes in."""
    stirs: tuple[Stir, ...] = ()
    """On the way."""


def down_to_c(night: Night) -> float | None:
    """Return to what the mix is to be stirred down, °C; None where it need not be."""
    hot = night.start.paste_c > min(AMYLASES_C, night.setpoint_c + DOWN_FROM_K)
    return night.setpoint_c + DOWN_TO_K if hot and not night.settings.warmer.stirred else None


def hands_s(settings: Settings, wishes: Wishes) -> float:
    """Return how long malt and lid take, s."""
    return (MALT_S if wishes.malt else 0.0) + (0.0 if settings.vessel.lid is Lid.OFF else LID_S)


def programme(night: Night, wishes: Wishes) -> Programme:
    """Return the settings' programme with the baker's steps before its own.

    Every prompt keeps the paste warm while it waits; nothing is lost but time where nobody comes.
    """
    before = [*_down(night), *_malt(night, wishes), *_lid(night, wishes), *_on_the_way(night, wishes)]
    own = night.settings.programme
    return msgspec.structs.replace(own, step=(*before, *own.step))


def _down(night: Night) -> list[Step]:
    if night.baker.down_to_c is None:
        return []
    to_c = night.baker.down_to_c
    text = f"Stir to the bottom until the probe shows {temp(to_c)}, then go on."
    return [Step(prompt=text, to=to_c, wait=_WAIT_DOWN, unanswered="go-on")]


def _malt(night: Night, wishes: Wishes) -> list[Step]:
    if not wishes.malt:
        return []
    text = f"Every part below {AMYLASES_C:g} °C? Stir the malt in, then go on."
    return [Step(prompt=text, to=night.setpoint_c, wait=_WAIT_MALT, unanswered="keep-waiting")]


def _lid(night: Night, wishes: Wishes) -> list[Step]:
    if night.settings.vessel.lid is Lid.OFF or not (wishes.malt or night.baker.down_to_c is not None):
        return []
    return [Step(prompt="Lid on, then go on.", to=night.setpoint_c, wait=_WAIT_STIR, unanswered="go-on")]


def _on_the_way(night: Night, wishes: Wishes) -> list[Step]:
    """Each stir is asked for at its time, and left out where every part is in range by then."""
    steps, since_s = [], 0.0
    for stir in wishes.stirs:
        due = f"{max(1, round((stir.at_s - since_s) / 60))} min"
        text = "Stir to the bottom, lid back on, then go on."
        steps.append(Step(prompt=text, to=night.setpoint_c, due=due, wait=_WAIT_STIR, unanswered="go-on"))
        since_s = stir.at_s
    return steps


def steps(night: Night, forecast: NightForecast, wishes: Wishes) -> tuple[PlanStep, ...]:
    """Return what the baker does, with times as expected."""
    found, at_s = [], 0.0
    course = forecast.course
    if night.baker.down_to_c is not None:
        found.append(PlanStep(at_s=0.0, words=_down_words(night, course.down_s)))
        at_s = course.down_s
    if wishes.malt:
        found.append(
            PlanStep(at_s=at_s, words=f"Malt in once every part is below {AMYLASES_C:g} °C; stir it.")
        )
        at_s += MALT_S
    if night.settings.vessel.lid is not Lid.OFF:
        found.append(PlanStep(at_s=at_s, words="Lid on."))
        at_s += LID_S
    for stir in wishes.stirs:
        found.append(PlanStep(at_s=stir.at_s, words=f"Stir to the bottom: {worth(stir)}."))
    if forecast.band_s is not None:
        words = f"Every part in range: the hold of {span(night.hold_s)} at {temp(night.setpoint_c)} begins."
        found.append(PlanStep(at_s=max(at_s, forecast.band_s[1]), words=words))
    found += _falls(night, forecast)
    if forecast.ready_s is not None:
        found.append(PlanStep(at_s=forecast.ready_s[1], words=_after(night)))
    return tuple(found)


def _falls(night: Night, forecast: NightForecast) -> list[PlanStep]:
    """Return one step for the falls of one's own programme after its holds."""
    to = [temp(to_c) for _, _, to_c in falls(night.settings.programme)]
    if not to:
        return []
    took = "not within a day" if forecast.fall_s is None else f"in {span(forecast.fall_s[1])}"
    return [
        PlanStep(at_s=None, words=f"Relay off, the paste falls in the warmer to {' and '.join(to)}, {took}.")
    ]


def unforetold(own: Programme) -> tuple[str, ...]:
    """Return a sentence for each thing in a programme of one's own that the forecast does not run through."""
    timed = {n for n, _, _ in falls(own)}
    found = [
        f"Step {n} of your programme lets the paste fall to {temp(step.fall_to)}, relay off; below the code's limit "
        f"that is a cooling, judged as one.{'' if n in timed else ' Neither its time nor that is in the forecast.'}"
        for n, step in enumerate(own.step, 1)
        if step.fall_to is not None
    ]
    holds = [step.to for step in own.step if step.hold_for and step.to is not None]
    if len(set(holds)) > 1:
        found.append(f"The forecast takes every hold of your programme at the first one's {temp(holds[0])}.")
    if any(step.prompt is not None for step in own.step):
        found.append(
            "Prompts of your own programme wait for you: the forecast takes them as answered at once."
        )
    return tuple(found)


def worth(stir: Stir) -> str:
    """Return what a stir is worth, in words."""
    said = []
    if stir.gain_s == float("inf"):
        said.append("else it is not in range within a day")
    elif stir.gain_s >= 60.0:
        said.append(f"{span(stir.gain_s)} sooner in range")
    if stir.cooler_k >= 1.0:
        said.append(f"{stir.cooler_k:.0f} K less hot at its hottest")
    said.append(f"the paste then differs by {stir.spread_k:.0f} K from part to part")
    return ", ".join(said)


def _down_words(night: Night, seconds: float) -> str:
    to_c = night.baker.down_to_c or 0.0
    return (
        f"Stir to the bottom until the probe shows {temp(to_c)}, about {span(max(60.0, seconds))}: left alone, the "
        "core stays hot and its amylases end."
    )


def _after(night: Night) -> str:
    after = night.settings.programme.after
    if after.then == "relay-off":
        return "The hold is done: relay off. Use or cool the paste at once."
    return f"The hold is done: it is kept hot until you end it; after {after.longest} there is an alarm."
