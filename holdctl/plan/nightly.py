"""The programme of a night with the baker in it: stir down, malt in, lid on, stirs on the way, hold, what follows."""

from dataclasses import dataclass

import msgspec

from holdctl.food.rules import FoodCode
from holdctl.hold.programme import duration_ms
from holdctl.paste.flours import AMYLASES_C
from holdctl.plan.course import STIR_S, Span
from holdctl.plan.falling import falls
from holdctl.plan.legs import ANSWER_S, extra_s
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
    busy_s: float = 0.0
    """How long stirring down, malt and lid take as foretold, s: the stirs' prompts come after theirs."""


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
    before = [*_down(night), *_malt(night, wishes), *_lid(night, wishes)]
    on_the_way = _on_the_way(night, wishes, wishes.busy_s if before else 0.0)
    own = night.settings.programme
    return msgspec.structs.replace(own, step=(*before, *on_the_way, *own.step))


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


def _on_the_way(night: Night, wishes: Wishes, since_s: float) -> list[Step]:
    """Each stir is asked for at its time, and left out where every part is in range by then."""
    steps = []
    for stir in wishes.stirs:
        due = f"{max(1, round((stir.at_s - since_s) / 60))} min"
        text = "Stir to the bottom, lid back on, then go on."
        steps.append(Step(prompt=text, to=night.setpoint_c, due=due, wait=_WAIT_STIR, unanswered="go-on"))
        since_s = stir.at_s + STIR_S
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
    for span_ in course.spans:
        found += _own(night, forecast, span_, at_s)
    if forecast.ready_s is not None:
        found.append(PlanStep(at_s=forecast.ready_s[1], words=_after(night)))
    return tuple(found)


def _own(night: Night, forecast: NightForecast, run: Span, busy_s: float) -> list[PlanStep]:
    """Return what one step of the settings' programme asks or does, with its time."""
    if not run.number or run.skipped:
        return []
    step = night.settings.programme.step[run.number - 1]
    if step.prompt is not None:
        return [PlanStep(at_s=run.begun_s, words=f"Your step {run.number} asks: “{step.prompt}”")]
    if step.fall_to is not None:
        took = "not within a day" if run.ended_s is None else f"in {span(run.ended_s - run.begun_s)}"
        words = f"Relay off, the paste falls in the warmer to {temp(step.fall_to)}, {took}."
        return [PlanStep(at_s=run.begun_s, words=words, alone=True)]
    if forecast.band_s is None or step.to is None or step.hold_for is None:
        return []
    hold = f"the hold of {span(duration_ms(step.hold_for) / 1000)} at {temp(step.to)} begins."
    return [PlanStep(at_s=max(busy_s, run.begun_s), words=f"Every part in range: {hold}", alone=True)]


def counted_on(own: Programme, code: FoodCode) -> tuple[str, ...]:
    """Return what the forecast counts on in a programme of one's own, and what the code sees in its falls."""
    found = [
        f"Step {n} lets the paste fall to {temp(to_c)}, relay off: below the code's limit that is a cooling, judged as "
        "one."
        for n, _, to_c in falls(own)
        if to_c < code.hot_holding_c
    ]
    found += [
        f"Step {n} holds at {temp(to_c)} what was hot: under the {temp(code.hot_holding_c)} of {code.source} that is "
        "neither hot holding nor a cooling, unless you declare `holdctl sour`."
        for n, to_c in _lukewarm(own, code.hot_holding_c)
    ]
    prompts = [(n, step) for n, step in enumerate(own.step, 1) if step.prompt is not None]
    if prompts:
        waits = [n for n, step in prompts if extra_s(step) == float("inf")]
        late = "" if not waits else f" {_numbers(waits)} waits for you, however long."
        found.append(
            f"Prompts of your own count as answered within {span(ANSWER_S)}, late as not where they go on by "
            f"themselves.{late}"
        )
    return tuple(found)


def _lukewarm(own: Programme, hot_c: float) -> list[tuple[int, float]]:
    """Return the holds under the code's limit that come after one over it: number and °C."""
    found, was_hot = [], False
    for n, step in enumerate(own.step, 1):
        if step.hold_for and step.to is not None:
            if was_hot and step.to < hot_c:
                found.append((n, step.to))
            was_hot = was_hot or step.to >= hot_c
    return found


def _numbers(of: list[int]) -> str:
    """Return “Step 2” or “Each of steps 2, 4”."""
    return f"Step {of[0]}" if len(of) == 1 else f"Each of steps {', '.join(str(n) for n in of)}"


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
