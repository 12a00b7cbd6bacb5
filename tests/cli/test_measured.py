"""`holdctl plan --measured` and `holdctl learned` as a person types them."""

import json
import sys
from typing import NamedTuple

import pytest

from holdctl.cli import main

BREAD = ("--flour", "white-wheat=1000", "--water", "660", "--salt", "18", "--share", "15", "--malt", "3")


class Done(NamedTuple):
    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    for name, folder in (("HOME", ""), ("XDG_STATE_HOME", "state"), ("XDG_CONFIG_HOME", "config")):
        monkeypatch.setenv(name, str(tmp_path / folder))

    def once(*arguments: str) -> Done:
        monkeypatch.setattr(sys, "argv", ["holdctl", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        return Done(left.value.code, *capsys.readouterr())

    return once


def test_a_mix_that_came_out_cold_is_told_what_to_do_and_nothing_is_kept_without_a_plan(run, tmp_path):
    done = run("plan", *BREAD, "--measured", "61.5")
    assert done.returncode == 0, done.stderr
    assert "It came out at 61.5 °C" in done.stdout
    assert "1. Stir in" in done.stdout
    assert "2. The malt (4.5 g) may go in then" in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80
    assert list(tmp_path.iterdir()) == []


def test_a_kept_plan_remembers_its_mix_once_and_the_next_plan_reckons_with_it(run):
    assert run("plan", *BREAD, "--save").returncode == 0
    before = json.loads(run("plan", *BREAD, "--json").stdout)["mix"]
    for measured in ("66", "65"):
        assert "Remembered" in run("plan", "--show", "1", "--measured", measured).stdout
    seen = json.loads(run("learned", "--json").stdout)["seen"]
    assert [one["measured_c"] for one in seen] == [65.0]
    after = json.loads(run("plan", *BREAD, "--json").stdout)["mix"]
    assert after["mix_c"] < before["mix_c"] - 3
    assert "last mix in this vessel" in " ".join(after["notes"])


def test_what_comes_out_as_json_says_the_same(run):
    found = json.loads(run("plan", *BREAD, "--measured", "72", "--json").stdout)
    assert [a["act"] for a in found["advice"]] == ["stir-down", "add-malt", "warm-on"]
    assert found["remembered"] is False
    assert found["start_c"] == pytest.approx(65.7, abs=0.4)


def test_a_baker_who_thinks_in_fahrenheit_types_and_reads_it(run):
    done = run("plan", *BREAD, "--measured", "160", "--units", "F")
    assert "It came out at 160 °F" in done.stdout
    assert "°C" not in done.stdout


def test_a_dough_is_learnt_and_shown(run):
    run("plan", *BREAD, "--save")
    done = run("learned", "--plan", "1", "--dough", "28.5")
    assert done.returncode == 0, done.stderr
    assert "1 dough measured, it warms by 5.7 K" in " ".join(done.stdout.split())
    after = json.loads(run("plan", *BREAD, "--json").stdout)["dough"]
    assert "learnt from 1 dough" in after["rise_how"]
    assert "Nothing is learnt yet" in run("learned", "--forget").stdout
    assert "Nothing is learnt yet" in run("learned").stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("learned", "--plan", "1"), "--mix 71.5"),
        (("learned", "--mix", "70"), "--mix 71.5"),
        (("learned", "--plan", "9", "--mix", "70"), "no plan 9"),
        (("learned", "--plan", "1", "--dough", "60"), "mixing does not do that"),
        (("learned", "--plan", "1", "--mix", "98"), "teaches nothing"),
        (("plan", "--show", "1", "--measured", "140"), "measure again"),
        (("learned", "--plan", "1", "--mix", "1e9"), "teaches nothing"),
        (("learned", "--plan", "1", "--mix", "inf"), "no number"),
    ],
)
def test_what_can_not_be_is_one_sentence_and_exit_2(run, arguments, says):
    run("plan", *BREAD, "--save")
    done = run(*arguments)
    assert done.returncode == 2
    assert says in done.stderr
    assert len(done.stderr.strip().split("Error: ")[-1].splitlines()) == 1


def test_a_damaged_memory_is_not_guessed_at(run, tmp_path):
    run("plan", *BREAD, "--save")
    (tmp_path / "state" / "holdctl" / "learned.json").write_text("{", "utf-8")
    done = run("learned")
    assert done.returncode == 1
    assert "move that file away" in done.stderr
