"""Requests: never obeyed twice, never obeyed late, never lost."""

import json
import os
import stat
from pathlib import Path

import pytest

from holdctl.errors import StoreError
from holdctl.events import Instant, Request, RequestKind
from holdctl.record.files import spool_folder
from holdctl.record.query import Record
from holdctl.record.spool import Filed, collect, leftovers, place, prepare
from holdctl.record.store import Store

from .conftest import HOLD, START_UTC_MS

NOW = START_UTC_MS + 60_000


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "night.spool"
    prepare(made)
    return made


def take(folder: Path, now: int = NOW, hold: int | None = 1) -> list[Filed]:
    return collect(folder, now_utc_ms=now, daemon_start_utc_ms=START_UTC_MS, hold=hold)


def test_a_request_arrives_as_it_was_placed(folder: Path) -> None:
    file = place(folder, kind="note", by="baker", hold=1, subject="malt: 30 g, süß", utc_ms=NOW)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    [filed] = take(folder)
    assert filed.request == Request(RequestKind.NOTE, "baker", "malt: 30 g, süß")
    assert filed.outcome == "accepted"


def test_requests_are_taken_oldest_first_and_once(folder: Path) -> None:
    for ms in (3, 1, 2):
        place(folder, kind="note", by="baker", subject=str(ms), utc_ms=NOW + ms)
    assert [f.subject for f in take(folder)] == ["1", "2", "3"]
    assert take(folder) == []


def test_a_request_taken_before_a_crash_is_never_obeyed_but_filed_at_the_next_start(folder: Path) -> None:
    place(folder, kind="reset", by="baker", subject="paste-high", utc_ms=NOW)
    take(folder)  # and the daemon dies here
    assert take(folder) == []
    [filed] = leftovers(folder)
    assert (filed.request, filed.outcome) == (None, "expired")
    assert "ended before it was obeyed" in filed.reason


def test_what_waits_at_a_start_is_filed_and_not_obeyed(folder: Path) -> None:
    # whatever the clock says: a board without a battery starts with a stale one
    place(folder, kind="stop", by="baker", utc_ms=NOW + 10**9)
    assert [f.outcome for f in leftovers(folder)] == ["expired"]
    assert take(folder) == []


@pytest.mark.parametrize("kind", ["reset", "next"])
@pytest.mark.parametrize(("age_ms", "outcome"), [
    (0, "accepted"), (60_000, "accepted"), (60_001, "expired"), (-60_001, "expired"), (10**10, "expired"),
])  # fmt: skip
def test_reset_and_next_expire_after_a_minute(folder: Path, kind: str, age_ms: int, outcome: str) -> None:
    place(folder, kind=kind, by="baker", utc_ms=NOW)
    assert [f.outcome for f in take(folder, NOW + age_ms)] == [outcome]


@pytest.mark.parametrize("kind", ["next", "reset"])
def test_next_and_reset_from_before_a_daemon_start_are_not_obeyed(folder: Path, kind: str) -> None:
    place(folder, kind=kind, by="baker", utc_ms=START_UTC_MS - 1)
    [filed] = take(folder, START_UTC_MS + 1)
    assert (filed.request, filed.outcome) == (None, "expired")


@pytest.mark.parametrize("kind", ["stop", "acknowledge"])
def test_a_clock_set_back_does_not_keep_a_stop_from_being_obeyed(folder: Path, kind: str) -> None:
    place(folder, kind=kind, by="baker", utc_ms=START_UTC_MS - 3_600_000)
    assert take(folder, START_UTC_MS + 1)[0].outcome == "accepted"


def test_a_time_that_no_clock_has_is_set_aside(folder: Path) -> None:
    text = '{"kind":"note","by":"x","utc_ms":' + "9" * 31 + ',"subject":"odd"}'
    (folder / "odd.json").write_text(text, "utf-8")
    assert take(folder)[0].outcome == "refused"
    assert (folder / "refused" / "odd.json").exists()


def test_a_request_never_makes_the_spool_that_belongs_to_the_daemon(tmp_path: Path) -> None:
    with pytest.raises(StoreError):
        place(tmp_path / "none.spool", kind="stop", by="baker", utc_ms=NOW)
    assert not (tmp_path / "none.spool").exists()


