"""`holdctl plan` beside a warmer: its night on the card, the latest start, and what it refuses."""

import json
import re
import sys
from datetime import UTC, datetime
from typing import NamedTuple

import pytest

from holdctl.cli import main
from holdctl.plan import remedies, waiting
from holdctl.plan.warmer import KnownWarmer
from holdsim import PRESETS

BREAD = ("--flour", "whole-wheat=2500", "--water", "1750", "--salt", "45", "--share", "25")
_SETTINGS = PRESETS["jacket"].settings_toml().replace('"4 h"', '"1 h"')


class Done(NamedTuple):
    returncode: int
    stdout: str
    stderr: str


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run `holdctl plan` in a folder with a warmer and an empty home.

    A short hold and few other warmers for the ranges: how wide they are is asked elsewhere.
    """
    monkeypatch.setattr(KnownWarmer.drawn, "__defaults__", (2,))
    for module in (remedies, waiting):
        monkeypatch.setattr(module, "PAIRS", 1)
    monkeypatch.chdir(tmp_path)
    for name, folder in (("HOME", ""), ("XDG_STATE_HOME", "state"), ("XDG_CONFIG_HOME", "config")):
        monkeypatch.setenv(name, str(tmp_path / folder))
    (tmp_path / "holdctl.toml").write_text(_SETTINGS, encoding="utf-8")

    def once(*arguments: str) -> Done:
        monkeypatch.setattr(sys, "argv", ["holdctl", "plan", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        out, err = capsys.readouterr()
        return Done(left.value.code, out, err)

    return once


def test_the_card_tells_the_night_and_json_the_numbers(run):
    done = run(*BREAD, "--malt", "3", "--price", "0.3", "--save")
    assert done.returncode == 0, done.stderr
    assert "Kept as plan 1: `holdctl run --plan 1`" in done.stderr
    covered, bare = re.search(
        r"It loses ([\d.]+) to .* Without its lid it would lose ([\d.]+) to", " ".join(done.stdout.split())
    ).groups()
    assert float(bare) > 5 * float(covered)
    assert "no hold has identified it yet" in " ".join(done.stdout.split())
    assert "Malt in" in done.stdout
    plan = json.loads(run("--show", "1", "--json").stdout)
    night = plan["night"]
    assert night["band_s"][0] < night["band_s"][1] < night["band_s"][2]
    assert night["cost"] == pytest.approx(0.3 * night["energy_kwh"], rel=0.01)
    assert plan["programme"]["settings"]["step"][-1]["for"] == "1 h"
    assert plan["programme"]["start_utc_ms"] is None


def test_ready_says_the_latest_start(run, monkeypatch):
    monkeypatch.setenv("TZ", "Europe/Berlin")
    hour = (datetime.now(UTC).hour + 2 + 14) % 24
    plan = json.loads(run(*BREAD, "--ready", f"{hour:02d}:30", "--json").stdout)
    programme, night = plan["programme"], plan["night"]
    needs = (programme["ready_utc_ms"] - programme["start_utc_ms"]) / 1000
    assert needs == pytest.approx(night["ready_s"][2], abs=0.01)
    assert "at the latest" in programme["steps"][0]["words"]


def test_a_plan_that_breaks_the_code_says_so_first_and_offers_what_keeps_it(run):
    done = run(*BREAD, "--mix-temp", "25")
    assert done.returncode == 0, done.stderr
    head = done.stdout[: done.stdout.index("Scald ")]
    assert "over the 2 h" in head
    assert "Nearest that keeps it: Start with a mix of" in " ".join(head.split())
    stirred = json.loads(run(*BREAD, "--mix-temp", "45", "--stir-every", "20", "--json").stdout)
    prompts = [step["prompt"] for step in stirred["programme"]["settings"]["step"] if step["prompt"]]
    assert sum("Stir to the bottom" in prompt for prompt in prompts) >= 2


def test_a_baker_who_will_stir_is_asked_for_the_stirs_that_are_worth_the_way(run, tmp_path):
    file = tmp_path / "holdctl.toml"
    hold = "[[programme.step]]\nfall_to = 40\n\n[programme.after]"
    file.write_text(file.read_text("utf-8").replace("[programme.after]", hold), "utf-8")
    alone = json.loads(run(*BREAD, "--mix-temp", "45", "--json").stdout)
    plan = json.loads(run(*BREAD, "--mix-temp", "45", "--stir", "--json").stdout)
    asked = [s for s in plan["programme"]["settings"]["step"] if s["prompt"] and "Stir to the" in s["prompt"]]
    assert asked
    assert all(step["due"] for step in asked)
    assert plan["night"]["band_s"][1] < alone["night"]["band_s"][1] - 600.0
    assert any("`--stir`" in note for note in alone["night"]["notes"])
    assert any("sooner in range" in step["words"] for step in plan["programme"]["steps"])
    assert any("fall to 40" in text for text in plan["warnings"])
    both = run(*BREAD, "--stir", "--stir-every", "20")
    assert both.returncode == 2
    assert "give it or --stir-every" in both.stderr


def test_a_wish_for_the_night_needs_a_warmer(run, tmp_path):
    (tmp_path / "holdctl.toml").unlink()
    assert run(*BREAD).returncode == 0
    done = run(*BREAD, "--ready", "05:30")
    assert done.returncode == 2
    assert "--ready needs the warmer" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (("--stir-every", "nan"), 2, "no number"),
        (("--vessel-temp", "nan"), 2, "no number"),
        (("--vessel-temp", "400"), 2, "A vessel of 400 °C"),
        (("--record", "rubbish.db"), 1, "is not a holdctl record"),
        (("--record", "missing.db"), 1, "There is no record"),
    ],
)
def test_what_no_night_can_be_foretold_from_is_one_sentence(
    run, tmp_path, monkeypatch, arguments, code, says
):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "rubbish.db").write_bytes(b"rubbish" * 200)
    done = run(*BREAD, *arguments)
    assert done.returncode == code
    assert says in done.stderr
    assert "fault of holdctl" not in done.stderr
