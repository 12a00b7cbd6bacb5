"""A cooling in the review: its own section, and no figure of a warmer where there was none."""

from types import SimpleNamespace

import msgspec
import pytest

from holdctl.config.unheated import HEAT, alone, filled, heated
from holdctl.events import Phase, RequestKind
from holdctl.food.findings import Verdict
from holdctl.hold.cool_order import CoolOrder
from holdctl.paste.cooling import Stand
from holdctl.record.query import Record
from holdctl.review.figures import figures
from holdctl.review.pages import as_lines
from holdctl.review.report import render_report
from holdctl.settings import Settings
from holdctl.watch.data import frame_json
from tests.review.recorded import kept
from tests.watch.conftest import screen
from tests.watch.nights import Night

PROBE_ONLY = {"food_code": "fda-2022", "probe": [{"channel": 1, "place": "core", "error_k": 0.5}]}


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cooled")
    records = {name: kept(name, folder) for name in ("good", "slow-cooling")}
    return SimpleNamespace(**{name.replace("-", "_"): figures(record) for name, record in records.items()})


@pytest.fixture(scope="module")
def probe_alone(tmp_path_factory):
    """A cooling of ten minutes by the probe alone: 60 °C, then 4 °C."""
    told = alone(msgspec.convert(filled(PROBE_ONLY), Settings))
    night = Night(tmp_path_factory.mktemp("alone") / "cold.db", told)
    night.ask(RequestKind.COOL, CoolOrder(stand=Stand.ICE_BATH, alone=True, unknown=True).subject())
    for k in range(600):
        night.read((60.0 if k < 60 else max(4.0, 60.0 - 0.15 * (k - 60)),))
    yield night
    night.store.close()


def text(of):
    return " ".join(" ".join(as_lines(render_report(of))).split())


def test_each_stage_has_rule_limit_observation_source_and_verdict(found):
    (one,) = found.good.cooling
    assert one.verdict is Verdict.MET
    assert [stage.verdict for stage in one.stages] == [Verdict.MET] * 2
    assert one.stages[1].limit == "57 °C (135 °F) to 5 °C (41 °F) within 6 h"
    said = text(found.good)
    assert "in an ice bath, 2 cm deep: every stage met" in said
    for words in (
        "57 °C to 21 °C",
        "57 °C to 5 °C",
        "from 2:00: to 21",
        "3-501.14(A)",
        "met",
    ):
        assert words in said
    assert "All paste was at 5 °C or below from 4:0" in said


def test_the_section_and_the_food_codes_table_say_the_same(found):
    for one in (found.good, found.slow_cooling):
        assert one.food.of("cooling").verdict is one.cooling[0].verdict


def test_a_slow_cooling_says_by_how_much_each_stage_was_broken_and_how_warm_it_ended(found):
    (one,) = found.slow_cooling.cooling
    assert [stage.verdict for stage in one.stages] == [Verdict.BROKEN] * 2
    first, second = one.stages
    assert first.reached_s == pytest.approx(first.began_s + 2 * 3600 + first.over_s, abs=1)
    assert second.reached_s is None and one.cold_s is None
    assert one.last_high_c > 5
    said = text(found.slow_cooling)
    assert "rule BROKEN" in said and "At its end some paste may still have been at" in said


def test_a_forecast_stands_as_it_was_told_beside_what_came(found):
    told = {row.to_c: row for row in found.slow_cooling.cooling[0].forecasts}
    stage = found.slow_cooling.cooling[0].stages[0]
    assert told[21.0].told_s < stage.began_s + 180
    assert told[21.0].early_s < told[21.0].expected_s < told[21.0].late_s
    assert told[21.0].came_s == stage.reached_s
    assert "came 6:0" in text(found.slow_cooling) and "it did not come" in text(found.slow_cooling)


def test_what_the_daemon_said_live_is_what_the_review_finds(tmp_path_factory, found):
    record = kept("good", tmp_path_factory.mktemp("live"))
    said = [e for e in record.events(1) if e.name == "cooling-stage" and e.detail["standing"] == "met"]
    for event, stage in zip(said, found.good.cooling[0].stages, strict=True):
        assert event.hold_ms / 1000 == pytest.approx(stage.reached_s, abs=1)


def test_without_a_warmer_no_figure_of_one_is_in_review_or_json(probe_alone):
    f = figures(Record(probe_alone.path))
    assert not f.heated
    assert (f.warmer, f.every_part_c, f.setpoint_c, f.wall_max_c, f.asked_s, f.bread) == (
        None,
        None,
        None,
        None,
        0,
        None,
    )
    said = text(f)
    assert "a cooling, no warmer" in said
    for gone in ("set 65", "62.0", "kWh", "switch-on", "wall", "setpoint", "Starch", "fresh mix", "1 h of"):
        assert gone not in said, gone
    assert {p.phase for p in f.phases} <= {Phase.COOLING, Phase.NONE}


def test_without_a_warmer_no_figure_of_one_is_on_the_screen(probe_alone):
    view = screen(probe_alone)
    said = " ".join(view.frame(120, 40).plain.split())
    assert "no warmer" in said
    for gone in ("wall", "duty", "band", "set 65", "step 1", "starch", "relay"):
        assert gone not in said, gone
    data = frame_json(view.refresh())
    assert (data["heated"], data["warmer"], data["setpoint_c"], data["duty"], data["relay"]) == (
        False,
        *[None] * 4,
    )
    assert data["bread"] is None and data["estimated"]["wall_c"] is None


def test_a_cooling_alone_stands_for_no_warmer_even_where_the_file_has_one():
    told = msgspec.convert(filled(PROBE_ONLY), Settings)
    assert not heated(told)
    assert set(told.untold) == {"warmer", "programme", "vessel", "scald"}
    whole = msgspec.structs.replace(told, untold=())
    assert heated(whole)
    assert alone(whole).untold == HEAT


def test_what_a_probe_reads_beside_the_paste_is_not_recorded_to_the_review(tmp_path):
    """It lies in the room from the 400th second on; the reading of 20 °C must not make the first stage met."""
    told = alone(msgspec.convert(filled(PROBE_ONLY), Settings))
    night = Night(tmp_path / "slip.db", told)
    night.ask(RequestKind.COOL, CoolOrder(stand=Stand.ICE_BATH, alone=True, unknown=True).subject())
    for k in range(800):
        night.read((round(65.0 - 0.06 * k, 2) if k < 400 else 20.0,))
    night.store.flush()
    found = figures(Record(night.path))
    assert any(e.name == "cooling-out" and e.kind == "alarm" for e in Record(night.path).events(1))
    (one,) = found.cooling
    assert one.stages[0].reached_s is None
    assert one.stages[0].unrecorded_s > 300
    assert one.last_high_c > 40
    night.store.close()
