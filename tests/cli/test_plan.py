"""`holdctl plan` as a person types it."""

import json
import sys
from typing import NamedTuple

import pytest

from holdctl.cli import main
from tests.daemon.rig import PLAIN_RIG

WHITE = ("--flour", "white-wheat=1000", "--water", "660", "--salt", "18", "--yeast", "10", "--share", "15")


class Done(NamedTuple):
    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run `holdctl plan` in an empty folder with an empty home; return exit code, output and complaint."""
    monkeypatch.chdir(tmp_path)
    for name, folder in (("HOME", ""), ("XDG_STATE_HOME", "state"), ("XDG_CONFIG_HOME", "config")):
        monkeypatch.setenv(name, str(tmp_path / folder))

    def once(*arguments: str) -> Done:
        monkeypatch.setattr(sys, "argv", ["holdctl", "plan", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        out, err = capsys.readouterr()
        return Done(left.value.code, out, err)

    return once


def test_one_line_without_any_file_prints_the_card(run, tmp_path):
    done = run(*WHITE)
    assert done.returncode == 0, done.stderr
    assert "210 g" in done.stdout
    assert "hydration 66 → 76 %" in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_from_an_empty_folder_to_a_printed_card(run, tmp_path):
    (tmp_path / "bread.toml").write_text(run("--example").stdout, "utf-8")
    done = run("bread.toml", "--html", "card.html", "--picture", "card.pdf", "--save", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["scald"]["water_g"] == 450
    assert (tmp_path / "card.pdf").read_bytes().startswith(b"%PDF")
    assert "whole-rye" in (tmp_path / "card.html").read_text("utf-8")
    assert "Evening loaf" in run("--list").stdout
    assert "plan 1" in run("--show", "1").stdout
    assert json.loads(run("--list", "--json").stdout)[0]["id"] == 1


def test_options_for_scald_and_size_go_before_the_file(run, tmp_path):
    (tmp_path / "bread.toml").write_text(run("--example").stdout, "utf-8")
    done = run("bread.toml", "--share", "10", "--malt", "0", "--total", "955.25", "--json")
    made = json.loads(done.stdout)
    assert made["scald"]["share"] == 10
    assert made["scald"]["malt_g"] == 0
    assert made["formula"]["whole_g"] == pytest.approx(955.25, abs=0.55)  # half a step of each scale


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "What bread?"),
        (("bread.toml",), "--example"),
        (("--flour", "white-wheat=1000"), "at least --flour and --water"),
        ((*WHITE, "--ratio", "0"), "scald.ratio"),
        (("--flour", "white-wheat", "--water", "66%"), "--flour: write it as white-wheat=800"),
        (
            ("--flour", "white-wheat=1000", "--water", "660", "--share", "120"),
            "nearest possible share is 100 %",
        ),
        (("--flour", "white-wheat=1000", "--water", "660", "--share", "60"), "a share of 54.2 %"),
        (("--flour", "white-wheat=1000", "--water", "660", "--hydration", "66"), "exactly one"),
        (("--show", "5"), "There is no plan 5"),
        (("--show", "5", "--share", "15"), "leave out the formula"),
        (("--show", "5", "--save"), "leave out the formula and --save"),
        ((*WHITE, "--config", "none.toml"), "There is no file none.toml"),
        ((*WHITE, "--malt", "nan"), "scald.malt"),
        ((*WHITE, "--share", "nan"), "share"),
        ((*WHITE, "--total", "0"), "batch.total_g"),
        ((*WHITE, "--pieces", "0"), "batch.pieces"),
    ],
)
def test_bad_input_exits_2_with_one_sentence_and_the_way_out(arguments, says, run):
    done = run(*arguments)
    assert done.returncode == 2, done.stdout
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_a_formula_in_file_and_options_is_refused(run, tmp_path):
    (tmp_path / "bread.toml").write_text(run("--example").stdout, "utf-8")
    done = run("bread.toml", "--salt", "18")
    assert done.returncode == 2
    assert "the formula is in bread.toml" in done.stderr


def test_a_file_that_is_not_toml_or_not_text_is_told(run, tmp_path):
    (tmp_path / "bread.toml").write_bytes(b"\xff\xfe")
    (tmp_path / "other.toml").write_text("[flour", "utf-8")
    for name in ("bread.toml", "other.toml"):
        done = run(name)
        assert done.returncode == 2
        assert name in done.stderr
        assert "Traceback" not in done.stderr


def test_with_settings_the_plan_says_which_it_was_made_with(run, tmp_path):
    (tmp_path / "holdctl.toml").write_text(PLAIN_RIG, "utf-8")
    first = json.loads(run(*WHITE, "--json").stdout)["settings_digest"]
    (tmp_path / "holdctl.toml").write_text(PLAIN_RIG.replace("power_w = 200", "power_w = 201"), "utf-8")
    second = json.loads(run(*WHITE, "--json").stdout)["settings_digest"]
    assert len(first) == 16
    assert first != second
