"""Interruptions anywhere among any events: no exception, no lease that something forbids, and the same again."""

from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.events import ClockJump, Late, Restart, State
from holdctl.hold import Hold, replay
from tests.hold import test_any_events as any_events

INTERRUPTIONS = st.one_of(
    st.builds(
        Restart,
        gap_ms=st.none() | st.integers(0, 10**9),
        clock=st.sampled_from(("boot", "wall")),
        changed=st.sampled_from(((), ("limits",))),
        latched=st.sampled_from(((), ("high-limit",))),
    ),
    st.builds(Late, late_ms=st.integers(1_501, 10**8)),
    st.builds(ClockJump, jump_ms=st.integers(-(10**12), 10**12)),
)
NIGHT = st.lists(
    st.tuples(any_events.EVENTS | INTERRUPTIONS, any_events.GAPS, any_events.GAPS, st.integers(1, 40)),
    max_size=30,
)


@settings(max_examples=60, deadline=None)
@given(night=NIGHT, which=st.integers(0, len(any_events.SETTINGS) - 1), latched=any_events.LATCHED)
def test_no_interruption_lets_a_lease_out_that_something_forbids(night, which, latched):
    hold = Hold(any_events.SETTINGS[which], latched)
    watch = any_events.Watch(hold)
    for now, event in any_events._inputs(night):
        decision = hold.step(event, now)
        watch.check(now, event, decision)
        if hold.interruptions.pending or "restart-wait" in hold.standing:
            assert not decision.lease_ms
        if "restart-wait" in hold.standing:
            assert decision.state in (State.HELD, State.STOPPING, State.STOPPED)


@settings(max_examples=20, deadline=None)
@given(night=NIGHT, which=st.integers(0, len(any_events.SETTINGS) - 1))
def test_a_replay_across_interruptions_gives_the_same_decisions(night, which):
    inputs = any_events._inputs(night)
    first = list(replay(any_events.SETTINGS[which], inputs))
    assert list(replay(any_events.SETTINGS[which], inputs)) == first
