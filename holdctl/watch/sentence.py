"""The first line of the screen: one plain sentence about what goes on and, where there is one, the next move.

Order: a heater that no program can switch off, an end, a dead daemon, a trip, silence, an alarm nobody acknowledged,
then what the programme does. Whatever stands higher outranks the rest.
"""

from dataclasses import dataclass
from typing import Literal

from holdctl.events import Phase, State
from holdctl.hold.cool_probes import OUT, STILL
from holdctl.hold.programme import describe, duration_ms
from holdctl.hold.states import WORDS
from holdctl.safety import INTERLOCKS
from holdctl.watch.alarm_lines import PRIORITIES, WELDED, urgency
from holdctl.watch.cooling import cooling_sentence
from holdctl.watch.relay import relay_words, state_words
from holdctl.watch.snapshot import Alarm, Snapshot
from holdctl.watch.words import Look, span

Level = Literal["normal", "alarm", "trip", "danger"]

_TRIP_ORDER = (
    "high-limit", "other-host", "node-cutout", "link-down", "probe-fault", "no-reading", "no-acknowledgement",
    "probe-out", "probe-frozen", "restart-wait", "unanswered", "daemon-late",
)  # fmt: skip
SURE_MS = 300_000
"""A forecast at least as certain as this says no more than the clock that runs, ms."""
RISING_K = 0.3
"""Change over ten minutes that is called rising or falling, K: above the probes' noise."""


@dataclass(frozen=True, slots=True)
class Sentence:
    """The sentence and how abnormal it is."""

    text: str
    level: Level = "normal"


def sentence(shot: Snapshot, look: Look) -> Sentence:
    """Return the one sentence for this moment."""
    first = _welded(shot, look) or _ended(shot, look) or _gone(shot, look) or _tripped(shot)
    first = first or _silent(shot) or _alarmed(shot, look)
    found = first or Sentence(_doing(shot, look))
    return Sentence(look.text(found.text), found.level)


# What outranks the programme ---------------------------------------------------------------------------------------


def _welded(shot: Snapshot, look: Look) -> Sentence | None:
    """The loudest: whatever else goes on, somebody has to pull the plug. It stands until it is reset."""
    alarm = next((a for a in shot.alarms if a.name == WELDED), None)
    if alarm is None:
        return None
    cause, since = alarm.text.split(f": {INTERLOCKS[WELDED].consequence}")[0], look.time(alarm.since_utc_ms)
    text = f"PULL THE PLUG NOW, and leave it pulled. {_capital(cause)} (since {since}). No program can switch this "
    text += "heater off; only the independent thermal cut-off limits the heat. "
    return Sentence(f"{text}Have relay and wiring checked, then `holdctl reset {WELDED}`.", "danger")


def _ended(shot: Snapshot, look: Look) -> Sentence | None:
    if not shot.ended:
        return None
    last_ms = shot.hold.ended_utc_ms or shot.now_utc_ms
    how = shot.state_text or WORDS[shot.state]
    latched = [a.name for a in shot.alarms if a.latched]
    still = (
        f" {latched[0]} is still latched: `holdctl reset {latched[0]}` in the next hold." if latched else ""
    )
    text = f"This hold ended at {look.time(last_ms)}: {how.rstrip('.')}.{still} See it with `holdctl review`."
    bad = shot.state in (State.ABORTING, State.ABORTED) or bool(latched)
    return Sentence(text, "trip" if bad else "normal")


def _gone(shot: Snapshot, look: Look) -> Sentence | None:
    if not shot.gone:
        return None
    last = f", last {_paste(shot, look)} at {look.time(shot.sample.at.utc_ms)}" if shot.sample else ""
    return Sentence(
        f"The daemon is gone: {_lease(shot)}{last}. Next: look at the paste, then `holdctl start` again.",
        "trip",
    )


def _tripped(shot: Snapshot) -> Sentence | None:
    trips = [alarm for alarm in shot.alarms if alarm.holds]
    if trips:
        return Sentence(_trip(min(trips, key=_rank), shot), "trip")
    if shot.state is State.HELD:
        return Sentence(f"{_capital(state_words(shot))}: see the latest events below.", "trip")
    return None


