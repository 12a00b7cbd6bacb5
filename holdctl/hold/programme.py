"""The programme of a hold and how far it has come.

Steps are holds (a clock that runs only while every part of the paste is in range), prompts (wait for the baker)
and falls (relay off until the paste is down). What comes after the last step is one more entry.
"""

import re
from dataclasses import dataclass, field
from functools import lru_cache

import msgspec

from holdctl.errors import ConfigError
from holdctl.events import Estimate, Notice, NoticeKind, Phase
from holdctl.settings import Programme, Step

_UNIT_MS = {"s": 1_000, "min": 60_000, "h": 3_600_000}
_PIECE = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(h|min|s)\b")

_LONGEST_MS = 30 * 24 * 3_600_000
LABEL_DELAY_MS = 60_000
"""A phase must last this long before it is named, so that a reading on the edge does not fill the record."""


@lru_cache(maxsize=64)
def duration_ms(text: str) -> int:
    """Return milliseconds of `4 h`, `90 min`, `1 h 30 min`. Raises ConfigError on anything else."""
    total, end = 0.0, 0
    while match := _PIECE.match(text, end):
        total += float(match[1]) * _UNIT_MS[match[2]]
        end = match.end()
    if not end or text[end:].strip() or not 0 < total <= _LONGEST_MS:
        raise ConfigError(f"“{text}” is not a duration: write it as “4 h”, “90 min” or “1 h 30 min”.")
    return round(total)


def describe(step: Step) -> str:
    """Return one step in words."""
    if step.prompt is not None:
        return step.prompt if step.due is None else f"in {step.due}: {step.prompt}"
    if step.fall_to is not None:
        return f"relay off until every part is at {step.fall_to:g} °C"
    return f"hold {step.to:g} °C for {step.hold_for}"


class Want(msgspec.Struct, frozen=True):
    """What the programme wants now: a setpoint (None: relay off) and the phase."""

    setpoint_c: float | None
    phase: Phase


