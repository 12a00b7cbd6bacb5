"""Any sequence of events at all: never an exception, never a lease that something forbids, always the same."""

import math
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdctl.control import told as told_of
from holdctl.control.learning import as_event
from holdctl.control.prior import prior
from holdctl.control.wish import WALL_BELOW_LIMIT_K
from holdctl.events import (
    Condition,
    Decision,
    Event,
    ForeignAck,
    Instant,
    LinkChange,
    NodeBoot,
    Notice,
    NoticeKind,
    ProbeFault,
    Reading,
    Request,
    RequestKind,
    Silence,
    State,
)
from holdctl.hold import Hold, replay
from holdctl.hold.interlocked import SILENCE_MS
from holdctl.hold.states import TRANSITIONS, Cause
from holdctl.safety import INTERLOCKS
from holdctl.safety.alarm_states import AlarmState, Move, follow_alarm
from holdctl.settings import After, Settings, Step
from tests.closed_loop import told
from tests.hold.bench import stirred

STEPS = (
    Step(prompt="stir", wait="20 s", unanswered="stop", to=66.0),
    Step(to=65.0, hold_for="30 s"),
    Step(prompt="add malt", wait="20 s", unanswered="go-on"),
    Step(fall_to=60.0),
)
SETTINGS: list[Settings] = [
    stirred(*STEPS, after=After(to=64.0, longest="1 min")),
    stirred(STEPS[1], after=After(then="relay-off")),
    told("jacket"),
    msgspec.structs.replace(told("small-pot"), probe=told("small-pot").probe[:1]),
]
TEMPS = (
    st.sampled_from((64.9, 65.0, 65.1, 62.0, 67.0, 76.0, 78.01, 90.01, 60.0, 20.0))
    | st.floats(-60.0, 400.0).map(lambda temp: round(temp, 2))
    | st.sampled_from(ProbeFault)
    | st.sampled_from((math.nan, math.inf, -math.inf))
)
READINGS = st.builds(
    Reading,
    n=st.integers(0, 65535),
    up_ms=st.integers(0, 2**32 - 1),
    temps=st.lists(TEMPS, min_size=1, max_size=4).map(tuple) | st.just((65.0, 65.2)) | st.just((60.0, 60.0)),
    age_ms=st.integers(0, 5000),
    relay=st.booleans(),
    left_ms=st.integers(0, 5000),
    ack=st.integers(0, 65535),
    bad=st.integers(0, 65535),
    cut=st.integers(0, 9).map(lambda dice: dice == 0),
    feedback=st.none() | st.booleans(),
)
SUBJECTS = st.sampled_from(
    ("", "high-limit", "other-host", "unanswered", "node-cutout", "probe-fault", "ghost", "relay-welded",
     "probe-fault 20 min", "no-reading 10 min", "high-limit 30 min", "high-limit 3 h", "relay-welded 5 min",
     "no-heat 30 min", "probe-fault used hold 1", "ghost used hold 1", "no-reading")
)  # fmt: skip
WATCHED = st.sampled_from(
    (
        "relay-welded",
        "probe-frozen",
        "probe-out",
        "restart-wait",
        "heat-missing",
        "over-ceiling",
        "disk-full",
        "spool",
    )
)
KINDS = st.sampled_from(
    [kind for kind in RequestKind if kind is not RequestKind.STOP] * 4 + [RequestKind.STOP]
)
_LEARNT = as_event(prior(told_of(SETTINGS[0]), 20.0)[0], 0.05, 60_000)
ANY = st.floats(allow_nan=True, allow_infinity=True) | st.floats(1e-3, 1e5)
IDENTIFIED = st.builds(
    lambda name, value, rms_k: msgspec.structs.replace(
        _LEARNT, parameters={**_LEARNT.parameters, name: value}, rms_k=rms_k
    ),
    name=st.sampled_from(sorted(_LEARNT.parameters)),
    value=ANY,
    rms_k=st.floats(0.0, 1.0),
)
EVENTS: st.SearchStrategy[Event] = st.one_of(
    IDENTIFIED,
    READINGS,
    READINGS,
    READINGS,
    st.just(Silence()),
    st.builds(LinkChange, up=st.booleans(), reason=st.text(max_size=5)),
    st.builds(
        NodeBoot,
        firmware=st.just("x-1"),
        probes=st.integers(1, 4),
        max_lease_ms=st.integers(1, 5000),
        cutouts_c=st.just((None, 105.0)),
        cause=st.sampled_from(("power", "watchdog", "brownout", "reset")),
        asked=st.booleans(),
    ),
    st.builds(ForeignAck, ack=st.integers(1, 65535)),
    st.builds(Condition, name=WATCHED, active=st.booleans(), text=st.sampled_from(("", "so it is"))),
    st.builds(Request, kind=KINDS, by=st.just("a baker"), subject=SUBJECTS),
)
FEW = st.sampled_from(("relay-welded", "probe-out", "restart-wait", "high-limit", "disk-full"))
ALARMED: st.SearchStrategy[Event] = st.one_of(
    st.just(Reading(1, 0, (65.0, 65.2), 100, False, 0, 0, 0, False)),
    st.builds(Condition, name=FEW, active=st.booleans()),
    st.builds(Condition, name=FEW, active=st.booleans()),
    st.builds(lambda name: Request(RequestKind.SHELVE, "a baker", f"{name} 10 min"), FEW),
    st.builds(
        Request,
        kind=st.sampled_from((RequestKind.ACKNOWLEDGE, RequestKind.RESET, RequestKind.UNSHELVE)),
        by=st.just("a baker"),
        subject=FEW,
    ),
    st.just(Silence()),
    st.builds(LinkChange, up=st.booleans()),
)
GAPS = st.sampled_from((0, 1, 250, 1000, 1000, 1000, 1000, 1003, 2999, 3000, 3001, 60_000, 10_000_000))
NIGHT = st.lists(st.tuples(EVENTS, GAPS, GAPS, st.integers(1, 40)), max_size=40)
LATCHED = st.sampled_from(((), (), ("high-limit",), ("from-a-newer-version",)))


