"""A simulated node: the behaviour that docs/node-protocol.md asks of a node, on simulated time. No I/O.

One `tick` is one second: the plant moves on with the relay as leased, then the node reports. What a host
sends in between goes through `receive`. Nothing here is shared with the host's side but the framing.
"""

from collections import deque
from dataclasses import dataclass, field
from typing import Protocol

from holdctl.device.framing import Splitter, encode

MAX_LEASE_MS = 5000
FIRMWARE = "holdsim-1"
TICK_MS = 1000
_CONVERSION_AGE_MS = 250
_RESETS_PER_BOOT = 3
_RESET_MARGIN_K = 5.0
_COLD_CAUSES = ("power", "brownout")


class Warmer(Protocol):
    """What the node needs of a plant."""

    def step(self, on_s: float, dt_s: float = 1.0) -> None:
        """Move on by `dt_s`, the heater being on for the first `on_s` of it."""

    def readings(self) -> tuple[float, ...]:
        """Return what each fitted probe says, °C."""


@dataclass
class Faults:
    """What a test may break; nothing is broken at first."""

    silent: bool = False
    """Hangs the talk: no reading goes out, nothing is obeyed; lease and cut-outs go on."""
    probes: dict[int, str] = field(default_factory=dict)
    """Channel (from 1) to `open`, `short` or `range`."""
    rubbish: bytes = b""
    """Sent before each reading."""
    welded: bool = False
    """The relay's contact stays closed whatever the node drives."""


class SimulatedNode:
    """The node: `cutouts_c` in °C for each fitted probe, `feedback` if the contact's voltage is seen."""

    def __init__(
        self,
        plant: Warmer,
        cutouts_c: tuple[float | None, ...] | None = None,
        *,
        feedback: bool = False,
    ) -> None:
        self.plant = plant
        self.faults = Faults()
        self.probes = len(plant.readings())
        self.cutouts_c = cutouts_c or (None,) * self.probes
        self.feedback = feedback
        self.latched: set[int] = set()
        """Channels whose cut-out has gone, kept through reboots."""
        self.ticks = 0
        """Seconds since the simulation began, whatever the node's boots."""
        self.obeyed = 0
        """Leases obeyed since the simulation began."""
        self._boot("power", sensors_ready=True)

    def _boot(self, cause: str, *, sensors_ready: bool) -> None:
        self.cause = cause
        self.up_ms = 0
        self.left_ms = 0
        self.ack = 0
        self.bad = 0
        self.answered = True
        """Whether the host has answered the latest reading."""
        self._n = 65535  # so that the first reading is 0
        self._recent: deque[int] = deque(maxlen=3)
        self._resets = 0
        self._splitter = Splitter()
        self._sensors_ready = sensors_ready
        self._temps: tuple[float | str, ...] = ("range",) * self.probes
        self._probes_valid = False
        if sensors_ready:
            self._convert()

    def hello(self) -> bytes:
        """Return the node's introduction."""
        limits = " ".join(
            f"cut{i}={'none' if c is None else f'{c:.2f}'}" for i, c in enumerate(self.cutouts_c, 1)
        )
        return encode(
            f"hello proto=1 fw={FIRMWARE} probes={self.probes} maxlease={MAX_LEASE_MS} {limits}"
            f" cause={self.cause}"
        )

    def reboot(self, cause: str = "reset") -> bytes:
        """Boot again, relay off, latches kept; return the hello that a boot sends."""
        self._boot(cause, sensors_ready=cause not in _COLD_CAUSES)
        return b"" if self.faults.silent else self.hello()

    def tick(self) -> bytes:
        """Pass one second; return what the node sends at its end: a reading, or nothing while silent."""
        on_ms = min(self.left_ms, TICK_MS) if self._may_drive() else 0
        self.plant.step(TICK_MS / 1000 if self.faults.welded else on_ms / 1000, TICK_MS / 1000)
        self.left_ms = max(0, self.left_ms - TICK_MS)
        self.ticks += 1
        self.up_ms = (self.up_ms + TICK_MS) % 2**32
        self._convert()
        self._cut_out()
        self._n = (self._n + 1) % 65536
        self._recent.append(self._n)
        self.answered = False
        return b"" if self.faults.silent else self.faults.rubbish + self._report()

    def receive(self, data: bytes) -> bytes:
        """Take bytes from the host; return what the node answers at once."""
        if self.faults.silent:
            return b""
        dropped = self._splitter.dropped.total()
        replies = b"".join([self._obey(body) for body in self._splitter.feed(data)])
        self.bad = (self.bad + self._splitter.dropped.total() - dropped) % 65536
        return replies

    @property
    def relay(self) -> bool:
        """Whether the node drives its relay now."""
        return self.left_ms > 0 and self._may_drive()

    def _convert(self) -> None:
        """Take each channel's temperature, or the word for what is wrong with it."""
        if self._sensors_ready:
            words = self.faults.probes
            self._temps = tuple([words.get(i, temp) for i, temp in enumerate(self.plant.readings(), 1)])
            self._probes_valid = not words
        self._sensors_ready = True

    def _may_drive(self) -> bool:
        return self._probes_valid and not self.latched

    def _cut_out(self) -> None:
        for channel, limit in enumerate(self.cutouts_c, 1):
            temp = self._temps[channel - 1]
            if limit is not None and isinstance(temp, float) and temp >= limit:
                self.latched.add(channel)

    def _report(self) -> bytes:
        relay = self.relay
        temps = " ".join([_temp(i, temp) for i, temp in enumerate(self._temps, 1)])
        body = (
            f"r n={self._n} up={self.up_ms} {temps} age={_CONVERSION_AGE_MS} relay={relay:d}"
            f" left={self.left_ms} ack={self.ack} bad={self.bad} cut={bool(self.latched):d}"
        )
        if self.feedback:
            body += f" fb={relay or self.faults.welded:d}"
        return encode(body)

    def _obey(self, body: str) -> bytes:
        word, _, rest = body.partition(" ")
        if body == "hello?":
            self.answered = True  # a host that asks has thrown the reading away and will not answer it
            return self.hello()
        try:
            fields = dict(_field(pair) for pair in rest.split(" "))
            done = {"lease": self._lease, "reset-cutout": self._reset_cutout}[word](fields)
        except (KeyError, ValueError):
            done = False
        self.bad = (self.bad + (not done)) % 65536
        return b""

    def _lease(self, fields: dict[str, int]) -> bool:
        number, re, ms = fields["n"], fields["re"], fields["ms"]
        self.answered = self.answered or re == self._n
        if not 1 <= number <= 65535 or not 0 <= ms <= MAX_LEASE_MS or (ms and re not in self._recent):
            return False
        self.left_ms = ms
        self.ack = number
        self.obeyed += 1
        return True

    def _reset_cutout(self, fields: dict[str, int]) -> bool:
        cool = all(
            not isinstance(temp, str) and (limit is None or temp <= limit - _RESET_MARGIN_K)
            for temp, limit in zip(self._temps, self.cutouts_c, strict=True)
        )
        if not cool or self._resets >= _RESETS_PER_BOOT or not 1 <= fields["n"] <= 65535:
            return False
        self._resets += 1
        self.latched.clear()
        self.left_ms = 0
        self.ack = fields["n"]
        return True


def _temp(channel: int, temp: float | str) -> str:
    return f"t{channel}={temp}" if isinstance(temp, str) else f"t{channel}={temp:.2f}"


def _field(pair: str) -> tuple[str, int]:
    key, text = pair.split("=")
    if not text.isdecimal():
        raise ValueError(pair)
    return key, int(text)
