"""A night from a plan: its settings, the head of its record, and when a mixed paste may not wait."""

import msgspec
import pytest

from holdctl.config.load import load
from holdctl.errors import ConfigError
from holdctl.events import NoticeKind
from holdctl.food.measured import read_detail
from holdctl.plan import make, reading
from holdctl.plan.learned import Memory
from holdctl.plan.measuring import seen_mix
from holdctl.plan.plan import Plan
from holdctl.plan.starting import (
    PLAN,
    changed_since,
    first_notices,
    refuse_waiting,
    settings_for,
    too_late,
    wait_ms,
)
from holdctl.settings import After, Flour, Programme, Step
from tests.daemon.rig import PLAIN_RIG
from tests.plan.breads import AT_MS, NIGHT, PROGRAMME, bread, plan

HOUR_MS = 3_600_000
OWN = Programme(name="planned", step=(Step(to=64.0, hold_for="3 h"),), after=After(then="relay-off"))


@pytest.fixture
def warmer(tmp_path):
    path = tmp_path / "holdctl.toml"
    path.write_text(PLAIN_RIG, "utf-8")
    return load(path).settings


def kept(**parts):
    """Plan 3: starts at AT_MS + 3 h, in range at most 40 min later."""
    programme = msgspec.structs.replace(PROGRAMME, start_utc_ms=AT_MS + 3 * HOUR_MS, settings=OWN)
    return msgspec.structs.replace(plan(), **{"id": 3, "night": NIGHT, "programme": programme} | parts)


def test_the_night_holds_the_plans_paste_and_programme_on_this_warmer(warmer):
    got = settings_for(kept(), warmer)
    assert (got.scald.flour, got.scald.mass_g, got.scald.ratio) == (Flour.WHITE_WHEAT, 360.0, 1.4)
    assert got.programme == OWN
    assert msgspec.structs.replace(got, scald=warmer.scald, programme=warmer.programme) == warmer


def test_a_plan_without_a_programme_leaves_the_warmers(warmer):
    assert settings_for(kept(programme=None), warmer).programme == warmer.programme


def test_a_paste_that_no_warmer_takes_is_refused(warmer):
    tiny = msgspec.structs.replace(plan().scald, mass_g=4.0)
    with pytest.raises(ConfigError, match="can't be held"):
        settings_for(kept(scald=tiny), warmer)


def test_a_programme_that_contradicts_the_warmer_is_refused(warmer):
    hot = Programme(step=(Step(to=64.0, hold_for="3 h"),), every_part=(70.0, 62.0))
    with pytest.raises(ConfigError, match="does not go with"):
        settings_for(kept(programme=msgspec.structs.replace(PROGRAMME, settings=hot)), warmer)


def test_the_record_begins_with_the_whole_plan_and_its_mix():
    told, mix = first_notices(kept(), Memory(), AT_MS)
    assert (told.kind, told.name) == (NoticeKind.INFO, PLAN)
    assert msgspec.convert(msgspec.json.decode(msgspec.json.encode(told.detail[PLAN])), Plan) == kept()
    assert "every part in range in about 20 min" in told.text
    value = read_detail(mix.detail)
    assert (mix.kind, value.mix_c, value.mix_from) == (NoticeKind.NOTE, kept().mix.mix_c, "plan 3")
    assert value.malt == "none"


def test_a_mix_that_was_measured_this_evening_goes_before_the_planned_one():
    one = seen_mix(kept(), None, 61.0, at_utc_ms=AT_MS, origin="plan 3")
    value = read_detail(first_notices(kept(), Memory().with_one(one), AT_MS + 600_000)[1].detail)
    assert (value.mix_c, value.mix_s, value.mix_from) == (61.0, -600.0, "")
    later = read_detail(first_notices(kept(), Memory().with_one(one), AT_MS + 24 * HOUR_MS)[1].detail)
    assert later.mix_from == "plan 3"


def test_when_malt_goes_in_is_left_to_the_baker():
    malted = plan(scald={"share": 15, "malt": 3})
    assert read_detail(first_notices(malted, Memory(), AT_MS)[1].detail).malt is None


def test_settings_that_changed_since_are_told(warmer):
    made = make.make(reading.bread(bread(), "test"), warmer, AT_MS)
    assert changed_since(made, warmer) == ""
    other = msgspec.structs.replace(warmer, warmer=msgspec.structs.replace(warmer.warmer, power_w=90.0))
    assert "has changed" in changed_since(made, other)
    assert "without a holdctl.toml" in changed_since(plan(), warmer)


def test_it_waits_until_the_latest_start_and_says_when_that_is_past():
    assert wait_ms(kept(), AT_MS + HOUR_MS) == 2 * HOUR_MS
    assert wait_ms(kept(), AT_MS + 5 * HOUR_MS) == 0
    assert too_late(kept(), AT_MS) == ""
    assert "about 2 h later" in too_late(kept(), AT_MS + 5 * HOUR_MS)
    with pytest.raises(ConfigError, match="--ready"):
        wait_ms(kept(programme=None), AT_MS)


def test_a_plan_without_a_mix_is_not_guessed_at(warmer):
    refuse_waiting(kept(mix=None), warmer, 0.0)
    with pytest.raises(ConfigError, match="no mix in it"):
        refuse_waiting(kept(mix=None), warmer, 600.0)
