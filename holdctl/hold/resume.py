"""Whether an interrupted hold goes on by itself: the rule, and what a gap is taken to have been.

An interruption is a restart of this program on a hold that was left open, or a computer that slept while its readings
waited. Both are inputs of the hold like any other, and are judged at the first fresh reading after them: a recorded
night gives the same verdict again. docs/restart.md gives the rule in words.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import msgspec

from holdctl.control.controller import Controller
from holdctl.control.cooling import Unattended, unattended
from holdctl.events import ClockJump, Instant, Late, Notice, NoticeKind, Restart
from holdctl.food.codes import code_of
from holdctl.hold.probes import Values
from holdctl.hold.programme import Progress, duration_ms
from holdctl.safety import of
from holdctl.settings import PASTE_PLACES, Settings

if TYPE_CHECKING:
    from holdctl.hold.hold import Hold

NEVER = "never"
INTERRUPTION = "interruption"
"""Name of the notice that tells what a gap was and what follows from it."""
LATE, JUMPED = "daemon-late", "clock-jumped"

HARMLESS = frozenset({"food_code", "own_code", "port", "programme", "restart", "time_control", "units"})
"""Tables of the settings that may change under a hold: none of them says what is heated, or how. The programme is
judged before: with another one the old hold is not gone on with at all."""
SHORT_MS = 3_000
"""Standing still for less is no interruption, as silence for less is no silence."""
FRESH_MS = 1_000
"""Readings that had piled up all come at once; one that comes so long after standing still is fresh."""
FALL_K = 3.0
"""Paste that was still on its way up may have fallen by this much since the last reading."""
UNEXPLAINED_K = 2.0
"""Paste may be so much colder than the model's lower bound for the gap before the gap is doubted."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is said of an interruption, and why the hold has to wait; `wait` is empty where it goes on."""

    notice: Notice
    wait: str

    def without_heat(self) -> "Verdict":
        """Return what is said of a gap in a hold that heats no more: it goes on in any case."""
        text = self.notice.text.replace(" It waits for you.", " It goes on, without heat.")
        detail = {**self.notice.detail, "goes_on": True}
        return Verdict(Notice(self.notice.kind, self.notice.name, text, detail), "")


class Interruptions:
    """What one hold knows of the times in which this program was away."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._restart: Restart | Late | None = None
        self._before: Instant | None = None
        """The last valid reading before it."""
        self._before_c: float | None = None
        self._since = Instant(0, 0, 0)
        self._late_ms: int | None = None
        self._jumped_ms: int | None = None

    @property
    def pending(self) -> bool:
        """Whether an interruption has still to be judged: no heat until then."""
        return self._restart is not None

    @property
    def over(self) -> bool:
        """Whether nothing has still to be judged, and no alarm of the wall clock waits for its end."""
        return self._restart is None and self._jumped_ms is None

    def began(self, event: Restart | Late, now: Instant, last: Instant | None, hold: "Hold") -> None:
        """Take an interruption, `last` the last valid reading before it; bring back what is latched beside the record.

        After a gap of unknown length the estimate begins from the readings.
        """
        hold.probes.forget()
        hold.vigil.gap()
        if isinstance(event, Late):
            self._late_ms = now.host_ms
        if isinstance(event, Restart) or (
            event.late_ms >= SHORT_MS and not isinstance(self._restart, Restart)
        ):
            self._restart, self._since, self._before = event, now, last
            self._before_c = None if hold.last_values is None else self._known_c(hold.last_values)
        if isinstance(event, Restart):
            if event.gap_ms is None:
                hold.drive.controller.estimator.forget()
            hold.say(*[_latched(name) for name in event.latched if name not in hold.standing])

    def jumped(self, event: ClockJump, now: Instant) -> str:
        """Take a jump of the wall clock; return what the alarm says."""
        self._jumped_ms = now.host_ms
        way = "forward" if event.jump_ms > 0 else "back"
        return f"the computer's wall clock was set {way} by {spoken(abs(event.jump_ms))}"

    def in_time(self, now: Instant) -> bool:
        """Whether readings have been answered in time for so long that the alarm may fall."""
        return self._late_ms is not None and now.host_ms - self._late_ms >= 1000 * of(LATE).off_delay_s

    def settled(self, now: Instant) -> bool:
        """Whether the wall clock has kept still for so long that its alarm may fall; True once."""
        if self._jumped_ms is None or now.host_ms - self._jumped_ms < 1000 * of(JUMPED).off_delay_s:
            return False
        self._jumped_ms = None
        return True

    def judge(
        self, values: Values, now: Instant, controller: Controller, progress: Progress
    ) -> Verdict | None:
        """Return the verdict at a fresh valid reading, once; None where there is nothing to judge yet."""
        event = self._restart
        if event is None or (isinstance(event, Late) and now.host_ms - self._since.host_ms < FRESH_MS):
            return None
        self._restart = None
        gap_ms = self._gap_ms(event, now)
        bounds = None if gap_ms is None else unattended(controller.estimator, gap_ms / 1000)
        falling = progress.step is not None and progress.step.fall_to is not None
        wait = self._wait(event, gap_ms) or ("" if falling else self._too_cold(values, bounds))
        return Verdict(_told(event, gap_ms, bounds, wait), wait)

    def _gap_ms(self, event: Restart | Late, now: Instant) -> int | None:
        """Return how long the hold has gone without a look; a node that turns its clock may know better."""
        if isinstance(event, Late) or event.gap_ms is None:
            return event.late_ms if isinstance(event, Late) else None
        since = 0 if self._before is None else now.hold_ms - self._before.hold_ms
        return max(event.gap_ms, since)

    def _wait(self, event: Restart | Late, gap_ms: int | None) -> str:
        """Return why it must wait whatever the paste's temperature; empty where it need not."""
        rule = self._settings.restart.goes_on_within
        if rule == NEVER:
            return "the settings say to wait after every interruption"
        if gap_ms is None:
            return "nobody knows how long this program was away"
        if gap_ms > duration_ms(rule):
            return f"this program was away for {spoken(gap_ms)}, and goes on by itself within {rule} only"
        changed = event.changed if isinstance(event, Restart) else ()
        return f"not as it was when the hold began: {', '.join(changed)}" if changed else ""

    def _too_cold(self, values: Values, bounds: Unattended | None) -> str:
        now_c, before_c, floor_c = self._known_c(values), self._before_c, self._coldest_c
        if now_c >= floor_c and before_c is None:
            return ""
        if before_c is None or before_c >= floor_c:
            if now_c < floor_c:
                return f"the paste is known to be at {now_c:.1f} °C only, and {floor_c:g} °C is asked for"
        elif now_c < before_c - FALL_K:
            return f"the paste has fallen from {before_c:.1f} to {now_c:.1f} °C"
        if bounds is not None and now_c < bounds.place_low_c - UNEXPLAINED_K - self._error_k:
            return f"the paste, at {now_c:.1f} °C, is colder than so short a gap explains"
        return ""

    @property
    def _coldest_c(self) -> float:
        given = self._settings.restart.coldest_c
        return code_of(self._settings).hot_holding_c if given is None else given

    @property
    def _error_k(self) -> float:
        return max(p.error_k for p in self._settings.probe if p.place in PASTE_PLACES)

    def _known_c(self, values: Values) -> float:
        """Return the lowest paste reading less its probe's error, °C."""
        paste = [p for p in self._settings.probe if p.place in PASTE_PLACES]
        return min(values.seen_c[p.channel] - p.error_k for p in paste)


