"""What the screen knows, and how little it reads to know it."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from holdctl.errors import StoreError
from holdctl.events import Forecast, LinkChange, NoticeKind, Phase, ProbeFault, RequestKind, Silence, State
from holdctl.food.windows import coldest_known_c
from holdctl.record.query import Record
from holdctl.review.figures import figures
from holdctl.watch.feed import Feed
from tests.food.records import numbers
from tests.watch.conftest import screen
from tests.watch.nights import HOLD, Night, flicker, simulate, stirring

MIN = 60_000
Begin = Callable[..., Night]


class Counting(Record):
    """A record that remembers how many rows it gave."""

    def __init__(self, path: Path) -> None:
        self.rows: list[int] = []
        super().__init__(path)

    def samples(self, hold_id: int, after_seq: int = 0, limit: int | None = None) -> list[Any]:
        found = super().samples(hold_id, after_seq, limit)
        self.rows.append(len(found))
        return found

    def events(self, hold_id: int, after_seq: int = 0) -> list[Any]:
        found = super().events(hold_id, after_seq)
        self.rows.append(len(found))
        return found


def test_after_the_first_pass_only_what_is_new_is_read(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(50)
    night.store.flush()
    record = Counting(night.path)
    feed = Feed(record, night.clock)
    feed.refresh()
    first = record.rows[:]
    feed.refresh()
    night.steady(3)
    night.ask(RequestKind.NOTE, "malt added")
    shot = feed.refresh()
    assert first == [50, 4]  # started, step 1, come-up or hold, the loops' margins
    assert record.rows[2:] == [0, 0, 3, 2]
    assert shot.sample is not None and shot.sample.at.hold_ms == 52_000
    assert shot.lines[-1].text == "malt added"


def test_reading_bit_by_bit_ends_where_reading_at_once_ends(begin: Begin) -> None:
    night = begin()
    night.store.flush()
    feed = Feed(Record(night.path), night.clock)
    plant = None
    for _ in range(12):
        plant = simulate(night, 110, each=stirring(240), plant=plant)
        bit_by_bit = feed.refresh()
    at_once = Feed(Record(night.path), night.clock).refresh()
    assert bit_by_bit.phase is Phase.HOLD
    # added up in other stretches, so not to the last bit
    assert numbers(bit_by_bit.growth) == pytest.approx(numbers(at_once.growth), rel=1e-9)
    assert numbers(bit_by_bit.bread) == pytest.approx(numbers(at_once.bread), rel=1e-9)
    assert replace(bit_by_bit, growth=at_once.growth, bread=at_once.bread) == at_once


def test_a_simulated_night_shows_what_the_hold_decided(begin: Begin) -> None:
    night = begin(simulated=True)
    plant = simulate(night, 1500, each=stirring(300))
    shot = screen(night).snapshot
    assert shot.paste_c == pytest.approx(plant.readings()[0], abs=0.2)
    columns = Record(night.path).columns(night.id)
    low, high = shot.settings.programme.every_part
    answered = night.hold.progress.entered_ms / 1000
    inside = (columns.coldest_c >= low) & (columns.hottest_c <= high) & (columns.t_s > answered)
    assert shot.left_ms is not None
    assert 4 * 3600 - shot.left_ms / 1000 == pytest.approx(inside.sum(), abs=2)
    assert inside.sum() > 60


def test_the_offset_of_a_probe_is_added(begin: Begin) -> None:
    night = begin(HOLD, probe=[{"channel": 1, "place": "core", "error_k": 0.5, "offset_k": -1.5}])
    night.read((65.0,))
    shot = screen(night).snapshot
    assert shot.paste_c == 63.5
    assert [(b.lowest_c, b.highest_c) for b in shot.history] == [(63.5, 63.5)]
    assert coldest_known_c((65.0,), night.hold.settings.probe) == 63.0
    estimate = shot.estimate
    assert estimate is not None
    # the coldest estimate less the probe's error and its deviation, where that is worse than the reading less the error
    assert shot.food.coldest_known_c == min(63.0, estimate.coldest_c - estimate.coldest_sd_k - 0.5)


def test_a_probe_without_a_value_says_why(begin: Begin) -> None:
    night = begin(HOLD)
    night.read((65.0, 66.0))
    night.read((ProbeFault.SHORT, 66.0))
    shot = screen(night).snapshot
    assert shot.paste_c is None
    assert [shot.reading(p) for p in shot.settings.probe] == ["shorted", 66.0]


def test_now_follows_the_node_where_the_node_turns_the_clock(begin: Begin) -> None:
    night = begin(HOLD, pace="device")
    night.steady(100)
    at = night.clock.utc
    night.clock.advance(5)
    shot = screen(night).snapshot
    assert shot.now_utc_ms == at - 1000
    assert shot.silent_s == 6


def test_now_is_the_clock_of_the_wall_otherwise(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.clock.advance(5)
    shot = screen(night).snapshot
    assert shot.now_utc_ms == night.clock.utc
    assert shot.silent_s == 6


def test_a_gap_at_the_end_counts_as_below_the_code_limit(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.wait(8)
    assert screen(night).snapshot.food.below_now_s is None
    night.wait(12)
    food = screen(night).snapshot.food
    assert (food.below_now_s, food.below_s, food.unrecorded_s) == (21, 21, 21)
    assert food.unrecorded_now_s == 21
    text = screen(night).frame(100, 40).plain.replace("\n", " ")
    assert "no reading for 21 s now, which counts as below." in text
    assert "BELOW" not in text


def test_time_below_and_time_without_a_reading_are_told_apart(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.wait(600)
    night.steady(60)

    def text() -> str:
        return screen(night).frame(100, 40).plain.replace("\n", " ")

    assert "never seen below; 10 min without a reading in all, counted as below." in text()
    night.steady(300, 50.0, 55.0)
    assert "BELOW it for 4 min now; below it for 4 min in all; 10 min without a reading in all" in text()
    night.steady(60)
    assert "below it for 5 min in all; 10 min without a reading in all, counted as below." in text()


def test_a_come_up_between_5_and_57_counts_against_this_projects_two_hours_and_is_no_window(
    begin: Begin,
) -> None:
    night = begin(HOLD)
    for k in range(200):
        night.read((40.0 + k * 0.05, 60.0))
    shot = screen(night).snapshot
    food = shot.food
    assert food.zone_s == 199
    assert food.coming_up
    assert (food.below_now_s, food.below_s) == (None, 0)
    (left,) = food.allowances
    assert (left.kind, left.used_s, left.limit_s, left.advisory) == ("come-up", 199, 7200, True)
    text = screen(night).frame(100, 40).plain.replace("\n", " ")
    assert "not there yet. Come-up: 1 h 56 min left of 2 h (this project advises)." in text
    night.foretell(Forecast((60 * MIN, 70 * MIN, 85 * MIN), None, 55.0, 69.0, 0, 0.0))
    assert "in time." in screen(night).frame(100, 40).plain.replace("\n", " ")
    night.foretell(Forecast((130 * MIN, 140 * MIN, 150 * MIN), None, 55.0, 69.0, 0, 0.0))
    assert "too late: stir." in screen(night).frame(100, 40).plain.replace("\n", " ")
    night.foretell(Forecast((100 * MIN, 110 * MIN, 150 * MIN), None, 55.0, 69.0, 0, 0.0))
    assert "perhaps too late." in screen(night).frame(100, 40).plain.replace("\n", " ")


def test_the_one_period_of_the_uk_runs_down_on_the_screen(
    begin: Begin,
) -> None:
    night = begin(HOLD, food_code="uk")
    night.steady(300, 70.0, 71.0)
    assert screen(night).snapshot.food.allowances == ()
    night.steady(300, 50.0, 55.0)
    text = screen(night).frame(100, 40).plain.replace("\n", " ")
    assert re.search(r"1 h 5\d min left of 2 h \(the one period below it\)\.", text)


def test_the_hours_of_the_australian_guide_run_down_on_the_screen(begin: Begin) -> None:
    night = begin(HOLD, food_code="anz")
    night.steady(600, 40.0, 45.0)
    text = screen(night).frame(100, 40).plain.replace("\n", " ")
    assert "1 h 50 min left of 2 h in all outside 5 and 60 °C." in text


def test_declared_time_control_runs_down_from_the_first_fall_below_the_limit(begin: Begin) -> None:
    night = begin(HOLD, time_control=True)
    night.steady(300, 70.0, 71.0)
    night.steady(600, 40.0, 45.0)
    (left,) = screen(night).snapshot.food.allowances
    assert left.kind == "time control"
    assert left.text.startswith("3 h 5")
    assert "then discard" in left.text


FALL = HOLD + '[[programme.step]]\nfall_to = 32\n[[programme.step]]\nprompt = "add the culture"\n'


def test_a_fall_that_the_programme_plans_is_a_cooling_on_the_screen_and_in_the_review(begin: Begin) -> None:
    """What stays below the limit after it is a window again."""
    night = begin(FALL)
    night.steady(60)
    night.tell(NoticeKind.STEP, "step-2", "relay off until every part is at 32 °C", step=1)
    for k in range(360):
        temp = round(65.0 - k * 0.09, 2)
        night.read((temp, temp), seconds=10)
    shot = screen(night).snapshot
    assert [one.kind for one in shot.food.allowances] == ["planned fall", "planned fall"]
    assert shot.food.below_s == 0
    text = screen(night).frame(100, 40).plain.replace("\n", " ")
    assert re.search(r"1 h \d\d min left of 2 h \(the planned fall is a cooling: 57 °C to 21 °C\)", text)
    night.tell(NoticeKind.STEP, "step-3", "add the culture", step=2)
    fell_s = night.second
    night.steady(100, 32.0, 32.0)
    live = screen(night).snapshot.food
    assert live.below_now_s == pytest.approx(100, abs=2)
    found = figures(Record(night.path))
    (window,) = found.windows
    assert (window.start_s, window.end_s) == pytest.approx((fell_s, fell_s + 99), abs=2)
    cooling = found.food.of("cooling")
    assert cooling is not None and cooling.verdict == "cannot tell"
    assert "the planned fall ends" in cooling.observed


COLD = {
    "scald": {"flour": "whole-rye", "mass_g": 1000.0, "begins": "chilled"},
    "time_control": "6 h from cold",
}


def slowly(night: Night, seconds: int, paste_c: float) -> None:
    """A reading every 10 s."""
    for k in range(seconds // 10):
        night.read((flicker(paste_c, k),) * 2, seconds=10)
    night.read((paste_c,) * 2)


def test_six_hours_from_the_cold_run_down_from_five_degrees_and_no_window_opens(begin: Begin) -> None:
    night = begin(HOLD, **COLD)
    slowly(night, 300, 2.5)
    slowly(night, 1200, 7.0)
    shot = screen(night).snapshot
    (left,) = shot.food.allowances
    assert left.kind == "time control" and left.limit_s == 6 * 3600
    assert "5 h 40 min left of 6 h" in left.text and "never above 21 °C (70 °F)" in left.text
    assert shot.food.below_s == 0 and shot.food.below_now_s is None


def test_above_21_degrees_the_six_hours_are_over_at_once(begin: Begin) -> None:
    night = begin(HOLD, **COLD)
    slowly(night, 300, 2.5)
    slowly(night, 60, 22.0)
    slowly(night, 60, 10.0)
    (left,) = screen(night).snapshot.food.allowances
    assert left.left_s <= 0
    assert "above 21 °C (70 °F), or not recorded: discard it" in left.text


def test_paste_in_cold_holding_has_used_none_of_its_time_until_silence_may_hide_that_it_left(
    begin: Begin,
) -> None:
    night = begin(HOLD, **{**COLD, "time_control": "from cold"})
    slowly(night, 300, 2.5)
    assert screen(night).snapshot.food.allowances == ()
    night.wait(600)
    (left,) = screen(night).snapshot.food.allowances
    assert left.used_s == pytest.approx(600, abs=2)


def test_a_chilled_scald_is_told_what_reheating_asks_and_by_when(begin: Begin) -> None:
    night = begin(HOLD, scald={"flour": "whole-rye", "mass_g": 1000.0, "begins": "chilled"})
    night.steady(600, 12.0, 20.0)
    text = screen(night).frame(100, 40).plain.replace("\n", " ")
    assert "Reheating: 1 h 50 min left of 2 h (every part to reach 74 °C)" in text


def test_alarms_stand_until_they_are_cleared_and_seen(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.event(Silence())
    night.event(LinkChange(False, "unplugged"))
    assert [(a.name, a.trip, a.acknowledged) for a in screen(night).snapshot.alarms] == [
        ("no-reading", True, False), ("link-down", True, False),
    ]  # fmt: skip
    night.ask(RequestKind.ACKNOWLEDGE, "link-down")
    assert [a.acknowledged for a in screen(night).snapshot.alarms] == [False, True]
    night.event(LinkChange(True))
    night.steady(1)
    (left,) = screen(night).snapshot.alarms
    assert (left.name, left.acknowledged, left.stands, left.holds) == ("no-reading", False, False, False)
    night.ask(RequestKind.ACKNOWLEDGE)
    assert screen(night).snapshot.alarms == ()


def test_standing_alarms_are_those_of_the_hold_itself(begin: Begin) -> None:
    night = begin()
    for temps, seconds in (
        ((82.0, 80.0), 30),
        ((82.0, ProbeFault.OPEN), 8),
        ((81.0, 79.0), 2800),
        ((80.0, 92.0), 9),
    ):
        night.steady(seconds, *temps)
        shot = screen(night).snapshot
        assert {a.name: a.acknowledged for a in shot.alarms} == night.hold.alarms
        assert shot.state is night.hold.state
        assert shot.step_index == night.hold.progress.index


def test_a_dead_daemon_is_seen(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.store.flush()
    feed = Feed(Record(night.path), night.clock)
    assert not feed.refresh().gone
    night.store.close()
    night.clock.advance(2)
    assert feed.refresh().gone
    assert feed.refresh().stale


def test_an_ended_hold_is_neither_gone_nor_stale(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(10)
    night.break_off("out of flour")
    night.clock.advance(3600)
    shot = screen(night).snapshot
    assert (shot.state, shot.ended, shot.gone, shot.stale) == (State.ABORTED, True, False, False)


def test_an_earlier_hold_can_be_watched(begin: Begin) -> None:
    first = begin(HOLD)
    first.steady(10, 64.0)
    first.break_off("power")
    second = begin(HOLD)
    second.steady(10, 65.0)
    assert screen(second).snapshot.paste_c == pytest.approx(65.0, abs=0.011)
    assert screen(second, hold=1).snapshot.paste_c == pytest.approx(64.0, abs=0.011)
    with pytest.raises(StoreError, match="holdctl holds"):
        screen(second, hold=3)


def test_settings_of_another_version_are_refused_in_one_sentence(begin: Begin, monkeypatch: Any) -> None:
    night = begin(HOLD)
    record = Record(night.path)
    hold = replace(record.hold(), config_json='{"food_code": "fda-2022"}', version="9.1")
    monkeypatch.setattr(record, "hold", lambda _id=None: hold)
    with pytest.raises(StoreError, match=r"settings kept with hold 1 .*watch it with holdctl 9\.1"):
        Feed(record, night.clock)


def test_events_are_said_once_and_without_names_of_states(begin: Begin) -> None:
    night = begin()
    night.steady(60, 66.0, 66.5)
    night.ask(RequestKind.NEXT)
    night.steady(100, 66.0, 66.5)
    night.steady(9, 66.0, 91.5)
    assert [line.text for line in screen(night).snapshot.lines] == [
        "started",
        "stir until the paste reads 66 °C, add malt, close the lid",
        "hold 65 °C for 4 h",
        "now holding",
        "probe 2 (wall) at 91.5 °C, limit 90 °C",
        "waiting for you, relay told to be off: high-limit",
        "probe 2 (wall) reads what the paste can't have",
    ]


def test_a_declared_cooling_opens_no_window_on_the_screen_and_its_time_is_no_allowance(begin: Begin) -> None:
    night = begin(HOLD)
    night.steady(100)
    night.tell(NoticeKind.SPELL, "cooling", "Cooling.", begins=True)
    night.steady(200, 40.0, 35.0)
    food = screen(night).snapshot.food
    assert (food.below_s, food.below_now_s) == (0, None)
    night.tell(NoticeKind.SPELL, "cooling", "Cooling ended.", begins=False)
    night.steady(100, 30.0, 30.0)
    assert screen(night).snapshot.food.below_s == 99
