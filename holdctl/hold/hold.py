"""The state of one hold and the one function that moves it: `step(event, now) → Decision`.

Order of authority within a step: state, then interlocks, then the programme, then control. Whatever stands higher
and says no, the lease is 0. The function is pure in the sense that matters: same settings, same latched trips and
same events give the same decisions, so a recorded night can be replayed.
"""

from collections.abc import Callable, Iterable

from holdctl.control import Controller, RelayTiming
from holdctl.control.relay import BRIDGE_MS
from holdctl.events import (
    ClockJump,
    Condition,
    Decision,
    Estimate,
    Event,
    Forecast,
    ForeignAck,
    Identified,
    Instant,
    Late,
    LinkChange,
    NodeBoot,
    Notice,
    NoticeKind,
    Phase,
    Reading,
    Request,
    Restart,
    Silence,
    State,
)
from holdctl.hold.counsel import Counsel
from holdctl.hold.probes import ProbeSet, Values
from holdctl.hold.programme import Progress, Want
from holdctl.hold.requests import answer
from holdctl.hold.resume import JUMPED, LATE, Interruptions, look_back, spoken
from holdctl.hold.states import ENDED, WORDS, Cause, follow
from holdctl.hold.vigil import Vigil
from holdctl.safety import AlarmBook, HighLimit, Standing
from holdctl.settings import Place, Settings

SILENCE_MS = 3_000
"""No valid reading for this long on the host's clock: relay off."""

RIDE_CYCLE_S = 20.0
"""On the way up the relay may switch this often: the budget of switch-ons is one of the hold."""

SHORTEST_LEASE_MS = 1_500
"""A node's longest lease must reach from one reading past the next."""


