"""A hold driven through any order of what may happen to it, by a node that behaves: mostly warm, now and then not.

Never: a lease on an old or a bad reading, over a limit, with a trip standing or an interruption unjudged; more credit
than time has passed; a state that the table has not; another hold after a kill than before it.
"""

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from holdctl.events import (
    ClockJump,
    Condition,
    Decision,
    Event,
    Instant,
    Late,
    LinkChange,
    NodeBoot,
    ProbeFault,
    Reading,
    Request,
    RequestKind,
    Restart,
    Silence,
    State,
)
from holdctl.hold import Hold, replay
from holdctl.hold.states import ENDED
from holdctl.settings import After, Step
from tests.hold.bench import stirred
from tests.hold.test_any_events import Watch

PROGRAMMES = (
    stirred(Step(to=65.0, hold_for="2 min"), after=After(to=64.0, longest="10 min")),
    stirred(Step(prompt="malt in", to=66.0, wait="2 min", unanswered="go-on"), Step(to=65.0, hold_for="4 h")),
)
WARM = st.sampled_from((64.8, 64.0, 63.0, 65.0))
ODD = st.sampled_from((20.0, 50.0, 77.9, 78.1, 85.0, 91.0, 140.0))
BAD = st.sampled_from((*ProbeFault, -60.0, 200.0))
SECONDS = st.integers(1, 40)
GAPS_MS = st.sampled_from((1_000, 2_900, 3_000, 60_000, 900_000, 900_001, 7_200_000))


