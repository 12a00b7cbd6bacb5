"""From a reading to temperatures that control may use: offsets, faults, and jumps that must be confirmed."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import msgspec

from holdctl.events import ProbeFault, Reading
from holdctl.settings import PASTE_PLACES, Place, Probe

JUMP_K = 3.0
"""A change by more than this from one reading to the next (plus 1 K for each second between) is implausible:
even a full-power wall of the smallest warmer moves by less."""

LOWEST_C, HIGHEST_C = -20.0, 150.0
"""No paste, wall or room is outside; a broken sensor often reads far below."""
OLDEST_MS = 3_000
"""An older conversion is no reading (the node itself must call it out of range)."""


class Values(msgspec.Struct, frozen=True):
    """Temperatures by channel after offset, °C. `fault` names the first bad probe; then nothing is usable."""

    seen_c: Mapping[int, float]
    """As read: what limits are checked on."""
    used_c: Mapping[int, float]
    """What control uses: where a jump awaits its second reading, the last confirmed value."""
    doubtful: frozenset[int] = frozenset()
    """Channels on which a jump awaits its second reading: duty may not rise on this one."""
    fault: str = ""


@dataclass(slots=True)
class ProbeSet:
    """The probes of one warmer and their last confirmed values."""

    probes: tuple[Probe, ...]
    _confirmed: dict[int, float] = field(default_factory=dict)
    _pending: dict[int, float] = field(default_factory=dict)

    paste: Probe = field(init=False)
    """The probe whose place the setpoint means: the first one in the paste."""
    wall: Probe | None = field(init=False)
    """The probe at the heated wall, if there is one."""

    def __post_init__(self) -> None:
        self.paste = next(probe for probe in self.probes if probe.place in PASTE_PLACES)
        self.wall = next((probe for probe in self.probes if probe.place is Place.WALL), None)

    def forget(self) -> None:
        """Start anew after a gap: the next values are taken as they come."""
        self._confirmed.clear()
        self._pending.clear()

    def take(self, reading: Reading, dt_s: float) -> Values:
        """Return the values of one reading, `dt_s` after the last."""
        fault = self._fault(reading)
        if fault:
            return Values({}, {}, fault=fault)
        seen = {p.channel: round(float(reading.temps[p.channel - 1]) + p.offset_k, 2) for p in self.probes}
        doubtful = frozenset([c for c, value in seen.items() if not self._plausible(c, value, dt_s)])
        return Values(seen, dict(self._confirmed), doubtful)

    def _plausible(self, channel: int, value: float, dt_s: float) -> bool:
        """Confirm `value`, or keep it pending until a second reading agrees with it."""
        most = JUMP_K + dt_s
        last = self._confirmed.get(channel)
        pending = self._pending.pop(channel, None) if self._pending else None
        if (
            last is None
            or abs(value - last) <= most
            or (pending is not None and abs(value - pending) <= most)
        ):
            self._confirmed[channel] = value
            return True
        self._pending[channel] = value
        return False

    def _fault(self, reading: Reading) -> str:
        if reading.age_ms > OLDEST_MS:
            return f"the node's conversion is {reading.age_ms / 1000:.0f} s old"
        for number, temp in enumerate(reading.temps, start=1):
            if isinstance(temp, float) and LOWEST_C <= temp <= HIGHEST_C:
                continue
            if isinstance(temp, ProbeFault):
                return f"probe {number} ({self._name(number)}) is {_WORDS[temp]}"
            if not LOWEST_C <= temp <= HIGHEST_C:
                return (
                    f"probe {number} ({self._name(number)}) reads {temp:.2f} °C, which nothing here can have"
                )
        for probe in self.probes:
            if probe.channel > len(reading.temps):
                return f"probe {probe.channel} ({self._name(probe.channel)}) is not fitted to the node"
        return ""

    def _name(self, channel: int) -> str:
        probe = next((p for p in self.probes if p.channel == channel), None)
        return "not in the settings" if probe is None else (probe.name or probe.place.value)


_WORDS = {ProbeFault.OPEN: "open", ProbeFault.SHORT: "shorted", ProbeFault.RANGE: "out of range or too old"}
