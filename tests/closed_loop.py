"""A hold and a simulated warmer in one process: readings in, leases out, no serial line between."""

import tomllib
from dataclasses import dataclass, field
from typing import Any

import msgspec

from holdctl.events import Decision, Instant, Notice, NoticeKind, Reading
from holdctl.hold import Hold
from holdctl.settings import Room, Settings
from holdsim import PRESETS, Plant, Truth

HOUR = 3600
EVERY_S = 20
"""The truth is looked at this often: it costs more than a step."""


def told(preset: str, *, ambient_c: float = 20.0, programme: str | None = None, **changes: Any) -> Settings:
    """The settings of a preset's owner, in a room at `ambient_c`; `changes` replace whole tables."""
    text = PRESETS[preset].settings_toml(programme_toml=programme)
    settings = msgspec.convert(tomllib.loads(text), Settings)
    return msgspec.structs.replace(settings, room=Room(ambient_c=ambient_c), **changes)


def instant(ms: int) -> Instant:
    return Instant(ms, ms, 1_760_000_000_000 + ms)


def reading(n: int, *temps: Any, relay: bool = False, left_ms: int = 0, cut: bool = False) -> Reading:
    """A node's report number `n`, one second after the one before; it has obeyed the answer to that."""
    return Reading(n % 65536, 1000 * n, temps, 250, relay, left_ms, n % 65536, 0, cut)


@dataclass
class Row:
    """One look at a running hold."""

    t_s: int
    truth: Truth
    decision: Decision
    switch_ons: int


@dataclass
class Loop:
    """A hold that drives a plant, one reading a second."""

    hold: Hold
    plant: Plant
    every_s: int = EVERY_S
    t_s: int = 0
    left_ms: int = 0
    switch_ons: int = 0
    rows: list[Row] = field(default_factory=list)
    notices: list[Notice] = field(default_factory=list)
    credited: list[Truth] = field(default_factory=list)
    """The truth at each look at which the programme's clock had moved since the look before."""
    _credit_ms: int = 0

    def run(self, seconds: int) -> "Loop":
        """Go on for `seconds`."""
        for _ in range(seconds):
            self.second()
        return self

    def second(self) -> Decision:
        """Take one reading, then let the plant follow its lease for a second."""
        temps = [round(temp, 2) for temp in self.plant.readings()]
        event = reading(self.t_s, *temps, relay=self.left_ms > 0, left_ms=self.left_ms)
        task = self.hold.due()
        if task is not None:
            self.hold.step(task(), instant(1000 * self.t_s))
        decision = self.hold.step(event, instant(1000 * self.t_s))
        self.notices += decision.notices
        lease = decision.lease_ms or 0
        self.switch_ons += lease > 0 and self.left_ms == 0
        if self.t_s % self.every_s == 0:
            self._look(decision)
        self.left_ms = max(0, lease - 1000)
        self.plant.step(min(lease, 1000) / 1000)
        self.t_s += 1
        return decision

    def last(self, hours: float) -> list[Row]:
        """The looks of the last hours."""
        return [row for row in self.rows if row.t_s >= self.t_s - hours * HOUR]

    def trips(self) -> list[str]:
        return [notice.name for notice in self.notices if notice.kind is NoticeKind.TRIP]

    def _look(self, decision: Decision) -> None:
        row = Row(self.t_s, self.plant.truth(), decision, self.switch_ons)
        self.rows.append(row)
        if decision.credit_ms > self._credit_ms:
            self.credited.append(row.truth)
        self._credit_ms = decision.credit_ms


def loop(
    preset: str, *, start_c: float, ambient_c: float = 20.0, vessel_c: float | None = None, **kwargs: Any
) -> Loop:
    """A hold of `preset` whose paste is put in at `start_c`."""
    settings = told(preset, ambient_c=ambient_c, **kwargs)
    plant = PRESETS[preset].build(seed=1, ambient_c=ambient_c, start_c=start_c, vessel_c=vessel_c)
    return Loop(Hold(settings), plant)