def _inputs(night: list[Any]) -> list[tuple[Instant, Event]]:
    """Times from gaps; each event comes a few times over, the readings a second apart."""
    hold_ms = host_ms = 0
    inputs = []
    for event, hold_gap, host_gap, times in night:
        hold_ms, host_ms = hold_ms + hold_gap, host_ms + host_gap
        for _ in range(times if isinstance(event, Reading) else 1):
            inputs.append((Instant(hold_ms, host_ms, 1_760_000_000_000 - hold_ms), event))
            hold_ms, host_ms = hold_ms + 1000, host_ms + 1000
    return inputs


MOVES = {
    NoticeKind.TRIP: (Move.RAISE,),
    NoticeKind.ALARM: (Move.RAISE,),
    NoticeKind.TRIP_CLEARED: (Move.RETURN,),
    NoticeKind.ALARM_CLEARED: (Move.RETURN,),
    NoticeKind.RETURNED: (Move.LATCH,),
    NoticeKind.ACKNOWLEDGED: (Move.ACKNOWLEDGE,),
    NoticeKind.RESET: (Move.RESET, Move.RETURN),
    NoticeKind.SHELVED: (Move.SHELVE,),
    NoticeKind.UNSHELVED: (Move.UNSHELVE, Move.UNSHELVE_ACTIVE, Move.UNSHELVE_LATCHED),
}
"""Which moves a notice may tell of."""


def restored(notice: Notice) -> bool:
    """Whether a trip's cause is gone as it is told: of an earlier hold, or an event."""
    return notice.detail.get("restored") is True or notice.name == "other-host"


