"""docs/record.md tells every column that a reader can meet."""

import re
import sqlite3
from pathlib import Path

import pytest

from holdctl.record.store import Store

PAGE = (Path(__file__).parents[2] / "docs" / "record.md").read_text()


@pytest.mark.parametrize("view", ["holds_utc", "samples_c", "events_utc", "requests_utc"])
def test_every_column_of_a_view_is_described(store: Store, path: Path, view: str) -> None:
    with sqlite3.connect(path) as db:
        columns = {name for _, name, *_ in db.execute(f"PRAGMA table_info({view})")}
    db.close()
    section = PAGE.partition(f"### `{view}`")[2].partition("\n##")[0]
    named = set(re.findall(r"`(\w+)`", section))
    named |= {f"probe{k}_{what}" for k in (2, 3) for what in ("c", "fault") if "probe1_c" in named}
    assert columns
    assert columns <= named


def test_every_packed_column_is_described(store: Store, path: Path) -> None:
    with sqlite3.connect(path) as db:
        columns = {name for _, name, *_ in db.execute("PRAGMA table_info(samples)")}
    db.close()
    packed = PAGE.partition("## How it is packed")[2]
    assert all(f"`{name}`" in packed for name in columns if name.endswith("_off") or name == "flags")


def test_every_column_of_the_chain_is_described(store: Store, path: Path) -> None:
    with sqlite3.connect(path) as db:
        columns = {name for _, name, *_ in db.execute("PRAGMA table_info(chain)")}
    db.close()
    assert columns <= set(re.findall(r"`(\w+)`", PAGE.partition("## The chain")[2].partition("\n## ")[0]))
