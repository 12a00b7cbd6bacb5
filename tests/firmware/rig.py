"""An emulated node with a simulated warmer around it, on a pseudo-terminal for a real daemon."""

from dataclasses import dataclass, replace
from pathlib import Path

from holdctl.device.framing import Splitter
from holdctl.device.messages import fields
from holdsim import PRESETS
from holdsim.pty_line import PtyLine
from tests.firmware.chip import HZ, Chip
from tests.firmware.talk import CLEARED

_BYTE = HZ // 11_520


@dataclass(frozen=True)
class Lease:
    """A lease and the cycle at which its last byte reached the chip."""

    cycle: int
    ms: int

    @property
    def end(self) -> int:
        return self.cycle + self.ms * HZ // 1000


class Rig:
    """One chip in lockstep with its host: each reading waits for its lease; the plant follows the relay's pin."""

    def __init__(
        self, elf: Path, line: PtyLine, preset: str, *, start_c: float, seed: int = 1, eeprom: bytes = CLEARED
    ) -> None:
        # Thermometers without noise or steps of their own: both come from the converter here.
        probes = tuple(replace(spec, resolution_k=1e-4, noise_k=0.0) for spec in PRESETS[preset].probes)
        self.plant = replace(PRESETS[preset], probes=probes).build(start_c=start_c, seed=seed)
        self.chip = Chip(elf, eeprom, seed=seed)
        self.chip.temps(*self.plant.readings())
        self.leases: list[Lease] = []
        self.true: list[tuple[float, ...]] = []
        """The plant's readings in each second, °C."""
        self._line = line
        self._splitter = Splitter()
        self._answered = False
        self._done = 0
        self._n = -1

    def await_host(self, patience_s: float = 20.0) -> None:
        """Let the chip boot, then wait for the host's first words, its time standing still, and pass them on."""
        self.chip.run(0.05)
        data = self._line.read(patience_s)
        assert data, "the host says nothing"
        self._pass_on(data)

    def run(self, seconds: int, patience_s: float = 10.0) -> None:
        """Play that many readings; each has to be answered within `patience_s` of real time."""
        for _ in range(seconds):
            self.second()
            self._answered = False
            while not self._answered:
                data = self._line.read(patience_s)
                assert data, f"reading {self._n} is not answered"
                self._pass_on(data)

    def hear(self, wait_s: float) -> None:
        """Pass on what the host says within `wait_s` of real time, if anything."""
        data = self._line.read(wait_s)
        if data:
            self._pass_on(data)

    def second(self) -> None:
        """Run up to and with the next reading, and let the plant follow."""
        reported = False
        self.chip.run(0.96)
        while not reported:
            self.chip.run(0.005)
            for line in self.chip.lines():
                self._line.write(line)
                if line.startswith(b"$r "):
                    reported = True
                    self._n = int(fields(line[1:-7].decode())[1]["n"])
        now = self.chip.cycle
        length_s = (now - self._done) / HZ
        self.plant.step(min(length_s, self.chip.on_time(self._done, now) / HZ), length_s)
        self._done = now
        self.chip.temps(*self.plant.readings())
        self.true.append(self.plant.readings())

    def _pass_on(self, data: bytes) -> None:
        for body in self._splitter.feed(data):
            word, found = fields(body)
            if word == "lease":
                self.leases.append(Lease(self.chip.cycle + len(data) * _BYTE, int(found["ms"])))
            # A host that asks has thrown the reading away and will not answer it.
            self._answered = self._answered or word == "hello?" or int(found.get("re", -1)) == self._n
        self.chip.feed(data)