class Night(RuleBasedStateMachine):
    """One hold, its node and its clocks."""

    def __init__(self) -> None:
        super().__init__()
        self.ms = self.n = self.up_ms = self.ack = 0
        self.relay_until_ms = 0
        self.plugged = self.held = True
        self.paste_c = 64.8
        self.inputs: list[tuple[Instant, Event]] = []
        self.last: Decision | None = None
        self.valid_ms = 0
        """When a reading with two good values came last."""
        self.watched_ms = 0
        """Time between such readings that came three seconds apart at most."""
        self.restarted = self.unknown = False
        """Since the last such reading this program has been killed, and nobody knows for how long it was away."""

    @initialize(which=st.integers(0, len(PROGRAMMES) - 1))
    def begin(self, which):
        self.settings = PROGRAMMES[which]
        self.hold = Hold(self.settings)
        self.watch = Watch(self.hold)
        self.samples(5, 64.8)

    def step(self, event: Event) -> Decision:
        now = Instant(self.ms, self.ms, 1_760_000_000_000)
        self.inputs.append((now, event))
        self.last = self.hold.step(event, now)
        self.watch.check(now, event, self.last)
        if self.hold.interruptions.pending or "restart-wait" in self.hold.standing:
            assert not self.last.lease_ms
        return self.last

    def report(self, *temps) -> None:
        """One second of the node: it reports, and obeys what answers."""
        self.ms, self.up_ms, self.n = self.ms + 1000, self.up_ms + 1000, self.n + 1
        if not self.plugged:
            return
        left = max(0, self.relay_until_ms - self.ms)
        event = Reading(self.n % 65536, self.up_ms, temps, 250, left > 0, left, self.ack % 65536, 0, False)
        lease = self.step(event).lease_ms
        self.ack += 1
        self.relay_until_ms = self.ms + (lease or 0)
        if lease:
            assert all(isinstance(t, float) for t in temps)
            assert temps[0] <= self.settings.limits.paste_high_c
            assert temps[1] <= self.settings.limits.wall_high_c
        if all(isinstance(t, float) and -20.0 <= t <= 150.0 for t in temps):
            self._seen()

    def _seen(self) -> None:
        away_ms, self.valid_ms = self.ms - self.valid_ms, self.ms
        if self.restarted and self.hold.state not in (*ENDED, State.STOPPING):
            waits = self.unknown or away_ms > 900_000
            assert not waits or "restart-wait" in self.hold.standing, away_ms
        self.restarted = False
        self.watched_ms += away_ms if away_ms <= 3_000 else 0

    # What happens --------------------------------------------------------------------------------------------

    @rule(seconds=SECONDS, paste_c=WARM)
    def samples(self, seconds, paste_c):
        for _ in range(seconds):
            self.report(paste_c, paste_c + 0.2)

    @rule(paste_c=ODD, seconds=st.integers(1, 3), wall=st.booleans())
    def odd_samples(self, paste_c, seconds, wall):
        for _ in range(seconds):
            self.report(64.8 if wall else paste_c, paste_c)

    @rule(bad=BAD, first=st.booleans(), seconds=st.integers(1, 6))
    def bad_samples(self, bad, first, seconds):
        for _ in range(seconds):
            self.report(*((bad, 65.0) if first else (64.8, bad)))

    @rule(seconds=st.integers(3, 40))
    def silence(self, seconds):
        self.ms += 1000 * seconds
        self.up_ms += 1000 * seconds
        self.step(Silence())

    @rule()
    def unplug_or_replug(self):
        self.plugged = not self.plugged
        self.step(LinkChange(self.plugged, "a plug"))

    @rule(cause=st.sampled_from(("power", "watchdog", "brownout")))
    def node_resets(self, cause):
        self.up_ms = self.n = self.ack = 0
        self.relay_until_ms = 0
        if self.plugged:
            self.step(NodeBoot("x-1", 2, 5000, (None, 105.0), cause, asked=False))

    @rule(jump_ms=st.sampled_from((-3_600_000, 1_500, 86_400_000)))
    def wall_clock_jumps(self, jump_ms):
        self.step(ClockJump(jump_ms))

    @rule(late_ms=st.sampled_from((1_600, 3_000, 60_000, 2_000_000)))
    def program_stands_still(self, late_ms):
        self.ms, self.up_ms = self.ms + late_ms, self.up_ms + late_ms
        self.step(Late(late_ms))

    @rule(gap_ms=GAPS_MS, known=st.booleans())
    def kill_and_resume(self, gap_ms, known):
        """What was recorded, put through a fresh hold, is the hold that was killed."""
        hold = Hold(self.settings)
        for now, event in self.inputs:
            last = hold.step(event, now)
        assert last == self.last
        assert list(hold.standing) == list(self.hold.standing)
        self.hold = self.watch.hold = hold
        if hold.state in ENDED:
            return
        self.ms, self.up_ms = self.ms + gap_ms, self.up_ms + gap_ms
        self.restarted, self.unknown = True, not known
        self.step(Restart(gap_ms if known else None, "boot" if known else "wall"))

    @rule(full=st.booleans())
    def disk(self, full):
        self.step(Condition("disk-full", full, "the disk is full" if full else ""))

    @rule(
        kind=st.sampled_from((RequestKind.ACKNOWLEDGE, RequestKind.RESET, RequestKind.SHELVE)), data=st.data()
    )
    @precondition(lambda self: len(list(self.hold.alarms)) > 0)
    def answered(self, kind, data):
        name = data.draw(st.sampled_from(sorted(self.hold.alarms)))
        self.step(Request(kind, "a baker", f"{name} 20 min" if kind is RequestKind.SHELVE else name))

    @rule(kind=st.sampled_from((RequestKind.NEXT, RequestKind.NEXT, RequestKind.STOP)))
    def asked(self, kind):
        if kind is RequestKind.NEXT or self.ms > 600_000:
            self.step(Request(kind, "a baker"))

    # What must hold ------------------------------------------------------------------------------------------

    @invariant()
    def a_standing_trip_keeps_the_relay_off(self):
        if self.last is not None and (self.hold.standing or self.hold.state is not State.RUNNING):
            assert not self.last.lease_ms

    @invariant()
    def credit_is_never_more_than_the_time_in_which_somebody_looked(self):
        if self.last is not None:
            assert self.last.credit_ms <= self.watched_ms


Night.TestCase.settings = settings(max_examples=40, stateful_step_count=25, deadline=None)
TestNoOrderOfEventsLetsTheRelayOnWhereSomethingForbidsIt = Night.TestCase


def test_the_replay_after_a_kill_is_a_list_of_the_same_decisions():
    night = Night()
    night.begin(0)
    night.samples(30, 64.0)
    assert any(d.lease_ms for *_, d in replay(night.settings, night.inputs)), (
        "a night without heat proves nothing"
    )
