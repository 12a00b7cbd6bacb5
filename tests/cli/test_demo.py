"""The demo: the main job, end to end, over a real serial line."""

import json

import pytest

from holdctl.record.query import Record
from holdctl.settings import Settings
from tests.daemon.rig import holdctl

HOURS = "5.5"
WALL_CLOCK = ("started_utc", "ended_utc")


@pytest.fixture(scope="module")
def nights(tmp_path_factory):
    def night(name):
        folder = tmp_path_factory.mktemp(name)
        done = holdctl("demo", "--seed", "3", "--hours", HOURS, "--folder", str(folder), "--json")
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout), folder

    return night("first"), night("second")


def test_the_same_seed_gives_identical_figures(nights):
    (first, _), (second, _) = nights
    figures = [
        {k: v for k, v in answer["figures"].items() if k not in WALL_CLOCK} for answer in (first, second)
    ]
    assert figures[0] == figures[1]


def test_the_night_goes_through_prompt_hold_and_hot_holding(nights):
    figures = nights[0][0]["figures"]
    assert [phase["phase"] for phase in figures["phases"]][:3] == ["prompt", "hold", "hot holding"]
    assert figures["credit_s"] == pytest.approx(4 * 3600, abs=2)
    assert figures["state"] == "stopped"
    assert figures["trips"] == figures["gaps"] == 0
    assert (nights[0][1] / "night.png").read_bytes().startswith(b"\x89PNG")


def test_the_night_is_reviewed_against_the_simulators_truth(nights):
    truth = {one["place"]: one for one in nights[0][0]["figures"]["truth"]}
    assert set(truth) == {"coldest", "hottest", "mean", "wall"}
    samples = nights[0][0]["figures"]["samples"]
    for one in truth.values():
        assert one["moments"] == pytest.approx(samples / 5, abs=3)
        assert 0 < one["rms_k"] < 2
        assert abs(one["worst_k"]) < 6


def test_a_recorded_night_replays_to_the_same_leases(nights):
    import msgspec

    from holdctl.hold import replay

    record = Record(nights[0][1] / "night.db")
    hold = record.hold()
    inputs = list(record.replay(hold.id))
    settings = msgspec.json.decode(hold.config_json, type=Settings)
    decided = replay(settings, ((now, event) for now, event, _ in inputs), hold.latched)
    wrong = [
        (now.hold_ms, lease, decision.lease_ms)
        for (_, _, lease), (now, _, decision) in zip(inputs, decided, strict=True)
        if lease is not None and lease != decision.lease_ms
    ]
    assert len(inputs) > 5 * 3600
    assert wrong == []


def test_a_folder_with_an_earlier_demo_is_refused(nights):
    done = holdctl("demo", "--folder", str(nights[0][1]))
    assert done.returncode == 2
    assert "another folder" in done.stderr
