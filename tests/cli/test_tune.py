"""`holdctl tune` on a simulated node behind a real serial line, accelerated: the real loop, in the command itself."""

import json
import subprocess
import sys

import pytest

from holdctl.events import State
from holdctl.record.query import Record
from tests.daemon.rig import PLAIN_RIG, environment, holdctl


@pytest.fixture
def rig(tmp_path):
    node = subprocess.Popen(
        [sys.executable, "-m", "holdsim", "--preset", "lamp-box", "--start", "66", "--calm", "--lockstep",
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


def tune(rig, *arguments):
    where = ("--config", str(rig / "holdctl.toml"), "--record", str(rig / "r.db"))
    return holdctl("tune", *where, "--pace", "device", *arguments)


def test_a_relay_test_is_run_recorded_evaluated_and_can_be_evaluated_again(rig):
    settings = (rig / "holdctl.toml").read_bytes()
    done = tune(rig, "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    print(json.dumps({key: found[key] for key in ("cycle", "fit", "settings")}, indent=1))

    # The cautions come before anything moves.
    words = done.stderr
    assert 0 <= words.index("Before the test, read this:") < words.index("independent thermal cut-off")
    assert words.index("independent thermal cut-off") < words.index("state: running")

    # It is a hold of the record, complete, with the relay off at its end.
    record = Record(rig / "r.db")
    hold = record.hold()
    assert (hold.id, hold.state, hold.programme) == (found["hold"], State.COMPLETE, "relay test")
    columns = record.columns(hold.id)
    assert columns.lease_s[-1] == 0
    assert not [event for event in record.events(hold.id) if event.kind == "trip"]
    assert columns.temps_c[:, 1].max() < 67.0

    # The lamp box: 40 W give 0.038 K/s at the wall; four equal cycles of 150 to 190 s.
    assert found["cycle"]["cycles"] == 4
    assert 150 <= found["ultimate_period_s"] <= 190
    assert found["fit"]["good"]
    process = found["fit"]["process"]
    assert process["gain"] / max(process["lags_s"]) == pytest.approx(0.038, rel=0.05)
    by_rule = {row["rule"]: row for row in found["settings"]}
    own = next(row for rule, row in by_rule.items() if rule.startswith("holdctl's own"))
    assert own["ms"] <= 1.7
    assert by_rule["SIMC"]["ms"] <= 1.9
    assert not by_rule["Ziegler–Nichols, relay"]["stable"]

    # Nothing has changed how holdctl controls, and the evaluation is a function of the record.
    assert (rig / "holdctl.toml").read_bytes() == settings
    again = tune(rig, "--again", str(hold.id), "--json")
    assert again.returncode == 0, again.stderr
    assert {**json.loads(again.stdout), "ended": found["ended"]} == found

    table = tune(rig, "--again", str(hold.id))
    assert table.returncode == 0
    assert "ultimate period" in table.stdout
    assert "Nothing here has changed how holdctl controls" in table.stdout
    assert max(map(len, table.stdout.splitlines())) <= 80
    assert "Known bias" in table.stdout


def test_a_test_that_gives_up_says_why_and_keeps_its_record(rig):
    done = tune(rig, "--longest", "5 min")
    assert done.returncode == 1
    last = done.stderr.strip().splitlines()[-1]
    assert "found nothing to rely on: no 4 equal cycles" in last
    assert "Traceback" not in done.stderr
    record = Record(rig / "r.db")
    assert record.hold().state is State.COMPLETE
    assert record.columns(record.hold().id).lease_s[-1] == 0


def test_a_hold_that_was_no_test_is_not_evaluated(rig):
    done = tune(rig, "--again", "1")
    assert done.returncode == 1
    from holdctl.record.store import Store

    store = Store.open(rig / "r.db")
    store.begin_hold(
        started_utc_ms=0, config_json="{}", warmer="w", programme="p", pace="host", simulated=True, version="0",
        boot_id="", latched=(),
    )  # fmt: skip
    store.close()
    done = tune(rig, "--again", "1")
    assert done.returncode == 2
    assert "was no test" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--probe", "4"), "no probe on channel 4"),
        (("--setpoint", "120"), "another --setpoint"),
        (("--longest", "a while"), "not a duration"),
        (("--hysteresis", "nan"), "no number"),
    ],
)
def test_what_cannot_be_tested_leaves_with_one_sentence_and_2(tmp_path, arguments, words):
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG, "utf-8")
    done = holdctl("tune", "--config", str(path), "--port", "/dev/nowhere", *arguments)
    assert done.returncode == 2
    assert words in done.stderr.strip().splitlines()[-1]


def test_without_an_independent_cutoff_no_test_is_run(tmp_path):
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG.replace("test_rig = true", ""), "utf-8")
    done = holdctl("tune", "--config", str(path), "--port", "/dev/nowhere")
    assert done.returncode == 2
    assert "independent thermal cut-off" in done.stderr
