"""Nights that are interrupted, in this process: a clock that can be moved, a driver that plays, a record that stays."""

import signal
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec

from holdctl import __version__
from holdctl.daemon import Daemon, Pace
from holdctl.daemon.lapse import JUMP_MS
from holdctl.daemon.resume import Left, Resumed, clocks, find
from holdctl.events import ClockJump, Decision, NodeBoot, State
from holdctl.hold import Hold, replay
from holdctl.record.query import Record
from holdctl.record.spool import prepare
from holdctl.record.store import Store
from holdctl.settings import Settings
from tests.closed_loop import reading
from tests.hold.bench import stirred

UTC_MS = 1_760_000_000_000
BOOT = NodeBoot("plain", 2, 5000, (None, None), "power")


class KilledError(Exception):
    """The process is gone: raised where a test wants it, and what is in memory is dropped."""


class MovedClock:
    """Boot-time clock and wall clock, each moved by hand; both go on with `sleep`."""

    def __init__(self) -> None:
        self.ms, self.utc = 1_000_000, UTC_MS

    def monotonic_ms(self) -> int:
        return self.ms

    def utc_ms(self) -> int:
        return self.utc

    def sleep(self, seconds: float) -> None:
        self.pass_ms(round(1000 * seconds))

    def pass_ms(self, ms: int) -> None:
        self.ms, self.utc = self.ms + ms, self.utc + ms


@dataclass
class Plays:
    """A driver: each poll takes a second and brings one reading of the paste; `before` may interfere."""

    clock: MovedClock
    night: "Night"
    ends_after: int
    dies_after: int | None = None
    leases: list[tuple[int, int]] = field(default_factory=list)
    """Number of the reading, and its lease."""
    second: int = 0

    def poll(self, timeout_s: float) -> list[Any]:
        self.clock.pass_ms(1000)
        self.second += 1
        if self.second == self.dies_after:
            raise KilledError
        if self.second == self.ends_after:
            signal.raise_signal(signal.SIGTERM)
        self.night.n += 1
        extra = self.night.before(self.night.n) or []
        paste = self.night.paste_c
        seen = msgspec.structs.replace(reading(self.night.n, paste, paste), ack=self.night.commands)
        return [*([BOOT] if self.second == 1 else []), *extra, seen]

    def lease(self, re: int, ms: int) -> None:
        self.night.commands += 1  # the node obeys each
        self.leases.append((re, ms))

    def reset_cutout(self) -> None:
        pass


class Night:
    """One record and the runs of a daemon over it."""

    def __init__(self, folder: Path, settings: Settings | None = None) -> None:
        self.path, self.settings = folder / "night.db", settings or stirred()
        self.clock = MovedClock()
        self.boot, self.n, self.paste_c = "boot one", 0, 64.8
        self.before: Any = lambda _n: None
        self.leases: list[tuple[int, int]] = []
        self.commands = 0
        prepare(folder / "night.spool")

    @property
    def record(self) -> Record:
        return Record(self.path)

    def begin(self, seconds: int) -> None:
        """Begin a hold and be killed after `seconds`: the batch of samples that waits is lost."""
        with_hold = Hold(self.settings)
        store = Store.open(self.path)
        daemon, driver = self._daemon(with_hold, store, Plays(self.clock, self, -1, seconds))
        number = store.begin_hold(
            started_utc_ms=daemon.watch.start_utc_ms, config_json=msgspec.json.encode(self.settings).decode(),
            warmer=self.settings.warmer.name, programme=self.settings.programme.name, pace="host", simulated=True,
            version=__version__, boot_id=self.boot, latched=(),
        )  # fmt: skip
        self._die(daemon, number, store, driver)

    def find(self, settings: Settings | None = None) -> Resumed | Left:
        """What the next start would find."""
        return find(self.record, settings or self.settings, Pace.HOST, self.clock, self.boot)

    def go_on(self, seconds: int, *, dies: bool = False, settings: Settings | None = None) -> Resumed:
        """Start again, run for `seconds`, and end by a signal or be killed once more."""
        store = Store.open(self.path)
        found = self.find(settings)
        assert isinstance(found, Resumed), found
        plays = Plays(self.clock, self, -1, seconds) if dies else Plays(self.clock, self, seconds)
        daemon, driver = self._daemon(found.hold, store, plays)
        daemon.watch.go_on(found.hold_ms, found.host_ms, found.row.started_utc_ms, found.up_ms)
        store.resume_hold(found.row.id, found.row.anchor, sampled=found.up_ms is not None)
        jumped = (ClockJump(found.jump_ms),) if abs(found.jump_ms) > JUMP_MS else ()
        if dies:
            self._die(daemon, found.row.id, store, driver, (found.restart, *jumped))
            return found
        first = (clocks(self.clock, self.boot),)
        assert daemon.run(found.row.id, first, resumed=(found.restart, *jumped)) is State.STOPPED
        self.leases += driver.leases
        store.close()
        return found

    def again(self) -> list[tuple[int, int | None, Decision]]:
        """The record put through a fresh hold: number of the input, the lease in the record, the decision now."""
        row = self.record.hold()
        recorded = list(self.record.replay(row.id))
        settings = msgspec.json.decode(row.config_json, type=Settings)
        decided = replay(settings, [(now, event) for now, event, _ in recorded], row.latched)
        return [(k, r[2], d[2]) for k, (r, d) in enumerate(zip(recorded, decided, strict=True))]

    def events(self, kind: str) -> list[Any]:
        return [e for e in self.record.events(1) if e.kind == kind]

    def _daemon(self, hold: Hold, store: Store, driver: Plays) -> tuple[Daemon, Plays]:
        daemon = Daemon(hold, driver, store, self.path.parent / "night.spool", self.clock)
        daemon._think = lambda: None  # a fit comes back when it is done: no two nights would be the same
        return daemon, driver

    def _die(self, daemon: Daemon, number: int, store: Store, driver: Plays, resumed: Any = ()) -> None:
        """Run until the driver raises, as a killed process would: nothing is said, nothing more is written."""
        daemon._break_off = lambda _error: None
        try:
            daemon.run(number, (clocks(self.clock, self.boot),), resumed=resumed)
        except KilledError:
            self.leases += driver.leases
        store._keeper.flush = lambda: None  # closing would write what a killed process can not
        store.close()
