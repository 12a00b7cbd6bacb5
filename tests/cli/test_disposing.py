"""`disposition` and `shelve` from another process: while a hold runs, and after it has ended."""

import json
import subprocess
import sys
import time

import pytest

from holdctl.events import Notice, NoticeKind, Reading
from holdctl.hold import Hold
from holdctl.record import spool
from holdctl.record.files import spool_folder
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.review.dispositions import deviations
from tests.closed_loop import instant, reading
from tests.daemon.rig import environment, holdctl
from tests.hold.bench import stirred
from tests.review.conftest import write_night


@pytest.fixture
def ended(tmp_path):
    path = tmp_path / "night.db"
    with Store.open(path, batch_ms=10**9) as store:
        write_night(store, hours=0.5, broken=True)
    return path


def ask(path, *arguments):
    return holdctl(*arguments, "--record", str(path))


def test_after_the_end_the_command_writes_the_entry_itself_with_account_and_name(ended):
    done = ask(ended, "disposition", "probe-fault", "discarded", "--by", "Anna", "--note", "cold", "--json")
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout)
    assert (said["hold"], said["alarms"], said["what"]) == (1, ["probe-fault"], "discarded")
    assert said["by"].startswith("Anna (account ")
    assert [one.open for one in deviations(Record(ended), 1)] == [True, False]


def test_all_enters_for_every_open_one_and_then_nothing_is_left(ended):
    assert ask(ended, "disposition", "all", "used").returncode == 0
    assert not any(one.open for one in deviations(Record(ended), 1))
    again = ask(ended, "disposition", "all", "used")
    assert again.returncode == 1
    assert "Nothing is open in hold 1" in again.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("spool", "used"), "Hold 1 had no alarm “spool”"),
        (("ghost", "used"), "it had no-reading, probe-fault"),
        (("probe-fault", "eaten"), "eaten"),
    ],
)
def test_an_entry_that_cannot_be_is_refused_with_exit_2(ended, arguments, says):
    done = ask(ended, "disposition", *arguments)
    assert done.returncode == 2
    assert says in done.stderr


@pytest.mark.parametrize("arguments", [("x",), ("x", "--for", "soon"), ("x", "--for", "1h", "--end")])
def test_a_shelf_without_a_length_of_time_is_refused_with_exit_2(ended, arguments):
    assert ask(ended, "shelve", *arguments).returncode == 2


class Running:
    """A hold that answers requests, one reading after each look into its spool; ended by whoever made it."""

    def __init__(self, path):
        self.store, self.hold, self.k = Store.open(path), Hold(stirred()), 0
        self.folder = spool_folder(path)
        spool.prepare(self.folder)
        self.id = self.store.begin_hold(
            started_utc_ms=1, config_json="{}", warmer="x", programme="x", pace="host", simulated=True,
            version="0", boot_id="b", latched=(),
        )  # fmt: skip

    def take(self, event):
        self.k += 1
        now = instant(1000 * self.k)
        decision = self.hold.step(event, now)
        if isinstance(event, Reading):
            self.store.sample(now, event, decision)
        for notice in decision.notices:
            self.store.notice(now, notice)

    def serve(self, process):
        while process.poll() is None:
            utc_ms = time.time_ns() // 1_000_000
            for filed in spool.collect(self.folder, now_utc_ms=utc_ms, daemon_start_utc_ms=0, hold=self.id):
                self.store.request(instant(1000 * self.k), filed)
                if filed.request is not None:
                    self.take(filed.request)
            time.sleep(0.05)


def test_while_a_hold_runs_its_daemon_shelves_and_enters(tmp_path):
    path = tmp_path / "night.db"
    running = Running(path)
    running.take(reading(1, 65.0, 65.2))
    notice = Notice(NoticeKind.TRIP, "probe-fault", "open", {"latched": False})
    running.store.notice(instant(1500), notice)

    def ask(*arguments):
        process = subprocess.Popen(
            [sys.executable, "-m", "holdctl", *arguments, "--record", str(path), "--json"],
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment(),
        )  # fmt: skip
        running.serve(process)
        out, err = process.communicate()
        assert process.returncode == 0, err
        return json.loads(out)

    try:
        assert "put aside for 30 min" in ask("shelve", "probe-fault", "--for", "30m")["text"]
        assert running.hold.alarms.state("probe-fault") == "shelved"
        assert ask("shelve", "probe-fault", "--end")["outcome"] == "accepted"
        assert "reworked after probe-fault" in ask("disposition", "probe-fault", "reworked")["text"]
    finally:
        running.store.close()
    record = Record(path)
    assert [one.open for one in deviations(record, running.id)] == [False]
    assert [r.kind for r in record.requests(running.id)] == ["shelve", "unshelve", "disposition"]
    assert [r.outcome for r in record.requests(running.id)] == ["accepted"] * 3
