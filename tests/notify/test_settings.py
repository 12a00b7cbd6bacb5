"""What `[notify]` may say, and what is refused with its reason."""

import tomllib

import pytest

from holdctl.config import load
from holdctl.daemon.outside import notifier
from holdctl.errors import ConfigError
from holdctl.safety.interlocks import Priority
from tests.daemon.rig import PLAIN_RIG, holdctl

COMMAND = '\n[[notify.command]]\nargv = ["/bin/true"]\n'
MAIL = '\n[notify.mail]\nserver = "m"\nsender = "a@b"\n'


def written(tmp_path, text, mode=0o644):
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG + text, "utf-8")
    path.chmod(mode)
    return path


def test_the_intervals_of_the_settings_are_those_of_the_policy(tmp_path):
    notify = load(written(tmp_path, '\n[notify]\nrepeat_high = "90 s"\nescalate_after = 7\n')).settings.notify
    found = notifier(notify)
    assert found.repeat_ms == {Priority.HIGH: 90_000, Priority.MEDIUM: 900_000, Priority.LOW: 3_600_000}
    assert found.escalate_after == 7


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('\n[notify]\nrepeat_low = "often"\n', "notify.repeat_low"),
        ("\n[[notify.command]]\nargv = []\n", "argv"),
        ('\n[[notify.command]]\nargv = "/bin/true"\n', "argv"),
        (COMMAND + "timeout_s = 0\n", "timeout_s"),
        (MAIL + "to = []\n", "to"),
        (MAIL + 'to = ["a@b"]\npassword = "x"\n', "password_file"),
        (MAIL + 'to = ["a@b"]\nencryption = "none"\n', "starttls"),
    ],
)
def test_what_is_wrong_is_named(tmp_path, text, says):
    with pytest.raises(ConfigError, match=says):
        load(written(tmp_path, text))


@pytest.mark.parametrize("mode", [0o664, 0o646])
def test_commands_in_a_file_that_others_may_write_are_refused(tmp_path, mode):
    with pytest.raises(ConfigError, match="chmod go-w"):
        load(written(tmp_path, COMMAND, mode))
    assert load(written(tmp_path, "", mode))
    assert load(written(tmp_path, COMMAND, 0o644))


def test_the_commented_lines_of_the_example_are_valid_settings(tmp_path):
    lines = holdctl("config", "--example").stdout.splitlines()
    begin = next(n for n, line in enumerate(lines) if line.startswith("# [notify]"))
    end = lines.index("", begin)
    table = "\n".join(line.removeprefix("# ") for line in lines[begin:end])
    assert set(tomllib.loads(table)["notify"]) >= {"command", "mail", "repeat_high"}
    notify = load(written(tmp_path, "\n" + table)).settings.notify
    assert notify.mail.then_to == ("miller@example.org",)
