"""Mixed paste that waits for its start: what the card allows the start allows, and no more."""

from types import SimpleNamespace

import msgspec
import numpy as np
import pytest

from holdctl.config.load import load
from holdctl.errors import ConfigError
from holdctl.plan import make, reading, waiting
from holdctl.plan.keeping import judge
from holdctl.plan.nights import Evening
from holdctl.plan.starting import planned_night, refuse_waiting
from tests.daemon.rig import PLAIN_RIG
from tests.plan.breads import AT_MS, bread

STEP_S = int(waiting.STEP_S)


@pytest.fixture(scope="module")
def warmer(tmp_path_factory):
    path = tmp_path_factory.mktemp("warmer") / "holdctl.toml"
    path.write_text(PLAIN_RIG, "utf-8")
    return load(path).settings


@pytest.fixture(scope="module")
def hot(warmer):
    """A plan whose mix comes into a vessel at 40 °C."""
    return make.make(reading.bread(bread(), "test"), warmer, AT_MS, evening=Evening(vessel_c=40.0))


@pytest.fixture(scope="module")
def longest(warmer, hot):
    return waiting.longest_s(planned_night(hot, warmer))


def test_the_card_says_how_long_mixed_paste_may_wait(hot, longest):
    assert longest >= STEP_S
    hours, minutes = divmod(int(longest) // 60, 60)
    told = next(note for note in hot.night.notes if "Mixed paste" in note)
    for part in (f"{hours} h" if hours else "", f"{minutes} min" if minutes else ""):
        assert part in told
    assert "advice" in told


def test_card_and_start_agree_to_the_step(warmer, hot, longest):
    refuse_waiting(hot, warmer, longest)
    with pytest.raises(ConfigError) as refused:
        refuse_waiting(hot, warmer, longest + STEP_S)
    said = str(refused.value)
    assert "It does not wait" in said
    assert "over the 2 h" in said
    assert "advice" in said
    assert "--mix-later" in said
    assert "authority" in said


def test_the_start_foretells_the_cards_own_night(warmer, hot):
    night = planned_night(hot, warmer)
    assert night.start.vessel_c == 40.0
    cold = msgspec.structs.replace(hot, night=msgspec.structs.replace(hot.night, vessel_c=None))
    assert waiting.longest_s(planned_night(cold, warmer)) <= waiting.longest_s(night)


def test_paste_that_has_waited_takes_longer_to_come_up(warmer, hot):
    night = planned_night(hot, warmer)
    at_once, later = waiting.after(night, 0.0), waiting.after(night, 3600.0)
    assert later.band_s[1] > at_once.band_s[1]
    more = later.rules[0].used_s - at_once.rules[0].used_s
    assert more > 3600.0, "the wait itself, and what the come-up is longer for it"


@pytest.mark.parametrize("code", ["fda-2022", "uk", "anz", "canada"])
def test_all_of_a_wait_counts_though_the_paste_be_hot_still(warmer, code):
    settings = msgspec.structs.replace(warmer, food_code=code)
    at_once = judge(settings, np.array([0.0, 7200.0]), np.array([66.0, 66.0]))
    waited = judge(settings, np.array([0.0, 7200.0]), np.array([66.0, 66.0]), 5400.0)
    used = {rule.rule: rule.used_s for rule in at_once}
    for rule in waited:
        assert rule.used_s == pytest.approx(used[rule.rule] + 5400.0, abs=61.0)


def test_a_wait_that_no_rule_speaks_of_is_refused(warmer, hot, monkeypatch):
    nothing = SimpleNamespace(rules=(), kept=True, band_s=(1.0, 2.0, 3.0))
    monkeypatch.setattr(waiting, "after", lambda _night, _wait_s: nothing)
    assert waiting.longest_s(planned_night(hot, warmer)) == 0.0
    assert waiting.words(planned_night(hot, warmer)).startswith("Start at once")
    with pytest.raises(ConfigError, match="No time of this code"):
        refuse_waiting(hot, warmer, 600.0)


def test_without_a_wait_nothing_is_foretold(warmer, hot, monkeypatch):
    monkeypatch.setattr(waiting, "after", None)
    refuse_waiting(hot, warmer, 0.0)
