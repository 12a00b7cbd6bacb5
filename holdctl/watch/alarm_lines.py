"""The lines of the screen that say which trips and alarms stand.

Urgency is said three times over: by the number of exclamation marks, by a word and by colour. What nobody has seen
yet blinks and stands first (ISA-101: flashing only for that); what is put aside is only counted.
"""

from holdctl.safety import of
from holdctl.watch.snapshot import Alarm, Snapshot
from holdctl.watch.words import Look

MAX_ALARMS, MAX_ON_TALL, TALL = 3, 8, 34
"""Lines for alarms, on a screen of 24 lines and on one of at least `TALL`."""
_MARKS = {"high": "!!!", "medium": " !!", "low": "  !"}
_STYLES = {"high": "reverse red", "medium": "reverse yellow", "low": "reverse"}
PRIORITIES = tuple(_MARKS)
"""Most urgent first."""
FLOOD, WELDED = "alarm-flood", "relay-welded"


def urgency(alarm: Alarm) -> str:
    """Return high, medium or low; of an older record by the table."""
    return alarm.priority if alarm.priority in _MARKS else of(alarm.name).priority.value


def rank(alarm: Alarm) -> tuple[bool, bool, bool, int, bool]:
    """Return how far down the list an alarm comes: the plug, the flood, the unseen, the urgent, what came first."""
    unseen = not alarm.acknowledged
    place = PRIORITIES.index(urgency(alarm))
    return alarm.name != WELDED, alarm.name != FLOOD, not unseen, place, not alarm.first_out


def alarm_lines(shot: Snapshot, width: int, height: int, look: Look) -> list[tuple[str, str]]:
    """Return a line with its style for each trip or alarm that stands or was not seen, and the count of the rest."""
    listed = sorted((alarm for alarm in shot.alarms if not alarm.shelved), key=rank)
    most = MAX_ON_TALL if height >= TALL else MAX_ALARMS
    lines = [(look.text(_line(alarm, shot, width, look)), _style(alarm)) for alarm in listed[:most]]
    rest = [f"and {len(listed) - most} more"] * (len(listed) > most)
    if shot.shelved:
        rest.append(f"{len(shot.shelved)} shelved: {', '.join(sorted(shot.shelved))}")
    return [*lines, *([(look.text("; ".join(rest)), "")] if rest else [])]


def _line(alarm: Alarm, shot: Snapshot, width: int, look: Look) -> str:
    word, when = "TRIP" if alarm.trip else "ALARM", f"since {look.time(alarm.since_utc_ms)}"
    if alarm.over_utc_ms is not None:
        when = f"{look.time(alarm.since_utc_ms)}–{look.time(alarm.over_utc_ms)}, over"
    marks = ", FIRST" * (alarm.first_out and not alarm.acknowledged) + ", chatters" * alarm.chattering
    what = "FLOOD of alarms" if alarm.name == FLOOD else f"{word} {alarm.name}"
    said = f"{_MARKS[urgency(alarm)]} {urgency(alarm).upper()} {what} {when}{marks}"
    whole = f"{said}{_wanted(alarm, shot)}"
    return whole if len(whole) <= width or alarm.acknowledged else f"{said}: not seen yet"


def _wanted(alarm: Alarm, shot: Snapshot) -> str:
    """Say what somebody has to do so that the line goes."""
    if shot.ended:
        return ", stood at the end"
    if not alarm.acknowledged:
        return ": `holdctl acknowledge`"
    if alarm.latched and alarm.over_utc_ms is not None:
        return f": `holdctl reset {alarm.name}`"
    return ", acknowledged"


def _style(alarm: Alarm) -> str:
    style = _STYLES[urgency(alarm)]
    return style if alarm.acknowledged else f"bold blink {style}"
