"""The demo: the main job, end to end, over a real serial line."""

import json

import pytest

from holdctl.record.query import Record
from holdctl.settings import Settings
from tests.daemon.rig import holdctl

HOURS, FEW, REPLAYED = 5.0, 0.5, 1.5
WALL_CLOCK = ("started_utc", "ended_utc")


def play(folder, hours, seed=3):
    """Play a night and return its answer."""
    done = holdctl(
        "demo", "--seed", str(seed), "--hours", str(hours), "--folder", str(folder), "--json", timeout=200
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def night(tmp_path_factory):
    folder = tmp_path_factory.mktemp("night")
    return play(folder, HOURS), folder


def lines(folder, hours):
    """What was read, granted, estimated and earned in the first hours, line by line, without the wall clock."""
    samples = Record(folder / "night.db").samples(1)
    return [
        (s.at.hold_ms, s.reading, s.decision) for s in samples if s.at.hold_ms < hours * 3_600_000 - 5_000
    ]


def test_the_same_seed_gives_the_same_night_reading_by_reading_and_the_same_figures(night, tmp_path):
    answers = [play(tmp_path / name, FEW) for name in ("first", "second")]
    figures = [{k: v for k, v in a["figures"].items() if k not in WALL_CLOCK} for a in answers]
    assert figures[0] == figures[1]
    first, second, long = (lines(place, FEW) for place in (tmp_path / "first", tmp_path / "second", night[1]))
    assert len(first) >= FEW * 3600 - 5
    assert first == second == long


def test_the_night_goes_through_prompt_hold_and_hot_holding(night):
    figures = night[0]["figures"]
    assert [phase["phase"] for phase in figures["phases"]][:3] == ["prompt", "hold", "hot holding"]
    assert figures["credit_s"] == pytest.approx(4 * 3600, abs=2)
    assert figures["state"] == "stopped"
    assert figures["trips"] == figures["gaps"] == 0
    assert (night[1] / "night.png").read_bytes().startswith(b"\x89PNG")


def test_the_night_is_reviewed_against_the_simulators_truth(night):
    truth = {one["place"]: one for one in night[0]["figures"]["truth"]}
    assert set(truth) == {"coldest", "hottest", "mean", "wall"}
    samples = night[0]["figures"]["samples"]
    for one in truth.values():
        assert one["moments"] == pytest.approx(samples / 5, abs=3)
        assert 0 < one["rms_k"] < 2
        assert abs(one["worst_k"]) < 6


def test_a_recorded_night_replays_to_the_same_leases(night):
    import msgspec

    from holdctl.hold import replay

    record = Record(night[1] / "night.db")
    hold = record.hold()
    every = list(record.replay(hold.id))
    inputs = [one for one in every if one[0].hold_ms < REPLAYED * 3_600_000]
    settings = msgspec.json.decode(hold.config_json, type=Settings)
    decided = replay(settings, ((now, event) for now, event, _ in inputs), hold.latched)
    wrong = [
        (now.hold_ms, lease, decision.lease_ms)
        for (_, _, lease), (now, _, decision) in zip(inputs, decided, strict=True)
        if lease is not None and lease != decision.lease_ms
    ]
    assert len(every) > HOURS * 3590
    assert len(inputs) > REPLAYED * 3590
    assert wrong == []


def test_a_folder_with_an_earlier_demo_is_refused(night):
    done = holdctl("demo", "--folder", str(night[1]))
    assert done.returncode == 2
    assert "another folder" in done.stderr


def test_a_folder_that_cannot_be_made_and_a_length_that_is_none_are_one_sentence(tmp_path):
    (tmp_path / "file").touch()
    for words in (("--folder", str(tmp_path / "file" / "demo")), ("--hours", "nan")):
        done = holdctl("demo", *words)
        assert done.returncode == 2
        assert "can't be made" in done.stderr or "no number" in done.stderr
