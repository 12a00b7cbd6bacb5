"""Stretches of a cooling in which a probe's readings do not tell of the paste, as the cooling itself has found."""

import math
from collections.abc import Iterable

from holdctl.hold.cool_probes import DOUBT
from holdctl.record.rows import EventRow


def doubts(events: Iterable[EventRow]) -> list[tuple[int, float, float]]:
    """Return (channel, from s, to s) of each; one that did not end lasts to the end of the record."""
    found: list[tuple[int, float, float]] = []
    running: dict[int, float] = {}
    for event in events:
        if event.name != DOUBT or event.source != "out":
            continue
        channel = int(event.detail.get("channel", 0))
        if event.detail.get("begins") is True:
            running.setdefault(channel, float(event.detail.get("from_ms", event.hold_ms)) / 1000)
        elif channel in running:
            found.append((channel, running.pop(channel), event.hold_ms / 1000))
    return found + [(channel, start_s, math.inf) for channel, start_s in running.items()]
