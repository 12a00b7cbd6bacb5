"""Invented nights written into real records, for the screen to show."""

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from holdctl.events import (
    Decision,
    Event,
    Forecast,
    Instant,
    Notice,
    NoticeKind,
    Reading,
    Request,
    RequestKind,
    State,
)
from holdctl.hold import Hold
from holdctl.record.store import Store
from holdctl.settings import Settings
from holdsim.presets import PRESETS

START_UTC_MS = 1_767_214_800_000  # 2025-12-31 21:00 UTC, an invented evening

PROGRAMME = """\
[programme]
name = "rye scald overnight"
every_part = [62, 67]

[[programme.step]]
prompt = "stir until the paste reads 66 °C, add malt, close the lid"
wait = "45 min"
unanswered = "keep-waiting"

[[programme.step]]
to = 65
for = "4 h"

[programme.after]
then = "hot-holding"
longest = "8 h"
"""


HOLD = """\
[programme]
name = "rye scald"
every_part = [62, 67]

[[programme.step]]
to = 65
for = "4 h"
"""


class FakeClock:
    """Host's clocks as a test sets them; sleeping moves them on."""

    def __init__(self, utc_ms: int = START_UTC_MS) -> None:
        self.utc, self.mono = utc_ms, 5_000_000

    def monotonic_ms(self) -> int:
        return self.mono

    def utc_ms(self) -> int:
        return self.utc

    def sleep(self, seconds: float) -> None:
        self.advance(seconds)

    def advance(self, seconds: float) -> None:
        self.utc += round(seconds * 1000)
        self.mono += round(seconds * 1000)


def settings(preset: str = "mat-box", programme: str = PROGRAMME, **changes: Any) -> Settings:
    """Return a preset's settings with top-level values changed."""
    data = tomllib.loads(PRESETS[preset].settings_toml(programme_toml=programme))
    return msgspec.convert({**data, **changes}, Settings)


def flicker(temp: Any, k: int) -> Any:
    """Return a temperature as a probe with noise gives it: too little to be seen on the screen."""
    return round(temp + 0.01 * (k % 2), 2) if isinstance(temp, float) else temp


class Night:
    """One hold being written: tell it what happens, the record and the clock follow."""

    def __init__(self, path: Path, told: Settings, *, pace: str = "host", simulated: bool = False) -> None:
        self.path = path
        self.store = Store.open(path, batch_ms=600_000)  # whoever looks at it flushes it
        self.clock = FakeClock()
        self.hold, self.second = Hold(told, self.store.latched_trips()), 0
        self.n = 0
        self.relay = False
        self.feedback: bool | None = None
        self.deviations = (0.11, 0.21, 0.28, 0.08)
        """Of wall, coldest, hottest and mean, K, in place of the hold's own."""
        self.id = self.store.begin_hold(
            started_utc_ms=START_UTC_MS,
            config_json=msgspec.json.encode(told).decode(),
            warmer=told.warmer.name,
            programme=told.programme.name,
            pace=pace,
            simulated=simulated,
            version="0.1.0",
            boot_id="boot-1",
            latched=(),
        )

    def now(self) -> Instant:
        ms = self.second * 1000
        return Instant(ms, ms, START_UTC_MS + ms)

    def event(self, event: Event) -> None:
        """Let something else than a reading happen now."""
        decision = self.hold.step(event, self.now())
        self._say(decision.notices)
        self.store.event(self.now(), event)

    def ask(self, kind: RequestKind, subject: str = "", by: str = "the baker") -> None:
        self.event(Request(kind, by, subject))

    def read(self, temps: tuple[Any, ...], seconds: int = 1, cut: bool = False) -> int:
        """Let a reading come; return the lease given on it."""
        reading = Reading(
            self.n % 65536,
            self.second * 1000,
            temps,
            100,
            self.relay,
            0,
            self.n % 65536,
            0,
            cut,
            self.feedback,
        )
        decision = self.hold.step(reading, self.now())
        self.store.sample(self.now(), reading, self._doubted(decision))
        self._say(decision.notices)
        self.n += 1
        self.relay = (decision.lease_ms or 0) > 0
        self.wait(seconds)
        return decision.lease_ms or 0

    def tell(self, kind: NoticeKind, name: str, text: str = "", **detail: Any) -> None:
        """Let the hold say something, as if it had found it out itself."""
        self._say((Notice(kind, name, text, detail),))

    def foretell(self, forecast: Forecast) -> None:
        self.tell(NoticeKind.FORECAST, "forecast", "a forecast", **msgspec.structs.asdict(forecast))

    def _doubted(self, decision: Decision) -> Decision:
        if decision.estimate is None:
            return decision
        wall, coldest, hottest, mean = self.deviations
        doubt = {"wall_sd_k": wall, "coldest_sd_k": coldest, "hottest_sd_k": hottest, "mean_sd_k": mean}
        return msgspec.structs.replace(decision, estimate=msgspec.structs.replace(decision.estimate, **doubt))

    def steady(self, seconds: int, paste_c: Any = 65.0, wall_c: Any = 66.2, every: int = 1) -> None:
        """Let the same reading come `every` so many seconds, give or take a step of a probe that is alive."""
        for k in range(seconds // every):
            self.read(tuple(flicker(temp, k) for temp in (paste_c, wall_c)), every)

    def wait(self, seconds: int) -> None:
        """Let time pass without a reading."""
        self.second += seconds
        self.clock.utc = START_UTC_MS + self.second * 1000
        self.clock.mono = 5_000_000 + self.second * 1000

    def end(self) -> None:
        self.store.end_hold(self.now(), self.hold.state)
        self.store.close()

    def break_off(self, reason: str) -> None:
        self._say(self.hold.abort(reason).notices)
        assert self.hold.state is State.ABORTED
        self.end()

    def _say(self, notices: tuple[Notice, ...]) -> None:
        for notice in notices:
            self.store.notice(self.now(), notice)


def simulate(
    night: Night, seconds: int, preset: str = "mat-box", start_c: float = 82.0,
    each: Callable[[Night, Any], None] = lambda _night, _plant: None, plant: Any = None,
) -> Any:  # fmt: skip
    """Close the loop with a simulated warmer for so many seconds; return the plant."""
    plant = plant or PRESETS[preset].build(seed=3, ambient_c=20.0, start_c=start_c)
    for _ in range(seconds):
        each(night, plant)
        lease_ms = night.read(tuple(round(x, 2) for x in plant.readings()))
        plant.step(min(lease_ms / 1000, 1.0), 1.0)
    night.store.flush()
    return plant


def stirring(at_s: int, goal_c: float = 66.0) -> Callable[[Night, Any], None]:
    """Return a baker who stirs from `at_s` until the paste is down to `goal_c`, then answers the prompt."""

    def each(night: Night, plant: Any) -> None:
        if night.second >= at_s and night.hold.progress.index == 0:
            plant.set_lid("off")
            plant.stir()
            if plant.truth().mean_c <= goal_c:
                plant.set_lid("on")
                night.ask(RequestKind.NEXT)

    return each
