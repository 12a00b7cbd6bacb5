"""The units: little exposure, understood by systemd, and nothing taken away that a hold needs."""

import json
import os
import pwd
import re
import shutil
import subprocess

import pytest

from holdctl.daemon.unit import Facts, after_boot_unit, hold_unit, mail_unit
from tests.daemon.rig import PLAIN_RIG, holdctl

FACTS = Facts(
    user="baker",
    program=("/usr/bin/env", "python3", "-m", "holdctl"),
    config="/home/baker/.config/holdctl/my warmer.toml",
    state="/home/baker/.local/state/holdctl",
    group="dialout",
    read_only=("/home/baker/.config/holdctl",),
)
UNITS = {
    "holdctl.service": hold_unit(FACTS, network=False),
    "holdctl-socket.service": hold_unit(FACTS, network=True),
    "holdctl@.service": hold_unit(FACTS, network=False, template=True),
    "holdctl-mail.service": mail_unit(FACTS),
    "holdctl-after-boot.service": after_boot_unit(FACTS, "holdctl.service"),
}
MOST_EXPOSURE = 2.5

needs_systemd = pytest.mark.skipif(
    shutil.which("systemd-analyze") is None, reason="systemd-analyze is not here (Debian package systemd)"
)


def analyze(*arguments):
    return subprocess.run(
        ["systemd-analyze", *arguments], capture_output=True, text=True, timeout=60, check=False
    )


@pytest.fixture(params=UNITS)
def unit(request, tmp_path):
    path = tmp_path / request.param
    path.write_text(UNITS[request.param], "utf-8")
    return path


@needs_systemd
def test_the_exposure_is_low(unit):
    done = analyze("security", "--offline=true", "--no-pager", str(unit))
    score = float(re.search(r"Overall exposure level for .*: ([\d.]+)", done.stdout)[1])
    print(f"{unit.name}: {score}")
    assert score <= MOST_EXPOSURE


@needs_systemd
def test_a_bare_unit_would_fail_that_test(tmp_path):
    path = tmp_path / "bare.service"
    path.write_text("[Service]\nExecStart=/usr/bin/env\n", "utf-8")
    done = analyze("security", "--offline=true", "--no-pager", str(path))
    assert float(re.search(r"Overall exposure level for .*: ([\d.]+)", done.stdout)[1]) > MOST_EXPOSURE


@needs_systemd
def test_systemd_knows_every_line(unit):
    done = analyze("verify", "--man=no", "--recursive-errors=no", str(unit))
    said = [line for line in done.stderr.splitlines() if unit.name.split(".")[0] in line or "Unknown" in line]
    assert said == []


@pytest.mark.parametrize("name", ["holdctl.service", "holdctl-socket.service"])
def test_a_hold_is_restarted_after_a_failure_but_not_for_ever_and_not_for_wrong_settings(name):
    lines = UNITS[name].splitlines()
    for wanted in (
        "Type=notify", "User=baker", "Restart=on-failure", "RestartPreventExitStatus=2", "StartLimitBurst=20",
        "KillSignal=SIGTERM", "WatchdogSec=30s", "UMask=0077", "NoNewPrivileges=yes",
    ):  # fmt: skip
        assert wanted in lines
    assert not any(line.startswith("DynamicUser") for line in lines)


def test_after_a_blackout_a_node_has_five_minutes_to_be_there_before_the_hold_stays_down():
    said = dict(line.split("=", 1) for line in UNITS["holdctl.service"].splitlines() if "=" in line)
    tries_s = int(said["StartLimitBurst"]) * int(said["RestartSec"].removesuffix("s"))
    assert 300 <= tries_s < 600, "within the interval, or it would never stay down"
    assert said["StartLimitIntervalSec"] == "10min"


def test_nothing_begins_to_heat_because_a_computer_was_started():
    for name in ("holdctl.service", "holdctl-socket.service", "holdctl@.service"):
        assert "[Install]" not in UNITS[name].splitlines()
    text = UNITS["holdctl-after-boot.service"]
    assert "alive --unfinished" in re.search(r"^ExecCondition=(.*)$", text, re.M)[1]


def test_a_hold_has_no_network_and_only_serial_ports_unless_its_port_is_a_socket():
    closed, opened = UNITS["holdctl.service"].splitlines(), UNITS["holdctl-socket.service"].splitlines()
    assert "PrivateNetwork=yes" in closed
    assert "RestrictAddressFamilies=AF_UNIX" in closed
    assert [line for line in closed if line.startswith("DeviceAllow")] == [
        "DeviceAllow=char-ttyUSB rw",
        "DeviceAllow=char-ttyACM rw",
    ]
    assert "PrivateNetwork=yes" not in opened
    assert "PrivateDevices=yes" in opened


def test_what_a_hold_needs_is_left_to_it():
    lines = UNITS["holdctl.service"].splitlines()
    assert "ReadWritePaths=/home/baker/.local/state/holdctl" in lines
    assert not any(line.startswith("ProcSubset=pid") for line in lines)  # the name of this boot is read there
    assert "SupplementaryGroups=dialout" in lines


def test_paths_with_spaces_and_percent_signs_stay_one_word():
    facts = Facts("u", ("/opt/a b/python", "-m", "holdctl"), "/home/u/50%.toml", "/home/u/s t")
    text = hold_unit(facts, network=False)
    assert 'ExecStart="/opt/a b/python" -m holdctl run --config /home/u/50%%.toml\n' in text
    assert 'ReadWritePaths="/home/u/s t"\n' in text


def account():
    """An account that is not root's, for a test that root may run."""
    name = pwd.getpwuid(os.geteuid()).pw_name
    return name if os.geteuid() else "nobody"


@pytest.fixture
def settings(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG, "utf-8")
    return path


def test_the_command_prints_a_unit_for_the_settings_at_hand(settings):
    done = holdctl("service", "--user", account(), "--config", str(settings))
    assert done.returncode == 0, done.stderr
    assert f"run --config {settings}" in done.stdout
    assert f"User={account()}" in done.stdout
    assert "/etc/systemd/system/holdctl.service" in done.stderr


def test_a_port_on_a_socket_gets_the_variant_with_a_network_and_its_address_alone(settings):
    settings.write_text(PLAIN_RIG + '\n[port]\nurl = "socket://192.0.2.7:4000"\n', "utf-8")
    text = holdctl("service", "--user", account(), "--config", str(settings)).stdout
    assert "IPAddressDeny=any\nIPAddressAllow=192.0.2.7\n" in text
    assert "PrivateNetwork" not in text


def test_the_template_has_one_settings_file_for_each_instance():
    done = holdctl("service", "--template", "--user", account(), "--json")
    told = json.loads(done.stdout)
    assert told["name"] == "holdctl@.service"
    assert re.search(r"--config \S*/holdctl/%i\.toml$", told["unit"], re.M)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--user", "root"), "needs no root"),
        (("--user", "nobody-by-this-name"), "There is no account"),
        (("--template", "--instance", "a"), "exclude each other"),
        (("--mail", "--after-boot"), "two units"),
        (("--user", "nobody", "--instance", "../x"), "can't name an instance"),
        (("--user", "nobody", "--record", "a\nExecStart=/bin/other"), "can't stand in a unit"),
    ],
)
def test_what_cannot_be_printed_is_one_sentence_and_exit_2(settings, arguments, says):
    done = holdctl("service", "--config", str(settings), *arguments)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
