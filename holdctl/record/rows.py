"""What the record gives to its readers, row by row."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

from holdctl.events import Decision, Instant, Reading, State
from holdctl.record.codec import Anchor


@dataclass(frozen=True, slots=True)
class HoldRow:
    """One hold. `state` is None while it goes on, or after its daemon died until the next start closes it."""

    id: int
    started_utc_ms: int
    ended_utc_ms: int | None
    ended_hold_ms: int | None
    state: State | None
    warmer: str
    programme: str
    pace: str
    simulated: bool
    version: str
    boot_id: str
    latched: tuple[str, ...]
    """Trips that were latched already when the hold began."""
    config_json: str
    """The settings, frozen at the start: JSON of `holdctl.settings.Settings`."""
    first_seq: int
    last_seq: int | None
    anchor: Anchor


@dataclass(frozen=True, slots=True)
class SampleRow:
    """One reading and what was decided on it; the decision's notices are events of their own."""

    seq: int
    at: Instant
    reading: Reading
    decision: Decision


@dataclass(frozen=True, slots=True)
class EventRow:
    """One input ('in', other than a reading) or output ('out', a notice)."""

    seq: int
    hold_ms: int
    utc_ms: int
    source: Literal["in", "out"]
    kind: str
    name: str
    text: str
    host_ms: int
    detail: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RequestRow:
    """One request of a person, as filed; the first fields are None when the file was no request of ours."""

    seq: int
    filed_utc_ms: int
    placed_utc_ms: int | None
    kind: str | None
    by: str | None
    subject: str | None
    outcome: str
    reason: str
    raw: str
