"""The table of states: complete, and followed to the letter."""

import itertools

import msgspec
import pytest

from holdctl.events import NodeBoot, NoticeKind, RequestKind, Silence, State
from holdctl.hold.states import ENDED, TRANSITIONS, WORDS, Cause, follow
from holdctl.settings import After, Step
from tests.hold.bench import HOLD, Bench, stirred

PROMPT = Step(prompt="stir", wait="5 s", unanswered="stop")


def test_every_state_has_a_row_and_words():
    assert set(TRANSITIONS) == set(WORDS) == set(State)


def test_every_cause_is_used_and_every_state_but_the_first_is_reached():
    assert {cause for row in TRANSITIONS.values() for cause in row} == set(Cause)
    assert {after for row in TRANSITIONS.values() for after in row.values()} == set(State) - {State.IDLE}


def test_the_end_states_are_those_without_an_exit():
    assert sorted(ENDED) == ["aborted", "complete", "stopped"]


@pytest.mark.parametrize(("state", "cause"), list(itertools.product(State, Cause)))
def test_a_pair_that_is_not_in_the_table_leads_nowhere(state, cause):
    assert follow(state, cause) == TRANSITIONS[state].get(cause)


def test_every_state_that_has_not_ended_can_be_broken_off():
    assert all(
        Cause.ABORT in row for state, row in TRANSITIONS.items() if row and state is not State.ABORTING
    )


def test_a_held_paste_is_never_said_to_be_held():
    assert WORDS[State.HELD] == "waiting for you, relay told to be off"


def _nights():
    """Benches that between them take every transition that a night can take."""
    finished = Bench(stirred(HOLD, after=After(then="relay-off")))
    finished.reads(70)
    stopped = Bench()
    stopped.reads(3)
    stopped.ask(RequestKind.STOP)
    stopped.read(relay=False)
    resumed = Bench(stirred(PROMPT, HOLD))
    resumed.reads(8)
    resumed.ask(RequestKind.NEXT)
    resumed.read()
    resumed.hold.abort("a test")
    held_stop = Bench(latched=("high-limit",))
    held_stop.read()
    held_stop.ask(RequestKind.STOP)
    held_stop.event(Silence(), 5000)
    held_cooled = Bench(latched=("high-limit",))
    held_cooled.read()
    held_cooled.ask(RequestKind.COOL)
    held_cooled.reads(2, 1.0, 1.0)  # a jump needs a second reading
    held_abort = Bench(latched=("high-limit",))
    held_abort.read()
    held_abort.seen.append(held_abort.hold.abort("a test"))
    stopping_abort = Bench()
    stopping_abort.read()
    stopping_abort.ask(RequestKind.STOP)
    stopping_abort.seen.append(stopping_abort.hold.abort("a test"))
    running_abort = Bench()
    running_abort.read()
    running_abort.seen.append(running_abort.hold.abort("a test"))
    return [finished, stopped, resumed, held_stop, held_cooled, held_abort, stopping_abort, running_abort]


def test_every_transition_taken_is_in_the_table_and_every_one_that_a_night_can_take_is_taken():
    taken = set()
    for bench in _nights():
        for notice in bench.notices(NoticeKind.STATE):
            was, cause = State(notice.detail["was"]), Cause(notice.detail["cause"])
            assert follow(was, cause) == State(notice.name)
            taken.add((was, cause))
    every = {(state, cause) for state, row in TRANSITIONS.items() for cause in row}
    # A hold starts with its first event, whatever that is: nothing can reach it while it is idle.
    assert every - taken == {(State.IDLE, Cause.STOP), (State.IDLE, Cause.ABORT)}


def test_the_first_event_of_any_kind_starts_the_hold():
    hello = NodeBoot("x-1", 2, 5000, (None, None), "power")
    for event in (Silence(), hello):
        assert Bench().event(event).state is State.RUNNING


def test_a_hold_that_has_ended_stays_ended_and_off():
    bench = Bench(stirred(HOLD, after=After(then="relay-off")))
    bench.reads(70, 64.0, 64.0)
    assert bench.hold.state is State.COMPLETE
    for decision in (bench.read(50.0, 50.0), bench.event(Silence(), 4000), bench.ask(RequestKind.NEXT)):
        assert (decision.state, decision.lease_ms, decision.duty) == (State.COMPLETE, 0, 0.0)


def test_the_reading_that_completes_the_programme_asks_for_no_heat_any_more():
    bench = Bench(stirred(HOLD, after=After(then="relay-off")))
    last = next(d for d in (bench.read(63.0, 63.0) for _ in range(90)) if d.state is State.COMPLETE)
    assert (last.lease_ms, last.duty, last.setpoint_c) == (0, 0.0, None)


@pytest.mark.parametrize("confirmed", [True, False])
def test_a_stop_is_confirmed_by_a_relay_that_is_off_or_by_silence(confirmed):
    bench = Bench()
    bench.reads(5, 60.0, 60.0)
    asked = bench.ask(RequestKind.STOP)
    assert (asked.state, asked.lease_ms) == (State.STOPPING, 0)
    on = bench.read(60.0, 60.0, relay=True, left_ms=900)
    assert (on.state, on.lease_ms) == (State.STOPPING, 0)
    last = bench.read(60.0, 60.0, relay=False) if confirmed else bench.event(Silence(), 3000)
    assert last.state is State.STOPPED
    assert last.lease_ms == 0


def test_where_nobody_told_a_programme_its_steps_are_not_announced():
    """A cooling without a warmer has a programme only because a record wants one."""
    told, untold = Bench(stirred()), Bench(msgspec.structs.replace(stirred(), untold=("programme",)))
    told.read()
    untold.read()
    assert told.names(NoticeKind.STEP)
    assert not untold.names(NoticeKind.STEP)
