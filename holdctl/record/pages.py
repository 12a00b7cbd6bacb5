"""Rows straight from the pages of a damaged file, without SQLite.

SQLite reaches a row through pages that lead to it, and one bad page there hides hundreds of good ones. A page that
holds rows can be read by itself: the format is public (sqlite.org/fileformat2.html). So every page is looked at, and
what does not decode to the end is left out.
"""

import mmap
import struct
from collections.abc import Iterator
from pathlib import Path

LEAF = 13
"""First byte of a page that holds rows of a table."""
_HEADER = 100
"""Bytes of the file's own header, on the first page."""
_FIXED = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
"""Bytes of an integer by its serial type."""

Value = int | float | str | bytes | None


class BadRowError(ValueError):
    """These bytes are no row."""


class Image:
    """The pages of a file, and those of its write-ahead log."""

    def __init__(self, data: "bytes | mmap.mmap", wal: bytes, size: int) -> None:
        self.size = size
        self._data = data
        self._sound, self._doubtful = _frames(wal, size)
        self._newest = dict(self._sound)

    def rows(self) -> Iterator[tuple[int, tuple[Value, ...]]]:
        """Yield (rowid, values) of every row on every version of every page; the later one counts.

        First what the log holds with a wrong checksum, so that everything else is preferred, then the file, then the
        log in order.
        """
        for number, page in self._doubtful:
            yield from self._leaf(number, page)
        for number in range(1, len(self._data) // self.size + 1):
            yield from self._leaf(number, self._data[(number - 1) * self.size : number * self.size])
        for number, page in self._sound:
            yield from self._leaf(number, page)

    def page(self, number: int) -> bytes:
        """Return the newest version of a page; empty where there is none."""
        return self._newest.get(number) or self._data[max(0, number - 1) * self.size : number * self.size]

    def _leaf(self, number: int, page: bytes) -> Iterator[tuple[int, tuple[Value, ...]]]:
        start = _HEADER if number == 1 else 0
        if len(page) != self.size or page[start] != LEAF:
            return
        cells = int.from_bytes(page[start + 3 : start + 5], "big")
        for at in range(start + 8, min(start + 8 + 2 * cells, self.size - 1), 2):
            try:
                yield self._cell(page, int.from_bytes(page[at : at + 2], "big"))
            except (BadRowError, IndexError, UnicodeDecodeError):
                continue

    def _cell(self, page: bytes, at: int) -> tuple[int, tuple[Value, ...]]:
        length, at = _varint(page, at)
        rowid, at = _varint(page, at)
        if not 0 < length < 2**31 or rowid >= 2**63:
            raise BadRowError
        local = self._local(length)
        payload = page[at : at + local]
        if len(payload) != local:
            raise BadRowError
        if local < length:
            payload += self._overflow(
                int.from_bytes(page[at + local : at + local + 4], "big"), length - local
            )
        return rowid, record(payload)

    def _local(self, length: int) -> int:
        """Return how much of a row's bytes stand on its own page (file format, section 1.6)."""
        most, least = self.size - 35, (self.size - 12) * 32 // 255 - 23
        if length <= most:
            return length
        kept = least + (length - least) % (self.size - 4)
        return kept if kept <= most else least

    def _overflow(self, number: int, left: int) -> bytes:
        parts = []
        seen: set[int] = set()
        while left > 0:
            page = self.page(number)
            if number < 1 or number in seen or len(page) != self.size:
                raise BadRowError
            seen.add(number)
            parts.append(page[4 : 4 + min(left, self.size - 4)])
            left -= len(parts[-1])
            number = int.from_bytes(page[:4], "big")
        return b"".join(parts)


def record(payload: bytes) -> tuple[Value, ...]:
    """Return the values of one record; BadRowError where the bytes don't add up."""
    header, at = _varint(payload, 0)
    if not 0 < header <= len(payload):
        raise BadRowError
    kinds = []
    while at < header:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    if at != header:
        raise BadRowError
    values = []
    for kind in kinds:
        value, at = _value(payload, at, kind)
        values.append(value)
    if at != len(payload):
        raise BadRowError
    return tuple(values)


def _value(payload: bytes, at: int, kind: int) -> tuple[Value, int]:
    if kind in (0, 8, 9):
        return (None, 0, 1)[max(0, kind - 7)], at
    if kind in (10, 11):
        raise BadRowError
    length = _FIXED.get(kind, 8) if kind < 10 else (kind - 12) // 2
    raw = payload[at : at + length]
    if len(raw) != length:
        raise BadRowError
    if kind == 7:
        return float(struct.unpack(">d", raw)[0]), at + 8
    if kind < 10:
        return int.from_bytes(raw, "big", signed=True), at + length
    return (raw.decode() if kind % 2 else raw), at + length


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for k in range(8):
        byte = data[at + k]
        value = value << 7 | byte & 127
        if byte < 128:
            return value, at + k + 1
    return value << 8 | data[at + 8], at + 9


def image(path: Path) -> Image:
    """Map a file, and read its write-ahead log. Raises OSError."""
    wal_path = path.with_name(path.name + "-wal")
    wal = wal_path.read_bytes() if wal_path.is_file() else b""
    with path.open("rb") as file:
        data = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) if path.stat().st_size else b""
    return Image(data, wal, _page_size(data, wal))


def _page_size(data: "bytes | mmap.mmap", wal: bytes) -> int:
    """Return the page size by the file's header, by the log's, or the usual one where both are damaged."""
    for said in (int.from_bytes(data[16:18], "big"), int.from_bytes(wal[8:12], "big")):
        size = 65536 if said == 1 else said
        if size >= 512 and size & (size - 1) == 0 and len(data) % size == 0:
            return size
    return 4096


_Frame = tuple[int, bytes]


def _frames(wal: bytes, size: int) -> tuple[list[_Frame], list[_Frame]]:
    """Return the frames of the log up to its last commit, as (page number, page): sound ones and doubtful ones.

    Sound are those that SQLite would take (file format, section 4); behind a damaged one its checksums prove nothing.
    """
    sound: list[_Frame] = []
    doubtful: list[_Frame] = []
    since: list[_Frame] = []
    if len(wal) < 32:
        return sound, doubtful
    order = ">" if wal[3] & 1 else "<"
    salt, sums = wal[16:24], _checksum(order, wal[:24], (0, 0))
    good = sums == struct.unpack(">2I", wal[24:32])
    for at in range(32, len(wal) - size - 23, size + 24):
        head, page = wal[at : at + 24], wal[at + 24 : at + 24 + size]
        if good:
            sums = _checksum(order, page, _checksum(order, head[:8], sums))
            good = head[8:16] == salt and sums == struct.unpack(">2I", head[16:24])
            if not good:
                since.clear()
        if not good and head[8:16] != salt:
            continue
        since.append((int.from_bytes(head[:4], "big"), page))
        if head[4:8] != bytes(4):
            (sound if good else doubtful).extend(since)
            since.clear()
    return sound, doubtful


def _checksum(order: str, data: bytes, sums: tuple[int, int]) -> tuple[int, int]:
    first, second = sums
    words = struct.unpack(f"{order}{len(data) // 4}I", data)
    for a, b in zip(words[::2], words[1::2], strict=True):
        first = first + a + second & 0xFFFFFFFF
        second = second + b + first & 0xFFFFFFFF
    return first, second
