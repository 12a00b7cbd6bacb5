"""From settings to a running daemon: every check that must pass before the first lease."""

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path

import msgspec

from holdctl import __version__
from holdctl.clock import Clock, boot_id
from holdctl.daemon.inhibit import awake
from holdctl.daemon.lapse import JUMP_MS
from holdctl.daemon.loop import Daemon
from holdctl.daemon.manager import Manager
from holdctl.daemon.outside import Outside
from holdctl.daemon.pace import Pace
from holdctl.daemon.resume import Left, Resumed, clocks, find
from holdctl.device.base import Driver
from holdctl.device.node import NodeDriver
from holdctl.device.unleased import Unleased
from holdctl.errors import ConfigError
from holdctl.events import ClockJump, Instant, Notice, NoticeKind, Request, RequestKind, State
from holdctl.food.spells import SpellKind
from holdctl.hold import Hold, outlook
from holdctl.hold.cool_order import CoolOrder
from holdctl.record import spool
from holdctl.record.files import spool_folder
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.settings import Settings

_NO_CUTOFF = ("", "none", "no", "-", "n/a", "nothing", "false")
_FAST_BATCH_MS = 200
"""Commit interval in device pace, where hours pass in seconds and a screen wants to follow."""


@dataclass(frozen=True, slots=True)
class Job:
    """What a daemon needs to know."""

    settings: Settings
    record: Path
    clock: Clock
    pace: Pace = Pace.HOST
    tell: Callable[[Notice, Instant], None] = lambda _notice, _now: None
    make: Callable[[Settings, Iterable[str]], Hold] = Hold
    """Makes the hold: an experiment is one with another controller."""
    order: CoolOrder | None = None
    """A cooling with no hold before it: nothing is ever leased."""
    by: str = ""
    """Who asked for it."""
    new: bool = False
    """Begin a new hold even where one was left open."""
    first: tuple[Notice, ...] = ()
    """Written at the head of a new hold, as the plan that it comes from."""
    boot_id: str = field(default_factory=boot_id)


def check(settings: Settings, pace: Pace, *, detached: bool, heated: bool = True) -> str:
    """Return the port's URL. Raises ConfigError where this hold must not be started."""
    if settings.port is None:
        raise ConfigError("No port is given: name it as `url` under [port] in holdctl.toml, or with --port.")
    named = (settings.independent_cutoff or "").strip().lower()
    if heated and named in _NO_CUTOFF and not settings.test_rig:
        raise ConfigError(
            "No independent thermal cut-off is named. A relay can weld shut, and then no program can open it: put a "
            'one-shot thermal link in series with the heater and write independent_cutoff = "…" (which, where) into '
            "holdctl.toml. For a rig without a heater write test_rig = true."
        )
    if pace is Pace.DEVICE and detached and not settings.test_rig:
        raise ConfigError(
            "--pace device is for test rigs: it needs test_rig = true in holdctl.toml under `start`."
        )
    return settings.port.url


def prepare(job: Job) -> State:
    """Run one hold from start to end and return its end state. Raises HoldctlError; the relay is off then.

    A hold that was left open goes on, where `holdctl.daemon.resume` finds that it can.
    """
    url = check(job.settings, job.pace, detached=False, heated=job.order is None)
    port = job.settings.port
    with ExitStack() as stack:
        warning = stack.enter_context(awake())
        store = Store.open(job.record, batch_ms=_FAST_BATCH_MS if job.pace is Pace.DEVICE else 5_000)
        stack.callback(store.close)
        node = NodeDriver(url, port.baud if port else 115_200, job.clock)
        driver = node if job.order is None else Unleased(node)
        driver.open()
        stack.callback(driver.close)
        manager = Manager()
        found = _open_hold(job, manager)
        spool.prepare(spool_folder(job.record))
        said = _warnings(job, warning)
        if isinstance(found, Resumed):
            return _go_on(job, store, driver, manager, said, found)
        return _begin(job, store, driver, manager, said, found)


