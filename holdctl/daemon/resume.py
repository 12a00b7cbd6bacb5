"""Find a hold that was left open and bring it back: its recorded inputs are put through a fresh hold once more.

Nothing is kept beside the record for this: whatever a hold knows (estimate, programme, credit, trips, acknowledged
alarms) follows from its settings and its inputs. What the daemon had decided in its last seconds and not yet written is
gone with it, and counts as part of the gap.
"""

from collections.abc import Callable
from dataclasses import dataclass

import msgspec

from holdctl import __version__
from holdctl.clock import Clock
from holdctl.daemon.pace import Pace
from holdctl.errors import HoldctlError
from holdctl.events import Instant, Notice, NoticeKind, Reading, Restart, State
from holdctl.hold import Hold
from holdctl.hold.programme import duration_ms
from holdctl.hold.resume import changes, spoken
from holdctl.hold.states import ENDED
from holdctl.record.query import Record
from holdctl.record.rows import HoldRow
from holdctl.settings import Settings

CLOCKS = "clocks"
"""Name of the notice that ties the hold's clock to the boot-time clock, once for each run of the daemon."""
_ABSURD_MS = 90 * 24 * 3_600_000
"""By the wall clock no gap is this long: the clock is wrong."""
_TOLD_EVERY = 500
"""Inputs from one word on how far the following has come to the next: seconds, on a small computer."""


@dataclass(frozen=True, slots=True)
class Resumed:
    """A hold that goes on, or waits for a person to say so."""

    row: HoldRow
    hold: Hold
    restart: Restart
    jump_ms: int
    """How much the wall clock was moved in the gap, as far as another clock tells."""
    hold_ms: int
    host_ms: int
    """The hold's clocks now: the gap is in them."""
    up_ms: int | None
    """The node's clock at its last recorded reading."""
    stale: tuple[str, ...]
    """Alarms that the run before has raised beside the hold, as of its disk: this run raises its own."""


@dataclass(frozen=True, slots=True)
class Left:
    """No hold to go on with; `why` says why an open one is not, empty where there is none."""

    why: str = ""
    ended: tuple[HoldRow, State, Instant] | None = None
    """A hold that had ended, but for its last line in the record."""


def clocks(clock: Clock, boot: str) -> Notice:
    """Return the notice that lets the next start measure its gap."""
    detail = {"boot_id": boot, "boot_ms": clock.monotonic_ms()}
    return Notice(NoticeKind.CONTROL, CLOCKS, "the boot-time clock at this moment", detail)


def find(
    record: Record,
    settings: Settings,
    pace: Pace,
    clock: Clock,
    boot: str,
    followed: Callable[[int], None] = lambda _inputs: None,
) -> Resumed | Left:
    """Return the hold that was left open, brought back; else why there is none. Raises StoreError.

    `followed` is told now and then how many of its inputs have been followed: a long night takes its time.
    """
    rows = [row for row in record.holds() if row.state is None]
    if not rows:
        return Left()
    row = rows[-1]
    try:
        old = msgspec.json.decode(row.config_json, type=Settings)
    except msgspec.DecodeError:
        return Left("its settings are those of another version of this program")
    back = _Gap(record, row)
    why = _other_work(row, old, settings, pace) or _forgotten(back.measure(clock, boot)[0], old)
    if why:
        return Left(why)
    try:
        hold, now, up_ms = _replayed(record, row, old, followed)
    except HoldctlError:
        raise
    except Exception as error:  # a hold that this program can't follow any more must not bar the next one
        return Left(f"its record can't be followed by this program ({type(error).__name__}: {error})")
    if hold.state in ENDED:
        return Left("it had ended already", (row, hold.state, now))
    if hold.state in (State.STOPPING, State.ABORTING):
        return Left("it was about to be ended")
    gap_ms, by, jump_ms = back.measure(clock, boot)  # anew: following a night takes seconds
    ahead = gap_ms or 0
    return Resumed(
        row=row,
        hold=hold,
        restart=Restart(gap_ms, by, _changed(row, old, settings)),
        jump_ms=jump_ms,
        hold_ms=back.last.hold_ms + (0 if row.pace == Pace.DEVICE else ahead),
        host_ms=back.last.host_ms + ahead,
        up_ms=up_ms,
        stale=tuple(name for name in _standing(record, row) if name not in hold.alarms),
    )


