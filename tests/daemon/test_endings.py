"""However a daemon ends, the relay is off and the record says how."""

import signal
import time

import pytest

from holdctl.clock import SystemClock
from holdctl.events import RequestKind, State
from holdctl.record.spool import place, prepare
from tests.daemon.conftest import EnoughSeenError
from tests.daemon.rig import PLAIN_RIG, holdctl

HOT = (66.0, 95.0)


def kinds(bench, hold=1):
    return [(event.kind, event.name) for event in bench.record.events(hold)]


def until_gone(host, before):
    """Interfere as `before` does, and end the play once the daemon has left."""

    def tick(second):
        if host.poll() is not None:
            raise EnoughSeenError
        before(second)

    return tick


def ask(bench, kind, subject=""):
    place(bench.spool, kind=RequestKind(kind), by="test", subject=subject, utc_ms=SystemClock().utc_ms())


def test_sigterm_ends_orderly_with_the_relay_confirmed_off(bench):
    host = bench.start()
    bench.run(
        120, until_gone(host, lambda s: host.send_signal(signal.SIGTERM) if s == 60 else None), patience=1.0
    )
    assert host.wait(10) == 0
    assert bench.record.hold().state is State.STOPPED
    assert bench.record.events(1)[-1].text.endswith("confirmed by the node")
    assert not bench.node.relay


def test_a_stop_request_ends_the_hold_and_says_who_asked(bench):
    host = bench.start()
    bench.run(40, until_gone(host, lambda s: ask(bench, "stop") if s == 20 else None), patience=1.0)
    assert host.wait(10) == 0
    assert bench.record.hold().state is State.STOPPED
    assert any("asked by test" in event.text for event in bench.record.events(1))


def test_kill_9_while_the_relay_is_on_ends_with_the_lease_lapsing_in_the_node(bench):
    bench.plant.paste = bench.plant.wall = 64.0  # it has to be heated
    host = bench.start()

    def kill(second: int) -> None:
        if second > 30 and bench.node.left_ms > 1000:
            host.kill()
            host.wait()
            raise EnoughSeenError

    bench.run(200, kill, patience=1.0)
    assert bench.node.relay
    bench.line.host_is_gone()
    for _ in range(5):  # the longest lease is 5 s
        bench.plant.step(min(bench.node.left_ms, 1000) / 1000)
        bench.node.tick()
    assert not bench.node.relay
    assert bench.record.hold().state is None


def test_the_next_start_goes_on_with_what_a_killed_daemon_left_open(bench):
    host = bench.start()
    bench.run(50, lambda s: (host.kill(), host.wait()) if s == 30 else None, patience=0.05)
    again = bench.start()
    bench.run(60, lambda _s: time.sleep(0.02), patience=5.0)
    assert again.poll() is None
    (hold,) = bench.record.holds()
    assert hold.state is None
    assert ("info", "interruption") in kinds(bench)


def test_a_new_hold_can_be_asked_for_and_the_old_one_is_closed(bench):
    host = bench.start()
    bench.run(50, lambda s: (host.kill(), host.wait()) if s == 30 else None, patience=0.05)
    bench.start("--new")
    bench.run(60, lambda _s: time.sleep(0.02), patience=5.0)
    first, second = bench.record.holds()
    assert first.state is State.ABORTED
    assert second.state is None
    assert ("info", "left-open") in kinds(bench, 2)


def test_a_high_limit_trip_survives_a_restart_and_needs_its_own_reset(bench):
    host = bench.start()

    def heat(second: int) -> None:
        bench.plant.fake = HOT if 30 <= second < 40 else None
        if second == 60:
            host.kill()
            host.wait()

    bench.run(70, heat, patience=0.05)
    assert ("trip", "high-limit") in kinds(bench)
    assert ("state", "held") in kinds(bench)

    bench.start()
    bench.plant.paste = bench.plant.wall = 65.2  # it cools: without the latch the relay would go on
    mark, asked = len(bench.leases), bench.node.ticks + 120

    bench.run(180, lambda s: ask(bench, "reset", "high-limit") if s == asked else None)
    assert not any(bench.leases[mark : mark + 120])
    assert any(bench.leases[mark + 120 :])
    assert len(bench.record.holds()) == 1
    assert kinds(bench).index(("trip", "high-limit")) < kinds(bench).index(("reset", "high-limit"))


def test_an_unreadable_record_means_no_lease_at_all(bench):
    bench.record_path.write_bytes(b"not a record" * 500)
    host = bench.start()
    assert host.wait(20) == 1
    assert bench.log().strip().splitlines()[-1].startswith("holdctl: ")
    assert "Traceback" not in bench.log()
    assert bench.node.obeyed == 0


def test_a_second_daemon_on_the_same_warmer_is_refused(bench):
    bench.start()
    codes = []

    def second(second: int) -> None:
        if second == 5:
            path = bench.folder / "holdctl.toml"
            other = holdctl(
                "run",
                "--config",
                str(path),
                "--record",
                str(bench.record_path),
                "--port",
                "socket://127.0.0.1:1",
            )
            codes.append((other.returncode, other.stderr.strip().splitlines()[-1]))

    bench.run(10, second)
    assert codes[0][0] == 1
    assert codes[0][1].startswith("holdctl: ")


def test_a_busy_port_is_refused_with_a_sentence(bench):
    bench.start()
    answers = []

    def other(second: int) -> None:
        if second == 5:
            path = bench.folder / "holdctl.toml"
            answers.append(
                holdctl(
                    "run", "--config", str(path), "--record", str(bench.folder / "other.db"),
                    "--port", str(bench.line.path),
                )
            )  # fmt: skip

    bench.run(10, other)
    assert answers[0].returncode == 1
    assert answers[0].stderr.startswith("holdctl: ") or "holdctl: " in answers[0].stderr
    assert "Traceback" not in answers[0].stderr


def test_requests_placed_before_the_start_are_filed_and_not_obeyed(bench):
    prepare(bench.spool)
    ask(bench, "stop")
    host = bench.start()
    bench.run(30)
    assert host.poll() is None
    assert [(r.kind, r.outcome) for r in bench.record.requests(1)] == [("stop", "expired")]


def test_a_real_port_without_an_independent_cutoff_is_refused(tmp_path):
    (tmp_path / "holdctl.toml").write_text(PLAIN_RIG.replace("test_rig = true\n", ""), "utf-8")
    done = holdctl("run", "--config", str(tmp_path / "holdctl.toml"), "--port", "/dev/ttyACM9")
    assert done.returncode == 2
    assert "weld" in done.stderr
    assert "thermal link" in done.stderr


@pytest.mark.parametrize("word", ["", "  ", "none", "No", "-"])
def test_a_cutoff_that_is_none_counts_as_none(tmp_path, word):
    text = PLAIN_RIG.replace("test_rig = true\n", f'independent_cutoff = "{word}"\n')
    (tmp_path / "holdctl.toml").write_text(text, "utf-8")
    done = holdctl("run", "--config", str(tmp_path / "holdctl.toml"), "--port", "/dev/ttyACM9")
    assert done.returncode == 2
    assert "thermal link" in done.stderr


def test_device_pace_under_start_needs_a_test_rig(tmp_path):
    text = PLAIN_RIG.replace("test_rig = true\n", 'independent_cutoff = "thermal link on the mat"\n')
    (tmp_path / "holdctl.toml").write_text(text, "utf-8")
    done = holdctl(
        "start", "--config", str(tmp_path / "holdctl.toml"), "--port", "/dev/x", "--pace", "device"
    )
    assert done.returncode == 2
    assert "test_rig" in done.stderr
