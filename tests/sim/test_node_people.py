"""The simulated baker's eyes and hands: the record of a hold and its spool."""

import fcntl
import os
import struct
import termios

from holdctl.clock import SystemClock
from holdctl.events import Instant, Notice, NoticeKind, RequestKind
from holdctl.record import spool
from holdctl.record.files import spool_folder
from holdctl.record.store import Store
from holdsim.__main__ import answer_through, look_into
from holdsim.baker import Prompt
from holdsim.pty_line import PtyLine

TIOCGEXCL = 0x80045440  # linux/asm-generic/ioctls.h: _IOR('T', 0x40, int)


def begun(path):
    store = Store.open(path)
    hold = store.begin_hold(
        started_utc_ms=0,
        config_json="{}",
        warmer="tin",
        programme="night",
        pace="device",
        simulated=True,
        version="0",
        boot_id="",
        latched=(),
    )
    return store, hold


def prompt(seconds, **detail):
    return Instant(seconds * 1000, 0, 0), Notice(NoticeKind.PROMPT, "stir", "Stir to 66 °C.", detail)


def test_prompts_are_read_from_the_latest_hold_of_the_record_each_once(tmp_path):
    path = tmp_path / "tin.db"
    look = look_into(path)
    assert look(0) == []  # no record yet
    store, hold = begun(path)
    store.notice(*prompt(5, to=66.0))
    store.notice(Instant(6000, 0, 0), Notice(NoticeKind.INFO, "other", "Something else."))
    (seen,) = look(0)
    assert seen == Prompt(seen.seq, hold, 5000, {"to": 66.0})
    store.notice(*prompt(9))
    (later,) = look(seen.seq)
    assert (later.hold_ms, later.detail) == (9000, {})
    store.close()


def test_an_answer_is_a_next_for_that_hold_which_a_daemon_accepts(tmp_path):
    folder = spool_folder(tmp_path / "tin.db")
    spool.prepare(folder)
    answer_through(folder, 82.0)(Prompt(7, 3, 5000, {}))
    noted, filed = spool.collect(folder, now_utc_ms=SystemClock().utc_ms(), daemon_start_utc_ms=0, hold=3)
    assert [one.outcome for one in (noted, filed)] == ["accepted", "accepted"]
    assert noted.request.kind is RequestKind.NOTE
    assert (filed.request.kind, filed.request.by) == (RequestKind.NEXT, "simulated baker")


def test_a_killed_hosts_exclusive_mode_does_not_lock_out_its_successor():
    line = PtyLine()
    host = os.open(line.path, os.O_RDWR | os.O_NOCTTY)
    fcntl.ioctl(host, termios.TIOCEXCL)
    os.close(host)  # as the kernel does for a killed process; our descriptor keeps the terminal and its flag
    assert exclusive(line) == 1
    line.host_is_gone()
    assert exclusive(line) == 0
    line.close()


def exclusive(line):
    return struct.unpack("i", fcntl.ioctl(line._slave, TIOCGEXCL, b"\0\0\0\0"))[0]
