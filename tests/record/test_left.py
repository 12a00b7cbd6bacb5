"""What a failing disk left unwritten at the end: beside the record, and said."""

import errno
from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import State
from holdctl.record import left, ring
from holdctl.record.store import Store

from .conftest import HOLD, night
from .small import Plan

ROWS = list(night(20))


def dies_with_a_full_disk(path: Path) -> str:
    """Let ten readings and the end wait for a disk that stays full; return what is said at the end."""
    plan = Plan(1, "SQLITE_FULL", ever=True)
    store = Store.open(path, make=plan.make)
    store.begin_hold(**HOLD)
    plan.counting = True
    for row in ROWS[:10]:
        store.sample(*row)
    with pytest.raises(StoreError):
        store.end_hold(ROWS[9][0], State.STOPPED)
    with pytest.raises(StoreError) as said:
        store.close()
    return str(said.value)


def test_what_waits_when_it_ends_with_a_failing_disk_is_left_beside_the_record_and_said(path: Path) -> None:
    said = dies_with_a_full_disk(path)
    left = path.with_name("night-unwritten-1.jsonl")
    assert "is full" in said
    assert "10 readings and" in said
    assert f"in {left}" in said
    assert left.stat().st_mode & 0o777 == 0o600
    rows = [ring.values(line) for line in left.read_bytes().splitlines()]
    assert [values[0] for kind, values in rows if kind == "samples"] == list(range(1, 11))
    assert rows[-1][0] == "end"


def test_without_room_beside_the_record_it_is_left_where_the_service_keeps_it_else_with_the_temporary(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write = left._write

    def full(place: Path, entries: list[ring.Entry]) -> None:
        if place.parent in without_room:
            raise OSError(errno.ENOSPC, "No space left on device")
        write(place, entries)

    monkeypatch.setattr(left, "_write", full)
    kept, temporary = tmp_path / "kept", tmp_path / "temporary"
    kept.mkdir()
    temporary.mkdir()
    monkeypatch.setenv("RUNTIME_DIRECTORY", f"{kept}:/run/other")
    monkeypatch.setattr(left.tempfile, "gettempdir", lambda: str(temporary))
    said, without_room = [], [path.parent]
    for number, next_ in enumerate((kept, temporary, None)):
        said.append(dies_with_a_full_disk(path.with_name(f"{number}.db")))
        without_room.append(next_)
    assert f"in {kept}/0-unwritten-1.jsonl" in said[0]
    assert f"in {temporary}/1-unwritten-1.jsonl" in said[1]
    assert said[2].endswith("nowhere was room for them, and they are lost.")


def test_a_file_that_is_there_already_or_a_half_written_one_is_never_taken_for_what_was_left(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    there = path.with_name("night-unwritten-1.jsonl")
    there.write_text("mine")
    with pytest.raises(FileExistsError):
        left._write(there, [(1, 1, b"[]")])
    assert there.read_text() == "mine"
    there.unlink()

    def fails(_fd: int) -> None:
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(left.os, "fsync", fails)
    with pytest.raises(OSError, match="Input/output"):
        left._write(there, [(1, 1, b"[]")])
    assert not there.exists()
