"""Real daemons that start on what an earlier one has left: stopped and woken, on bad records, beside one another."""

import os
import resource
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest

from holdctl.clock import SystemClock
from holdctl.record.files import lock_file
from holdctl.record.query import Record
from holdsim.serve import Service
from tests.daemon.conftest import Bench, EnoughSeenError
from tests.daemon.nursery import shared
from tests.daemon.rig import PLAIN_RIG, environment, holdctl


def settings_file(bench: Bench, text: str = PLAIN_RIG):
    path = bench.folder / "holdctl.toml"
    path.write_text(text, "utf-8")
    return path


def again(bench: Bench, *more: str, **options) -> subprocess.CompletedProcess[str]:
    """Start once more on the same port, to its end."""
    path = settings_file(bench)
    return holdctl(
        "run", "--config", str(path), "--record", str(bench.record_path), "--port", str(bench.line.path), "--pace",
        "device", *more, **options,
    )  # fmt: skip


def left_open(bench: Bench, seconds: int = 40) -> None:
    """Leave a hold open: run a daemon for some simulated seconds, and kill it."""
    host = bench.start()

    def kill(_second: int) -> None:
        if len(bench.leases) >= seconds:
            host.kill()
            host.wait()
            raise EnoughSeenError

    bench.run(seconds + 5, kill)
    bench.line.host_is_gone()


def refused(bench: Bench, done: subprocess.CompletedProcess[str], obeyed: int) -> str:
    """Nothing was leased, and one sentence says what to do."""
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert bench.node.obeyed == obeyed
    last = done.stderr.strip().splitlines()[-1]
    assert last.startswith("holdctl: ")
    return last


# Stopped and woken ----------------------------------------------------------------------------------------------


def stopped_for(bench: Bench, seconds: int) -> list[str]:
    """Stop a daemon in real time, wake it, and return what it said."""
    path = settings_file(bench)
    bench.plant.paste = bench.plant.wall = 64.0
    log = bench.folder / "daemon.log"
    order = ("run", "--config", str(path), "--record", str(bench.record_path), "--port", str(bench.line.path))
    host = shared().start(order, log, log)
    bench.daemons.append(host)
    stops = 2
    woken = stops + seconds

    def second(tick: int) -> None:
        bench.leases.append(bench.node.left_ms)
        if tick == stops:
            host.send_signal(signal.SIGSTOP)
        if tick == woken:
            host.send_signal(signal.SIGCONT)

    Service(bench.node, bench.line, SystemClock(), second).paced(woken + 3, speed=1.0)
    assert not any(bench.leases[woken:]), "what had waited was answered as if it were fresh"
    host.kill()
    return [e.name for e in bench.record.events(1)]


def test_a_daemon_stopped_and_woken_leases_nothing_on_readings_that_waited(bench):
    said = stopped_for(bench, 4)
    assert said.count("daemon-late") == 1
    assert "late" in said
    assert any(bench.leases), "a relay that was never on proves little"


@pytest.mark.soak
def test_a_daemon_stopped_for_ten_seconds_is_judged_as_interrupted(bench):
    said = stopped_for(bench, 10)
    assert said.count("daemon-late") == 1


# On bad records -------------------------------------------------------------------------------------------------


def test_a_corrupted_record_starts_nothing_and_says_what_to_do(bench):
    left_open(bench)
    obeyed = bench.node.obeyed
    with closing(sqlite3.connect(bench.record_path)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    data = bytearray(bench.record_path.read_bytes())
    page = 4096
    for at in range(page, len(data), page):
        data[at : at + 64] = os.urandom(64)
    bench.record_path.write_bytes(data)
    assert "damaged" in refused(bench, again(bench), obeyed)


def test_rows_that_no_check_of_the_file_finds_damaged_are_found_when_it_is_followed(bench):
    left_open(bench, 60)
    obeyed = bench.node.obeyed
    with closing(sqlite3.connect(bench.record_path)) as connection, connection:
        done = connection.execute("UPDATE events SET detail = '{}' WHERE kind = 'boot'")  # of no node at all
    assert done.rowcount >= 1
    assert "damaged" in refused(bench, again(bench), obeyed)


@pytest.mark.skipif(os.getuid() == 0, reason="root may write everywhere")
def test_a_read_only_folder_starts_nothing_and_says_what_to_do(bench):
    left_open(bench)
    obeyed = bench.node.obeyed
    bench.folder.chmod(0o500)
    try:
        assert "permissions" in refused(bench, again(bench), obeyed)
    finally:
        bench.folder.chmod(0o700)


def test_a_lock_that_cannot_be_written_starts_nothing_and_says_what_to_do(bench):
    """What a read-only folder does, for root too."""
    left_open(bench)
    obeyed = bench.node.obeyed
    lock_file(bench.record_path).unlink()
    lock_file(bench.record_path).mkdir()
    assert "--record" in refused(bench, again(bench), obeyed)


# Beside one another ---------------------------------------------------------------------------------------------


def test_a_second_daemon_is_refused_on_the_same_record_and_on_the_same_port_with_another(bench):
    bench.start()
    said = []

    def second(second: int) -> None:
        if second == 5:
            said.append(again(bench, "--record", str(bench.record_path)))
            said.append(again(bench, "--record", str(bench.folder / "other.db")))

    bench.run(10, second, patience=20.0)
    same_record, same_port = said
    assert "Another holdctl already writes" in same_record.stderr
    assert "is in use by another program" in same_port.stderr
    assert (same_record.returncode, same_port.returncode) == (1, 1)
    assert len(bench.record.holds()) == 1


def test_a_refused_second_daemon_closes_no_hold_that_was_left_open(bench, tmp_path):
    """The port is taken first: a hold is not given up for one that can't begin."""
    left_open(bench)
    done = holdctl(
        "run", "--config", str(settings_file(bench)), "--record", str(bench.record_path), "--port",
        str(tmp_path / "no such port"), "--pace", "device",
    )  # fmt: skip
    assert done.returncode == 1
    assert Record(bench.record_path).hold().state is None


# In the background ----------------------------------------------------------------------------------------------


def test_start_says_that_a_hold_goes_on_and_under_which_number(bench):
    left_open(bench)
    path = settings_file(bench)
    command = [
        sys.executable, "-m", "holdctl", "start", "--json", "--config", str(path), "--record", str(bench.record_path),
        "--port", str(bench.line.path), "--pace", "device",
    ]  # fmt: skip
    started = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment()
    )
    try:
        bench.run(200, lambda _s: _enough(started), patience=1.0)
        out, err = started.communicate(timeout=30)
    finally:
        pid = bench.record.writer_pid()
        if pid:
            os.kill(pid, signal.SIGKILL)
    assert started.returncode == 0, err
    assert '"hold": 1' in out
    assert "Started again after" in out
    assert len(bench.record.holds()) == 1


def _enough(process: subprocess.Popen[str]) -> None:
    if process.poll() is not None:
        raise EnoughSeenError


# With a full disk -----------------------------------------------------------------------------------------------


def _no_room() -> None:
    resource.setrlimit(resource.RLIMIT_FSIZE, (2048, 2048))


def test_a_disk_without_room_at_the_restart_never_ends_in_a_traceback(bench):
    left_open(bench)
    obeyed = bench.node.obeyed
    done = again(bench, preexec_fn=_no_room)
    refused(bench, done, obeyed)
    with closing(sqlite3.connect(bench.record_path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    assert Record(bench.record_path).hold().state is None
