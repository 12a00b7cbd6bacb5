"""When an alarm is told to people outside, and when again: until somebody acknowledges it, and nothing twice.

Pure: the caller says what stands and what time it is, in milliseconds of any clock that does not go back; what is to be
told comes back as messages. Who carries them is not known here. The intervals are common practice, no source; what a
flood is follows ISA-18.2, with five messages in the place of ten alarms: a person reads a message more slowly than a
line on a screen.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from holdctl.safety.interlocks import Priority

REPEAT_MS = {Priority.HIGH: 300_000, Priority.MEDIUM: 900_000, Priority.LOW: 3_600_000}
"""An alarm that nobody acknowledged is told again after this, unless the settings say otherwise."""
ESCALATE_AFTER = 2
"""So many repeats without an answer, and the second recipients are told too."""
MOST, MOST_MS = 5, 600_000
"""No more messages than this in this time; what comes beyond is one message at its end."""
AGAIN_MS = 60_000
"""An alarm that comes again after somebody acknowledged it is told at once, but not sooner than this after the last."""
ALWAYS = frozenset({"relay-welded"})
"""Told even in a flood: a heater that no program can switch off."""
_GRADE = {Priority.LOW: 0, Priority.MEDIUM: 1, Priority.HIGH: 2}


class Telling(StrEnum):
    """Why a message is sent."""

    NEW = "new"
    REPEAT = "repeat"
    FLOOD = "flood"
    """Too many: the rest is held back until the time in the text."""
    OVER = "over"
    """Of all that was told nothing waits for anybody any more."""
    PROMPT = "prompt"
    """The programme waits for the baker."""
    ENDED = "ended"
    """The hold has ended in another way than its programme or a person wanted."""


@dataclass(frozen=True, slots=True)
class Seen:
    """One alarm as it stands now."""

    name: str
    priority: Priority
    text: str
    unacknowledged: bool = True
    shelved: bool = False

    @property
    def waits(self) -> bool:
        """Whether somebody should be told."""
        return self.unacknowledged and not self.shelved


@dataclass(frozen=True, slots=True)
class Message:
    """What is to be told now."""

    why: Telling
    priority: Priority
    """The highest of what is told."""
    names: tuple[str, ...]
    """Alarms that are told by this message, the most urgent first."""
    text: str
    escalated: bool = False
    """Nobody answered: tell the second recipients too."""

    def reaches(self, least: Priority, *, second: bool = False) -> bool:
        """Whether it is for a recipient who wants this priority and more; a `second` one is told once it escalates.

        A recipient who was told has to hear that it is over: that goes to every priority.
        """
        wanted = self.why is Telling.OVER or _GRADE[self.priority] >= _GRADE[least]
        return wanted and (self.escalated or not second)


@dataclass(slots=True)
class _Told:
    """What has been told of one alarm."""

    priority: Priority
    last_ms: int
    repeats: int = 0
    answered: bool = False
    """Somebody acknowledged it, or put it aside."""


@dataclass(slots=True)
class Notifier:
    """Told what stands at every turn; says what people outside are to be told."""

    repeat_ms: Mapping[Priority, int] = field(default_factory=lambda: dict(REPEAT_MS))
    escalate_after: int = ESCALATE_AFTER
    _told: dict[str, _Told] = field(default_factory=dict)
    _sent: deque[tuple[int, int]] = field(default_factory=deque)
    """When each message was sent, and how urgent it was."""
    _quiet: tuple[int, int] = (-1, 0)
    """Up to this grade nothing is told until this time."""
    _open: bool = False
    _escalated: bool = False
    """The second recipients have been told of something."""

    def look(self, alarms: Iterable[Seen], now_ms: int) -> list[Message]:
        """Return what is to be told now of everything that stands now."""
        standing = {alarm.name: alarm for alarm in alarms}
        self._keep(standing, now_ms)
        waiting = sorted((a for a in standing.values() if a.waits), key=lambda a: -_GRADE[a.priority])
        if not waiting:
            return self._over(now_ms) if self._open else []
        due = [alarm for alarm in waiting if self._due(alarm, now_ms)]
        if not due:
            return []
        repeated = all(self._repeated(alarm.name) for alarm in due)
        why = Telling.REPEAT if repeated else Telling.NEW
        if not any(alarm.name in ALWAYS for alarm in due):
            grade = _GRADE[due[0].priority]
            room = self._room(grade, now_ms)
            if room == 1:
                why, self._quiet = Telling.FLOOD, (grade, now_ms + MOST_MS)
            elif not room:
                return []
        return [self._message(why, due, waiting, now_ms)]

    def _keep(self, standing: Mapping[str, Seen], now_ms: int) -> None:
        """Note what was answered, and forget what is gone for longer than it would take to repeat it."""
        for name, told in list(self._told.items()):
            alarm = standing.get(name)
            if alarm is not None:
                told.answered = told.answered or not alarm.waits
            elif now_ms - told.last_ms >= self.repeat_ms[told.priority]:
                del self._told[name]

    def _due(self, alarm: Seen, now_ms: int) -> bool:
        told = self._told.get(alarm.name)
        if told is None:
            return True
        wait_ms = AGAIN_MS if told.answered else self.repeat_ms[alarm.priority]
        return now_ms - told.last_ms >= wait_ms

    def _repeated(self, name: str) -> bool:
        told = self._told.get(name)
        return told is not None and not told.answered

    def _room(self, grade: int, now_ms: int) -> int:
        """Return how many more messages as urgent as this may be sent now; what is more urgent has its own room."""
        quiet, until_ms = self._quiet
        if grade <= quiet and now_ms < until_ms:
            return 0
        while self._sent and now_ms - self._sent[0][0] >= MOST_MS:
            self._sent.popleft()
        return max(1, MOST - sum(1 for _, sent in self._sent if sent >= grade))

    def _message(self, why: Telling, due: list[Seen], waiting: list[Seen], now_ms: int) -> Message:
        self._sent.append((now_ms, _GRADE[due[0].priority]))
        self._open = True
        unanswered = [alarm.name for alarm in due if self._tell(alarm, now_ms)]
        self._escalated = self._escalated or bool(unanswered)
        lines = [f"{alarm.priority.value}: {alarm.text}" for alarm in due]
        rest = [alarm.name for alarm in waiting if alarm not in due]
        if rest:
            lines.append(f"Not acknowledged either: {', '.join(rest)}.")
        if why is Telling.FLOOD:
            minutes = MOST_MS // 60_000
            lines.append(
                f"Many alarms: further messages are held back for {minutes} min. See `holdctl watch`."
            )
        return Message(
            why, due[0].priority, tuple(alarm.name for alarm in due), "\n".join(lines), any(unanswered)
        )

    def _tell(self, alarm: Seen, now_ms: int) -> bool:
        """Note that an alarm is told now; return whether it has waited for an answer too long."""
        told = self._told.get(alarm.name)
        if told is None or told.answered:
            self._told[alarm.name] = _Told(alarm.priority, now_ms)
            return False
        told.last_ms, told.repeats = now_ms, told.repeats + 1
        return told.repeats >= self.escalate_after

    def _over(self, now_ms: int) -> list[Message]:
        """Say once that nothing of what was told waits any more; after a flood, when that has passed."""
        if self._room(0, now_ms) <= 1:
            return []
        escalated, self._open, self._escalated = self._escalated, False, False
        self._sent.append((now_ms, 0))
        text = "Nothing waits for you any more: every alarm that was told is over or acknowledged."
        return [Message(Telling.OVER, Priority.LOW, (), text, escalated)]
