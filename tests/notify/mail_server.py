"""A small mail server for tests, and a certificate of its own; it takes one line at a time and keeps what it gets."""

import contextlib
import socket
import ssl
import subprocess
import threading
from pathlib import Path


def certificate(folder: Path, name: str = "localhost") -> tuple[Path, Path]:
    """Make a self-signed certificate for `name` by the openssl program; return certificate and key."""
    cert, key = folder / f"{name}.pem", folder / f"{name}.key"
    subprocess.run(
        [
            "openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
            "-keyout", str(key), "-out", str(cert), "-days", "2", "-subj", f"/CN={name}",
            "-addext", f"subjectAltName=DNS:{name}",
        ],
        check=True, capture_output=True, timeout=30,
    )  # fmt: skip
    return cert, key


class MailServer:
    """Speaks as much of RFC 5321 as a sender needs, by implicit TLS (`tls`), with `starttls`, or `plain`."""

    def __init__(
        self, cert: Path, key: Path, *, mode: str = "tls", refuse: str = "", mute: bool = False
    ) -> None:
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.load_cert_chain(cert, key)
        self.mode, self.refuse, self.mute = mode, refuse, mute
        self.mails: list[str] = []
        self.recipients: list[str] = []
        self.plain: list[str] = []
        """Commands that came before the line was encrypted."""
        self.logins: list[str] = []
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def close(self) -> None:
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join(5)

    def _serve(self) -> None:
        while True:
            try:
                line, _ = self._listener.accept()
            except OSError:
                return
            line.settimeout(5)
            with contextlib.suppress(OSError), line:
                self._one(line)

    def _one(self, bare: socket.socket) -> None:
        with contextlib.ExitStack() as stack:
            line = bare
            encrypted = self.mode == "tls"
            if encrypted:
                line = stack.enter_context(self.context.wrap_socket(bare, server_side=True))
            if self.mute:
                line.recv(1)
                return
            line.sendall(b"220 test\r\n")
            file = stack.enter_context(line.makefile("rb"))
            while text := file.readline().decode():
                if not encrypted:
                    self.plain.append(text.strip())
                word = text.split()[0].upper()
                if word == "STARTTLS" and self.mode == "starttls":
                    line.sendall(b"220 go\r\n")
                    line = stack.enter_context(self.context.wrap_socket(line, server_side=True))
                    file, encrypted = stack.enter_context(line.makefile("rb")), True
                elif word == "DATA":
                    line.sendall(b"354 go\r\n")
                    self.mails.append("".join(iter(lambda f=file: f.readline().decode(), ".\r\n")))
                    line.sendall(b"250 taken\r\n")
                else:
                    line.sendall(self._answer(word, text, encrypted).encode())
                    if word == "QUIT":
                        return

    def _answer(self, word: str, text: str, encrypted: bool) -> str:
        if word == "EHLO":
            more = (
                "250-AUTH PLAIN\r\n" if encrypted else "250-STARTTLS\r\n" if self.mode == "starttls" else ""
            )
            return f"250-test\r\n{more}250 SIZE 100000\r\n"
        if self.refuse and word == self.refuse:
            return "550 no\r\n"
        if word == "RCPT":
            self.recipients.append(text.split(":", 1)[1].strip())
        if word == "AUTH":
            self.logins.append(text.split()[2])
            return "235 welcome\r\n"
        return "221 bye\r\n" if word == "QUIT" else "250 ok\r\n"