def _open_hold(job: Job, manager: Manager) -> Resumed | Left:
    if job.make is not Hold:
        return Left("a test was asked for")
    if job.new:
        return Left("a new hold was asked for")
    record = Record(job.record)
    found = find(record, job.settings, job.pace, job.clock, job.boot_id, manager.following)
    if isinstance(found, Resumed) and found.hold.unheated.alone != (job.order is not None):
        return Left("a cooling was asked for" if job.order is not None else "it was a cooling without heat")
    return found


def _begin(
    job: Job, store: Store, driver: Driver, manager: Manager, said: list[Notice], found: Left
) -> State:
    """Close what was left open, and begin a hold."""
    if found.ended is not None:
        row, state, at = found.ended
        store.resume_hold(row.id, row.anchor, sampled=True)
        store.end_hold(at, state)
    closed = store.close_open_holds(job.clock.utc_ms())
    latched = store.latched_trips()
    daemon = _daemon(job, job.make(job.settings, latched), driver, store, manager)
    hold_id = store.begin_hold(
        started_utc_ms=daemon.watch.start_utc_ms,
        config_json=msgspec.json.encode(job.settings).decode(),
        warmer=job.settings.warmer.name,
        programme=job.settings.programme.name if job.order is None else SpellKind.COOLING.value,
        pace=job.pace.value,
        simulated=job.settings.test_rig,
        version=__version__,
        boot_id=job.boot_id,
        latched=latched,
    )
    known = store.last_identified(job.settings.warmer.name)
    left = [_left(hold, found.why) for hold in closed]
    if job.order is not None:
        ordered = Request(RequestKind.COOL, job.by, job.order.subject())
        return daemon.run(hold_id, (clocks(job.clock, job.boot_id), *left, *said), None, (ordered,))
    first = (clocks(job.clock, job.boot_id), *left, *job.first, *outlook(job.settings), *said)
    return daemon.run(hold_id, first, known)


def _go_on(
    job: Job, store: Store, driver: Driver, manager: Manager, said: list[Notice], found: Resumed
) -> State:
    """Go on with the hold that was left open."""
    row = found.row
    latched = tuple(name for name in store.latched_trips() if name not in found.hold.standing)
    daemon = _daemon(job, found.hold, driver, store, manager)
    daemon.watch.go_on(found.hold_ms, found.host_ms, row.started_utc_ms, found.up_ms)
    store.resume_hold(row.id, row.anchor, sampled=found.up_ms is not None)
    jumped = (ClockJump(found.jump_ms),) if abs(found.jump_ms) > JUMP_MS else ()
    restart = msgspec.structs.replace(found.restart, latched=latched)
    over = [Notice(NoticeKind.ALARM_CLEARED, name, "said by the run before this one") for name in found.stale]
    return daemon.run(row.id, (clocks(job.clock, job.boot_id), *over, *said), None, (restart, *jumped))


def _daemon(job: Job, hold: Hold, driver: Driver, store: Store, manager: Manager) -> Daemon:
    outside = Outside(job.settings, job.record, job.clock, manager)
    return Daemon(hold, driver, store, spool_folder(job.record), job.clock, job.pace, job.tell, outside)


def _left(hold: int, why: str) -> Notice:
    because = f" ({why})" if why else ""
    text = f"Hold {hold} was left open and is closed as broken off{because}: this is a new one."
    return Notice(NoticeKind.INFO, "left-open", text, {"hold": hold})


def _warnings(job: Job, sleep: str) -> list[Notice]:
    found = [Notice(NoticeKind.INFO, "sleep", sleep)] if sleep else []
    if job.pace is Pace.DEVICE:
        text = "The node turns this hold's clock (--pace device): a test rig, not a night's work."
        found.append(Notice(NoticeKind.INFO, "pace-device", text))
    return found