class Hold:
    """One hold of one warmer."""

    def __init__(self, settings: Settings, latched: Iterable[str] = ()) -> None:
        """`latched` are trips of earlier holds."""
        self.settings = settings
        self.state = State.IDLE
        self.progress = Progress(settings.programme)
        self.standing = Standing.restored(latched)
        self.alarms = AlarmBook()
        """What calls for somebody, by name, and whether it has been acknowledged."""
        self.now_ms = 0
        """The hold's time at this event: what the alarms' delays are measured on."""
        self.probes = ProbeSet(settings.probe)
        self.high = HighLimit(
            {
                p.channel: settings.limits.wall_high_c
                if p.place is Place.WALL
                else settings.limits.paste_high_c
                for p in settings.probe
                if p.place is not Place.AIR
            }
        )
        self.last_values: Values | None = None
        self.controller = Controller(settings)
        self.counsel = Counsel(self.controller)
        self.vigil = Vigil(settings, self.controller)
        self.interruptions = Interruptions(settings)
        warmer = settings.warmer
        self._relay = RelayTiming(warmer.cycle_s, warmer.min_on_s, warmer.min_off_s)
        self._max_lease_ms = 5_000
        self._last: Instant | None = None
        self._moved: Instant | None = None
        self._last_valid: Instant | None = None
        self._lease_ms = 0
        self._duty = 0.0
        self._estimate: Estimate | None = None
        self._asked_wall: float | None = None
        self._setpoint: float | None = None
        self._notices: list[Notice] = []

    # What comes in ---------------------------------------------------------------------------------------------

    def step(self, event: Event, now: Instant) -> Decision:
        """Take one event and decide. Events must come in order of `now`."""
        self._notices, self.now_ms = [], now.hold_ms
        if self.state is State.IDLE:
            self._start(now)
        if self.state not in ENDED:
            self.heed(*self.alarms.tick(now.hold_ms))
        return self._decision(self._take(event, now))

    def abort(self, reason: str) -> Decision:
        """Break off: relay off, for good."""
        self._notices = []
        self.change(Cause.ABORT, reason)
        self.change(Cause.ABORT_DONE, reason)
        return self._decision(0)

    def due(self) -> Callable[[], Identified] | None:
        """Return an identification that is due: run it anywhere, and step the hold with what it returns."""
        return self.controller.due()

    def foretell(self, now: Instant) -> Callable[[], Forecast] | None:
        """Return a forecast that is due: make it anywhere, and tell it with `foretold`."""
        return self.counsel.task(now.hold_ms, self.progress) if self.state is State.RUNNING else None

    def foretold(self, forecast: Forecast, now: Instant) -> list[Notice]:
        """Return what a finished forecast gives reason to say. It decides nothing."""
        return self.counsel.told(forecast, now.hold_ms)

    # What requests use -----------------------------------------------------------------------------------------

    def say(self, *notices: Notice) -> None:
        """Add notices to the decision; an alarm among them goes through the book of alarms."""
        for notice in notices:
            self.heed(*self.alarms.take(notice, self.now_ms))

    def heed(self, *notices: Notice) -> None:
        """Add what the book of alarms says to the decision, and let the effect of a trip follow."""
        for notice in notices:
            self._notices.append(notice)
            if notice.kind is NoticeKind.TRIP:
                self._rest()
                self.standing.trip(notice.name, self.now_ms)
                if self.standing.waiting:
                    self.change(Cause.INTERRUPT, notice.name)
            elif notice.kind in (NoticeKind.TRIP_CLEARED, NoticeKind.RESET):
                self.standing.clear(notice.name)
                if self.state is State.HELD and not self.standing.waiting:
                    self.change(Cause.RESUME)

    def condition(self, name: str, active: bool, text: str = "") -> None:
        """Take what this event says of a watched row; its alarm comes and goes by the row's delays, a trip with it."""
        if self.state not in ENDED:
            self.heed(*self.alarms.condition(name, active, self.now_ms, text))

    def change(self, cause: Cause, why: str = "") -> bool:
        """Follow the table of states; False where it has no such pair."""
        after = follow(self.state, cause)
        if after is None:
            return False
        before, self.state = self.state, after
        text = f"{WORDS[after]}{': ' + why if why else ''}"
        self.say(Notice(NoticeKind.STATE, after.value, text, {"was": before.value, "cause": cause.value}))
        if after is not State.RUNNING:
            self._rest()
        return True

    def clear(self, name: str, text: str = "") -> None:
        """Say that the cause of a trip or alarm is gone, and go on if nothing holds the programme any more."""
        self.heed(*self.alarms.clear_now(name, text, self.now_ms))

    # Events ----------------------------------------------------------------------------------------------------

    def _take(self, event: Event, now: Instant) -> int | None:
        match event:
            case Reading():
                return self._reading(event, now)
            case Silence():
                self._silence(now)
            case LinkChange():
                self._link(event, now)
            case NodeBoot():
                self._boot(event)
            case ForeignAck():
                text = f"command {event.ack} was obeyed, but never sent from here"
                self._trip("other-host", now, text, over=True)
            case Request():
                self.say(*answer(self, event, now))
            case Condition():
                self.condition(event.name, event.active, event.text)
            case Identified():
                self.controller.identified(event)
            case Restart() | Late() | ClockJump():
                self._interrupted(event, now)
        return None

    def _start(self, now: Instant) -> None:
        self.change(Cause.START)
        self.say(*self.progress.start(now.hold_ms))
        if self.standing.latched:
            for name in self.standing:
                text = f"{name} is still latched from an earlier hold: `holdctl reset {name}`"
                notice = Notice(NoticeKind.TRIP, name, text, {"latched": True, "restored": True})
                self._notices += self.alarms.take(notice, now.hold_ms)
            self.change(Cause.INTERRUPT, "a trip is still latched")

    def _silence(self, now: Instant) -> None:
        self._rest()
        if self.state is State.STOPPING:
            self.change(
                Cause.STOP_DONE, "the node did not confirm that the relay is off; its lease has run out"
            )
        else:
            self._trip("no-reading", now, "no valid reading for 3 s")

    def _link(self, event: LinkChange, now: Instant) -> None:
        if event.up:
            self.say(Notice(NoticeKind.INFO, "link-up", event.reason or "the line is up"))
            self.clear("link-down", text="the line is back")
        else:
            # The reason may end in its own advice; the interlock's row has the better one.
            self._trip("link-down", now, event.reason.partition(": ")[0].rstrip("."))

    def _boot(self, event: NodeBoot) -> None:
        self._max_lease_ms = event.max_lease_ms
        self._relay.bridge_ms = min(BRIDGE_MS, event.max_lease_ms)
        text = f"node {event.firmware}, {event.probes} probes, last boot by {event.cause}"
        self.say(Notice(NoticeKind.INFO, "node-hello" if event.asked else "node-boot", text))
        if not event.asked:
            self._rest()
        text = f"the node grants leases of {event.max_lease_ms} ms at most"
        self.condition("short-lease", event.max_lease_ms < SHORTEST_LEASE_MS, text)

    def _interrupted(self, event: Restart | Late | ClockJump, now: Instant) -> None:
        if isinstance(event, ClockJump):
            self.heed(*self.alarms.raise_now(JUMPED, self.interruptions.jumped(event, now), now.hold_ms))
            return
        self._rest()
        self._last = None  # the time until the next valid reading earns nothing
        self.interruptions.began(event, now, self._last_valid, self)
        if isinstance(event, Late):
            self._trip(LATE, now, f"this program stood still for {spoken(event.late_ms)}")

    def _reading(self, reading: Reading, now: Instant) -> int:
        dt_ms = self._elapsed(now)
        values = self.probes.take(reading, dt_ms / 1000)
        blocked = self._interlocked(reading, values, now)
        self._watched(self.vigil.wiring(reading, self._lease_ms, now))
        want = None if values.fault else self._follow(values, now, dt_ms)
        if blocked or want is None or self.standing or self.state is not State.RUNNING:
            self._rest()
            return 0
        self._lease_ms = self._control(want, values, max(dt_ms, 1) / 1000)
        self.vigil.leased(self._lease_ms, now)
        return self._lease_ms

    def _watched(self, found: Iterable[Condition]) -> None:
        for seen in found:
            self.condition(seen.name, seen.active, seen.text)

    def _follow(self, values: Values, now: Instant, dt_ms: int) -> Want | None:
        """Carry estimate and programme to this reading."""
        # The estimate has to cross gaps and faults too; only the loops and the programme's clock start anew there.
        passed_ms = max(0, now.hold_ms - self._last_valid.hold_ms) if self._last_valid else 0
        self._last_valid = now
        delivered = min(passed_ms, self._lease_ms) / passed_ms if passed_ms else 0.0
        self._estimate = self.controller.estimate(values.used_c, delivered, passed_ms / 1000)
        self._watched(self.vigil.paste(values, self._estimate, now, passed_ms / 1000))
        if self.state is not State.RUNNING:
            return None
        return self._advance(now, dt_ms, self._estimate)

    def _elapsed(self, now: Instant) -> int:
        """Return ms since the last reading; across a gap start the loops anew and return 0: no credit."""
        last, self._last = self._last, now
        if last is None:
            return 0
        gap = max(now.hold_ms - last.hold_ms, now.host_ms - last.host_ms)
        if gap > SILENCE_MS or now.hold_ms < last.hold_ms:
            self.probes.forget()
            self.vigil.gap()
            self._rest()
            return 0
        return now.hold_ms - last.hold_ms

    # Interlocks ------------------------------------------------------------------------------------------------

    def _trip(self, name: str, now: Instant, detail: str, *, over: bool = False) -> None:
        if self.state not in (State.RUNNING, State.HELD):
            return
        self._rest()
        if not (over and name in self.standing):  # an event that comes again and again is one trip
            self.heed(*self.alarms.raise_now(name, detail, now.hold_ms, over=over))

    def _interlocked(self, reading: Reading, values: Values, now: Instant) -> bool:
        """Trip or clear what this reading shows; True where the relay must be off whatever control says."""
        if self.state is State.STOPPING:
            self._confirm_stop(reading)
        if values.fault:
            self._last = None  # the time until the next valid reading earns nothing
            self._trip("probe-fault", now, values.fault)
            self._silent_too_long(now)
            return True
        if self._stands_still(now):
            self._trip("no-reading", now, "the node's clock stands still")
            return True
        self.last_values = values
        if self.standing or self.state is State.HELD:
            for name in ("no-reading", "probe-fault"):
                self.clear(name)
        self._cutout(reading, now)
        wait = look_back(self, values, now)
        if wait:
            self._trip("restart-wait", now, wait)
        return self._over_limit(values, now) or not self.high.armed or self.interruptions.pending

    def _stands_still(self, now: Instant) -> bool:
        """Whether the hold's clock, turned by the node, has not moved for as long as silence may last."""
        moved = self._moved
        if moved is None or now.hold_ms != moved.hold_ms:
            self._moved = now
            return False
        return now.host_ms - moved.host_ms >= SILENCE_MS

    def _silent_too_long(self, now: Instant) -> None:
        last = self._last_valid
        if last is not None and now.host_ms - last.host_ms >= SILENCE_MS:
            self._trip("no-reading", now, "no valid reading for 3 s")

    def _cutout(self, reading: Reading, now: Instant) -> None:
        if reading.cut:
            self._trip("node-cutout", now, "")
        else:
            self.clear("node-cutout")

    def _over_limit(self, values: Values, now: Instant) -> bool:
        armed = self.high.armed
        over = self.high.over(values.seen_c)
        if "high-limit" in self.standing and not self.high.warm(values.seen_c):
            self.clear("high-limit", "every probe has fallen 2 K below its limit")
        # A single wild value takes the relay off for its second; the latch waits for the second reading.
        sure = [channel for channel in over if channel not in values.doubtful]
        if sure and armed:
            channel = sure[0]
            probe = next(p for p in self.settings.probe if p.channel == channel)
            top = self.high.limits_c[channel]
            text = f"probe {channel} ({probe.name or probe.place.value}) at {values.seen_c[channel]:.1f} °C"
            text += f", limit {top:g} °C"
            self._trip("high-limit", now, text)
        return bool(over)

    def _confirm_stop(self, reading: Reading) -> None:
        if not reading.relay:
            self.change(Cause.STOP_DONE, "relay off, confirmed by the node")

    # Programme and control -------------------------------------------------------------------------------------

    def _advance(self, now: Instant, dt_ms: int, estimate: Estimate) -> Want:
        self.controller.estimator.pause(self.progress.phase is Phase.PROMPT)
        want, notices = self.progress.advance(now.hold_ms, dt_ms, estimate)
        self.say(*notices)
        if self.progress.unanswered:
            self._trip("unanswered", now, "")
        if self.progress.finished:
            self.change(Cause.FINISH)
        return want

    def _control(self, want: Want, values: Values, dt_s: float) -> int:
        if want.setpoint_c is None or self._estimate is None:
            self._rest()
            return 0
        asked = self.controller.update(want.setpoint_c, self._estimate, dt_s)
        self._setpoint, self._asked_wall = want.setpoint_c, asked.wall_c
        most = self.controller.needed_duty if self.alarms.active("over-ceiling") else 1.0
        self._duty = round(min(asked.duty, self._duty if values.doubtful else 1.0, most), 4)
        self.say(*self.counsel.look(self._last.hold_ms if self._last else 0, self._duty, dt_s))
        cycle_s = self.settings.warmer.cycle_s
        self._relay.cycle_s = min(cycle_s, RIDE_CYCLE_S) if self.controller.riding else cycle_s
        return min(self._relay.lease(self._duty, dt_s), self._max_lease_ms)

    def _rest(self) -> None:
        """Relay off: forget debt and integrals."""
        self._relay.rest()
        self._lease_ms, self._duty = 0, 0.0
        self._setpoint = self._asked_wall = None
        self.controller.rest()

    def _decision(self, lease_ms: int | None) -> Decision:
        running = self.state is State.RUNNING
        return Decision(
            lease_ms=lease_ms if running and not self.standing else 0,
            state=self.state,
            phase=self.progress.phase if running else Phase.NONE,
            step=self.progress.index,
            setpoint_c=self._setpoint,
            wall_setpoint_c=self._asked_wall,
            duty=self._duty,
            estimate=self._estimate,
            credit_ms=self.progress.credit_ms,
            notices=tuple(self._notices),
        )
