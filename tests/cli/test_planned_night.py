"""From plan to plan: a night is planned, held by the real daemon on a simulated warmer, reviewed, and planned again.

The warmer is told to lose a third of what it does, and the mix comes out colder than its plan says: both are learnt.
"""

import json
import signal
from types import SimpleNamespace

import pytest

from tests.daemon.conftest import Bench
from tests.daemon.rig import PLAIN_RIG, holdctl

SECONDS = 500
REAL = PLAIN_RIG.replace("test_rig = true", 'independent_cutoff = "thermal link 77 °C at the pot"')
WRONG = REAL.replace("loss_w_k = 0.9", "loss_w_k = 0.3").replace('for = "4 h"', 'for = "5 min"')
BREAD = """\
name = "Evening loaf"
[[flour]]
name = "white-wheat"
grams = 2800
[water]
grams = 1900
[scald]
share = 15
[mixing]
mix_c = 69
"""


@pytest.fixture(scope="module")
def night(tmp_path_factory):
    """All five commands, once: what each said."""
    from holdsim.pty_line import PtyLine

    folder = tmp_path_factory.mktemp("night")
    (folder / "bread.toml").write_text(BREAD, "utf-8")
    (folder / "holdctl.toml").write_text(WRONG, "utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_STATE_HOME", str(folder / "state"))
        common = ("--config", str(folder / "holdctl.toml"))
        record = ("--record", str(folder / "rig.db"))

        def say(*arguments, expect=0):
            done = holdctl(*arguments)
            assert done.returncode == expect, done.stderr
            return done.stdout

        def planned(*record):
            made = say(
                "plan",
                str(folder / "bread.toml"),
                *common,
                *record,
                "--vessel-temp",
                "66",
                "--save",
                "--json",
            )
            return json.loads(made)

        before = planned()
        line = PtyLine(None)
        bench = Bench(folder, line)
        try:
            run = bench.start("--plan", str(before["id"]), toml=WRONG)
            bench.run(SECONDS)
            run.send_signal(signal.SIGTERM)
            run.wait(30)
        finally:
            for process in bench.daemons:
                process.kill()
            line.close()
        report = " ".join(say("review", *record).split())
        again = say("review", *record)
        yield SimpleNamespace(
            before=before, report=report, again=again, after=planned(*record), taught=say("learned", *common),
            card=say("plan", "--show", "2", *common), record=bench.record,
        )  # fmt: skip


def test_review_puts_the_plan_beside_the_night_and_says_what_it_learned(night):
    for words in ("plan 1, Evening loaf", "planned", "came", "66.0 °C", "read by", "ready"):
        assert words in night.report
    assert "Learned for the next plan." in night.report
    assert "1 mix measured" in night.report


def test_a_night_that_is_reviewed_twice_teaches_once(night):
    assert "1 mix measured" in night.again
    assert "1 mix measured" in night.taught


def test_the_next_plan_pours_hotter_for_the_same_mix_and_says_why(night):
    before, after = night.before["mix"], night.after["mix"]
    assert after["water_c"] > before["water_c"] + 0.5
    assert after["mix_c"] == pytest.approx(before["mix_c"], abs=0.1)
    assert after["high_c"] - after["low_c"] < before["high_c"] - before["low_c"]
    assert any("the last mix in this vessel" in note for note in after["notes"])
    assert "the last mix in this vessel" in " ".join(night.card.split())


def test_the_next_forecast_knows_the_warmer_and_moves_towards_what_it_is(night):
    before, after = night.before["night"], night.after["night"]
    assert "no hold has identified it" in before["known"]
    assert after["known"].startswith("identified in hold 1")
    assert after["energy_kwh"] > 1.2 * before["energy_kwh"], "it was told to lose a third of what it does"


def test_the_record_of_the_night_holds_its_plan_and_what_was_identified(night):
    events = night.record.events(1)
    assert sum(e.name == "plan" for e in events) == 1
    assert any(e.kind == "identified" for e in events)