def test_a_stop_does_not_expire(folder: Path) -> None:
    place(folder, kind="stop", by="baker", utc_ms=START_UTC_MS + 1)
    assert take(folder, START_UTC_MS + 10**7)[0].outcome == "accepted"


def test_a_request_for_another_hold_is_refused(folder: Path) -> None:
    place(folder, kind="stop", by="baker", hold=3, utc_ms=NOW)
    [filed] = take(folder, hold=4)
    assert (filed.request, filed.outcome) == (None, "refused")
    assert filed.reason == "it is meant for hold 3, but hold 4 is running"


@pytest.mark.parametrize("raw", [
    b"", b"{", b"[]", b"\xff\xfe", b'{"kind": "heat", "by": "x", "utc_ms": 1}', b'{"kind": "stop"}',
    b'{"kind": "stop", "by": "x", "utc_ms": 1, "extra": 1}', b'{"kind": "note", "by": "x", "utc_ms": "now"}',
    b'{"kind": "note", "by": "x", "utc_ms": 1, "subject": "' + b"a" * 1001 + b'"}', b" " * 10_000,
])  # fmt: skip
def test_a_file_that_is_no_request_is_refused_and_kept_aside(folder: Path, raw: bytes) -> None:
    folder.mkdir(exist_ok=True)
    (folder / "0.json").write_bytes(raw)
    [filed] = take(folder)
    assert (filed.request, filed.outcome) == (None, "refused")
    assert "kept as refused/0.json" in filed.reason
    assert (folder / "refused" / "0.json").read_bytes() == raw
    assert take(folder) == []


def test_links_and_pipes_are_refused(folder: Path, tmp_path: Path) -> None:
    folder.mkdir(exist_ok=True)
    secret = tmp_path / "secret"
    secret.write_text(json.dumps({"kind": "stop", "by": "x", "utc_ms": NOW}))
    (folder / "a.json").symlink_to(secret)
    os.mkfifo(folder / "b.json")
    (folder / "c.json").mkdir()
    assert [f.outcome for f in take(folder)] == ["refused"] * 3
    assert secret.exists()


def test_half_written_files_are_left_alone(folder: Path) -> None:
    folder.mkdir(exist_ok=True)
    (folder / ".0001.half").write_text("{")
    (folder / "README").write_text("hello")
    assert take(folder) == []
    assert len([p for p in folder.iterdir() if p.is_file()]) == 2


def test_control_characters_do_not_reach_a_terminal(folder: Path) -> None:
    place(folder, kind="note", by="a\x1b[2J", subject="x\ny\x07z", utc_ms=NOW)
    [filed] = take(folder)
    assert filed.request == Request(RequestKind.NOTE, "a [2J", "x y z")


def test_a_missing_spool_is_an_empty_one(tmp_path: Path) -> None:
    folder = tmp_path / "none.spool"
    assert take(folder) == []
    assert leftovers(folder) == []
    assert not folder.exists()


def test_a_text_that_is_too_long_is_refused_when_placed(folder: Path) -> None:
    with pytest.raises(StoreError, match="at most 1000 characters"):
        place(folder, kind="note", by="baker", subject="x" * 1001, utc_ms=NOW)
    assert take(folder) == []


def test_every_outcome_is_filed_and_only_the_accepted_is_an_input(store: Store, path: Path) -> None:
    folder = spool_folder(path)
    prepare(folder)
    hold = store.begin_hold(**HOLD)
    place(folder, kind="acknowledge", by="baker", subject="silence", utc_ms=NOW)
    place(folder, kind="next", by="baker", utc_ms=NOW - 60_001)
    (folder / "9.json").write_text("rubbish")
    for filed in take(folder, hold=hold):
        store.request(Instant(5, 6, NOW), filed)
    record = Record(path)
    got = [(r.kind, r.outcome, r.filed_utc_ms) for r in record.requests(hold)]
    assert got == [("next", "expired", NOW), ("acknowledge", "accepted", NOW), (None, "refused", NOW)]
    assert record.requests(hold)[2].raw == "rubbish"
    acknowledged = Request(RequestKind.ACKNOWLEDGE, "baker", "silence")
    assert list(record.replay(hold)) == [(Instant(5, 6, NOW), acknowledged, None)]
    assert list((folder / "taken").iterdir()) == []
    assert leftovers(folder) == []
