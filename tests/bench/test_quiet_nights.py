"""Nights without a fault, written into files and summed up."""

import json
import math

import pytest
from click.testing import CliRunner

from holdsim.bench.faults import quiet_night, upper_bound
from holdsim.bench.quiet_nights import main, read, summed

NIGHT = {
    "number": 0,
    "probes": "two",
    "trips": [],
    "alarms": [[9, "no-heat"], [99, "no-heat"]],
    "over_k": 0.2,
}
HOT = {"number": 1, "probes": "mid", "trips": [[7, "probe-out"]], "alarms": [], "over_k": 1.6}


def test_a_line_that_was_cut_off_is_left_out_and_files_count_together(tmp_path):
    one, other = tmp_path / "0.jsonl", tmp_path / "1.jsonl"
    one.write_text(json.dumps(NIGHT) + "\n" + json.dumps(HOT)[:20])
    other.write_text(json.dumps(HOT) + "\n")
    assert read([one, other, tmp_path / "none.jsonl"]) == {0: NIGHT, 1: HOT}


def test_nights_with_a_trip_an_alarm_and_paste_over_its_ceiling_are_counted_once_each():
    lines = summed({0: NIGHT, 1: HOT}).splitlines()
    assert lines[0] == "2 nights"
    assert lines[1].startswith("1 with a trip; 95 % bound")
    assert [line.split(";")[0].strip() for line in lines[2:4]] == ["1 no-heat", "1 probe-out"]
    assert lines[4:] == [
        "mid: paste over its ceiling by more than 1.5 K in 1 of 1, at most 1.6 K",
        "two: paste over its ceiling by more than 1.5 K in 0 of 1, at most 0.2 K",
    ]


@pytest.mark.parametrize(("nights", "bound"), [(1000, 0.0030), (100, 0.0295)])
def test_the_bound_without_an_event_is_the_rule_of_three(nights, bound):
    """1 − 0.05^(1/n), which is nearly 3/n (Hanley & Lippman-Hand, JAMA 249 (1983) 1743, from memory)."""
    assert upper_bound(0, nights) == pytest.approx(1.0 - 0.05 ** (1.0 / nights))
    assert upper_bound(0, nights) == pytest.approx(bound, abs=5e-5)


def test_a_night_is_drawn_from_its_number_and_may_have_nothing_happen():
    assert quiet_night(3, 1, 900, math.inf).happened == ()
    busy = quiet_night(3, 1, 1500, 60.0)
    assert busy == quiet_night(3, 1, 1500, 60.0)
    assert busy.happened and busy.over_k >= 0.0


def test_nights_that_are_there_are_not_run_again(tmp_path):
    file = tmp_path / "nights.jsonl"
    file.write_text(json.dumps(NIGHT) + "\n")
    found = CliRunner().invoke(main, [str(file), "--nights", "2", "--hours", "0.05", "--every", "inf"])
    assert found.exit_code == 0, found.output
    assert found.output.startswith("2 nights")
    assert [json.loads(line)["number"] for line in file.read_text().splitlines()] == [0, 1]
