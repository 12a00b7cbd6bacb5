"""The loop: read → step → lease → record.

The lease goes out before anything is written, so that a trip takes the relay off first. Requests are collected
after a reading has come and before its lease goes out: what was asked by then is obeyed by this very lease.
Whatever goes wrong in here ends with lease 0 and, failing that, with the lease running out in the node.
"""

import signal
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import suppress
from pathlib import Path
from types import FrameType

from holdctl.clock import Clock
from holdctl.daemon.lapse import Lapse
from holdctl.daemon.outside import Nobody
from holdctl.daemon.pace import Pace, Stopwatch
from holdctl.device.base import Driver
from holdctl.errors import HoldctlError, JobError, StoreError
from holdctl.events import (
    Condition,
    Decision,
    Event,
    Forecast,
    Identified,
    Instant,
    LinkChange,
    Notice,
    NoticeKind,
    Reading,
    Request,
    RequestKind,
    Silence,
    State,
)
from holdctl.hold import Hold
from holdctl.hold.interlocked import SILENCE_MS
from holdctl.hold.states import ENDED
from holdctl.record import spool
from holdctl.record.store import Store

POLL_S = 0.25
SILENCE_AGAIN_MS = 30_000
TERMINAL_GONE = (
    "The terminal is gone; the hold goes on, for paste that cools overnight is spoilt. `holdctl watch` shows it, "
    "`holdctl stop` ends it."
)