def _rank(alarm: Alarm) -> tuple[bool, int]:
    known = alarm.name in _TRIP_ORDER
    return known, _TRIP_ORDER.index(alarm.name) if known else 0


def _trip(alarm: Alarm, shot: Snapshot) -> str:
    row = INTERLOCKS.get(alarm.name)
    waiting = f"{_capital(state_words(shot))}: " if shot.state is State.HELD else ""
    if row is None or alarm.restored:
        return f"{waiting}{alarm.text.rstrip('.')}."
    if alarm.name == "no-reading":
        return f"No reading for {span(shot.silent_s)}: {_lease(shot)}. Next: {row.what_to_do}."
    cause = alarm.text.split(f": {row.consequence}")[0]
    if alarm.name == "link-down":
        return f"{_capital(cause)}: {_lease(shot)}. Next: {row.what_to_do}."
    aside = ", put aside" if alarm.shelved else ""
    return f"{waiting or f'{_capital(relay_words(shot))}: '}{cause}{aside}. Next: {row.what_to_do}."


def _lease(shot: Snapshot) -> str:
    """Say what becomes of the relay where nobody hears from it."""
    given_s = (shot.sample.decision.lease_ms or 0) / 1000 if shot.sample else 0.0
    return "the relay's lease has run out" if shot.silent_s > given_s else "the relay's lease is running out"


def _silent(shot: Snapshot) -> Sentence | None:
    """The daemon lives but records nothing: no trip can say so."""
    if not shot.stale or shot.sample is None:
        return None
    text = f"Nothing recorded for {span(shot.silent_s)}, though the daemon runs."
    return Sentence(f"{text} Next: look at its log, and at the paste.", "alarm")


def _alarmed(shot: Snapshot, look: Look) -> Sentence | None:
    unseen = [a for a in reversed(shot.alarms) if a.stands and not a.acknowledged]
    if not unseen:
        return None
    alarm = min(unseen, key=lambda a: PRIORITIES.index(urgency(a)))
    paste = "" if alarm.name in (OUT, STILL) else f"{_capital(_paste(shot, look))}; "
    do = "`holdctl next` when done" if shot.phase is Phase.PROMPT else "`holdctl acknowledge` when seen"
    return Sentence(f"{_capital(alarm.text.rstrip('.'))}. {paste}{do}.", "alarm")


# What the programme does -------------------------------------------------------------------------------------------


def _doing(shot: Snapshot, look: Look) -> str:
    if shot.state in (State.STOPPING, State.ABORTING):
        return f"{_capital(WORDS[shot.state])}: waiting for the node to confirm that the relay is off."
    if shot.sample is None:
        return f"Started at {look.time(shot.hold.started_utc_ms)}: waiting for the first reading."
    match shot.phase:
        case Phase.PROMPT:
            return _prompt(shot, look)
        case Phase.FALLING:
            return f"Falling: {_paste(shot, look)}, {describe(shot.step) if shot.step else 'relay off'}{_then(shot)}."
        case Phase.HOT_HOLDING:
            return _hot_holding(shot, look)
        case Phase.COOLING:
            return cooling_sentence(shot, _capital(_paste(shot, look)), look)
        case Phase.HOLD | Phase.SETTLING | Phase.COME_UP:
            return _clocked(shot, look)
    return f"{_capital(WORDS[shot.state])}: {_paste(shot, look)}."


def _prompt(shot: Snapshot, look: Look) -> str:
    step = shot.step
    if step is None or step.prompt is None:
        return f"Waiting for you: {_paste(shot, look)}."
    relay = relay_words(shot) if step.to is None else f"kept at {look.limit(step.to)} meanwhile"
    text = f"Waiting for you: {step.prompt.rstrip('.')}, then `holdctl next`. {_capital(_paste(shot, look))}, {relay}"
    left = _prompt_left(shot)
    return f"{text}{left}."


def _prompt_left(shot: Snapshot) -> str:
    step = shot.step
    if step is None or not step.wait or shot.sample is None:
        return ""
    due_ms = duration_ms(step.due) if step.due else 0
    left_ms = shot.entered_hold_ms + due_ms + duration_ms(step.wait) - shot.sample.at.hold_ms
    if left_ms <= 0:
        return ""
    ends = {"go-on": "it goes on without you", "stop": "the relay goes off"}
    return f"; in {span(left_ms / 1000)} {ends.get(step.unanswered or '', 'an alarm')}"


