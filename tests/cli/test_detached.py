"""`start`, requests from another process, `stop`: the life of a detached hold."""

import json
import os
import re
import subprocess
import sys

import msgspec
import pytest

from holdctl.plan import store
from holdctl.plan.plan import PlanStep, ProgrammePart
from holdctl.record.query import Record
from holdctl.settings import Programme, Step
from tests.daemon.rig import environment, holdctl
from tests.plan.breads import plan


@pytest.fixture
def rig(tmp_path):
    node = subprocess.Popen(
        [sys.executable, "-m", "holdsim", "--preset", "lamp-box", "--start", "66", "--speed", "5",
         "--settings", str(tmp_path / "holdctl.toml"), "--link", str(tmp_path / "port")],
        stdout=subprocess.PIPE, text=True, env=environment(),
    )  # fmt: skip
    assert node.stdout is not None
    assert node.stdout.readline().strip()
    try:
        yield tmp_path
    finally:
        node.terminate()
        node.wait()
        node.stdout.close()


def ask(rig, *arguments):
    done = holdctl(*arguments, "--record", str(rig / "r.db"), "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_a_detached_hold_is_asked_noted_and_stopped_through_the_record(rig):
    started = json.loads(
        holdctl(
            "start",
            "--config",
            str(rig / "holdctl.toml"),
            "--record",
            str(rig / "r.db"),
            "--pace",
            "device",
            "--json",
        ).stdout
    )
    try:
        assert os.getsid(started["pid"]) == started["pid"]  # a session of its own survives the terminal
        record = Record(rig / "r.db")
        assert re.fullmatch(r"First reading: mid 6\d\.\d °C.*\.", started["first_reading"])
        assert any("The node turns this hold's clock" in text for text in started["cautions"])
        held = holdctl("holds", "--record", str(rig / "r.db")).stdout
        assert "running now" in held
        assert "min of 4 h" in held or "s of 4 h" in held
        assert record.writer_pid() == started["pid"]
        assert ask(rig, "note", "smells sweet")["outcome"] == "accepted"
        frame = ask(rig, "watch", "--once")
        assert frame
        refused = holdctl("reset", "high-limit", "--record", str(rig / "r.db"))
        assert refused.returncode == 1
        assert "no trip" in refused.stderr
        early = holdctl("next", "--record", str(rig / "r.db"))
        assert early.returncode == 1
        assert "next --skip" in early.stderr
        assert ask(rig, "next", "--skip")["outcome"] == "accepted"
    finally:
        assert ask(rig, "stop")["outcome"] == "accepted"
    notes = [event.text for event in record.events(started["hold"]) if event.kind == "note"]
    assert notes == ["smells sweet"]
    assert [r.outcome for r in record.requests(started["hold"])] == ["accepted"] * 5
    log = (rig / "r.log").read_text("utf-8")
    assert "Traceback" not in log
    assert (
        log.count("Before the first night, read this:") == 0
    )  # said on the terminal of `start`, not in the log


def test_the_cautions_stand_at_the_first_run_only(rig):
    first = holdctl(
        "start", "--config", str(rig / "holdctl.toml"), "--record", str(rig / "r.db"), "--pace", "device"
    )
    assert "qualified electrician" in first.stderr
    ask(rig, "stop")
    again = holdctl(
        "start", "--config", str(rig / "holdctl.toml"), "--record", str(rig / "r.db"), "--pace", "device"
    )
    assert "qualified electrician" not in again.stderr
    ask(rig, "stop")


OWN = Programme(
    name="planned",
    step=(
        Step(prompt="Malt in, then go on.", to=64.0, wait="20 min", unanswered="keep-waiting"),
        Step(to=64.0, hold_for="3 h"),
    ),
)


def test_a_detached_hold_begins_from_a_kept_plan_and_is_answered_at_its_prompt(rig, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(rig / "state"))
    part = ProgrammePart(steps=(PlanStep(at_s=0.0, words="malt in"),), settings=OWN)
    kept = store.save(msgspec.structs.replace(plan(), programme=part))
    arguments = ("--config", str(rig / "holdctl.toml"), "--record", str(rig / "r.db"), "--pace", "device")
    unknown = holdctl("start", *arguments, "--plan", "7")
    assert unknown.returncode == 2
    assert "There is no plan 7" in unknown.stderr
    assert not (rig / "r.db").exists(), "refused before anything runs"
    done = holdctl("start", *arguments, "--plan", str(kept.id), "--json")
    assert done.returncode == 0, done.stderr
    started = json.loads(done.stdout)
    try:
        assert "made without a holdctl.toml" in done.stderr
        record = Record(rig / "r.db")
        events = record.events(started["hold"])
        assert next(e for e in events if e.name == "plan").detail["plan"]["id"] == kept.id
        settings = json.loads(record.hold(started["hold"]).config_json)
        assert (settings["scald"]["mass_g"], settings["programme"]["name"]) == (360.0, "planned")
        assert settings["warmer"]["name"] == "Lamp in a box"
        assert any(e.kind == "prompt" and "Malt in" in e.text for e in events)
        assert ask(rig, "next")["outcome"] == "accepted"
    finally:
        assert ask(rig, "stop")["outcome"] == "accepted"
    steps = [e.text for e in record.events(started["hold"]) if e.kind == "step"]
    assert steps == ["Malt in, then go on.", "hold 64 °C for 3 h"]
