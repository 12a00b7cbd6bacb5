"""A declared cooling through the real daemon: on a running hold, and without a warmer."""

import signal
from pathlib import Path

from holdctl.events import Phase, RequestKind, State
from holdctl.record.spool import place
from tests.daemon.conftest import EnoughSeenError
from tests.daemon.nursery import shared
from tests.daemon.rig import holdctl

PROBE_ONLY = """\
food_code = "fda-2022"

[[probe]]
channel = 1
place = "core"
error_k = 0.5
"""
QUICK_K_S = 0.5


class Cooling:
    """Paste that falls by a fixed rate, so that both stages pass in minutes; over once its daemon has left."""

    def __init__(self, bench, start_c=60.0):
        self.bench, self.c = bench, start_c

    def __call__(self, _second):
        if self.bench.daemons[-1].poll() is not None:
            raise EnoughSeenError
        self.c = max(0.5, self.c - QUICK_K_S)
        self.bench.plant.fake = (self.c, self.c)


def alone(bench, *arguments):
    """Start `holdctl cool --here` on settings without a warmer."""
    settings = bench.folder / "holdctl.toml"
    settings.write_text(PROBE_ONLY, "utf-8")
    command = ("cool", "--here", "--config", str(settings), "--record", str(bench.record_path))
    line = ("--port", str(bench.line.path), "--pace", "device")
    log = bench.folder / "daemon.log"
    process = shared().start((*command, *line, *arguments), log, log)
    bench.daemons.append(process)
    return process


def asked(bench, kind, subject=""):
    place(
        bench.spool, kind=kind, by="a baker", hold=bench.record.hold().id, subject=subject, utc_ms=_now_ms()
    )


def _now_ms():
    from holdctl.clock import SystemClock

    return SystemClock().utc_ms()


def spells(bench):
    events = bench.record.events(bench.record.hold().id)
    return [(e.name, e.detail["begins"]) for e in events if e.kind == "spell"]


def phases(bench):
    return {s.decision.phase for s in bench.record.samples(bench.record.hold().id)}


def test_without_a_warmer_the_probe_is_recorded_until_the_paste_is_cold_and_no_relay_is_ever_leased(bench):
    process = alone(bench, "--in", "ice-bath")
    bench.run(130, Cooling(bench), patience=1.0)
    assert process.wait(10) == 0, bench.log()
    hold = bench.record.hold()
    assert (hold.state, hold.programme, hold.warmer) == (State.COMPLETE, "cooling", "Cooling")
    assert set(bench.leases) == {0}
    assert set(bench.relay) == {False}
    assert phases(bench) == {Phase.COOLING, Phase.NONE}
    assert spells(bench) == [("cooling", True), ("cooling", False)]
    stages = [e for e in bench.record.events(hold.id) if e.name == "cooling-stage"]
    assert [e.detail["standing"] for e in stages][-2:] == ["met", "met"]
    view = bench.record.ask("SELECT DISTINCT phase FROM samples_c WHERE phase <> 'none'")
    assert view == [("cooling",)]


def test_on_a_running_hold_cooling_takes_the_relay_off_for_good(bench):
    bench.plant.fake = (62.0, 62.0)
    bench.start()
    fall = Cooling(bench, 64.0)

    def before(second):
        if second == 30:
            asked(bench, RequestKind.COOL, '{"stand":"ice-bath"}')
        if second > 30:
            fall(second)

    bench.run(240, before, patience=1.0)
    assert bench.daemons[-1].wait(15) == 0, bench.log()
    assert max(bench.leases[:30]) > 0
    assert set(bench.leases[34:]) == {0}
    assert bench.record.hold().state is State.COMPLETE
    assert bench.log().count("cooling") > 0


def test_a_killed_cooling_is_taken_up_again_as_a_cooling(bench):
    first = alone(bench)
    fall = Cooling(bench)

    def before(second):
        fall(second)
        if second == 50:
            first.send_signal(signal.SIGKILL)
            first.wait()
            raise EnoughSeenError

    bench.run(100, before, patience=1.0)
    second = alone(bench)
    bench.run(150, fall, patience=1.0)
    assert second.wait(10) == 0, bench.log()
    hold = bench.record.hold()
    assert (hold.id, hold.state) == (1, State.COMPLETE)
    assert "restart" in {e.kind for e in bench.record.events(1)}
    assert set(bench.leases) == {0}


def test_a_file_without_a_warmer_serves_no_hold_that_heats_and_says_so(tmp_path: Path):
    settings = tmp_path / "holdctl.toml"
    settings.write_text(PROBE_ONLY, "utf-8")
    done = holdctl(
        "run", "--config", str(settings), "--port", "/dev/null", "--record", str(tmp_path / "r.db")
    )
    assert done.returncode == 2
    assert "warmer" in done.stderr


def test_cooling_without_a_port_asks_for_one(tmp_path: Path):
    settings = tmp_path / "holdctl.toml"
    settings.write_text(PROBE_ONLY, "utf-8")
    done = holdctl("cool", "--config", str(settings), "--record", str(tmp_path / "r.db"), "--json")
    assert done.returncode == 2
    assert "--port" in done.stderr


def test_souring_asks_for_a_running_hold(tmp_path: Path):
    settings = tmp_path / "holdctl.toml"
    settings.write_text(PROBE_ONLY, "utf-8")
    done = holdctl("sour", "--config", str(settings), "--record", str(tmp_path / "r.db"))
    assert done.returncode == 1
    assert "no record" in done.stderr.lower()
