"""The states of one alarm, as a table (names of ISA-18.2 / IEC 62682), and its numbers. A pair not listed changes
nothing.

Two states of that standard have no use here: *suppressed by design* (an alarm that a condition of the plant makes
meaningless is not raised at all: what watches it sees to that) and *out of service* (maintenance is a warmer without
a hold). They are left out.
"""

from enum import StrEnum

from holdctl.safety.interlocks import Priority


class AlarmState(StrEnum):
    """What an alarm asks of somebody."""

    NORMAL = "normal"
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned-unacknowledged"
    """Its cause is gone, and nobody has seen it."""
    LATCHED_UNACKNOWLEDGED = "latched-unacknowledged"
    """Its cause is gone, and it stays until it is reset by name; nobody has seen it."""
    LATCHED_ACKNOWLEDGED = "latched-acknowledged"
    SHELVED = "shelved"
    """Put aside for a time: not told. What it does to the heat it still does."""


class Move(StrEnum):
    """What may change an alarm's state."""

    RAISE = "raise"
    RETURN = "return"
    """Its cause is gone."""
    LATCH = "latch"
    """Its cause is gone, and its row says that a person has to reset it."""
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    """Nothing was behind it any more."""
    UNSHELVE_ACTIVE = "unshelve-active"
    UNSHELVE_LATCHED = "unshelve-latched"


_S, _M = AlarmState, Move

ALARM_TRANSITIONS: dict[AlarmState, dict[Move, AlarmState]] = {
    _S.NORMAL: {_M.RAISE: _S.UNACKNOWLEDGED, _M.SHELVE: _S.SHELVED},
    _S.UNACKNOWLEDGED: {
        _M.RETURN: _S.RETURNED,
        _M.LATCH: _S.LATCHED_UNACKNOWLEDGED,
        _M.ACKNOWLEDGE: _S.ACKNOWLEDGED,
        _M.SHELVE: _S.SHELVED,
    },
    _S.ACKNOWLEDGED: {_M.RETURN: _S.NORMAL, _M.LATCH: _S.LATCHED_ACKNOWLEDGED, _M.SHELVE: _S.SHELVED},
    _S.RETURNED: {_M.RAISE: _S.UNACKNOWLEDGED, _M.ACKNOWLEDGE: _S.NORMAL, _M.SHELVE: _S.SHELVED},
    _S.LATCHED_UNACKNOWLEDGED: {
        _M.RAISE: _S.UNACKNOWLEDGED,
        _M.ACKNOWLEDGE: _S.LATCHED_ACKNOWLEDGED,
        _M.SHELVE: _S.SHELVED,
    },
    _S.LATCHED_ACKNOWLEDGED: {
        _M.RAISE: _S.UNACKNOWLEDGED,
        _M.RESET: _S.NORMAL,
        _M.SHELVE: _S.SHELVED,
    },
    _S.SHELVED: {
        _M.RESET: _S.NORMAL,
        _M.UNSHELVE: _S.NORMAL,
        _M.UNSHELVE_ACTIVE: _S.UNACKNOWLEDGED,
        _M.UNSHELVE_LATCHED: _S.LATCHED_UNACKNOWLEDGED,
    },
}

UNSEEN = frozenset({_S.UNACKNOWLEDGED, _S.RETURNED, _S.LATCHED_UNACKNOWLEDGED})
"""States that wait for somebody to acknowledge."""

ALARM_WORDS = {
    _S.NORMAL: "nothing",
    _S.UNACKNOWLEDGED: "stands, nobody has seen it",
    _S.ACKNOWLEDGED: "stands, acknowledged",
    _S.RETURNED: "is over, nobody has seen it",
    _S.LATCHED_UNACKNOWLEDGED: "its cause is gone, waits for its reset, nobody has seen it",
    _S.LATCHED_ACKNOWLEDGED: "its cause is gone, waits for its reset",
    _S.SHELVED: "shelved: put aside for a time",
}
"""How a page says each state."""

LONGEST_SHELVE_MS = {
    Priority.HIGH: 30 * 60_000,
    Priority.MEDIUM: 2 * 3_600_000,
    Priority.LOW: 12 * 3_600_000,
}
"""Longest time for which an alarm may be put aside, ms: common practice, no source."""

NEVER_HELD_BACK = frozenset({"relay-welded", "alarm-flood"})
"""Always told, and never shelved: the first is a heater that no program can switch off, the second says that there
is more."""

FLOOD_BEGINS, FLOOD_ENDS, FLOOD_MS = 10, 5, 600_000
"""More than ten alarms within ten minutes are a flood, until they are fewer than five (ISA-18.2)."""
CHATTER, CHATTER_MS = 3, 60_000
"""Raised three times within a minute an alarm chatters (ISA-18.2)."""


def follow_alarm(state: AlarmState, move: Move) -> AlarmState | None:
    """Return the state that follows, or None where the table has no such pair."""
    return ALARM_TRANSITIONS[state].get(move)