@dataclass(slots=True)
class Progress:
    """Where the programme stands; all times in ms of the hold."""

    programme: Programme
    index: int = 0
    credit_ms: int = 0
    """Time earned in this step: only time between two readings with every part in range."""
    entered_ms: int = 0
    phase: Phase = Phase.NONE
    unanswered: bool = False
    _asked: bool = False
    _overdue: bool = False
    _was_in_range: bool = False
    _candidate: Phase = Phase.NONE
    _candidate_ms: int = 0
    _notices: list[Notice] = field(default_factory=list)

    @property
    def step(self) -> Step | None:
        """The current step, None once the last is done."""
        steps = self.programme.step
        return steps[self.index] if self.index < len(steps) else None

    @property
    def left_ms(self) -> int | None:
        """Time that a hold step has still to earn; None in any other step."""
        step = self.step
        if step is None or step.hold_for is None:
            return None
        return max(0, duration_ms(step.hold_for) - self.credit_ms)

    @property
    def finished(self) -> bool:
        """Whether the last step is done and nothing follows."""
        return self.step is None and self.programme.after.then == "relay-off"

    def start(self, now_ms: int) -> list[Notice]:
        """Enter the first step."""
        self._enter(now_ms)
        return self._taken()

    def next(self, now_ms: int) -> list[Notice]:
        """Leave this step for the next, by a person's wish or because it is done."""
        self.index += 1
        self._enter(now_ms)
        return self._taken()

    def advance(self, now_ms: int, dt_ms: int, estimate: Estimate) -> tuple[Want, list[Notice]]:
        """Run the step's clock by `dt_ms` (0 across a gap) and return what is wanted and what happened."""
        step = self.step
        if step is None:
            want = self._after(now_ms)
        elif step.prompt is not None:
            want = self._until_due(step, now_ms, estimate) or self._prompt(step, now_ms)
        elif step.fall_to is not None:
            want = self._fall(step, now_ms, estimate)
        else:
            want = self._hold(step, now_ms, dt_ms, estimate)
        self._name_phase(want.phase, now_ms)
        return want, self._taken()

    def _taken(self) -> list[Notice]:
        taken, self._notices = self._notices, []
        return taken

    def _say(self, kind: NoticeKind, name: str, text: str, **detail: object) -> None:
        self._notices.append(Notice(kind, name, text, detail))

    def _enter(self, now_ms: int) -> None:
        self.credit_ms, self.entered_ms = 0, now_ms
        self.unanswered = self._overdue = self._was_in_range = self._asked = False
        step = self.step
        if step is None:
            after = self.programme.after
            text = "hot holding until you end it" if after.then == "hot-holding" else "relay off"
            self._say(NoticeKind.STEP, "after", f"The programme is done: {text}.", step=self.index)
            return
        self._say(NoticeKind.STEP, f"step-{self.index + 1}", describe(step), step=self.index)
        if step.prompt is not None and step.due is None:
            self._ask(step)

    def _ask(self, step: Step) -> None:
        self._asked = True
        self._say(
            NoticeKind.PROMPT,
            f"step-{self.index + 1}",
            step.prompt or "",
            step=self.index,
            to=step.to,
            wait_ms=duration_ms(step.wait) if step.wait else None,
        )

    def _until_due(self, step: Step, now_ms: int, estimate: Estimate) -> Want | None:
        """Return what is wanted before a prompt is asked; None once it is. In range it is left out."""
        if self._asked or step.due is None:
            return None
        over, under = self._out_of_range(estimate)
        if over <= 0 and under <= 0:
            self._say(
                NoticeKind.INFO,
                "not-needed",
                f"Every part is in range: no need to “{step.prompt}”.",
                step=self.index,
            )
            self.index += 1
            self._enter(now_ms)
            return Want(step.to, Phase.HOLD)
        if now_ms - self.entered_ms >= duration_ms(step.due):
            self._ask(step)
            return None
        return Want(step.to, Phase.SETTLING if over > under else Phase.COME_UP)

    def _out_of_range(self, estimate: Estimate) -> tuple[float, float]:
        """Return by how much the hottest paste is over and the coldest under the range, K; negative inside."""
        low, high = self.programme.every_part
        return estimate.hottest_c - high, low - estimate.coldest_c

    def _hold(self, step: Step, now_ms: int, dt_ms: int, estimate: Estimate) -> Want:
        over, under = self._out_of_range(estimate)
        in_range = over <= 0 and under <= 0
        if in_range:
            self.credit_ms += dt_ms if self._was_in_range else 0
            phase = Phase.HOLD
        else:
            phase = Phase.SETTLING if over > under else Phase.COME_UP
        self._was_in_range = in_range
        if step.hold_for and self.credit_ms >= duration_ms(step.hold_for):
            self.index += 1
            self._enter(now_ms)
        return Want(step.to, phase)

    def _prompt(self, step: Step, now_ms: int) -> Want:
        waited = now_ms - self.entered_ms - (duration_ms(step.due) if step.due else 0)
        if step.wait and waited >= duration_ms(step.wait) and not self._overdue:
            self._overdue = True
            self._unanswered(step, now_ms)
        return Want(None if self.unanswered else step.to, Phase.PROMPT)

    def _unanswered(self, step: Step, now_ms: int) -> None:
        does = step.unanswered or "keep-waiting"
        if does == "stop":
            self.unanswered = True  # a trip says so: one alarm for one cause
            return
        ends = "the programme goes on without it" if does == "go-on" else "still waiting"
        text = f"Nobody answered “{step.prompt}” within {step.wait}: {ends}."
        self._say(NoticeKind.ALARM, "prompt-unanswered", text, step=self.index, does=does)
        if does == "go-on":
            self.index += 1
            self._enter(now_ms)

    def _fall(self, step: Step, now_ms: int, estimate: Estimate) -> Want:
        if step.fall_to is not None and estimate.hottest_c <= step.fall_to:
            self.index += 1
            self._enter(now_ms)
        return Want(None, Phase.FALLING)

    def _after(self, now_ms: int) -> Want:
        after = self.programme.after
        if after.then == "relay-off":
            return Want(None, Phase.NONE)
        if not self._overdue and now_ms - self.entered_ms >= duration_ms(after.longest):
            self._overdue = True
            text = f"Hot holding has lasted {after.longest}: use the paste or end it with `holdctl stop`."
            self._say(NoticeKind.ALARM, "hot-holding-long", text)
        return Want(hot_holding_c(self.programme), Phase.HOT_HOLDING)

    def _name_phase(self, phase: Phase, now_ms: int) -> None:
        if phase is not self._candidate:
            self._candidate, self._candidate_ms = phase, now_ms
        if phase is self.phase:
            return
        at_once = self.phase is Phase.NONE or phase in (Phase.PROMPT, Phase.FALLING, Phase.HOT_HOLDING)
        if at_once or now_ms - self._candidate_ms >= LABEL_DELAY_MS:
            self._say(
                NoticeKind.PHASE, phase.value, f"{self.phase.value} → {phase.value}", was=self.phase.value
            )
            self.phase = phase


def hot_holding_c(programme: Programme) -> float | None:
    """Return the set temperature of the hot holding, °C: its own, else that of the last hold step."""
    if programme.after.to is not None:
        return programme.after.to
    return next((step.to for step in reversed(programme.step) if step.hold_for), None)