class Watch:
    """Checks each decision of a hold against what must never be."""

    def __init__(self, hold: Hold) -> None:
        self.hold, self.granted_ms = hold, 5000
        self.state = State.IDLE
        self.alarms: dict[str, AlarmState] = {}
        self.tripped: set[str] = set()
        self.valid_ms: int | None = None
        self.credits: dict[int, int] = {}
        self.entered: dict[int, int] = {}

    def check(self, now: Instant, event: Event, decision: Decision) -> None:
        if isinstance(event, NodeBoot):
            self.granted_ms = event.max_lease_ms
        self._trips(decision)
        self._lease(event, decision)
        self._age(now, event, decision)
        self._alarms(decision)
        self._states(decision)
        self._credit(now, decision)
        assert 0.0 <= decision.duty <= 1.0
        ceiling = self.hold.settings.limits.wall_high_c - WALL_BELOW_LIMIT_K
        assert decision.wall_setpoint_c is None or decision.wall_setpoint_c <= ceiling

    def _lease(self, event: Event, decision: Decision) -> None:
        lease = decision.lease_ms
        assert isinstance(event, Reading) <= (lease is not None), "a reading is always answered"
        assert lease is None or 0 <= lease <= self.granted_ms
        if self.hold.standing or decision.state is not State.RUNNING or isinstance(event, Silence):
            assert lease == 0
            assert decision.duty == 0.0
        if isinstance(event, Reading) and (event.cut or any(isinstance(t, ProbeFault) for t in event.temps)):
            assert lease == 0
        if lease and isinstance(event, Reading):
            self._limits(event)

    def _trips(self, decision: Decision) -> None:
        """From its notice to the notice that it is gone or reset a trip keeps the relay off, told or held back."""
        for notice in decision.notices:
            if notice.kind is NoticeKind.TRIP:
                self.tripped.add(notice.name)
            elif notice.kind in (NoticeKind.TRIP_CLEARED, NoticeKind.RESET):
                self.tripped.discard(notice.name)
        assert set(self.hold.standing) == self.tripped
        assert not (self.tripped and decision.lease_ms)

    def _age(self, now: Instant, event: Event, decision: Decision) -> None:
        """No lease on anything but a reading, every fitted probe of it valid and no conversion older than 3 s."""
        if isinstance(event, Reading) and event.age_ms <= SILENCE_MS:
            whole = len(event.temps) >= len(self.hold.settings.probe)
            if whole and all(isinstance(temp, float) and math.isfinite(temp) for temp in event.temps):
                self.valid_ms = now.host_ms
        if decision.lease_ms:
            assert self.valid_ms is not None
            assert now.host_ms - self.valid_ms < SILENCE_MS

    def _alarms(self, decision: Decision) -> None:
        """Each alarm goes from state to state as the table has it, stands while its cause is there, and is known."""
        for notice in decision.notices:
            if notice.kind in MOVES:
                before, after = (
                    self.alarms.get(notice.name, AlarmState.NORMAL),
                    AlarmState(notice.detail["state"]),
                )
                moves = MOVES[notice.kind]
                reached = {before} if before is AlarmState.SHELVED else set()
                for move in moves:
                    seen = follow_alarm(before, Move.ACKNOWLEDGE) or before
                    starts = {before, seen} if notice.kind is NoticeKind.RESET else {before}
                    if move is Move.RAISE:  # what is said anew has gone and come
                        starts |= {follow_alarm(before, gone) or before for gone in (Move.RETURN, Move.LATCH)}
                    firsts = {follow_alarm(start, move) for start in starts}
                    reached |= firsts | {
                        follow_alarm(f, Move.LATCH) for f in firsts if f and restored(notice)
                    }
                assert after in reached, (notice, before)
                assert notice.name in INTERLOCKS or notice.name == "from-a-newer-version"
                self.alarms[notice.name] = after
        book = self.hold.alarms
        assert set(self.hold.standing) <= set(book), "a trip that takes the relay off is always to be seen"
        for name in INTERLOCKS:
            assert book.state(name) is self.alarms.get(name, AlarmState.NORMAL)
            assert not book.active(name) or name in book

    def _limits(self, event: Reading) -> None:
        limits = self.hold.settings.limits
        assert event.temps[0] <= limits.paste_high_c
        assert len(self.hold.settings.probe) == 1 or event.temps[1] <= limits.wall_high_c

    def _states(self, decision: Decision) -> None:
        for notice in decision.notices:
            if notice.kind is NoticeKind.STATE:
                after = TRANSITIONS[self.state][Cause(notice.detail["cause"])]
                assert after == State(notice.name)
                self.state = after
        assert decision.state is self.state

    def _credit(self, now: Instant, decision: Decision) -> None:
        entered = self.entered.setdefault(decision.step, now.hold_ms)
        assert decision.credit_ms >= self.credits.get(decision.step, 0)
        assert decision.credit_ms <= now.hold_ms - min(entered, now.hold_ms)
        self.credits[decision.step] = decision.credit_ms


