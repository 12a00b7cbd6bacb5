"""What crosses the edge of one hold: events in, decisions out.

Nothing here computes. The device layer makes events, `holdctl.hold` turns each into a `Decision`, the record
stores both, screens read them back. Times are whole milliseconds, so that what is stored is what was decided
on and a recorded night can be replayed exactly.

What is made anew with every reading is a msgspec Struct: the same as a frozen dataclass, several times quicker to make.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import msgspec

MAX_PROBES = 4


class ProbeFault(StrEnum):
    """Why a probe has no value (the node's own words)."""

    OPEN = "open"
    SHORT = "short"
    RANGE = "range"


class Instant(msgspec.Struct, frozen=True):
    """One moment on the three clocks, in whole milliseconds.

    `hold_ms` is the hold's own time since its start, `host_ms` the host's monotonic time since its start (the
    same unless the hold is paced by the device), `utc_ms` UTC. Only the first two may decide anything.
    """

    hold_ms: int
    host_ms: int
    utc_ms: int


class Reading(msgspec.Struct, frozen=True):
    """One report of the node. Temperatures in °C with 0.01 K steps, one entry for each fitted channel."""

    n: int
    """Sequence number, 0 to 65535, wraps."""
    up_ms: int
    """Milliseconds since the node's boot, wraps at 2**32."""
    temps: tuple[float | ProbeFault, ...]
    age_ms: int
    """Age of the oldest conversion."""
    relay: bool
    left_ms: int
    """What is left of the lease."""
    ack: int
    """Number of the last command obeyed, 0 for none since boot."""
    bad: int
    """Frames that the node dropped, wraps at 65536."""
    cut: bool
    """The node's latched cut-out."""
    feedback: bool | None = None
    """Voltage seen behind the relay's contact; None where no feedback is fitted."""


@dataclass(frozen=True, slots=True)
class Silence:
    """No reading came; sent by the daemon when the limit passes and then every 30 s."""


@dataclass(frozen=True, slots=True)
class LinkChange:
    """The line went up or down; `reason` is for the baker."""

    up: bool
    reason: str = ""


@dataclass(frozen=True, slots=True)
class NodeBoot:
    """The node's hello: after a boot, or when asked."""

    firmware: str
    probes: int
    max_lease_ms: int
    cutouts_c: tuple[float | None, ...]
    cause: str
    """power, watchdog, brownout or reset."""
    asked: bool = True
    """False when the node spoke unasked or its counters went backwards: it has really booted."""


@dataclass(frozen=True, slots=True)
class ForeignAck:
    """The node obeyed a command that this host never sent: another host talks to it."""

    ack: int


class RequestKind(StrEnum):
    """What a person may ask of a running hold."""

    STOP = "stop"
    NEXT = "next"
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    NOTE = "note"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    DISPOSITION = "disposition"
    COOL = "cool"
    """Relay off for good: from here on the paste cools, and is followed."""
    SOUR = "sour"
    """A souring begins, or with the subject `end` it ends."""


@dataclass(frozen=True, slots=True)
class Request:
    """A person's request, as filed from the spool."""

    kind: RequestKind
    by: str
    subject: str = ""
    """The alarm or trip it concerns, by name, and what else there is to say of it; the text of a note."""


@dataclass(frozen=True, slots=True)
class Condition:
    """What the daemon itself has noticed, for the alarm of that name: an input, so that a replay knows it too."""

    name: str
    active: bool
    text: str = ""


class Identified(msgspec.Struct, frozen=True):
    """Parameters of this warmer, identified from the record away from the tick.

    An input like any other, so that a replay gives the same night without the solver.
    """

    upto_ms: int
    """Length of the stretch of record that was used, since the hold's begin or the last stir."""
    parameters: Mapping[str, float]
    """By the name of each field of `holdctl.control.Parameters`."""
    names: tuple[str, ...]
    """The fitted ones, in the order of `covariance`."""
    covariance: tuple[tuple[float, ...], ...]
    """Of their logarithms, or of the value itself where it is an offset or a share."""
    rms_k: float
    """What the fit leaves of the readings, K."""


class Restart(msgspec.Struct, frozen=True):
    """A start on a hold that an earlier run had left open: killed, or power failed."""

    gap_ms: int | None
    """Time since the last recorded input; None where no clock can tell it."""
    clock: str
    """What measured it: `boot` (the boot-time clock, of the same boot) or `wall` (which nobody vouches for)."""
    changed: tuple[str, ...] = ()
    """What is not as it was when the hold began: tables of the settings, or this program."""
    latched: tuple[str, ...] = ()
    """Trips that stand latched beside the record."""


class Late(msgspec.Struct, frozen=True):
    """The program stood still, suspended or starved, while readings waited for their answer."""

    late_ms: int
    """For how long at most a reading may have waited."""


class ClockJump(msgspec.Struct, frozen=True):
    """The wall clock was moved. It decides nothing; the record has to say so."""

    jump_ms: int
    """Forward where positive."""


Event = (
    Reading
    | Silence
    | LinkChange
    | NodeBoot
    | ForeignAck
    | Request
    | Condition
    | Identified
    | Restart
    | Late
    | ClockJump
)


class State(StrEnum):
    """Procedural state of one hold (ISA-88). On a screen `held` reads "waiting for you, relay off"."""

    IDLE = "idle"
    RUNNING = "running"
    HELD = "held"
    COMPLETE = "complete"
    STOPPING = "stopping"
    STOPPED = "stopped"
    ABORTING = "aborting"
    ABORTED = "aborted"


class Phase(StrEnum):
    """What a running hold is doing."""

    NONE = "none"
    SETTLING = "settling"
    COME_UP = "come-up"
    HOLD = "hold"
    PROMPT = "prompt"
    FALLING = "falling"
    HOT_HOLDING = "hot holding"
    COOLING = "cooling"
    """Declared by a person: the relay is off for good."""


class NoticeKind(StrEnum):
    """Kinds of what the hold has to say."""

    STATE = "state"
    PHASE = "phase"
    STEP = "step"
    PROMPT = "prompt"
    TRIP = "trip"
    TRIP_CLEARED = "trip-cleared"
    RESET = "reset"
    ALARM = "alarm"
    ALARM_CLEARED = "alarm-cleared"
    RETURNED = "returned"
    """The cause of a latched trip is gone; it stays until it is reset."""
    ACKNOWLEDGED = "acknowledged"
    SHELVED = "shelved"
    UNSHELVED = "unshelved"
    CHATTERING = "chattering"
    DISPOSITION = "disposition"
    """What was done with the paste that an alarm concerns."""
    REFUSED = "refused"
    NOTE = "note"
    INFO = "info"
    ADVICE = "advice"
    """What the baker could do now, and what it is worth."""
    CONTROL = "control"
    """For an engineer: kept in the record, on no screen."""
    FORECAST = "forecast"
    """A `Forecast`, told again every few minutes; `detail` holds its fields."""
    SPELL = "spell"
    """A declared cooling or souring begins or ends: see `holdctl.food.spells`."""
    COOLING = "cooling"
    """How a declared cooling stands and what is foretold of it, told again every few minutes."""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something that happened, in words for the baker and in `detail` for a program."""

    kind: NoticeKind
    name: str
    text: str
    detail: Mapping[str, Any] = field(default_factory=dict)


class Estimate(msgspec.Struct, frozen=True):
    """Temperatures in °C of the wall and of the paste: at the setpoint's probe, coldest, hottest, mean.

    The `_sd_k` are one standard deviation each, K: what probes, model and its parameters leave open.
    """

    wall_c: float
    paste_c: float
    coldest_c: float
    hottest_c: float
    mean_c: float
    wall_sd_k: float = 0.0
    coldest_sd_k: float = 0.0
    hottest_sd_k: float = 0.0
    mean_sd_k: float = 0.0


class Forecast(msgspec.Struct, frozen=True):
    """The model run ahead from now. Triples are early, expected and late (10, 50 and 90 % of what is uncertain)."""

    band_ms: tuple[int, int, int] | None
    """From now until every part of the paste is in the programme's range for good; None: not within a day."""
    end_ms: tuple[int, int, int] | None
    """From now until this hold step has been earned; None where the step is not a hold, or not within two days."""
    coldest_c: float
    """Lowest that the coldest paste gets on the way, lower bound, °C."""
    hottest_c: float
    """Highest that the hottest paste gets on the way, upper bound, °C."""
    stir_ms: int
    """How much sooner the range would be reached with one stir now."""
    stir_k: float
    """How much less the paste would differ from part to part at once after a stir, K."""
    stir_peak_k: float = 0.0
    """How much less hot the hottest paste would still get with one stir now, K."""


class Decision(msgspec.Struct, frozen=True):
    """What the hold wants after one event."""

    lease_ms: int | None
    """How long the relay may be on from now; 0 means off now. None: this event asks for no lease of its own."""
    state: State
    phase: Phase
    step: int
    """Index of the programme's step, from 0; the number of steps means what comes after."""
    setpoint_c: float | None
    wall_setpoint_c: float | None
    duty: float
    """Fraction of full heater power asked for, 0 to 1."""
    estimate: Estimate | None
    credit_ms: int
    """Hold time earned so far in this step."""
    notices: tuple[Notice, ...] = ()
