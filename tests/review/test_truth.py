"""Estimates beside the simulator's truth, forecasts beside what came: computed here a second way."""

import math
from collections.abc import Callable
from dataclasses import replace as with_
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from holdctl.errors import StoreError
from holdctl.events import Forecast, Instant, Notice, NoticeKind, Phase, State
from holdctl.record.files import TRUTH_COLUMNS, truth_file, truth_head
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.review import picture
from holdctl.review.figures import Figures, figures
from holdctl.review.night import read_night
from holdctl.review.report import render_report, render_summary
from holdctl.review.words import earned

from .conftest import SETTINGS, START_UTC_MS, sample, write_night
from .test_pictures import texts
from .test_report import shown

SD = (0.2, 0.25, 0.3, 0.1)


def begin(store: Store) -> int:
    return store.begin_hold(
        started_utc_ms=START_UTC_MS, config_json=msgspec.json.encode(SETTINGS).decode(), warmer="w", programme="p",
        pace="device", simulated=True, version="0.1.0", boot_id="b", latched=(),
    )  # fmt: skip


def known_night(folder: Path, rows: int = 40, *, sd: bool = True) -> Record:
    """A night whose estimates err by +0.1 K every second sample and by -0.3 K the others; the wall never errs."""
    with Store.open(folder / "r.db") as store:
        hold = begin(store)
        lines = []
        for k in range(rows):
            now, reading, decision = sample(k, Phase.HOLD, 65.0, False, 0.0)
            estimate = decision.estimate
            assert estimate is not None
            if sd:
                estimate = replace(
                    estimate, wall_sd_k=SD[0], coldest_sd_k=SD[1], hottest_sd_k=SD[2], mean_sd_k=SD[3]
                )
            store.sample(now, reading, replace(decision, estimate=estimate))
            error = 0.1 if k % 2 else -0.3
            true = (estimate.coldest_c, estimate.hottest_c, estimate.mean_c)
            values = [round(c, 2) - error for c in true] + [round(estimate.wall_c, 2)]
            lines.append(",".join([str(reading.up_ms), *(f"{c:.3f}" for c in values)]))
    write_truth(folder, hold, lines)
    return Record(folder / "r.db")


def write_truth(folder: Path, hold: int, lines: list[str], started: int = START_UTC_MS) -> None:
    text = "\n".join([truth_head(hold, started), ",".join(TRUTH_COLUMNS), *lines]) + "\n"
    truth_file(folder / "r.db", hold).write_text(text, "utf-8")


def test_rms_worst_and_share_within_two_deviations_are_those_of_the_errors(tmp_path: Path) -> None:
    truth = {one.place: one for one in figures(known_night(tmp_path)).truth}
    rms = math.sqrt((0.1**2 + 0.3**2) / 2)
    for place, within in (("coldest", 1.0), ("hottest", 1.0), ("mean", 0.5)):  # 2 sd: 0.5, 0.6, 0.2 K
        assert truth[place].rms_k == pytest.approx(rms, abs=1e-6)
        assert truth[place].worst_k == pytest.approx(-0.3, abs=1e-6)
        assert truth[place].worst_s == 0.5
        assert truth[place].within_2sd == within
        assert truth[place].moments == 40
    assert (truth["wall"].rms_k, truth["wall"].within_2sd) == (pytest.approx(0.0, abs=1e-9), 1.0)


def test_without_deviations_no_share_is_claimed(tmp_path: Path) -> None:
    record = known_night(tmp_path, sd=False)
    assert {one.within_2sd for one in figures(record).truth} == {None}
    assert "no sd given" in shown(render_report(figures(record)))


def test_only_the_moments_that_the_truth_knows_count(tmp_path: Path) -> None:
    record = known_night(tmp_path)
    path = truth_file(record.path, 1)
    lines = path.read_text("utf-8").splitlines()
    path.write_text("\n".join([*lines[:2], *lines[2::4]]) + "\n", "utf-8")
    assert [one.moments for one in figures(record).truth] == [10] * 4
    path.write_text("\n".join(lines[:2]) + "\n", "utf-8")
    assert figures(record).truth == ()