@settings(max_examples=120, deadline=None)
@given(night=NIGHT, which=st.integers(0, len(SETTINGS) - 1), latched=LATCHED)
def test_no_sequence_of_events_raises_or_leases_what_is_forbidden(night, which, latched):
    hold = Hold(SETTINGS[which], latched)
    watch = Watch(hold)
    for now, event in _inputs(night):
        watch.check(now, event, hold.step(event, now))


STEPS_MS = st.sampled_from((0, 0, 1000, 1000, -1, -1000, -3000, -60_000, 60_000))


@settings(max_examples=40, deadline=None)
@given(
    night=st.lists(st.tuples(EVENTS, STEPS_MS, STEPS_MS, st.integers(1, 30)), max_size=30),
    which=st.integers(0, len(SETTINGS) - 1),
    every_ms=st.sampled_from((1000, 1000, 0, -1000)),
)
def test_a_clock_that_stands_or_goes_back_gives_no_duty_beyond_its_bounds_and_no_lease_past_a_trip(
    night, which, every_ms
):
    hold, hold_ms, host_ms = Hold(SETTINGS[which]), 10_000_000, 10_000_000
    ceiling = hold.settings.limits.wall_high_c - WALL_BELOW_LIMIT_K
    for event, hold_step, host_step, times in night:
        hold_ms, host_ms = hold_ms + hold_step, host_ms + host_step
        for _ in range(times if isinstance(event, Reading) else 1):
            decision = hold.step(event, Instant(hold_ms, host_ms, 0))
            assert 0.0 <= decision.duty <= 1.0
            assert decision.wall_setpoint_c is None or decision.wall_setpoint_c <= ceiling
            if hold.standing or decision.state is not State.RUNNING:
                assert not decision.lease_ms
            hold_ms, host_ms = hold_ms + every_ms, host_ms + 1000


@settings(max_examples=150, deadline=None)
@given(night=st.lists(st.tuples(ALARMED, GAPS, GAPS, st.just(1)), max_size=40), latched=LATCHED)
def test_no_order_of_alarms_shelves_and_resets_lets_the_relay_on_while_a_trip_stands(night, latched):
    hold = Hold(SETTINGS[0], latched)
    watch = Watch(hold)
    for now, event in _inputs(night):
        watch.check(now, event, hold.step(event, now))


@settings(max_examples=25, deadline=None)
@given(night=NIGHT, which=st.integers(0, len(SETTINGS) - 1), latched=LATCHED)
def test_the_same_events_give_the_same_decisions(night, which, latched):
    inputs = _inputs(night)
    first = list(replay(SETTINGS[which], inputs, latched))
    assert list(replay(SETTINGS[which], inputs, latched)) == first


@settings(max_examples=25, deadline=None)
@given(night=NIGHT)
def test_the_clock_of_the_wall_decides_nothing(night):
    inputs = _inputs(night)
    moved = [(Instant(now.hold_ms, now.host_ms, 17 * i), event) for i, (now, event) in enumerate(inputs)]
    one, other = (list(replay(SETTINGS[0], events)) for events in (inputs, moved))
    assert [decision for *_, decision in one] == [decision for *_, decision in other]


@pytest.mark.parametrize("temps", [(), (65.0,), (65.0, 65.0, 65.0, 65.0)])
def test_a_node_with_other_probes_than_the_settings_never_raises(temps):
    decision = Hold(SETTINGS[2]).step(Reading(1, 0, temps, 0, False, 0, 0, 0, False), Instant(0, 0, 0))
    assert decision.lease_ms == 0