class Daemon:
    """One hold from start to end."""

    def __init__(
        self,
        hold: Hold,
        driver: Driver,
        store: Store,
        folder: Path,
        clock: Clock,
        pace: Pace = Pace.HOST,
        tell: Callable[[Notice, Instant], None] = lambda _notice, _now: None,
        outside: Nobody | None = None,
    ) -> None:
        """`folder` is the spool; `tell` is called with every notice, for a log. The caller has begun the hold.

        `outside` are those who are told beyond record and log.
        """
        self._outside = outside or Nobody()
        self._hold, self._driver, self._store = hold, driver, store
        self._folder, self._clock, self._tell = folder, clock, tell
        self.watch, self._lapse = Stopwatch(clock, pace), Lapse(clock)
        self._heard_ms = 0
        self._silence_at_ms = SILENCE_MS
        self._last_n = 0
        self._signal = ""
        self._hung_up = False
        self._pace = pace
        self._worker = ThreadPoolExecutor(1, thread_name_prefix="identify")
        self._thought: Future[Identified | Forecast] | None = None

    def run(
        self,
        hold_id: int,
        first: tuple[Notice, ...] = (),
        known: Identified | None = None,
        resumed: tuple[Event, ...] = (),
    ) -> State:
        """Run to the end and return the end state. Raises HoldctlError after the relay is off.

        `known` is what an earlier night has identified of this warmer, `resumed` what a hold that goes on has to be
        told of its gap: the first inputs.
        """
        self._catch_signals()
        try:
            self._outside.begun(self._hold, hold_id, self.watch.now())
            for filed in spool.leftovers(self._folder):
                self._store.request(self.watch.now(), filed)
            for event in resumed:
                self._one(event)
            for notice in first:
                self._note(notice, self.watch.now())
            if known is not None:
                self._one(known)
            self._heard_ms = self.watch.now().host_ms
            while self._hold.state not in ENDED:
                self._turn(hold_id)
        except BaseException as error:
            self._break_off(error)
            raise
        else:
            self._store.end_hold(self.watch.now(), self._hold.state)
        finally:
            self._outside.ended(self._hold, self.watch.now())
            self._worker.shutdown(wait=False, cancel_futures=True)
        return self._hold.state

    def _turn(self, hold_id: int) -> None:
        began_ms = self.watch.now().host_ms
        events = self._driver.poll(POLL_S)
        if self._pace is Pace.HOST:
            events = [*self._lapse.look(events), *events]
        for event in events:
            if isinstance(event, Reading):
                self._requests(hold_id)
            self._one(event)
            if self._hold.state in ENDED:  # what came with it belongs to no hold any more
                break
        if not any(isinstance(event, Reading) for event in events):
            # A hold that the node's clock turns takes requests at a reading, so that it is the same hold each time.
            if self._pace is Pace.HOST or self.watch.now().host_ms - self._heard_ms >= SILENCE_MS:
                self._requests(hold_id)
            self._silence()
        self._think()
        self._record_news()
        self._tell_outside(began_ms)

    def _tell_outside(self, began_ms: int) -> None:
        """Say that this turn is done: in what time, and whether a silence that was due has been judged, too."""
        now = self.watch.now()
        decided = now.host_ms - self._heard_ms < self._silence_at_ms
        for notice in self._outside.turned(self._hold, now, now.host_ms - began_ms, decided=decided):
            self._note(notice, now)

    def _one(self, event: Event) -> None:
        now = self.watch.now(event)
        decision = self._hold.step(event, now)
        if isinstance(event, Reading):
            self._last_n = event.n
            self._heard_ms, self._silence_at_ms = now.host_ms, SILENCE_MS
            self._driver.lease(event.n, decision.lease_ms or 0)
            self._store.sample(now, event, decision)
            self._notices(decision, now)
        else:
            self._answer(decision, now)
            self._store.event(now, event)
            if isinstance(event, LinkChange) and event.up:
                self._silence_anew()

    def _notices(self, decision: Decision, now: Instant) -> None:
        for notice in decision.notices:
            self._note(notice, now)

    def _note(self, notice: Notice, now: Instant) -> None:
        self._store.notice(now, notice)
        self._outside.noticed(notice, now)
        with suppress(OSError, ValueError):  # nobody reads our words any more: no reason to end the hold
            self._tell(notice, now)

    def _think(self) -> None:
        """Hand out what is due and bring back what is done: away from the tick, so that no lease waits for it.

        A simulated night has its own time and waits: it would not be the same night twice otherwise.
        """
        if self._hold.state is not State.RUNNING:
            return
        began_ms = self.watch.now().host_ms
        if self._thought is None:
            task = self._hold.due() or self._hold.foretell(self.watch.now())
            if task is None:
                return
            self._thought = self._worker.submit(task)
        if self._pace is Pace.HOST and not self._thought.done():
            return
        thought, self._thought = self._thought, None
        try:
            found = thought.result()
        except Exception as error:  # whatever a solver may say: the night goes on with the model it has
            text = f"a fit or a forecast failed ({type(error).__name__}: {error}); the model stays as it is"
            self._note(Notice(NoticeKind.INFO, "no-fit", text), self.watch.now())
            return
        finally:
            self.watch.excuse(began_ms)
        if isinstance(found, Identified):
            self._one(found)
        else:
            now = self.watch.now()
            for notice in self._hold.foretold(found, now):
                self._note(notice, now)
            slow = self._hold.drive.counsel.slow(found, now.hold_ms)
            self._sees("slow-come-up", bool(slow), slow)

    def _silence(self) -> None:
        now = self.watch.now()
        if now.host_ms - self._heard_ms >= self._silence_at_ms:
            self._silence_at_ms += SILENCE_AGAIN_MS
            self._one(Silence())
            self._store.flush()

    def _requests(self, hold_id: int) -> None:
        if self._hung_up:
            self._hung_up = False
            self._note(Notice(NoticeKind.INFO, "terminal-gone", TERMINAL_GONE), self.watch.now())
        if self._signal:
            by, self._signal = self._signal, ""
            self._one(Request(RequestKind.STOP, by))
            self._hurry()
        for filed in self._collected(hold_id):
            now = self.watch.now()
            self._store.request(now, filed)
            if filed.request is not None:
                self._obey(filed.request, now)

    def _collected(self, hold_id: int) -> list[spool.Filed]:
        """Return what waits in the spool; a spool that can't be read is an alarm, not the end of the hold."""
        try:
            filed = spool.collect(
                self._folder,
                now_utc_ms=self._clock.utc_ms(),
                daemon_start_utc_ms=self.watch.start_utc_ms,
                hold=hold_id,
            )
        except StoreError as error:
            self._sees("spool", True, str(error))
            return []
        self._sees("spool", False)
        return filed

    def _sees(self, name: str, active: bool, text: str = "") -> None:
        """Tell the hold of a condition that the daemon itself sees, where that is news."""
        if active != self._hold.alarms.active(name):
            self._one(Condition(name, active, text))

    def _record_news(self) -> None:
        """Announce what the record has to say of itself: that it can't be written is an alarm, not the hold's end."""
        for notice in self._store.news():
            if notice.kind in (NoticeKind.ALARM, NoticeKind.ALARM_CLEARED):
                self._sees(notice.name, notice.kind is NoticeKind.ALARM, notice.text)
            else:
                self._note(notice, self.watch.now())

    def _obey(self, request: Request, now: Instant) -> None:
        if request.kind is RequestKind.RESET and request.subject == "node-cutout":
            self._driver.reset_cutout()
        self._answer(self._hold.step(request, now), now)
        self._hurry()

    def _hurry(self) -> None:
        """While stopping, silence is judged anew from here: a silent node must not delay the end."""
        if self._hold.state is State.STOPPING:
            self._silence_anew()

    def _silence_anew(self) -> None:
        """Judge silence from here on: the node has as long as ever to say something."""
        self._silence_at_ms = self.watch.now().host_ms - self._heard_ms + SILENCE_MS

    def _answer(self, decision: Decision, now: Instant) -> None:
        """Pass on a decision that answers no reading: the relay at once where it must be off."""
        if decision.lease_ms is not None:
            self._driver.lease(self._last_n, decision.lease_ms)
        self._notices(decision, now)

    def _break_off(self, error: BaseException) -> None:
        """Relay off first, then say so in the record; neither may hide the first error."""
        with suppress(Exception):
            self._driver.lease(self._last_n, 0)
        reason = str(error) if isinstance(error, HoldctlError) else f"{type(error).__name__}: {error}"
        now = self.watch.now()
        with suppress(Exception):
            self._notices(self._hold.abort(reason), now)
        with suppress(Exception):
            self._store.end_hold(now, State.ABORTED)

    def _catch_signals(self) -> None:
        def ask(number: int, _frame: FrameType | None) -> None:
            if self._signal:
                raise JobError(
                    "stopped by force at the second signal; the lease runs out in the node by itself."
                )
            self._signal = f"signal {signal.Signals(number).name}"

        def hang_up(_number: int, _frame: FrameType | None) -> None:
            self._hung_up = True

        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, ask)
        signal.signal(signal.SIGHUP, hang_up if self._hold.outlives_terminal else ask)
