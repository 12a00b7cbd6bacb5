"""What waits in memory for its commit: for seconds on most nights, for hours while the record can't be written.

Rows wait as their lines of the chain (some 130 bytes and their overhead), in the order of `seq`. Beyond a day of
samples the oldest are dropped; their time is a gap, which the record is told once it can be written again.
"""

import heapq
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice
from typing import Any

import msgspec

MOST_SAMPLES = 86_400
"""A day at one a second; some 25 MB."""
MOST_OTHERS = 20_000
"""Events and requests; an ordinary night has some hundreds."""

Entry = tuple[int, int, bytes]
"""Number that orders it, rank among the same, line."""


@dataclass(slots=True)
class Gap:
    """Samples that had to be dropped, from the first to the last."""

    first: tuple[Any, ...]
    last: tuple[Any, ...]
    samples: int
    others: int = 0
    """Events and requests that went too."""


class Ring:
    """Rows that wait, bounded."""

    def __init__(self, most_samples: int = MOST_SAMPLES, most_others: int = MOST_OTHERS) -> None:
        self._most_samples, self._most_others = most_samples, most_others
        self._samples: deque[Entry] = deque()
        self._others: deque[Entry] = deque()
        self.gap: Gap | None = None

    def __len__(self) -> int:
        return len(self._samples) + len(self._others)

    @property
    def samples(self) -> int:
        """Number of samples that wait."""
        return len(self._samples)

    def sample(self, seq: int, line: bytes) -> None:
        """Let one sample wait; beyond the limit the oldest goes."""
        self._samples.append((seq, 1, line))
        if len(self._samples) > self._most_samples:
            self._drop(self._samples.popleft()[2])

    def other(self, order: int, rank: int, line: bytes) -> None:
        """Let an event, a request or a part of a hold wait."""
        self._others.append((order, rank, line))
        if len(self._others) > self._most_others:
            self._others.popleft()
            if self.gap is not None:
                self.gap.others += 1

    def place(self, order: int, rank: int, line: bytes) -> None:
        """Put in where its number belongs what comes late: the event of a gap, a hold's begin for a new file."""
        entry = (order, rank, line)
        if entry not in self._others:
            self._others = deque(heapq.merge(self._others, [entry]))

    def oldest(self, most: int) -> list[Entry]:
        """Return at most so many of what waits, in order."""
        return list(islice(heapq.merge(self._samples, self._others), most))

    def forget(self, last: Entry) -> None:
        """Let go of what has been written, up to and with `last`."""
        for waiting in (self._samples, self._others):
            while waiting and waiting[0] <= last:
                waiting.popleft()

    def settle(self, last_seq: int) -> None:
        """Take from the gap what turned out to be on disk: everything up to `last_seq`."""
        gap = self.gap
        if gap is None or gap.first[0] > last_seq:
            return
        left = gap.last[0] - last_seq
        self.gap = Gap((last_seq + 1, *gap.first[1:]), gap.last, left, gap.others) if left > 0 else None

    def _drop(self, line: bytes) -> None:
        row = values(line)[1]
        if self.gap is None:
            self.gap = Gap(row, row, 1)
        else:
            self.gap.last = row
            self.gap.samples += 1


def values(line: bytes) -> tuple[str, tuple[Any, ...]]:
    """Return what a line was made of: table or part of a hold, and values; trailing NULLs are left out."""
    kind, *rest = msgspec.json.decode(line)
    return kind, tuple(rest)


def decoded(entries: Iterable[Entry]) -> list[tuple[str, tuple[Any, ...], bytes]]:
    """Return entries as (table or part, values, line)."""
    return [(*values(line), line) for _, _, line in entries]
