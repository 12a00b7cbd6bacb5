"""Talking with an emulated node through holdctl's own framing and parser, without a daemon."""

from pathlib import Path

from holdctl.device import messages
from holdctl.device.framing import Splitter, encode
from holdctl.events import NodeBoot, Reading
from tests.firmware.chip import ERASED, HZ, Chip

CLEAR = bytes.fromhex("6BD42E91 6AD52F90".replace(" ", ""))
"""The pattern of two clear cut-outs, as the firmware's documentation gives it."""
CLEARED = CLEAR + ERASED[len(CLEAR) :]
TICK = HZ // 100


class Talk:
    """A chip that has booted with its probes at `temps_c`, and the readings that it has sent since."""

    def __init__(
        self, elf: Path, eeprom: bytes = CLEARED, temps_c: tuple[float, float] = (65.0, 70.0)
    ) -> None:
        self.chip = Chip(elf, eeprom)
        self.chip.temps(*temps_c)
        self.boots: list[NodeBoot] = []
        self.readings: list[Reading] = []
        self._splitter = Splitter()
        self._number = 0

    @property
    def last(self) -> Reading:
        return self.readings[-1]

    @property
    def dropped(self) -> int:
        """Lines of the chip's that were no frames."""
        return self._splitter.dropped.total()

    def run(self, seconds: float) -> None:
        """Let the chip run on and take what it has sent."""
        self.chip.run(seconds)
        data = bytes(self.chip.sent)
        self.chip.sent.clear()
        for body in self._splitter.feed(data):
            word, found = messages.fields(body)
            if word == "hello":
                self.boots.append(messages.hello(found))
            else:
                assert word == "r"
                self.readings.append(messages.reading(found, 2))

    def next_reading(self) -> Reading:
        """Run until the next reading is whole."""
        seen = len(self.readings)
        for _ in range(300):
            self.run(0.01)
            if len(self.readings) > seen:
                return self.last
        raise AssertionError("no reading for 3 s")

    def command(self, body: str, wait_s: float = 0.006) -> int:
        """Send a command, let it arrive, and return the cycle after its last byte."""
        self.chip.feed(encode(body))
        self.run(wait_s)
        return self.chip.cycle

    def lease(self, ms: int, re: int | None = None) -> int:
        """Send a lease that answers the last reading, or another."""
        self._number += 1
        return self.command(f"lease n={self._number} re={self.last.n if re is None else re} ms={ms}")
