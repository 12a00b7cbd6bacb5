"""The state of one hold and the one function that moves it: `step(event, now) → Decision`.

Order of authority within a step: state, then interlocks, then the programme, then control. Whatever stands higher
and says no, the lease is 0. The function is pure in the sense that matters: same settings, same latched trips and
same events give the same decisions, so a recorded night can be replayed.
"""

from collections.abc import Callable, Iterable

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
from holdctl.hold.drive import Drive
from holdctl.hold.interlocked import SILENCE_MS, Interlocked
from holdctl.hold.probes import ProbeSet, Values
from holdctl.hold.programme import Progress, Want
from holdctl.hold.requests import answer
from holdctl.hold.resume import JUMPED, LATE, Interruptions, spoken
from holdctl.hold.states import ENDED, WORDS, Cause, follow
from holdctl.hold.unheated import Unheated
from holdctl.hold.vigil import Vigil
from holdctl.safety import AlarmBook, Standing
from holdctl.settings import Settings

IDLE, RUNNING, HELD = State.IDLE, State.RUNNING, State.HELD
PROMPT, NO_PHASE = Phase.PROMPT, Phase.NONE
"""By name once: up to Python 3.11 `State.IDLE` takes ten times as long as a name of the module, with every reading."""


class Hold:
    """One hold of one warmer."""

    outlives_terminal = True
    """Whether it goes on where the terminal that it was begun in is closed."""

    def __init__(self, settings: Settings, latched: Iterable[str] = ()) -> None:
        """`latched` are trips of earlier holds."""
        self.settings = settings
        self.state = IDLE
        self.progress = Progress(settings.programme)
        self.standing = Standing.restored(latched)
        self.alarms = AlarmBook()
        """What calls for somebody, by name, and whether it has been acknowledged."""
        self.now_ms = 0
        """The hold's time at this event: what the alarms' delays are measured on."""
        self.probes = ProbeSet(settings.probe)
        self.interlocked = Interlocked(settings)
        self.drive = Drive(settings)
        self.vigil = Vigil(settings, self.drive.controller)
        self.interruptions = Interruptions(settings)
        self.unheated = Unheated(settings)
        self.last_values: Values | None = None
        self.last_valid: Instant | None = None
        """The last reading with values."""
        self._last: Instant | None = None
        self._notices: list[Notice] = []

    # What comes in ---------------------------------------------------------------------------------------------

    def step(self, event: Event, now: Instant) -> Decision:
        """Take one event and decide. Events must come in order of `now`."""
        self._notices, self.now_ms = [], now.hold_ms
        if self.state is IDLE:
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
        """Return an identification that is due: run it anywhere, and step the hold with what it returns.

        None while a fault is suspected: the fit would not be taken here, and a next night would begin with it.
        """
        return None if self.unheated.off or self.vigil.suspects_heat else self.drive.controller.due()

    def foretell(self, now: Instant) -> Callable[[], Forecast] | None:
        """Return a forecast that is due: make it anywhere, and tell it with `foretold`."""
        heats = self.state is RUNNING and not self.unheated.off
        return self.drive.counsel.task(now.hold_ms, self.progress) if heats else None

    def foretold(self, forecast: Forecast, now: Instant) -> list[Notice]:
        """Return what a finished forecast gives reason to say. It decides nothing."""
        return [] if self.unheated.off else self.drive.counsel.told(forecast, now.hold_ms)

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
                self.drive.rest()
                self.standing.trip(notice.name, self.now_ms)
                if self.standing.waiting:
                    self.change(Cause.INTERRUPT, notice.name)
            elif notice.kind in (NoticeKind.TRIP_CLEARED, NoticeKind.RESET):
                self.standing.clear(notice.name)
                if self.state is HELD and not self.standing.waiting:
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
        if after is not RUNNING:
            self.drive.rest()
        return True

    def clear(self, name: str, text: str = "") -> None:
        """Say that the cause of a trip or alarm is gone, and go on if nothing holds the programme any more."""
        self.heed(*self.alarms.clear_now(name, text, self.now_ms))

    def no_credit(self) -> None:
        """Let the time until the next valid reading earn nothing."""
        self._last = None

    # Events ----------------------------------------------------------------------------------------------------

    def _take(self, event: Event, now: Instant) -> int | None:
        match event:
            case Reading():
                return self._reading(event, now)
            case Silence():
                self.interlocked.silence(self, now)
            case LinkChange():
                self.interlocked.link(self, event, now)
            case NodeBoot():
                self.interlocked.boot(self, event)
            case ForeignAck():
                self.interlocked.foreign(self, event, now)
            case Request():
                self.say(*answer(self, event, now))
            case Condition():
                self.condition(event.name, event.active, event.text)
            case Identified():
                self._identified(event)
            case Restart() | Late() | ClockJump():  # pragma: no branch  # there are no other events
                self._interrupted(event, now)
        return None

    def _identified(self, found: Identified) -> None:
        """Take what has been identified, but while a fault is suspected: it would be explained by a weaker heater."""
        if not self.vigil.suspects_heat:
            self.drive.controller.identified(found)

    def _start(self, now: Instant) -> None:
        self.change(Cause.START)
        begun = self.progress.start(now.hold_ms)
        if "programme" not in self.settings.untold:
            self.say(*begun)
        if self.standing.latched:
            for name in self.standing:
                text = f"{name} is still latched from an earlier hold: `holdctl reset {name}`"
                notice = Notice(NoticeKind.TRIP, name, text, {"latched": True, "restored": True})
                self._notices += self.alarms.take(notice, now.hold_ms)
            self.change(Cause.INTERRUPT, "a trip is still latched")

    def _interrupted(self, event: Restart | Late | ClockJump, now: Instant) -> None:
        if isinstance(event, ClockJump):
            self.heed(*self.alarms.raise_now(JUMPED, self.interruptions.jumped(event, now), now.hold_ms))
            return
        self.drive.rest()
        self.no_credit()
        self.interruptions.began(event, now, self.last_valid, self)
        if isinstance(event, Late):
            self.interlocked.trip(self, LATE, now, f"this program stood still for {spoken(event.late_ms)}")

    def _reading(self, reading: Reading, now: Instant) -> int:
        dt_ms = self._elapsed(now)
        values = self.probes.take(reading, dt_ms / 1000)
        blocked = self.interlocked.look(self, reading, values, now)
        if not values.fault:
            self.unheated.seen(values, now, self.drive.estimate)
        if self.unheated.off:
            return self._unheated(reading, values, now)
        self._watched(self.vigil.wiring(reading, self.drive.lease_ms, now))
        want = None if values.fault else self._follow(values, now, dt_ms)
        if blocked or want is None or self.standing or self.state is not RUNNING:
            self.drive.rest()
            return 0
        self._control(want, values, max(dt_ms, 1) / 1000)
        self.vigil.leased(self.drive.lease_ms, now)
        return self.drive.lease_ms

    def _unheated(self, reading: Reading, values: Values, now: Instant) -> int:
        """Follow paste that cools: nothing of what follows here gives a lease."""
        self.drive.rest()
        self.unheated.watched(self, reading, now)
        if not values.fault and self.state in (RUNNING, HELD):
            self.last_valid = now
            self.unheated.follow(self, values, now)
        return 0

    def _watched(self, found: Iterable[Condition]) -> None:
        known = self.alarms.known
        for seen in found:
            if seen.active or seen.name in known:
                self.condition(seen.name, seen.active, seen.text)

    def _follow(self, values: Values, now: Instant, dt_ms: int) -> Want | None:
        """Carry estimate and programme to this reading."""
        # The estimate has to cross gaps and faults too; only the loops and the programme's clock start anew there.
        passed_ms = max(0, now.hold_ms - self.last_valid.hold_ms) if self.last_valid else 0
        self.last_valid = now
        estimate = self.drive.follow(values.used_c, passed_ms)
        self._watched(self.vigil.paste(values, estimate, now, passed_ms / 1000))
        if self.state is not RUNNING:
            return None
        return self._advance(now, dt_ms, estimate)

    def _elapsed(self, now: Instant) -> int:
        """Return ms since the last reading; across a gap start the loops anew and return 0: no credit."""
        last, self._last = self._last, now
        if last is None:
            return 0
        gap = max(now.hold_ms - last.hold_ms, now.host_ms - last.host_ms)
        if gap > SILENCE_MS or now.hold_ms < last.hold_ms:
            self.probes.forget()
            self.vigil.gap()
            self.drive.rest()
            return 0
        return now.hold_ms - last.hold_ms

    # Programme and control -------------------------------------------------------------------------------------

    def _advance(self, now: Instant, dt_ms: int, estimate: Estimate) -> Want:
        self.drive.controller.estimator.pause(self.progress.phase is PROMPT)
        want, notices = self.progress.advance(now.hold_ms, dt_ms, estimate)
        self.say(*notices)
        if self.progress.unanswered:
            self.interlocked.trip(self, "unanswered", now, "")
        if self.progress.finished:
            self.change(Cause.FINISH)
        return want

    def _control(self, want: Want, values: Values, dt_s: float) -> None:
        limited = self.alarms.active("over-ceiling")
        self.say(*self.drive.lease(want, values, dt_s, self.now_ms, limited=limited))

    def _decision(self, lease_ms: int | None) -> Decision:
        running = self.state is RUNNING
        return Decision(
            lease_ms=lease_ms if running and not self.standing else 0,
            state=self.state,
            phase=self._phase(),
            step=self.progress.index,
            setpoint_c=self.drive.setpoint_c,
            wall_setpoint_c=self.drive.asked_wall_c,
            duty=self.drive.duty,
            estimate=self.drive.estimate,
            credit_ms=self.progress.credit_ms,
            notices=tuple(self._notices),
        )

    def _phase(self) -> Phase:
        if self.unheated.cooling is not None and self.state in (RUNNING, HELD):
            return Phase.COOLING
        heats = self.state is RUNNING and not self.unheated.off
        return self.progress.phase if heats else NO_PHASE