def _standing(record: Record, row: HoldRow) -> list[str]:
    """Return the alarms that stand by what the record says."""
    names: dict[str, None] = {}
    for event in record.events(row.id):
        if event.source == "out" and event.kind in (NoticeKind.ALARM, NoticeKind.TRIP):
            names[event.name] = None
        elif event.kind in (NoticeKind.ALARM_CLEARED, NoticeKind.TRIP_CLEARED, NoticeKind.RESET):
            names.pop(event.name, None)
    return list(names)


def _replayed(
    record: Record, row: HoldRow, settings: Settings, followed: Callable[[int], None]
) -> tuple[Hold, Instant, int | None]:
    """Return the hold as its inputs have left it, their last moment, and the node's clock at the last reading."""
    hold, now, up_ms = Hold(settings, row.latched), Instant(0, 0, row.started_utc_ms), None
    for count, (now, event, _) in enumerate(record.replay(row.id)):
        if count % _TOLD_EVERY == 0:
            followed(count)
        hold.step(event, now)
        if isinstance(event, Reading):
            up_ms = event.up_ms
    return hold, now, up_ms


def _changed(row: HoldRow, old: Settings, new: Settings) -> tuple[str, ...]:
    if row.version == __version__:
        return changes(old, new)
    return (*changes(old, new), f"holdctl, {row.version} then and {__version__} now")


def _other_work(row: HoldRow, old: Settings, new: Settings, pace: Pace) -> str:
    if row.warmer != new.warmer.name or old.warmer.name != new.warmer.name:
        return f"it ran on another warmer, {row.warmer}"
    if old.programme != new.programme:
        return "its programme was another one"
    return "" if row.pace == pace.value else f"its clock was turned by the {row.pace}"


def _forgotten(gap_ms: int | None, settings: Settings) -> str:
    after = settings.restart.forgotten_after
    if gap_ms is None or gap_ms <= duration_ms(after):
        return ""
    return f"it was left {spoken(gap_ms)} ago, and a hold is forgotten after {after}"


class _Gap:
    """The time since the last recorded moment of a hold."""

    def __init__(self, record: Record, row: HoldRow) -> None:
        events, latest = record.events(row.id), record.latest(row.id)
        times = [
            Instant(0, 0, row.started_utc_ms),
            *(Instant(e.hold_ms, e.host_ms, e.utc_ms) for e in events[-1:]),
        ]
        self.last = max([*times, *([latest.at] if latest else [])], key=lambda at: at.host_ms)
        # Of a hold whose clock the node turns, UTC follows the node.
        self._utc_ms = self.last.utc_ms if row.pace == Pace.HOST else row.started_utc_ms + self.last.host_ms
        known = [e for e in events if e.kind == NoticeKind.CONTROL and e.name == CLOCKS]
        self._known = known[-1] if known else None

    def measure(self, clock: Clock, boot: str) -> tuple[int | None, str, int]:
        """Return the gap until now, ms, what measured it, and by how much the wall clock was moved in it, ms."""
        wall_ms, known = clock.utc_ms() - self._utc_ms, self._known
        if known is not None and boot and known.detail.get("boot_id") == boot:
            then_ms = int(known.detail["boot_ms"]) + self.last.host_ms - known.host_ms
            gap_ms = clock.monotonic_ms() - then_ms
            return (gap_ms, "boot", wall_ms - gap_ms) if gap_ms >= 0 else (None, "boot", 0)
        return (wall_ms, "wall", 0) if 0 <= wall_ms < _ABSURD_MS else (None, "wall", 0)
