"""What the record's events add up to: the state, the step, what stands, and the list of what happened."""

import math
from collections import deque
from collections.abc import Iterable

import msgspec

from holdctl.events import Forecast, NoticeKind, Phase, State
from holdctl.food.measured import Measured, read_detail
from holdctl.food.spells import Spell, SpellKind, spells, with_falls
from holdctl.record.rows import EventRow
from holdctl.safety import INTERLOCKS
from holdctl.watch.snapshot import Cooled, Foretold, Line, StirAdvice
from holdctl.watch.standing import Standing
from holdctl.watch.words import PHASE_WORDS

KEPT_LINES = 100
_SAID_BY_STEP = (Phase.PROMPT, Phase.FALLING, Phase.HOT_HOLDING)


class Notices:
    """Fed with a hold's events in order; only what the hold itself said ('out') counts."""

    def __init__(self, falling: frozenset[int] = frozenset()) -> None:
        """`falling` are the steps that let the paste fall below the hot-holding limit."""
        self.seq = 0
        self._falling = falling
        self._entered: list[tuple[float, int]] = []
        self.state: State | None = None
        self.state_text = ""
        self.step_index = 0
        self.step_seq = 0
        self.entered_hold_ms = 0
        self.standing = Standing()
        self.foretold: Foretold | None = None
        self.stir_advice: StirAdvice | None = None
        self.said_spells: list[tuple[float, str, bool]] = []
        self._spells: tuple[Spell, ...] = ()
        self.cooling: Cooled | None = None
        self.stages: dict[int, str] = {}
        """What was last said of each stage of a cooling."""
        self.measured: list[Measured] = []
        self.lines: deque[Line] = deque(maxlen=KEPT_LINES)

    def add(self, events: Iterable[EventRow]) -> None:
        """Take new events."""
        for event in events:
            self.seq = max(self.seq, event.seq)
            if event.source == "out":
                self._fold(event)
                self._list(event)

    def spell_at(self, t_s: float) -> SpellKind | None:
        """Return what is declared at a moment, s since the start of the hold."""
        return next((s.kind for s in self._spells if s.start_s <= t_s < s.end_s), None)

    def _fold(self, event: EventRow) -> None:
        match event.kind:
            case NoticeKind.STATE:
                self.state, self.state_text = State(event.name), event.text
            case NoticeKind.STEP:
                self.step_index = int(event.detail.get("step", 0))
                self.step_seq, self.entered_hold_ms = event.seq, event.hold_ms
                self.foretold = self.stir_advice = None  # said of the step before
                self._entered.append((event.hold_ms / 1000, self.step_index))
                self._spell()
            case NoticeKind.SPELL:
                self.said_spells.append(
                    (event.hold_ms / 1000, event.name, event.detail.get("begins") is True)
                )
                self._spell()
                if event.name == SpellKind.COOLING:
                    self.cooling = Cooled() if event.detail.get("begins") is True else None
            case NoticeKind.COOLING:
                self.cooling = _cooled(event) or self.cooling
            case NoticeKind.INFO if event.name == "cooling-stage":
                self.stages[int(event.detail.get("stage", 0))] = event.text
            case NoticeKind.NOTE:
                self._measured(event)
            case NoticeKind.FORECAST:
                self.foretold = _foretold(event) or self.foretold
            case NoticeKind.ADVICE if event.name in ("stir-now", "stirred"):
                self.stir_advice = _stir(event, self.foretold) if event.name == "stir-now" else None
            case _:
                self.standing.fold(event)

    def _spell(self) -> None:
        declared = spells(self.said_spells, math.inf)
        self._spells = with_falls(declared, self._entered, self._falling, math.inf)

    def _measured(self, event: EventRow) -> None:
        value = read_detail(event.detail)
        if value is not None and value.of_hold is None:
            by = str(event.detail.get("by", ""))
            self.measured.append(Measured(at_s=event.hold_ms / 1000, by=by, value=value))

    def _list(self, event: EventRow) -> None:
        if event.kind in (NoticeKind.FORECAST, NoticeKind.CONTROL, NoticeKind.COOLING):
            return  # told every few minutes: it has its own place on the screen
        if event.detail.get("held_back"):
            return  # shelved, chattering, or one of too many: in the record only
        text = _in_words(event)
        if event.kind == NoticeKind.PROMPT and self.lines and self.lines[-1].text == text:
            self.lines.pop()  # the step says the same: once is enough
        if text:
            self.lines.append(Line(event.utc_ms, event.kind, text))


def _in_words(event: EventRow) -> str:
    """Return an event's text without the names of states and phases; empty where another event says it already."""
    if event.kind == NoticeKind.PHASE:
        return "" if event.name in _SAID_BY_STEP else f"now {PHASE_WORDS[Phase(event.name)]}"
    if event.kind == NoticeKind.STATE and event.name == State.RUNNING:
        return "started" if event.detail.get("was") == State.IDLE else "goes on"
    row = INTERLOCKS.get(event.name)
    if event.kind in (NoticeKind.TRIP, NoticeKind.ALARM) and row is not None:
        return event.text.split(f": {row.consequence}")[
            0
        ]  # what to do stands in the first line of the screen
    return event.text


def _foretold(event: EventRow) -> Foretold | None:
    """Return the forecast that a notice tells; None where its detail is another version's."""
    try:
        return Foretold(event.utc_ms, msgspec.convert(event.detail, Forecast))
    except msgspec.ValidationError:
        return None


def _cooled(event: EventRow) -> Cooled | None:
    """Return how a cooling stands, from what the hold told; None where its detail is another version's."""
    try:
        return msgspec.convert(event.detail, Cooled)
    except msgspec.ValidationError:
        return None


def _stir(event: EventRow, told: Foretold | None) -> StirAdvice:
    """Return advice to stir with its worth: what it says itself, else what the last forecast said."""
    sooner = event.detail.get("stir_ms", told.forecast.stir_ms if told else 0)
    evener = event.detail.get("stir_k", told.forecast.stir_k if told else 0.0)
    return StirAdvice(event.utc_ms, event.text, sooner_ms=int(sooner), evener_k=float(evener))
