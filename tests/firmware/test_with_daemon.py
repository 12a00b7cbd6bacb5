"""`holdctl run` as a process, an emulated chip at the other end of its line, and a simulated warmer around that."""

import random
import signal
import subprocess
import sys
from contextlib import suppress
from itertools import pairwise

import pytest

from holdctl.events import State
from holdctl.record.query import Record
from holdsim import PRESETS
from holdsim.pty_line import PtyLine
from tests.daemon.rig import daemon
from tests.firmware.chip import ERASED, HZ
from tests.firmware.rig import Rig
from tests.firmware.talk import CLEARED, TICK

PRESET = "stirred-kettle"
SECONDS = 1200
MS = HZ // 1000
SLACK = MS // 2
"""From the tick to the pin, and how far the cycle of a lease's last byte is known."""


class Evening:
    """A rig and the daemon on it."""

    def __init__(self, elf, folder, *, start_c, **options):
        self.record_path = folder / "night.db"
        self.line = PtyLine()
        self.rig = Rig(elf, self.line, PRESET, start_c=start_c, **options)
        self.host = daemon(
            folder,
            PRESETS[PRESET].settings_toml(),
            self.record_path,
            "--port",
            self.line.path,
            "--pace",
            "device",
        )

    @property
    def record(self):
        return Record(self.record_path)

    def stop(self):
        """Ask the daemon to stop and play on until it has; return its exit code."""
        self.host.send_signal(signal.SIGTERM)
        for _ in range(10):
            if self.host.poll() is None:
                self.rig.second()
                self.rig.hear(1.0)
        return self.host.wait(10)

    def close(self):
        self.host.kill()
        self.host.wait()
        self.line.close()


@pytest.fixture(scope="module")
def evening(elf, tmp_path_factory):
    made = Evening(elf, tmp_path_factory.mktemp("evening"), start_c=65.0)
    try:
        made.rig.await_host()
        made.rig.run(SECONDS)
        made.code = made.stop()
        yield made
    finally:
        made.close()


def test_the_daemon_keeps_the_paste_at_its_setpoint_through_the_emulated_node(evening):
    assert evening.code == 0
    assert evening.record.hold(1).state is State.STOPPED
    assert evening.rig.true[-1][0] == pytest.approx(65.0, abs=0.1)
    assert not [event for event in evening.record.events(1) if event.kind in ("trip", "alarm")]


def test_the_record_shows_the_temperatures_of_the_warmer_within_the_converters_noise(evening):
    samples = evening.record.samples(1)[:SECONDS]
    assert len(samples) == SECONDS
    # A reading is the mean of the second before it, in which the rig's plant stands still.
    pairs = [(s.reading.temps, true) for s, true in zip(samples[1:], evening.rig.true, strict=False)]
    for probe in (0, 1):
        off = [seen[probe] - true[probe] for seen, true in pairs]
        print(f"probe {probe + 1}: worst {max(map(abs, off)):.3f} K, mean {sum(off) / len(off):+.4f} K")
        assert max(map(abs, off)) < 0.06
        assert abs(sum(off)) / len(off) < 0.01


def test_the_relays_pin_was_on_for_the_time_leased_and_never_without_a_lease(evening):
    chip, leases = evening.rig.chip, evening.rig.leases
    offs = sum(1 for _, level in chip.edges if not level)
    ends = [*(lease.cycle for lease in leases[1:]), chip.cycle]
    leased = sum(min(lease.end, until) - lease.cycle for lease, until in zip(leases, ends, strict=True))
    on = chip.on_time(0, chip.cycle)
    print(
        f"{len(leases)} leases of {leased / HZ:.3f} s; pin on for {on / HZ:.3f} s, switched off {offs} times"
    )
    assert offs >= 5
    assert leased - offs * (TICK + SLACK) <= on <= leased + offs * SLACK
    for (up, level), (down, _) in pairwise(chip.edges):
        if level:
            standing = [
                lease for lease in leases if up - SLACK <= lease.cycle < down or lease.end > up >= lease.cycle
            ]
            assert down <= max(lease.end for lease in standing) + SLACK


def test_the_record_tells_what_was_leased(evening):
    told = [sample.decision.lease_ms for sample in evening.record.samples(1)]
    assert told[:SECONDS] == [lease.ms for lease in evening.rig.leases][:SECONDS]


def test_a_new_nodes_cutout_trips_the_hold_and_is_cleared_by_the_bakers_reset(elf, tmp_path):
    made = Evening(elf, tmp_path, start_c=62.0, eeprom=ERASED)
    try:
        made.rig.await_host()
        made.rig.run(5)
        assert made.rig.chip.edges == []
        assert "node-cutout" in [event.name for event in made.record.events(1) if event.kind == "trip"]
        words = [sys.executable, "-m", "holdctl", "reset", "node-cutout", "--record", str(made.record_path)]
        with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.STDOUT) as asked:
            while asked.poll() is None:
                with suppress(subprocess.TimeoutExpired):
                    asked.wait(0.2)  # the command needs a second of its own to start
                made.rig.run(1)
            said = asked.stdout.read()
        assert asked.returncode == 0, said
        made.rig.run(2)
        assert made.rig.chip.eeprom == CLEARED
        assert not made.record.samples(1)[-1].reading.cut
    finally:
        made.close()


def killed_during_a_lease(elf, folder, seed):
    """Kill the daemon with SIGKILL while the relay is on; return the cycles of that and of off, and the lease."""
    rng = random.Random(seed)
    made = Evening(elf, folder, start_c=55.0, seed=seed)
    try:
        made.rig.await_host()
        made.rig.run(rng.randrange(3, 8))
        chip, lease = made.rig.chip, made.rig.leases[-1]
        chip.run_to(lease.cycle + rng.randrange(10 * MS, min(lease.ms, 900) * MS))
        assert chip.relay == 1
        made.host.kill()
        made.host.wait()
        killed = chip.cycle
        chip.run(8.0)
        off, level = chip.edges[-1]
        assert level == 0
        assert killed < off <= lease.end + SLACK
        assert off >= lease.end - TICK
        return killed, off, lease
    finally:
        made.close()


@pytest.mark.parametrize("seed", range(3))
def test_kill_9_during_a_lease_leaves_the_pin_low_by_the_leases_end(elf, tmp_path, seed):
    killed, off, lease = killed_during_a_lease(elf, tmp_path, seed)
    print(f"killed: the pin stayed on for {(off - killed) / MS:.0f} ms more, of a lease of {lease.ms} ms")


@pytest.mark.soak
@pytest.mark.timeout(3600)
def test_kill_9_200_times_leaves_the_pin_low_by_the_leases_end_each_time(elf, tmp_path):
    more, early = [], []
    for seed in range(200):
        folder = tmp_path / str(seed)
        folder.mkdir()
        killed, off, lease = killed_during_a_lease(elf, folder, seed)
        more.append(off - killed)
        early.append(lease.end - off)
    print(
        f"{len(more)} kills: the pin stayed on for {min(more) / MS:.0f} to {max(more) / MS:.0f} ms more, off "
        f"{min(early) / MS:.1f} to {max(early) / MS:.1f} ms before the lease's end"
    )
