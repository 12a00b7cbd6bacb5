"""From settings to a running daemon: every check that must pass before the first lease."""

from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import msgspec

from holdctl import __version__
from holdctl.clock import Clock
from holdctl.daemon.inhibit import awake
from holdctl.daemon.loop import Daemon
from holdctl.daemon.pace import Pace
from holdctl.device.node import NodeDriver
from holdctl.errors import ConfigError
from holdctl.events import Instant, Notice, NoticeKind, State
from holdctl.hold import Hold, outlook
from holdctl.record import spool
from holdctl.record.files import spool_folder
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


def check(settings: Settings, pace: Pace, *, detached: bool) -> str:
    """Return the port's URL. Raises ConfigError where this hold must not be started."""
    if settings.port is None:
        raise ConfigError("No port is given: name it as `url` under [port] in holdctl.toml, or with --port.")
    named = (settings.independent_cutoff or "").strip().lower()
    if named in _NO_CUTOFF and not settings.test_rig:
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
    """Run one hold from start to end and return its end state. Raises HoldctlError; the relay is off then."""
    url = check(job.settings, job.pace, detached=False)
    port = job.settings.port
    with ExitStack() as stack:
        warning = stack.enter_context(awake())
        store = Store.open(job.record, batch_ms=_FAST_BATCH_MS if job.pace is Pace.DEVICE else 5_000)
        stack.callback(store.close)
        store.close_open_holds(job.clock.utc_ms())
        latched = store.latched_trips()
        driver = NodeDriver(url, port.baud if port else 115_200, job.clock)
        driver.open()
        stack.callback(driver.close)
        hold = job.make(job.settings, latched)
        spool.prepare(spool_folder(job.record))
        daemon = Daemon(hold, driver, store, spool_folder(job.record), job.clock, job.pace, job.tell)
        hold_id = store.begin_hold(
            started_utc_ms=daemon.watch.start_utc_ms,
            config_json=msgspec.json.encode(job.settings).decode(),
            warmer=job.settings.warmer.name,
            programme=job.settings.programme.name,
            pace=job.pace.value,
            simulated=job.settings.test_rig,
            version=__version__,
            boot_id=_boot_id(),
            latched=latched,
        )
        known = store.last_identified(job.settings.warmer.name)
        return daemon.run(hold_id, (*outlook(job.settings), *_warnings(job, warning)), known)


def _warnings(job: Job, sleep: str) -> list[Notice]:
    found = [Notice(NoticeKind.INFO, "sleep", sleep)] if sleep else []
    if job.pace is Pace.DEVICE:
        text = "The node turns this hold's clock (--pace device): a test rig, not a night's work."
        found.append(Notice(NoticeKind.INFO, "pace-device", text))
    return found


def _boot_id() -> str:
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text("ascii").strip()
    except OSError:
        return ""
