"""Mail leaves encrypted and to a verified server, or it waits; the password stands in a file of one's own alone."""

import base64
import shutil
from email import message_from_string

import pytest

from holdctl.clock import boot_id
from holdctl.daemon import post
from holdctl.daemon.heartbeat import Heartbeat, heartbeat_file, write
from holdctl.daemon.letters import MOST, Letter, letter_folder, put, waiting
from holdctl.daemon.post import KEPT_MS, SILENT_MS, Watch, read_password, send_waiting, stay
from holdctl.errors import ConfigError, JobError
from holdctl.settings import Mail
from tests.daemon.rig import PLAIN_RIG, holdctl
from tests.notify.mail_server import MailServer, certificate

pytestmark = pytest.mark.skipif(
    shutil.which("openssl") is None, reason="openssl is not here (Debian package openssl)"
)


class Clock:
    def __init__(self, utc_ms=1_760_000_000_000):
        self.utc, self.boot, self.slept = utc_ms, 1_000_000, []

    def monotonic_ms(self):
        return self.boot

    def utc_ms(self):
        return self.utc

    def sleep(self, seconds):
        self.slept.append(seconds)
        self.utc += round(1000 * seconds)
        self.boot += round(1000 * seconds)


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    return certificate(tmp_path_factory.mktemp("cert"))


@pytest.fixture
def serve(pair):
    made = []

    def begin(**how):
        made.append(MailServer(*pair, **how))
        return made[-1]

    yield begin
    for server in made:
        server.close()


def settings(server, pair, **more):
    trusted = {"ca_file": str(pair[0]), **more}
    return Mail(
        server="localhost", port=server.port, sender="warmer@example.org", to=("a@example.org",), **trusted
    )


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "mat-box.db"
    put(letter_folder(path), Letter(1_760_000_000_000, "mat box: high alarm: no-heat", "Look.\n"))
    return path


def left(record):
    return [letter.subject for _, letter in waiting(letter_folder(record))]


@pytest.mark.parametrize("encryption", ["tls", "starttls"])
def test_a_letter_is_sent_over_a_verified_line_and_taken_away(serve, pair, record, encryption):
    server = serve(mode=encryption)
    assert send_waiting(settings(server, pair, encryption=encryption), record, Clock()) == 1
    assert left(record) == []
    mail = message_from_string(server.mails[0])
    assert mail["Subject"] == "mat box: high alarm: no-heat"
    assert mail["Auto-Submitted"] == "auto-generated"
    assert mail.get_payload().strip() == "Look."
    assert server.recipients == ["<a@example.org>"]
    assert [line.split()[0].lower() for line in server.plain] == (
        ["ehlo", "starttls"] if encryption == "starttls" else []
    )


@pytest.mark.parametrize("encryption", ["tls", "starttls"])
def test_a_certificate_that_nobody_vouches_for_is_refused_and_the_letter_waits(
    serve, pair, record, encryption
):
    server = serve(mode=encryption)
    with pytest.raises(JobError, match="can't be trusted"):
        send_waiting(settings(server, pair, encryption=encryption, ca_file=""), record, Clock())
    assert server.mails == server.logins == []
    assert len(left(record)) == 1


def test_a_certificate_for_another_name_is_refused(serve, pair, record):
    server = serve()
    mail = Mail(
        server="127.0.0.1",
        port=server.port,
        sender="w@example.org",
        to=("a@example.org",),
        ca_file=str(pair[0]),
    )
    with pytest.raises(JobError, match="can't be trusted"):
        send_waiting(mail, record, Clock())


def test_a_server_that_does_not_offer_starttls_gets_nothing_in_the_clear(serve, pair, record):
    server = serve(mode="plain")
    mail = settings(server, pair, encryption="starttls")
    with pytest.raises(JobError, match="STARTTLS"):
        send_waiting(mail, record, Clock())
    assert server.plain[0].startswith("ehlo")
    assert not any(line.upper().startswith(("MAIL", "DATA", "AUTH")) for line in server.plain)


def test_the_password_comes_from_its_file_and_goes_over_the_encrypted_line(serve, pair, record, tmp_path):
    server = serve(mode="starttls")
    secret = tmp_path / "password"
    secret.write_text("knead & wait\n", "utf-8")
    secret.chmod(0o600)
    mail = settings(server, pair, encryption="starttls", user="warmer", password_file=str(secret))
    assert send_waiting(mail, record, Clock()) == 1
    assert base64.b64decode(server.logins[0]) == b"\0warmer\0knead & wait"
    assert not any("AUTH" in line for line in server.plain)


@pytest.mark.parametrize("mode", [0o640, 0o604, 0o660])
def test_a_password_that_others_can_read_is_refused_before_anything_is_connected(tmp_path, record, mode):
    secret = tmp_path / "password"
    secret.write_text("x", "utf-8")
    secret.chmod(mode)
    mail = Mail(
        server="localhost", port=1, sender="w@e.org", to=("a@e.org",), user="w", password_file=str(secret)
    )
    with pytest.raises(ConfigError, match="chmod 600"):
        send_waiting(mail, record, Clock())


def test_a_missing_password_file_is_a_sentence(tmp_path):
    with pytest.raises(ConfigError, match="password_file"):
        read_password(tmp_path / "none")


def test_a_server_that_is_not_there_leaves_the_letter_waiting(serve, pair, record):
    server = serve()
    server.close()
    with pytest.raises(JobError, match="it waits"):
        send_waiting(settings(server, pair), record, Clock())
    assert len(left(record)) == 1


