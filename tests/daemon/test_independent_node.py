"""The daemon against a node that was written from the protocol's text alone."""

import json
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from holdctl.record.query import Record
from tests.daemon.rig import PLAIN_RIG, daemon

SECONDS = 1200


@pytest.fixture(scope="module")
def night(tmp_path_factory):
    folder = tmp_path_factory.mktemp("plain")
    script = Path(__file__).with_name("independent_node.py")
    node = subprocess.Popen(
        [sys.executable, "-I", str(script), str(SECONDS), "6", "1.5"], stdout=subprocess.PIPE, text=True
    )
    assert node.stdout is not None
    port = node.stdout.readline().strip()
    record = folder / "plain.db"
    host = daemon(folder, PLAIN_RIG, record, "--port", port, "--pace", "device")
    try:
        said = json.loads(node.stdout.readline())
        host.send_signal(signal.SIGTERM)
        code = host.wait(20)
    finally:
        host.kill()
        host.wait()
        node.kill()
        node.wait()
        node.stdout.close()
    return said, code, Record(record)


def test_an_independent_node_gets_no_lease_before_hello_is_answered(night):
    assert night[0]["asked_before_any_lease"]


def test_each_of_twenty_minutes_readings_is_answered_by_one_lease(night):
    said = night[0]
    assert said["answered"] == SECONDS
    assert said["leases"] == SECONDS
    assert said["foreign_free"]


def test_leases_keep_the_paste_and_never_exceed_what_the_node_takes(night):
    said = night[0]
    assert 0 < said["some_on"] < SECONDS
    assert said["longest_ms"] <= 5000
    assert said["paste"] == pytest.approx(65.0, abs=0.5)


def test_silence_brings_lease_0_within_the_limit_of_3_s_and_a_poll(night):
    said = night[0]
    assert said["lease_0_in_silence"]
    assert 2.5 <= said["silence_s"] <= 4.5  # 3 s from the last reading, polled every 0.25 s on a busy machine
    assert said["lapsed_in_node"]


def test_rubbish_is_never_answered_and_the_next_valid_reading_is(night):
    said = night[0]
    assert said["answers_to_rubbish"] == 0
    assert said["in_step_after_rubbish"]


def test_after_a_reboot_leases_answer_readings_of_the_new_boot_only(night):
    assert night[0]["after_reboot"]
    assert set(night[0]["after_reboot"]) <= set(range(5))


def test_the_record_tells_the_silence_the_reboot_and_the_signal(night):
    _, code, record = night
    kinds = {(event.kind, event.name) for event in record.events(1)}
    assert ("trip", "no-reading") in kinds
    assert ("trip-cleared", "no-reading") in kinds
    assert ("info", "node-boot") in kinds
    assert record.hold(1).state == "stopped"
    assert code == 0
