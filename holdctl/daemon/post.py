"""Send letters by SMTP, over a line that is encrypted and whose certificate is verified, or not at all."""

import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from holdctl.clock import Clock, boot_id
from holdctl.daemon.heartbeat import heartbeat_file, read
from holdctl.daemon.letters import Letter, letter_folder, put, set_aside, waiting
from holdctl.errors import ConfigError, HoldctlError, JobError
from holdctl.settings import Mail

if TYPE_CHECKING:
    import smtplib
    import ssl
    from email.message import EmailMessage

TIMEOUT_S = 20.0
KEPT_MS = 24 * 3_600_000
"""A letter that could not be sent for so long is set aside: common practice, no source."""
LOOK_S = 5.0
FIRST_WAIT_S, LAST_WAIT_S = 10.0, 300.0
SILENT_MS = 180_000
"""No heartbeat for so long, and the mail process writes a letter of its own: the daemon can't."""
_PORTS = {"tls": 465, "starttls": 587}


def send_waiting(mail: Mail, record: Path, clock: Clock) -> int:
    """Send what waits beside `record`, oldest first, and return how many were sent. Raises HoldctlError."""
    found = list(waiting(letter_folder(record)))
    if not found:
        return 0
    sent, refused = 0, ""
    with _connected(mail) as server:
        for path, letter in found:
            why = _sent(server, mail, path.stem, letter)
            if not why:
                path.unlink(missing_ok=True)
                sent += 1
            elif clock.utc_ms() - letter.utc_ms > KEPT_MS:
                set_aside(path)
            refused = why or refused
    if refused:
        raise JobError(f"{mail.server} did not take a message ({refused}): look at sender and recipients.")
    return sent


def stay(
    mail: Mail, record: Path, clock: Clock, say: Callable[[str], None], turns: int | None = None
) -> None:
    """Send what comes until killed (or for so many turns); say what goes wrong, once for each thing.

    It also watches the heartbeat, because a daemon that is dead can't say so.
    """
    wait_s, last, watch = 0.0, "", Watch(record)
    while turns is None or turns > 0:
        turns = None if turns is None else turns - 1
        try:
            watch.look(clock)
            send_waiting(mail, record, clock)
        except HoldctlError as error:
            wait_s = min(max(2 * wait_s, FIRST_WAIT_S), LAST_WAIT_S)
            if str(error) != last:
                last = str(error)
                say(last)
        else:
            wait_s, last = 0.0, ""
        clock.sleep(wait_s or LOOK_S)


class Watch:
    """Writes one letter when the heartbeat stops, and one when it is back."""

    def __init__(self, record: Path) -> None:
        self._record, self._missed = record, False

    def look(self, clock: Clock) -> None:
        """Look at the heartbeat's age. Raises JobError where the file can't be read."""
        heartbeat = read(heartbeat_file(self._record))
        if heartbeat is None:
            return
        age = heartbeat.age_ms(clock.utc_ms(), clock.monotonic_ms(), boot_id())
        missed = not heartbeat.ended and (age is None or age > SILENT_MS)
        if missed == self._missed:
            return
        self._missed = missed
        if missed:
            since = "this computer was started anew" if age is None else f"for {age // 60_000} min"
            subject = f"{self._record.stem}: no sign of life"
            text = (
                f"The hold gave no sign of life ({since}). Its relay falls with its last lease; the paste cools. "
                "Look at `holdctl watch` and at the paste."
            )
        else:
            subject, text = f"{self._record.stem}: alive again", "The hold gives signs of life again."
        put(letter_folder(self._record), Letter(clock.utc_ms(), subject, text, second=missed))


@contextmanager
def _connected(mail: Mail) -> "Iterator[smtplib.SMTP]":
    """Connect, encrypt, log in. Raises ConfigError for files of ours, JobError for whatever the server does."""
    import smtplib
    import ssl

    password = read_password(Path(mail.password_file)) if mail.user else ""
    try:
        context = ssl.create_default_context(cafile=mail.ca_file or None)
    except OSError as error:
        raise ConfigError(f"notify.mail.ca_file: {mail.ca_file} is no certificate ({error}).") from None
    port = mail.port or _PORTS[mail.encryption]
    try:
        with _open(mail, port, context) as server:
            if mail.user:
                server.login(mail.user, password)
            yield server
    except ssl.SSLCertVerificationError as error:
        raise JobError(
            f"The certificate of {mail.server} can't be trusted ({error.verify_message}): nothing was sent. "
            "For a server of your own name its certificate as ca_file."
        ) from None
    except (OSError, smtplib.SMTPException) as error:
        raise JobError(
            f"Mail can't be sent by {mail.server} port {port} ({type(error).__name__}: {error}); it waits."
        ) from None


def _open(mail: Mail, port: int, context: "ssl.SSLContext") -> "smtplib.SMTP":
    import smtplib

    if mail.encryption == "tls":
        return smtplib.SMTP_SSL(mail.server, port, timeout=TIMEOUT_S, context=context)
    server = smtplib.SMTP(mail.server, port, timeout=TIMEOUT_S)
    try:
        server.starttls(context=context)  # without a context the certificate would not be verified
    except BaseException:
        server.close()
        raise
    return server


def _sent(server: "smtplib.SMTP", mail: Mail, name: str, letter: Letter) -> str:
    """Send one letter; return why it was refused, empty where it was accepted."""
    import smtplib

    to = [*mail.to, *(mail.then_to if letter.second else ())]
    try:
        refused = server.send_message(compose(mail, to, name, letter), mail.sender, to)
    except smtplib.SMTPServerDisconnected:
        raise
    except smtplib.SMTPResponseException as error:
        return f"{error.smtp_code}"
    except smtplib.SMTPRecipientsRefused as error:
        return f"no recipient accepted: {', '.join(error.recipients)}"
    return f"not accepted: {', '.join(refused)}" if len(refused) == len(to) else ""


def compose(mail: Mail, to: list[str], name: str, letter: Letter) -> "EmailMessage":
    """Make the mail; the same letter has the same Message-ID, so that one sent twice can be seen to be one."""
    from email.message import EmailMessage
    from email.utils import formatdate

    message = EmailMessage()
    message["From"], message["To"] = mail.sender, ", ".join(to)
    message["Subject"] = " ".join(letter.subject.split())
    message["Date"] = formatdate(letter.utc_ms / 1000)
    message["Message-ID"] = f"<{name}@{mail.sender.rpartition('@')[2] or 'localhost'}>"
    message["Auto-Submitted"] = "auto-generated"  # RFC 3834: no vacation answers, please
    message.set_content(letter.text)
    return message


def read_password(path: Path) -> str:
    """Return the first line of a file that is its owner's alone. Raises ConfigError."""
    try:
        with path.open("rb") as file:
            found = os.fstat(file.fileno())
            if not stat.S_ISREG(found.st_mode) or found.st_mode & 0o077 or found.st_uid != os.geteuid():
                raise ConfigError(
                    f"notify.mail.password_file: {path} must be yours alone: `chmod 600 {path}`, and own it."
                )
            return file.readline(1000).decode("utf-8").rstrip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        raise ConfigError(f"notify.mail.password_file: {path} can't be read ({error}).") from None
