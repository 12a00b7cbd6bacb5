"""Every command: help with an example, --json, one plain sentence for bad input."""

import json
import subprocess
import sys

import pytest

from holdctl.cli import cli
from holdctl.record.store import Store
from tests.daemon.rig import PLAIN_RIG, environment, holdctl

COMMANDS = sorted(cli.commands)
WANTED = {
    "demo", "run", "start", "watch", "holds", "review", "compare", "export", "stop", "acknowledge", "next", "reset",
    "note", "config",
}  # fmt: skip


@pytest.fixture
def rig(tmp_path):
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG, "utf-8")
    return path


def sentence(done):
    """The one line that a person reads; it must not be a traceback."""
    assert "Traceback" not in done.stderr + done.stdout
    return done.stderr.strip().splitlines()[-1]


def test_all_commands_are_there():
    assert set(COMMANDS) >= WANTED


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example_and_json(name):
    command = cli.commands[name]
    assert command.help
    assert command.epilog.startswith("Example: ")
    assert "--json" in [flag for parameter in command.params for flag in parameter.opts]


def test_help_imports_none_of_the_heavy_packages():
    code = (
        "import sys; sys.argv = ['holdctl', '--help']\n"
        "import holdctl.cli\n"
        "try: holdctl.cli.main()\n"
        "except SystemExit: pass\n"
        "print([m for m in ('numpy', 'scipy', 'matplotlib', 'rich', 'sqlite_utils', 'serial') if m in sys.modules])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment()
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_the_example_configuration_is_valid_and_says_where_each_value_came_from(tmp_path):
    path = tmp_path / "holdctl.toml"
    path.write_text(holdctl("config", "--example").stdout, "utf-8")
    shown = json.loads(holdctl("config", "--config", str(path), "--json").stdout)
    assert shown["warmer.power_w"] == {"value": 60.0, "from": str(path)}
    assert shown["units"] == {"value": "C", "from": "default"}


def test_port_on_the_command_line_outranks_the_file(rig):
    from holdctl.config import load

    loaded = load(rig, port="/dev/other")
    assert loaded.settings.port.url == "/dev/other"
    assert loaded.origin["port.url"] == "command line"


def test_without_a_food_code_run_exits_2_and_lists_the_codes(rig):
    rig.write_text(PLAIN_RIG.replace('food_code = "fda-2022"\n', ""), "utf-8")
    for command in ("run", "start"):
        done = holdctl(command, "--config", str(rig), "--port", "/dev/nowhere")
        assert done.returncode == 2
        for text in ("fda-2022", "uk", "local authority decides"):
            assert text in done.stderr


@pytest.mark.parametrize(
    ("change", "code", "says"),
    [
        (("power_w = 200", 'power_w = "much"'), 2, "warmer.power_w"),
        (("power_w = 200", "power_w = -3"), 2, "warmer.power_w"),
        (("power_w = 200", "powr_w = 200"), 2, "power_w"),
        (("every_part = [62, 67]", "every_part = [67, 62]"), 2, "every_part"),
        (('for = "4 h"', 'for = "four hours"'), 2, "duration"),
        (("[warmer]", "[warmer"), 2, "TOML"),
    ],
)
def test_bad_settings_are_named_with_their_key_and_exit_2(rig, change, code, says):
    rig.write_text(PLAIN_RIG.replace(*change), "utf-8")
    done = holdctl("run", "--config", str(rig), "--port", "/dev/nowhere")
    assert done.returncode == code
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_a_missing_port_exits_1_and_names_the_ports_there_are(rig, tmp_path):
    done = holdctl(
        "run", "--config", str(rig), "--record", str(tmp_path / "r.db"), "--port", str(tmp_path / "none")
    )
    assert done.returncode == 1
    assert "There is no port" in sentence(done)


def test_no_port_at_all_exits_2(rig, tmp_path):
    done = holdctl("run", "--config", str(rig), "--record", str(tmp_path / "r.db"))
    assert done.returncode == 2
    assert "--port" in sentence(done)


def test_a_missing_configuration_exits_2_with_the_way_to_make_one(tmp_path):
    done = holdctl("run", "--config", str(tmp_path / "holdctl.toml"))
    assert done.returncode == 2
    assert "config --example" in sentence(done)


@pytest.mark.parametrize("command", ["holds", "review", "compare", "export", "watch", "stop", "next"])
@pytest.mark.parametrize("kind", ["missing", "foreign", "damaged", "newer"])
def test_a_record_that_cannot_be_read_exits_1_with_one_sentence(command, kind, tmp_path):
    path = tmp_path / "r.db"
    if kind == "foreign":
        import sqlite3

        connection = sqlite3.connect(path)
        connection.execute("CREATE TABLE bread (id)")
        connection.commit()
        connection.close()
    elif kind != "missing":
        Store.open(path).close()
        data = bytearray(path.read_bytes())
        if kind == "newer":
            data[60:64] = (99).to_bytes(4, "big")
        else:
            data[100:] = b"\x55" * (len(data) - 100)
        path.write_bytes(data)
    before = path.read_bytes() if path.exists() else None
    done = holdctl(command, "--record", str(path))
    assert done.returncode == 1
    assert sentence(done).startswith("holdctl: ")
    assert (path.read_bytes() if path.exists() else None) == before


@pytest.mark.parametrize(
    "arguments",
    [
        ("review", "seven"),
        ("compare", "--last", "1"),
        ("demo", "--preset", "toaster"),
        ("reset",),
        ("nonsense",),
    ],
)
def test_a_wrong_argument_exits_2(arguments):
    done = holdctl(*arguments)
    assert done.returncode == 2
    sentence(done)


def test_an_unknown_hold_is_answered_with_the_holds_there_are(tmp_path):
    path = tmp_path / "r.db"
    Store.open(path).close()
    done = holdctl("review", "7", "--record", str(path))
    assert done.returncode == 2, "a number that is not there is bad input"
    assert "holdctl holds" in sentence(done)


def test_nothing_to_stop_is_said(tmp_path):
    path = tmp_path / "r.db"
    Store.open(path).close()
    done = holdctl("stop", "--record", str(path))
    assert done.returncode == 1
    assert "No hold is running" in sentence(done)


def test_export_never_overwrites(tmp_path):
    path, output = tmp_path / "r.db", tmp_path / "out.csv"
    Store.open(path).close()
    output.write_text("precious", "utf-8")
    done = holdctl("export", "--record", str(path), "--output", str(output))
    assert done.returncode in (1, 2)
    assert output.read_text("utf-8") == "precious"


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_scripts_are_printed(shell):
    done = holdctl("completion", shell)
    assert done.returncode == 0
    assert "_HOLDCTL_COMPLETE" in done.stdout