def test_the_report_sets_them_side_by_side_and_the_picture_draws_a_thin_line(tmp_path: Path) -> None:
    record = known_night(tmp_path)
    text = shown(render_report(figures(record)))
    assert "less simulator's truth" in text
    assert any(line.split()[:4] == ["coldest", "0.22", "K", "-0.30"] for line in text.splitlines())
    assert max(map(len, text.splitlines())) <= 80
    assert "truth (simulator)" in texts(picture._draw(read_night(record), "C"))


def test_a_real_hold_says_nothing_of_truth(calm: Record) -> None:
    assert figures(calm, 1).truth == ()
    assert "truth" not in shown(render_report(figures(calm, 1)))
    assert "truth" not in texts(picture._draw(read_night(calm, 1), "C"))


def test_the_truth_of_another_record_of_the_same_name_is_left_alone(tmp_path: Path) -> None:
    record = known_night(tmp_path)
    write_truth(tmp_path, 1, ["77,1,2,3,4"], started=START_UTC_MS - 1)
    assert figures(record).truth == ()


@pytest.mark.parametrize("line", ["77,1,2", "77,1,2,three,4"])
def test_a_truth_that_cannot_be_read_is_one_sentence(tmp_path: Path, line: str) -> None:
    record = known_night(tmp_path)
    write_truth(tmp_path, 1, [line])
    with pytest.raises(StoreError, match=r"truth .* can't be read .*: move it away"):
        figures(record)


# Forecasts and stirs -----------------------------------------------------------------------------------------------

H = 3_600_000


def foretold_night(folder: Path, forecast: Forecast, *, done: bool = True) -> Figures:
    """A hold step: cold until 0.5 h, in range from then on, its hold time earned after 2 h."""
    asked = replace(SETTINGS.programme, step=(replace(SETTINGS.programme.step[0], hold_for="90 min"),))
    with Store.open(folder / "r.db", batch_ms=10**9) as store:
        hold = store.begin_hold(
            started_utc_ms=START_UTC_MS,
            config_json=msgspec.json.encode(replace(SETTINGS, programme=asked)).decode(), warmer="w",
            programme="p", pace="host", simulated=False, version="0.1.0", boot_id="b", latched=(),
        )  # fmt: skip
        store.notice(Instant(0, 0, START_UTC_MS), Notice(NoticeKind.STEP, "step-1", "hold", {"step": 0}))
        for k in range(1500):
            warm = k >= 360
            now, reading, decision = sample(
                k, Phase.HOLD, 65.0 if warm else 50.0, False, max(0.0, 5.0 * (k - 360))
            )
            store.sample(now, reading, replace(decision, step=int(done and k >= 1440)))
            if k == 60:
                told = msgspec.structs.asdict(forecast)
                store.notice(now, Notice(NoticeKind.FORECAST, "forecast", "", told))
            if k == 120:
                later = msgspec.structs.asdict(Forecast(None, None, 1.0, 2.0, 0, 0.0))
                store.notice(now, Notice(NoticeKind.FORECAST, "forecast", "", later))
                store.notice(now, Notice(NoticeKind.ADVICE, "stirred", "ready 22 min sooner than before"))
        store.end_hold(now, State.STOPPED)
    assert hold == 1
    return figures(Record(folder / "r.db"))