def test_a_server_that_says_nothing_is_given_up(serve, pair, record, monkeypatch):
    monkeypatch.setattr(post, "TIMEOUT_S", 0.3)
    with pytest.raises(JobError, match="it waits"):
        send_waiting(settings(serve(mute=True), pair), record, Clock())


@pytest.mark.parametrize("word", ["MAIL", "RCPT"])
def test_a_refused_letter_waits_a_day_and_is_then_set_aside(serve, pair, record, word):
    mail = settings(serve(refuse=word), pair)
    with pytest.raises(JobError, match="did not take"):
        send_waiting(mail, record, Clock())
    assert len(left(record)) == 1
    with pytest.raises(JobError, match="did not take"):
        send_waiting(mail, record, Clock(1_760_000_000_000 + KEPT_MS + 1))
    assert left(record) == []
    assert len(list((letter_folder(record) / "unsent").iterdir())) == 1


def test_second_recipients_get_what_escalated(serve, pair, record):
    server = serve()
    put(letter_folder(record), Letter(1_760_000_000_001, "again", "Look.", second=True))
    send_waiting(settings(server, pair, then_to=("b@example.org",)), record, Clock())
    assert server.recipients == ["<a@example.org>", "<a@example.org>", "<b@example.org>"]


def test_a_letter_sent_twice_can_be_seen_to_be_one():
    mail = Mail(server="s", sender="w@example.org", to=("a@example.org",))
    letter = Letter(1, "a\nBcc: c@example.org", "x")
    first, second = (post.compose(mail, ["a@example.org"], "name", letter) for _ in range(2))
    assert first["Message-ID"] == second["Message-ID"] == "<name@example.org>"
    assert first["Subject"] == "a Bcc: c@example.org"
    assert first["Bcc"] is None


def test_no_more_letters_than_the_most_wait(tmp_path):
    found = [put(tmp_path / "m", Letter(n, "s", "t")) for n in range(MOST + 1)]
    assert not any(found[:-1])
    assert "is `holdctl mail` running?" in found[-1]


def test_a_file_that_is_no_letter_is_set_aside(record):
    (letter_folder(record) / "0.json").write_text("{", "utf-8")
    assert len(left(record)) == 1
    assert [p.name for p in (letter_folder(record) / "unsent").iterdir()] == ["0.json"]


def test_a_folder_that_cannot_be_used_is_said(tmp_path):
    (tmp_path / "m").write_text("in the way", "utf-8")
    assert "could not be put into" in put(tmp_path / "m", Letter(1, "s", "t"))
    (tmp_path / "n" / "1.json").mkdir(parents=True)
    with pytest.raises(JobError, match="can't be read"):
        list(waiting(tmp_path / "n"))


def test_nothing_to_send_connects_to_nobody(tmp_path):
    mail = Mail(server="localhost", port=1, sender="w@e.org", to=("a@e.org",))
    assert send_waiting(mail, tmp_path / "r.db", Clock()) == 0


def test_a_certificate_file_that_is_none_is_named(record, tmp_path):
    (tmp_path / "ca").write_text("bread", "utf-8")
    mail = Mail(server="localhost", port=1, sender="w@e.org", to=("a@e.org",), ca_file=str(tmp_path / "ca"))
    with pytest.raises(ConfigError, match="ca_file"):
        send_waiting(mail, record, Clock())


def test_staying_waits_longer_after_each_failure_and_says_each_thing_once(serve, pair, record):
    server = serve()
    server.close()
    clock, said = Clock(), []
    stay(settings(server, pair), record, clock, said.append, turns=8)
    assert clock.slept == [10, 20, 40, 80, 160, 300, 300, 300]
    assert len(said) == 1


def test_a_daemon_that_died_is_told_of_by_the_process_that_sends_mail(tmp_path):
    record, clock = tmp_path / "a.db", Clock()
    watch = Watch(record)
    watch.look(clock)
    beat = Heartbeat(clock.utc, clock.boot, boot_id(), 1, 3, "running", "running", (), ())
    write(heartbeat_file(record), beat)
    watch.look(clock)
    assert left(record) == []
    clock.sleep(SILENT_MS / 1000 + 1)
    watch.look(clock)
    watch.look(clock)
    assert left(record) == ["a: no sign of life"]
    clock.sleep(1)
    write(
        heartbeat_file(record),
        Heartbeat(clock.utc, clock.boot, boot_id(), 1, 3, "running", "running", (), ()),
    )
    watch.look(clock)
    assert left(record) == ["a: no sign of life", "a: alive again"]


def test_the_command_sends_a_test_message(serve, pair, tmp_path):
    server = serve()
    table = f'\n[notify.mail]\nserver = "localhost"\nport = {server.port}\nsender = "w@example.org"\n'
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG + table + f'to = ["a@example.org"]\nca_file = "{pair[0]}"\n', "utf-8")
    done = holdctl("mail", "--test", "--config", str(path), "--record", str(tmp_path / "r.db"))
    assert (done.returncode, done.stdout) == (0, "Sent: 1.\n"), done.stderr
    assert "plain rig: a test" in server.mails[0]


def test_without_a_server_the_command_says_what_to_write(tmp_path):
    (tmp_path / "holdctl.toml").write_text(PLAIN_RIG, "utf-8")
    done = holdctl("mail", "--config", str(tmp_path / "holdctl.toml"))
    assert done.returncode == 2
    assert "[notify.mail]" in done.stderr