def look_back(hold: "Hold", values: Values, now: Instant) -> str:
    """Judge an interruption at this valid reading, and let fall in its time what it has raised.

    Returns why the hold has to wait, empty where it need not.
    """
    past = hold.interruptions
    if past.over and not hold.standing:
        return ""
    if LATE in hold.standing:
        hold.vigil.gap()  # what had piled up acknowledges nothing new
        if past.in_time(now):
            hold.clear(LATE, text="answers are in time again")
    if past.settled(now):
        hold.clear(JUMPED, "the wall clock keeps still")
    verdict = past.judge(values, now, hold.drive.controller, hold.progress)
    if verdict is None:
        return ""
    if hold.unheated.off:  # there is no heat to wait with
        verdict = verdict.without_heat()
    hold.say(verdict.notice)
    return verdict.wait


def changes(old: Settings, new: Settings) -> tuple[str, ...]:
    """Return the tables of the settings that differ and matter to a hold that has begun."""
    names = [field.name for field in msgspec.structs.fields(Settings)]
    return tuple(n for n in names if n not in HARMLESS and getattr(old, n) != getattr(new, n))


def spoken(ms: int) -> str:
    """Return a length of time in words."""
    seconds = round(ms / 1000)
    if seconds < 120:
        return f"{ms / 1000:.1f} s" if ms < 10_000 else f"{seconds} s"
    minutes = seconds // 60
    if minutes < 120:
        return f"{minutes} min"
    hours = minutes // 60
    return f"{hours} h {minutes % 60:02d} min" if hours < 100 else f"{hours // 24} days"


def _latched(name: str) -> Notice:
    text = f"{name} is still latched from before: `holdctl reset {name}`"
    return Notice(NoticeKind.TRIP, name, text, {"latched": True, "restored": True})


_CLOCKS = {
    "boot": "by the boot-time clock",
    "wall": "by the wall clock, which nobody vouches for",
}


def _told(event: Restart | Late, gap_ms: int | None, bounds: Unattended | None, wait: str) -> Notice:
    restarted = isinstance(event, Restart)
    clock = event.clock if isinstance(event, Restart) else "boot"
    length = "an unknown time" if gap_ms is None else f"{spoken(gap_ms)} {_CLOCKS.get(clock, clock)}"
    text = f"{'Started again' if restarted else 'Awake again'} after {length} without a look at the paste"
    detail: dict[str, Any] = {"gap_ms": gap_ms, "clock": clock, "restarted": restarted, "goes_on": not wait}
    if bounds is not None:
        text += f"; it may meanwhile have been at {bounds.coldest_c:.1f} to {bounds.hottest_c:.1f} °C by the model"
        detail |= {"coldest_c": round(bounds.coldest_c, 2), "hottest_c": round(bounds.hottest_c, 2)}
    return Notice(
        NoticeKind.INFO, INTERRUPTION, f"{text}. {'It waits for you.' if wait else 'It goes on.'}", detail
    )