IN_TIME = Forecast((H // 4, H // 2, H), (H, 3 * H // 2, 2 * H), 50.0, 66.0, 0, 0.0)


def test_the_first_forecast_stands_beside_what_came(tmp_path: Path) -> None:
    f = foretold_night(tmp_path, IN_TIME)
    (told,) = f.forecasts
    assert (told.step, told.told_s) == (0, 300.5)
    assert told.in_range_s == (1200.5, 2100.5, 3900.5)
    assert told.in_range_came_s == 1800.5
    assert told.done_s == (3900.5, 5700.5, 7500.5)
    assert told.done_came_s == 7200.5
    text = shown(render_report(f))
    assert "Forecast at 0:05 for step 1" in text
    assert "every part in range 0:20 to 1:05, expected 0:35; came 0:30, within it" in text
    assert "hold time earned    1:05 to 2:05, expected 1:35; came 2:00, within it" in text
    assert "Stirred at 0:10: ready 22 min sooner than before" in text
    assert f.stirs[0].at_s == 600.5


def test_a_forecast_that_was_wrong_says_so(tmp_path: Path) -> None:
    f = foretold_night(tmp_path, Forecast(None, (H // 2, H // 2, H), 1.0, 2.0, 0, 0.0))
    text = shown(render_report(f))
    assert "every part in range not within a day; came 0:30" in text
    assert "expected 0:35; came 2:00, later" in text


def test_hold_time_that_was_not_earned_did_not_come(tmp_path: Path) -> None:
    f = foretold_night(tmp_path, IN_TIME, done=False)
    assert f.forecasts[0].done_came_s is None
    assert "expected 1:35; it did not come" in shown(render_report(f))


# How far the estimates are trusted, and how things are called ---------------------------------------------------------


def test_coldest_and_hottest_stand_with_two_deviations(tmp_path: Path) -> None:
    f = figures(known_night(tmp_path))
    hold = f.phase("hold")
    assert hold is not None
    assert (f.coldest_sd_k, f.hottest_sd_k, hold.coldest_sd_k, hold.hottest_sd_k) == (0.25, 0.3, 0.25, 0.3)
    assert "63.8 ±0.5" in shown(render_report(f))
    flat = " ".join(shown(render_report(f)).split())
    assert "coldest in the hold 63.8 ±0.5 °C, hottest ever 65.6 ±0.6 °C" in flat
    assert "±0.9" in shown(render_report(f, units="F"))


def test_the_headline_says_hold_time_earned_of_what_was_asked(calm: Record) -> None:
    flat = " ".join(shown(render_report(figures(calm, 1))).split())
    assert "4 h of 4 h of hold time earned" in flat
    assert earned(10_200, 14_400) == "2 h 50 min of 4 h"
    assert earned(14_394, 14_400) == "3 h 59 min of 4 h"
    assert earned(14_399, 14_400) == "4 h of 4 h"  # the step's last second is in no sample
    assert earned(600, 0) == "10 min"


@pytest.mark.parametrize(("length_s", "told"), [(1.0, False), (600.0, True)])
def test_the_phase_without_a_name_is_told_only_where_it_lasted(
    calm: Record, length_s: float, told: bool
) -> None:
    f = figures(calm, 1)
    last = replace(f.phases[-1], phase="none", duration_s=length_s)
    text = shown(render_report(replace(f, phases=(*f.phases, last))))
    assert ("not running" in text) is told
    assert not any(line.startswith("none") for line in text.splitlines())


def test_words_of_events_are_in_the_users_unit_too(calm: Record) -> None:
    events = [with_(calm.events(1)[0], text="Hold at 65 °C for 4 h, 2 K more would do.")]
    text = shown(render_report(figures(calm, 1), events, units="F"))
    assert "Hold at 149 °F for 4 h, 3.6 °F more would do." in text


def test_times_are_local_and_name_their_zone(calm: Record, monkeypatch: pytest.MonkeyPatch) -> None:
    import time

    monkeypatch.setenv("TZ", "Europe/Berlin")
    time.tzset()
    try:
        text = shown(render_report(figures(calm, 1)))
    finally:
        monkeypatch.undo()
        time.tzset()
    assert "2025-10-09 22:00 CEST" in text
    assert "UTC" not in text


def test_the_numbers_of_events_stay_clear_of_the_title(make_record: Callable[..., Record]) -> None:
    figure = picture._draw(read_night(make_record({"broken": True})), "C")
    figure.draw_without_rendering()
    boxes = {t.get_text(): t.get_window_extent() for t in figure.findobj(lambda a: hasattr(a, "get_window_extent")
             and hasattr(a, "get_text")) if t.get_text()}  # fmt: skip
    title = next(box for text, box in boxes.items() if text.startswith("Hold 1: "))
    assert all(box.y1 < title.y0 for text, box in boxes.items() if text.isdigit())
    assert title.x1 < figure.bbox.width


def test_the_summary_fits_a_screen(tmp_path: Path, make_record: Callable[..., Record]) -> None:
    with Store.open(tmp_path / "r.db", batch_ms=10**9) as store:
        write_night(store)
    write_truth(tmp_path, 1, ["577,64,66,65,66", "5577,64,66,65,66"])
    f = figures(Record(tmp_path / "r.db"))
    assert f.truth
    assert len(shown(render_summary(f)).splitlines()) <= 20  # four lines follow, and a prompt
