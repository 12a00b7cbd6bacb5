"""The heartbeat file: whole or not at all, and its age by the clock that nobody sets."""

import json
import os
import stat

import msgspec
import pytest

from holdctl.clock import SystemClock, boot_id
from holdctl.daemon.heartbeat import Heartbeat, heartbeat_file, read, write
from holdctl.errors import JobError
from tests.daemon.rig import holdctl

BEAT = Heartbeat(1_760_000_000_000, 500_000, "boot-1", 1, 3, "running", "running", ("spool",), ("spool",))


def now(**changes):
    clock = SystemClock()
    made = msgspec.structs.replace(
        BEAT, utc_ms=clock.utc_ms(), boot_ms=clock.monotonic_ms(), boot_id=boot_id()
    )
    return msgspec.structs.replace(made, **changes)


def test_it_is_read_as_written_and_is_its_owners_alone(tmp_path):
    path = heartbeat_file(tmp_path / "a.db")
    assert read(path) is None
    assert write(path, BEAT) == ""
    assert read(path) == BEAT
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [path]


def test_a_disk_that_fails_halfway_leaves_the_old_one(tmp_path, monkeypatch):
    path = heartbeat_file(tmp_path / "a.db")
    write(path, BEAT)

    def full(_fd):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    assert "No space left" in write(path, msgspec.structs.replace(BEAT, hold=4))
    assert read(path) == BEAT
    assert list(tmp_path.iterdir()) == [path]


def test_its_age_is_that_of_the_boot_clock_whatever_the_wall_clock_says():
    assert BEAT.age_ms(0, 560_000, "boot-1") == 60_000
    assert BEAT.age_ms(BEAT.utc_ms + 10**9, 500_000, "boot-1") == 0


def test_after_another_boot_it_has_no_age():
    assert BEAT.age_ms(BEAT.utc_ms, 1000, "boot-2") is None


def test_where_the_system_has_no_boot_id_the_wall_clock_counts():
    assert BEAT.age_ms(BEAT.utc_ms + 5000, 0, "") == 5000


@pytest.mark.parametrize("text", ["", "{", '{"hold": "x"}'])
def test_a_file_that_is_no_heartbeat_is_a_sentence(tmp_path, text):
    path = heartbeat_file(tmp_path / "a.db")
    path.write_text(text, "utf-8")
    with pytest.raises(JobError, match="can't be read"):
        read(path)


def ask(tmp_path, *arguments):
    done = holdctl("alive", "--record", str(tmp_path / "a.db"), "--json", *arguments)
    return done.returncode, json.loads(done.stdout)


def test_a_watcher_learns_by_the_exit_code_whether_the_hold_lives(tmp_path):
    path = heartbeat_file(tmp_path / "a.db")
    write(path, now())
    code, told = ask(tmp_path)
    assert (code, told["alive"], told["unacknowledged"]) == (0, True, ["spool"])
    assert ask(tmp_path, "--alarms")[0] == 1
    old = SystemClock().monotonic_ms() - 200_000
    write(path, now(boot_ms=old))
    assert ask(tmp_path)[0] == 1
    assert ask(tmp_path, "--max-age", "10 min")[0] == 0
    write(path, now(boot_id="another"))
    assert ask(tmp_path)[0] == 1
    write(path, now(state="aborted"))
    assert ask(tmp_path)[0] == 1
    write(path, now(boot_ms=old, ended=True))
    assert ask(tmp_path)[0] == 0


def test_a_hold_that_never_was_gives_no_sign(tmp_path):
    done = holdctl("alive", "--record", str(tmp_path / "a.db"))
    assert done.returncode == 1
    assert "no sign of life" in done.stderr
    assert holdctl("alive", "--max-age", "soon", "--record", str(tmp_path / "a.db")).returncode == 2