def _hot_holding(shot: Snapshot, look: Look) -> str:
    longest = shot.settings.programme.after.longest
    hold_ms = shot.sample.at.hold_ms if shot.sample else 0
    since = hold_ms - shot.entered_hold_ms
    left = duration_ms(longest) - since
    until = f"{span(left / 1000)} left of the longest {longest}" if left > 0 else f"longer than {longest}"
    since_at = look.time(_utc_of(shot, shot.entered_hold_ms))
    return f"Ready since {since_at}, hot holding: {_paste(shot, look)}, {until}; `holdctl stop` ends it."


def _clocked(shot: Snapshot, look: Look) -> str:
    """A hold step: its clock runs only while every part of the paste is in range; or what comes before a prompt."""
    if shot.step is not None and shot.step.prompt is not None:
        due = _utc_of(shot, shot.entered_hold_ms + duration_ms(shot.step.due or "1 s"))
        wanted = f"you are wanted at {look.time(due)}: {shot.step.prompt.rstrip('.')}"
        return f"{_PHASE_HEAD[shot.phase]}: {_paste(shot, look)}; {wanted}."
    left_ms = shot.left_ms or 0
    total = shot.step.hold_for if shot.step else ""
    head = f"{_PHASE_HEAD[shot.phase]}: {_paste(shot, look)}"
    waits = shot.out_of_range()
    if waits is None:
        return f"{head}, {span(left_ms / 1000)} of {total} left, {_ready(shot, look)}."
    which, value_c, limit_c = waits
    side = "below" if which == "coldest" else "above"
    stands = f"the clock waits: {which} paste {look.temp(value_c)} (estimated), {side} {look.limit(limit_c)}"
    return f"{head}; {stands}; {span(left_ms / 1000)} of {total} to go, {_ready(shot, look)}."


_PHASE_HEAD = {Phase.HOLD: "Holding", Phase.SETTLING: "Settling", Phase.COME_UP: "Come-up"}


def _ready(shot: Snapshot, look: Look) -> str:
    """Say when the paste is ready, as forecast; where the baker is wanted first, when that is."""
    what, after_ms = _next_wanted(shot)
    told, runs = shot.forecast, shot.estimate is not None and shot.out_of_range() is None
    end = told.forecast.end_ms if told else None
    if runs and (end is None or end[2] - end[0] < SURE_MS):
        at = shot.sample.at.utc_ms if shot.sample else shot.now_utc_ms
        return f"{what} about {look.time(at + (shot.left_ms or 0) + after_ms)}"
    if told is None:
        return "no forecast yet"
    if told.forecast.band_ms is None:
        return "not ready within a day"
    if end is None:
        return "not ready within two days"
    return f"{what} {look.span_of_time(*(told.utc_ms + end[k] + after_ms for k in (0, 2)))}"


def _next_wanted(shot: Snapshot) -> tuple[str, int]:
    """Return what comes after this hold step and those that follow it at once, and how long those last, ms."""
    after_ms = 0
    for step in shot.settings.programme.step[shot.step_index + 1 :]:
        if not step.hold_for:
            return "you are wanted" if step.prompt else "relay off to fall", after_ms
        after_ms += duration_ms(step.hold_for)
    return "ready", after_ms


def _then(shot: Snapshot) -> str:
    steps = shot.settings.programme.step[shot.step_index + 1 :]
    return f"; then {describe(steps[0])}" if steps else ""


def _paste(shot: Snapshot, look: Look) -> str:
    if shot.paste_c is None:
        return "paste not known"
    trend = shot.trend_k
    way = "" if trend is None or abs(trend) < RISING_K else " and rising" if trend > 0 else " and falling"
    return f"paste {look.temp(shot.paste_c)}{way}"


def _utc_of(shot: Snapshot, hold_ms: int) -> int:
    at = shot.sample.at if shot.sample else None
    return shot.hold.started_utc_ms + hold_ms if at is None else at.utc_ms - at.hold_ms + hold_ms


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
