"""Whatever comes, in any order: the book of alarms keeps to its table."""

from hypothesis import given
from hypothesis import strategies as st

from holdctl.events import NoticeKind
from holdctl.safety import INTERLOCKS, AlarmBook, Effect
from holdctl.safety.alarm_states import (
    ALARM_TRANSITIONS,
    AlarmState,
    Move,
    follow_alarm,
)

S, M = AlarmState, Move


STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            ("raise", "clear", "true", "false", "acknowledge", "shelve", "unshelve", "reset", "tick")
        ),
        st.sampled_from(
            ("high-limit", "no-reading", "heat-missing", "probes-disagree", "relay-welded", "spool", "ghost")
        ),
        st.integers(0, 700_000),
    ),
    max_size=60,
)


def _do(book, what, name, now):
    match what:
        case "raise":
            return book.raise_now(name, "", now)
        case "clear":
            return book.clear_now(name, "", now)
        case "true" | "false":
            return book.condition(name, what == "true", now)
        case "acknowledge":
            return book.acknowledge(name, "A")
        case "shelve":
            return book.shelve(name, "A", 60_000, now)
        case "unshelve":
            return book.unshelve(name, "A")
        case "reset":
            return book.reset(name, "A")
    return book.tick(now)


BACK = (M.UNSHELVE, M.UNSHELVE_ACTIVE, M.UNSHELVE_LATCHED)
PASSING = (M.RAISE, M.RETURN, M.LATCH)
MOVES = {
    "raise": (M.RAISE,), "clear": (M.RETURN, M.LATCH), "true": (M.RAISE,), "false": (M.RETURN, M.LATCH),
    "acknowledge": (M.ACKNOWLEDGE,), "shelve": (M.SHELVE,), "unshelve": BACK,
    "reset": (M.RESET, M.RETURN), "tick": (*PASSING, *BACK),
}  # fmt: skip
"""What each of them may do to the alarm it names; a reset has been seen as well."""


@given(steps=STEPS)
def test_no_order_of_events_leaves_the_table_or_loses_an_alarm(steps):
    """Each change of state is one that the table has for it; an active alarm stands; a notice says its new state."""
    book, now = AlarmBook(), 0
    for what, name, later in steps:
        now += later
        before = {n: book.state(n) for n in (*INTERLOCKS, "ghost")}
        notices = _do(book, what, name, now)
        for one, was in before.items():
            starts = {was, follow_alarm(was, M.ACKNOWLEDGE)} if what == "reset" else {was}
            moves = MOVES[what] if one == name or what == "tick" else PASSING if one == "alarm-flood" else ()
            allowed = {ALARM_TRANSITIONS[s].get(m) for s in starts if s for m in moves} | {was}
            assert book.state(one) in allowed, (what, one, was, book.state(one))
        for one in (*INTERLOCKS, "ghost"):
            assert not book.active(one) or one in book
        for n in notices:
            if n.kind in (NoticeKind.TRIP, NoticeKind.TRIP_CLEARED):
                assert (INTERLOCKS[n.name].effect if n.name in INTERLOCKS else Effect.TRIP) is Effect.TRIP
            if n.kind is not NoticeKind.CHATTERING and what != "tick":
                assert n.detail["state"] == book.state(n.name).value
