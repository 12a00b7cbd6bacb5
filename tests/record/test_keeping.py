"""The commands verify, backup and salvage as a baker meets them."""

import json
import sqlite3
from pathlib import Path

import msgspec
import pytest
from click.testing import CliRunner, Result

from holdctl.cli import cli
from holdctl.errors import HoldctlError
from holdctl.events import State
from holdctl.record.query import Record
from holdctl.record.store import Store
from tests.review.conftest import SETTINGS

from .conftest import HOLD, night
from .small import write_small


def run(*arguments: object) -> Result:
    return CliRunner().invoke(cli, [str(a) for a in arguments], standalone_mode=False)


def code(result: Result) -> int:
    """Return the exit code as `main` makes it."""
    return getattr(result.exception, "exit_code", 1) if result.exception else result.return_value or 0


def tamper(path: Path) -> None:
    with sqlite3.connect(path) as db:
        db.execute("UPDATE samples SET t1 = t1 + 50 WHERE seq = 5")
    db.close()


@pytest.fixture
def small(path: Path) -> Path:
    write_small(path)
    return path


def test_verify_says_that_the_record_holds_with_rows_and_head(small: Path) -> None:
    head = Record(small).head()
    assert head is not None
    done = run("verify", "--record", small)
    assert done.output == f"The record holds, {head.rows} rows, head {head.hex}.\n"
    assert code(done) == 0
    done = run("verify", "--record", small, "--head", head.hex, "--rows", head.rows)
    assert "The noted head is in it" in done.output
    assert code(done) == 0


def test_verify_names_the_fault_and_leaves_with_1(small: Path) -> None:
    tamper(small)
    done = run("verify", "--record", small)
    assert done.output.startswith("The record does not hold: batch ")
    assert "It lies in hold 1, " in done.output
    assert code(done) == 1
    found = json.loads(run("verify", "--record", small, "--json").output)
    assert found["holds"] is False
    assert found["fault"]["hold"] == 1
    assert found["fault"]["first_seq"] <= 5 <= found["fault"]["last_seq"]


def test_verify_with_a_head_that_is_not_in_the_chain_leaves_with_1(small: Path) -> None:
    done = run("verify", "--record", small, "--head", "ab" * 32)
    assert "cut short" in done.output
    assert code(done) == 1


@pytest.mark.parametrize("arguments", [("--head", "12"), ("--head", "xyz" * 8), ("--rows", "5")])
def test_a_head_that_is_none_is_bad_input(small: Path, arguments: tuple[str, ...]) -> None:
    assert code(run("verify", "--record", small, *arguments)) == 2


def test_the_head_stands_under_every_review(path: Path) -> None:
    config = msgspec.json.encode(SETTINGS).decode()
    with Store.open(path) as store:
        store.begin_hold(**HOLD | {"config_json": config})
        for row in night(30):
            store.sample(*row)
        store.end_hold(row[0], State.STOPPED)
    head = Record(path).head()
    assert head is not None
    shown = run("review", "--record", path)
    assert shown.output.splitlines()[-1] == f"Record: {head.rows} rows, head {head.hex}"
    found = json.loads(run("review", "--record", path, "--json").output)
    assert found["record"] == {"head": head.hex, "rows": head.rows}


def test_backup_and_salvage_say_what_they_made(small: Path, tmp_path: Path) -> None:
    head = Record(small).head()
    assert head is not None
    copy, saved = tmp_path / "copy.db", tmp_path / "saved.db"
    done = run("backup", copy, "--record", small)
    assert f"head {head.hex}." in done.output
    assert code(done) == 0
    assert code(run("backup", copy, "--record", small)) == 2
    done = run("salvage", copy, "--to", saved)
    assert "No number is missing." in done.output
    assert head.hex in done.output
    assert code(done) == 0
    assert code(run("salvage", copy, "--to", saved)) == 2
    assert code(run("salvage", tmp_path / "none.db", "--to", tmp_path / "x.db")) == 2
    again = json.loads(run("salvage", copy, "--to", tmp_path / "second.db", "--json").output)
    assert again["old_head"] == head.hex
    assert again["lost"] == []
    made = json.loads(run("backup", tmp_path / "third.db", "--record", small, "--json").output)
    assert made["verified"]["head"] == head.hex


def test_a_backup_of_what_does_not_hold_leaves_with_1(small: Path, tmp_path: Path) -> None:
    tamper(small)
    assert code(run("backup", tmp_path / "copy.db", "--record", small)) == 1


@pytest.mark.parametrize(("taken", "says"), [(True, "has taken the request"), (False, "is withdrawn")])
def test_a_request_without_an_answer_says_whether_it_was_taken(
    store: Store, path: Path, monkeypatch: pytest.MonkeyPatch, says: str, *, taken: bool
) -> None:
    from holdctl.cli import asking
    from holdctl.record import spool

    store.begin_hold(**HOLD)  # and nobody turns its loop
    folder = path.with_name("night.spool")
    spool.prepare(folder)
    place = spool.place

    def placed(*arguments: object, **options: object) -> Path:
        file = place(*arguments, **options)  # type: ignore[arg-type]
        if taken:
            file.rename(folder / "taken" / file.name)
        return file

    monkeypatch.setattr(spool, "place", placed)
    monkeypatch.setattr(asking, "_ANSWER_MS", 60)
    done = run("stop", "--record", path)
    assert says in str(done.exception)
    assert code(done) == 1
    assert list(folder.glob("*.json")) == []


@pytest.mark.parametrize("kind", ["missing", "foreign", "damaged", "newer"])
def test_a_record_that_cannot_be_read_is_one_sentence_and_stays_as_it_is(
    path: Path, tmp_path: Path, kind: str
) -> None:
    path.parent.mkdir()
    if kind == "foreign":
        path.write_text("flour, water\n" * 100)
    elif kind != "missing":
        write_small(path)
        data = bytearray(path.read_bytes())
        data[60:64] = (99).to_bytes(4, "big") if kind == "newer" else data[60:64]
        data[100:] = bytes(len(data) - 100) if kind == "damaged" else data[100:]
        path.write_bytes(data)
    before = path.read_bytes() if path.exists() else None
    for arguments in (("verify",), ("backup", tmp_path / "copy.db")):
        done = run(*arguments, "--record", path)
        assert isinstance(done.exception, HoldctlError)
        assert code(done) == 1
    assert (path.read_bytes() if path.exists() else None) == before
    assert not (tmp_path / "copy.db").exists()
