"""How messages, mail and status say what stands."""

from collections.abc import Iterable, Mapping
from datetime import UTC, datetime

from holdctl.events import Instant
from holdctl.hold import Hold
from holdctl.hold.states import WORDS
from holdctl.safety import of
from holdctl.safety.notification import Message, Seen, Telling
from holdctl.settings import Settings

_LONGEST = 2000


def standing(hold: Hold, texts: Mapping[str, str]) -> list[Seen]:
    """Return what stands in a hold, in the words of its notices where there were any."""
    return [
        Seen(name, of(name).priority, texts.get(name) or _words(name), unacknowledged=not acknowledged)
        for name, acknowledged in hold.alarms.items()
    ]


def _words(name: str) -> str:
    row = of(name)
    return f"{row.cause}: {row.consequence}. Next: {row.what_to_do}."


def status(hold: Hold) -> str:
    """Return one line: what the hold does, and what stands."""
    alarms = ", ".join(hold.alarms)
    return WORDS[hold.state] + (f"; alarms: {alarms}" if alarms else "")


def subject(message: Message, warmer: str) -> str:
    """Return a mail's subject."""
    names = _few(message.names)
    said = {
        Telling.NEW: f"{message.priority.value} alarm: {names}",
        Telling.REPEAT: f"nobody has acknowledged: {names}",
        Telling.FLOOD: f"many alarms: {names}",
        Telling.OVER: "nothing waits for you any more",
        Telling.PROMPT: "the programme waits for you",
        Telling.ENDED: "the hold has ended",
    }
    return f"{warmer}: {said[message.why]}"


def _few(names: Iterable[str]) -> str:
    first = list(names)
    return ", ".join(first[:3]) + (f" and {len(first) - 3} more" if len(first) > 3 else "")


def text(message: Message, hold: Hold, number: int) -> str:
    """Return a mail's text."""
    lines = [message.text[:_LONGEST], "", f"Hold {number}: {WORDS[hold.state]}."]
    if hold.alarms.first_out and len(hold.alarms) > 1:
        lines.append(f"The first that came, and perhaps the cause of the others: {hold.alarms.first_out}.")
    if message.names:
        lines.append(
            f"It comes again until somebody acknowledges it: `holdctl acknowledge {message.names[0]}`."
        )
    return "\n".join(lines) + "\n"


def payload(message: Message, settings: Settings, number: int, hold: Hold, now: Instant) -> dict[str, object]:
    """Return what a command gets on its standard input."""
    return {
        "why": message.why.value,
        "priority": message.priority.value,
        "alarms": list(message.names),
        "text": message.text[:_LONGEST],
        "escalated": message.escalated,
        "utc": datetime.fromtimestamp(now.utc_ms / 1000, UTC).isoformat(timespec="milliseconds"),
        "warmer": settings.warmer.name,
        "programme": settings.programme.name,
        "hold": number,
        "state": hold.state.value,
        "state_words": WORDS[hold.state],
        "first_out": hold.alarms.first_out,
        "test_rig": settings.test_rig,
    }
