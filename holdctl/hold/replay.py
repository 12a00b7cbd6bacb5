"""Replay: the recorded inputs of a night, put through a fresh hold."""

from collections.abc import Iterable, Iterator

from holdctl.events import Decision, Event, Instant
from holdctl.hold.hold import Hold
from holdctl.settings import Settings


def replay(
    settings: Settings, inputs: Iterable[tuple[Instant, Event]], latched: Iterable[str] = ()
) -> Iterator[tuple[Instant, Event, Decision]]:
    """Yield each input with the decision that a hold of the same settings takes on it."""
    hold = Hold(settings, latched)
    for now, event in inputs:
        yield now, event, hold.step(event, now)
