"""Frames of the node's line protocol: bytes in, bodies out, and the other way. No I/O.

A frame is `$` body `*` CRC CR LF, at most 160 bytes, the CRC being CRC-16/XMODEM of the body in four
upper-case hex digits (docs/node-protocol.md).
"""

import re
from binascii import crc_hqx
from collections import Counter

MAX_FRAME = 160
_MAX_LINE = MAX_FRAME - 1  # without its LF
_BODY = re.compile(rb"[ -#%-)+-~]+").fullmatch  # printable ASCII without $ and *


def encode(body: str) -> bytes:
    """Return the frame around `body`. Raises ValueError for a body that no receiver would take."""
    raw = body.encode("ascii")
    if not _BODY(raw) or len(raw) + 8 > MAX_FRAME:
        raise ValueError(f"not a body of a frame: {body!r}")
    return b"$%b*%04X\r\n" % (raw, crc_hqx(raw, 0))


class Splitter:
    """Cuts a stream of bytes into the bodies of valid frames.

    Whatever is not a frame is dropped up to the next LF and counted by reason in `dropped`. What is kept
    between two calls never exceeds one frame.
    """

    def __init__(self) -> None:
        self.dropped: Counter[str] = Counter()
        self._kept = b""
        self._overlong = False

    def feed(self, data: bytes) -> list[str]:
        """Take any bytes; return the bodies that they complete, in order."""
        *lines, rest = (self._kept + data).split(b"\n")
        bodies = []
        for line in lines:
            body = self._body(line)
            if body is not None:
                bodies.append(body)
        if len(rest) > _MAX_LINE:
            self._overlong, rest = True, b""
        self._kept = rest
        return bodies

    def clear(self) -> None:
        """Forget a begun frame, as after a read error: its tail will be dropped for want of a `$`."""
        self._kept = b""
        self._overlong = False

    def _body(self, line: bytes) -> str | None:
        reason = self._flaw(line)
        self._overlong = False
        if reason:
            self.dropped[reason] += 1
            return None
        return line.removesuffix(b"\r")[1:-5].decode("ascii")

    def _flaw(self, line: bytes) -> str:
        """Name what is wrong with a line without its LF, '' for nothing."""
        if self._overlong or len(line) > _MAX_LINE:
            return "too long"
        line = line.removesuffix(b"\r")
        if line[:1] != b"$":
            return "no start"
        body = line[1:-5]
        if line[-5:] != b"*%04X" % crc_hqx(body, 0):
            return "crc"
        return "" if _BODY(body) else "characters"
