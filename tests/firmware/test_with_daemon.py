"""`holdctl run` as a process, an emulated chip at the other end of its line, and a simulated warmer around that."""

import random
import signal
from itertools import pairwise

import pytest

from holdctl.record.query import Record
from holdsim import PRESETS
from holdsim.pty_line import PtyLine
from tests.daemon.rig import daemon
from tests.firmware.chip import HZ
from tests.firmware.rig import Rig
from tests.firmware.talk import TICK

PRESET = "mat-box"
SECONDS = 3600


class Evening:
    """A rig and the daemon on it."""

    def __init__(self, elf, folder, *, start_c, seed=1):
        self.record = folder / "night.db"
        self.line = PtyLine()
        self.rig = Rig(elf, self.line, PRESET, start_c=start_c, seed=seed)
        toml = PRESETS[PRESET].settings_toml()
        self.host = daemon(folder, toml, self.record, "--port", self.line.path, "--pace", "device")

    def end(self, number):
        self.host.send_signal(number)
        return self.host.wait(20)

    def close(self):
        self.host.kill()
        self.host.wait()
        self.line.close()


@pytest.fixture(scope="module")
def hour(elf, tmp_path_factory):
    evening = Evening(elf, tmp_path_factory.mktemp("hour"), start_c=60.0)
    try:
        evening.rig.await_host()
        evening.rig.run(SECONDS)
        evening.code = evening.end(signal.SIGTERM)
        yield evening
    finally:
        evening.close()


def test_the_record_shows_the_temperatures_that_the_emulated_converter_saw(hour):
    record = Record(hour.record)
    rows = record.samples(record.hold().id)
    assert len(rows) >= SECONDS - 5
    print(rows[0])


def lease_time(leases, end):
    """Cycles for which leases stood, each replacing the one before."""
    ends = [*(lease.cycle for lease in leases[1:]), end]
    return sum(max(0, min(lease.end, until) - lease.cycle) for lease, until in zip(leases, ends, strict=True))
