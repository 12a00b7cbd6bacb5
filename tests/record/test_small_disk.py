"""A file system that really is full, read-only, or limits the size of a file."""

import os
import resource
import subprocess
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import NoticeKind, State
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.record.verify import verify

from .conftest import HOLD, night

ROWS = list(night(700))


def mount(*arguments: str) -> bool:
    return subprocess.run(["mount", *arguments], capture_output=True, check=False).returncode == 0


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 700 KB."""
    folder = tmp_path / "disk"
    folder.mkdir()
    if os.geteuid() != 0 or not mount("-t", "tmpfs", "-o", "size=700k", "tmpfs", str(folder)):
        pytest.skip("only root may mount a small disk; PRAGMA max_page_count stands in for it elsewhere")
    yield folder
    subprocess.run(["umount", "--lazy", str(folder)], check=True)


def told(store: Store) -> list[tuple[NoticeKind, str]]:
    return [(notice.kind, notice.name) for notice in store.news()]


def test_a_disk_that_fills_up_is_disk_full_and_nothing_is_lost_once_there_is_room(disk: Path) -> None:
    path = disk / "night.db"
    with Store.open(path) as store:
        hold = store.begin_hold(**HOLD)
        ballast = disk / "ballast"
        with ballast.open("wb") as file:
            free = os.statvfs(disk).f_bavail * os.statvfs(disk).f_bsize
            file.write(bytes(free - 60_000))
        for row in ROWS[:400]:
            store.sample(*row)
        assert told(store) == [(NoticeKind.ALARM, "disk-full")]
        assert len(Record(path).samples(hold)) < 300
        assert verify(path).good
        ballast.unlink()
        for row in ROWS[400:]:
            store.sample(*row)
        assert told(store) == [(NoticeKind.ALARM_CLEARED, "disk-full")]
        store.end_hold(ROWS[-1][0], State.STOPPED)
    assert [s.reading for s in Record(path).samples(hold)] == [reading for _, reading, _ in ROWS]
    assert verify(path).good


def test_no_hold_is_started_on_a_read_only_disk_but_its_record_is_read_and_verified(disk: Path) -> None:
    path = disk / "night.db"
    with Store.open(path) as store:
        hold = store.begin_hold(**HOLD)
        for row in ROWS[:20]:
            store.sample(*row)
    assert mount("-o", "remount,ro", str(disk))
    with pytest.raises(StoreError, match=r"Can't write the record .*--record"):
        Store.open(path)
    assert len(Record(path).samples(hold)) == 20
    assert verify(path).good


def test_a_limit_on_the_size_of_files_is_borne_like_a_full_disk(path: Path) -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    with Store.open(path) as store:
        hold = store.begin_hold(**HOLD)
        resource.setrlimit(resource.RLIMIT_FSIZE, (90_000, hard))
        try:
            for row in ROWS[:400]:
                store.sample(*row)
        finally:
            resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        alarms = [kind for kind, _ in told(store)]
        # the log is cut back at each new try, so that the limit is met again and again
        assert all(a is not b for a, b in pairwise(alarms))
        assert NoticeKind.ALARM in alarms
        for row in ROWS[400:]:
            store.sample(*row)
        assert not store._keeper.trouble
    assert [s.reading for s in Record(path).samples(hold)] == [reading for _, reading, _ in ROWS]
    assert verify(path).good
