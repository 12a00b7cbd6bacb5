"""Kept plans: they come back as they were, one number each, never over another, never guessed at."""

import json
import os

import msgspec
import pytest

from holdctl.errors import ConfigError, StoreError
from holdctl.plan import store
from holdctl.plan.plan import VERSION, Plan
from tests.plan.breads import COOLING, DOUGH, MIX, NIGHT, PROGRAMME, plan


def full():
    return msgspec.structs.replace(
        plan(), mix=MIX, night=NIGHT, programme=PROGRAMME, cooling=COOLING, dough=DOUGH
    )


def test_a_plan_comes_back_as_it_was_kept(tmp_path):
    kept = store.save(full(), tmp_path / "plans")
    assert kept.id == 1
    assert store.load(1, tmp_path / "plans") == kept
    assert msgspec.structs.replace(kept, id=None) == full()


def test_numbers_count_up_and_none_is_given_twice(tmp_path):
    assert [store.save(plan(), tmp_path).id for _ in range(3)] == [1, 2, 3]
    (tmp_path / "2.json").unlink()
    assert store.save(plan(), tmp_path).id == 4
    assert store.numbers(tmp_path) == [1, 3, 4]


def test_who_is_quicker_keeps_the_number(tmp_path, monkeypatch):
    store.save(plan(name="first"), tmp_path)
    seen = iter([[], [1]])  # looked before the other one wrote, then again
    monkeypatch.setattr(store, "numbers", lambda where: next(seen))
    assert store.save(plan(name="second"), tmp_path).id == 2
    assert store.load(1, tmp_path).name == "first"
    assert [p.name for p in tmp_path.iterdir() if p.name.startswith(".plan-")] == []


def test_the_folder_and_the_files_are_the_owners_alone(tmp_path):
    store.save(plan(), tmp_path / "state" / "plans")
    assert (tmp_path / "state" / "plans").stat().st_mode & 0o777 == 0o700
    assert (tmp_path / "state" / "plans" / "1.json").stat().st_mode & 0o777 == 0o600


def test_an_unknown_number_is_answered_with_the_list(tmp_path):
    with pytest.raises(ConfigError, match="--list"):
        store.load(7, tmp_path)


@pytest.mark.parametrize("damage", ["half", "version", "empty", "key"])
def test_a_file_that_is_no_plan_of_this_version_is_refused_in_one_sentence(tmp_path, damage):
    store.save(plan(), tmp_path)
    path = tmp_path / "1.json"
    data = json.loads(path.read_text("utf-8"))
    if damage == "version":
        data["version"] = VERSION + 1
    if damage == "key":
        del data["scald"]
    text = json.dumps(data)
    path.write_text({"half": text[:200], "empty": ""}.get(damage, text), "utf-8")
    with pytest.raises(StoreError, match="make it again") as caught:
        store.load(1, tmp_path)
    assert "\n" not in str(caught.value)


def test_one_damaged_plan_does_not_hide_the_others(tmp_path):
    for _ in range(3):
        store.save(plan(), tmp_path)
    (tmp_path / "2.json").write_text("{", "utf-8")
    plans, damaged = store.load_all(tmp_path)
    assert [p.id for p in plans] == [1, 3]
    assert len(damaged) == 1
    assert "Plan 2" in damaged[0]


def test_a_folder_that_cannot_be_written_is_told(tmp_path):
    (tmp_path / "file").write_text("", "utf-8")
    with pytest.raises(StoreError, match="Can't keep the plan"):
        store.save(plan(), tmp_path / "file" / "plans")


def test_a_disk_that_is_full_leaves_no_half_plan(tmp_path, monkeypatch):
    def full_disk(_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full_disk)
    with pytest.raises(StoreError, match="No space left"):
        store.save(plan(), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_what_a_later_version_says_more_does_not_stop_this_one(tmp_path):
    kept = store.save(plan(), tmp_path)
    path = tmp_path / "1.json"
    data = json.loads(path.read_text("utf-8"))
    data["weather"] = "fog"
    path.write_text(json.dumps(data), "utf-8")
    assert store.load(1, tmp_path) == kept


def test_masses_in_the_file_are_the_decimals_of_the_card():
    built = json.loads(msgspec.json.encode(plan(scald={"share": 15, "malt": 3})))
    assert [line["scald_g"] for line in built["formula"]["lines"]] == [150, 210, 4.5, 0, 0]
    assert msgspec.json.decode(json.dumps(built), type=Plan).scald.malt_g == 4.5
