"""What was planned beside what came, and what a night teaches: told mixes before the probe's, each night once."""

import io

import msgspec
import pytest
from rich.console import Console

from holdctl.events import Notice, NoticeKind
from holdctl.food.measured import checked
from holdctl.plan import make, reading
from holdctl.plan.learned import BY_PROBE, TOLD, Memory, of_doughs
from holdctl.plan.plan import NightPart
from holdctl.plan.starting import PLAN, first_notices, plan_of
from holdctl.review.figures import figures
from holdctl.review.planned import dough_teaches, learn, planned_lines, teaches
from tests.review.conftest import SETTINGS, START_UTC_MS

RYE = {
    "name": "Evening loaf",
    "flour": [{"name": "whole-rye", "grams": 1250}],
    "water": {"grams": 1000},
    "scald": {"share": 20, "malt": 4},
    "mixing": {"vessel_g": 800},
}
NIGHT = NightPart(
    warmer="Proving cupboard", known="assumed for its kind", start_c=80.0, band_s=(1800.0, 2400.0, 3600.0),
    ready_s=(14_000.0, 16_000.0, 20_000.0), coldest_c=62.5, hottest_c=68.0, food_code="fda-2022",
    code_kept=True, verdict="Kept.", energy_kwh=0.31, evaporation_g=(8.0, 60.0),
)  # fmt: skip


def planned():
    made = make.make(reading.bread(RYE, "test"), SETTINGS, START_UTC_MS - 3_600_000)
    return msgspec.structs.replace(made, id=3, night=NIGHT)


def told(**values):
    value = checked(**values)
    return Notice(NoticeKind.NOTE, "note", value.words(), {"by": "baker", **value.detail()})


@pytest.fixture(scope="module")
def head():
    return first_notices(planned(), Memory(), START_UTC_MS)


@pytest.fixture(scope="module")
def by_probe(make_record, head):
    return make_record({"first": head})


@pytest.fixture(scope="module")
def by_hand(make_record, head):
    return make_record({"first": (*head, told(mix_c=83.0), told(mass_g=965.0))})


def lesson(record):
    found = figures(record)
    return teaches(record.events(found.hold), found.planned, SETTINGS, START_UTC_MS)


def text(found):
    out = io.StringIO()
    for line in planned_lines(found.planned, "C"):
        Console(file=out, width=100).print(line)
    return out.getvalue()


def test_a_hold_without_a_plan_has_no_such_part(calm):
    found = figures(calm)
    assert found.planned is None
    assert planned_lines(found.planned, "C") == []


def test_the_plan_is_read_back_whole(by_probe):
    assert plan_of(by_probe.events(1)) == planned()


def test_the_plan_of_another_version_is_not_guessed_at(make_record):
    strange = Notice(NoticeKind.INFO, PLAN, "plan", {PLAN: {"version": 99}})
    assert figures(make_record({"first": (strange,)})).planned is None


def test_the_probe_tells_the_mix_where_nobody_did(by_probe):
    found = figures(by_probe).planned
    assert found.mix_how == BY_PROBE
    assert found.mix_came_c == pytest.approx(82.0, abs=0.1)  # the night's paste begins at 82 °C
    assert found.mix_c == planned().mix.mix_c


def test_what_the_baker_measured_goes_before_the_probe_and_the_planned_mix_is_no_measurement(by_hand):
    found = figures(by_hand).planned
    assert (found.mix_came_c, found.mix_how) == (83.0, TOLD)


def test_times_mass_and_heat_stand_beside_the_plan(by_hand):
    found = figures(by_hand).planned
    assert found.band_came_s == pytest.approx(0.75 * 3600, abs=10)
    assert found.ready_came_s == pytest.approx(0.8 * 6 * 3600, abs=10)
    assert (found.mass_g, found.mass_came_g) == (1010.0, 965.0)
    said = text(figures(by_hand))
    assert "plan 3, Evening loaf" in said
    assert "45 min" in said
    assert "as planned" in said
    assert "45 g" in said


def test_a_night_teaches_its_vessel_and_a_told_mix_more_surely(by_probe, by_hand):
    read, said = lesson(by_probe), lesson(by_hand)
    assert (read.how, said.how) == (BY_PROBE, TOLD)
    assert read.vessel == said.vessel == "vessel of 800 g, steel"
    assert read.sd > said.sd
    assert read.value > said.value  # colder: more was lost


def test_a_noted_dough_teaches_what_mixing_adds(make_record, head):
    warm = planned().dough.dough_c + 2.0
    record = make_record({"first": (*head, told(dough_c=20.0), told(dough_c=warm))})
    events = record.events(1)
    seen = dough_teaches(events, SETTINGS, START_UTC_MS)
    assert (seen.kind, seen.measured_c, seen.how) == ("dough", warm, TOLD)
    assert seen.value == pytest.approx(planned().dough.rise_k + 2.0, abs=0.05)
    after = learn(learn(Memory(), seen), dough_teaches(events, SETTINGS, START_UTC_MS))
    assert after.seen == (seen,)
    assert "1 dough measured" in of_doughs(after)[0]
    again = make.make(reading.bread(RYE, "test"), SETTINGS, START_UTC_MS, after).dough
    assert planned().dough.rise_k < again.rise_k < seen.value
    assert again.rise_how == "learnt from 1 dough of yours"


def test_a_dough_that_mixing_can_not_have_made_and_none_at_all_teach_nothing(make_record, head, by_probe):
    absurd = make_record({"first": (*head, told(dough_c=59.0))})
    assert dough_teaches(absurd.events(1), SETTINGS, START_UTC_MS) is None
    assert dough_teaches(by_probe.events(1), SETTINGS, START_UTC_MS) is None


def test_the_same_night_counts_once_and_what_was_told_stays(by_probe, by_hand):
    read, said = lesson(by_probe), lesson(by_hand)
    once = learn(learn(Memory(), read), read)
    assert once.seen == (read,)
    assert learn(once, said).seen == (said,)
    assert learn(learn(Memory(), said), read).seen == (said,)
    assert learn(Memory(), None) == Memory()
