"""The procedural states of one hold, as a table (ISA-88 names).

Everything that decides which state follows which stands here; nothing here knows of relays or pastes. A pair that
is not in the table changes nothing. The end states have no exits: a new night is a new hold.
"""

from enum import StrEnum

from holdctl.events import State


class Cause(StrEnum):
    """What may change the state."""

    START = "start"
    INTERRUPT = "interrupt"
    """A latched trip, or a prompt that nobody answered."""
    RESUME = "resume"
    FINISH = "finish"
    STOP = "stop"
    STOP_DONE = "stop-done"
    ABORT = "abort"
    ABORT_DONE = "abort-done"


TRANSITIONS: dict[State, dict[Cause, State]] = {
    State.IDLE: {Cause.START: State.RUNNING, Cause.STOP: State.STOPPING, Cause.ABORT: State.ABORTING},
    State.RUNNING: {
        Cause.INTERRUPT: State.HELD,
        Cause.FINISH: State.COMPLETE,
        Cause.STOP: State.STOPPING,
        Cause.ABORT: State.ABORTING,
    },
    State.HELD: {
        Cause.RESUME: State.RUNNING,
        Cause.FINISH: State.COMPLETE,  # a cooling may end while a trip waits: it needs no heat
        Cause.STOP: State.STOPPING,
        Cause.ABORT: State.ABORTING,
    },
    State.STOPPING: {Cause.STOP_DONE: State.STOPPED, Cause.ABORT: State.ABORTING},
    State.ABORTING: {Cause.ABORT_DONE: State.ABORTED},
    State.COMPLETE: {},
    State.STOPPED: {},
    State.ABORTED: {},
}

ENDED = frozenset(state for state, exits in TRANSITIONS.items() if not exits)
"""States without an exit."""

WORDS = {
    State.IDLE: "not started",
    State.RUNNING: "running",
    State.HELD: "waiting for you, relay told to be off",
    State.COMPLETE: "complete",
    State.STOPPING: "stopping",
    State.STOPPED: "stopped",
    State.ABORTING: "breaking off",
    State.ABORTED: "broken off",
}
"""How a screen says each state; that the relay *is* off it says only where the node has just reported it."""


def follow(state: State, cause: Cause) -> State | None:
    """Return the state that follows, or None where the table has no such pair."""
    return TRANSITIONS[state].get(cause)
