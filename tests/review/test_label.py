"""The label for the fridge, on the three recorded nights: a use by only where the record or a person gives a reason."""

import json
from datetime import datetime
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import msgspec
import pytest
from click.testing import CliRunner

from holdctl.cli import cli
from holdctl.cli.labelling import moment
from holdctl.errors import ConfigError
from holdctl.food.codes import code
from holdctl.food.findings import Verdict
from holdctl.food.rules import TimeControl
from holdctl.food.timeline import Timeline
from holdctl.hold.disposition import WINDOW, checked
from holdctl.record.afterwards import enter, enter_note
from holdctl.review.cooled import cooling_accounts
from holdctl.review.label import Asked, label_of
from holdctl.review.label_picture import draw
from holdctl.review.label_text import WIDE, lines_of, text_of
from holdctl.review.night import read_night
from tests.review.recorded import BEGAN_UTC_MS, kept

BERLIN = ZoneInfo("Europe/Berlin")
HOUR = 3_600_000


@pytest.fixture(scope="module")
def nights(tmp_path_factory):
    folder = tmp_path_factory.mktemp("nights")
    found = {name: kept(name, folder) for name in ("good", "power-cut", "slow-cooling")}
    return SimpleNamespace(**{name.replace("-", "_"): record for name, record in found.items()})


def made(record, **asked):
    return label_of(read_night(record), Asked(**asked), BERLIN)


def shown(label, units="C"):
    return text_of(lines_of(label, BERLIN, units))


def flat(text):
    return " ".join(text.replace("|", " ").split())


@pytest.fixture(scope="module")
def good(nights):
    return made(nights.good, name="Rye scald", batch="12", bakery="Wren Lane Bakery")


def test_a_cooling_that_met_its_rule_gets_the_seventh_day_counted_from_the_noted_mix(good):
    # Made 15 min before 2026-01-30 21:30 in Berlin; day 7 is 5 February.
    assert (good.made_utc, good.made_from) == ("2026-01-30T20:15:00Z", "by your note of the mix")
    assert good.cooling is Verdict.MET
    assert (good.use_by, good.why) == ("2026-02-05", "")
    assert good.cooled_utc is not None and good.cooled_utc.startswith("2026-01-3")


def test_what_the_label_must_say_stands_on_it(good):
    said = flat(shown(good))
    for text in (
        "RYE SCALD", "batch 12", "Wren Lane Bakery", "white wheat, flour : water 1 : 1.4", "Fri 2026-01-30 21:15 CET",
        "all of it 5 °C (41 °F) or below", "rule met (FDA Food Code 2022, 3-501.14(A))",
        "KEEP AT 5 °C (41 °F) or below",
        "USE BY Thu 2026-02-05", "date marking (FDA Food Code 3-501.17) is for ready-to-eat food",
        "the paste is not ready to eat", "7 days", "is day 1", "recommendation", "sureness high", "SIMULATED",
        "Your local authority decides", "4.4 °C, at or below",
    ):  # fmt: skip
        assert text in said, text
    assert all(len(line) == WIDE for line in shown(good).splitlines())
    assert " safe" not in said.lower()


def test_fahrenheit_is_at_the_edge_only(good):
    said = flat(shown(good, "F"))
    assert "KEEP AT 41 °F or below" in said
    assert "°C" not in said


def test_a_cooling_that_broke_its_rule_gets_no_use_by_and_says_which(nights):
    label = made(nights.slow_cooling)
    assert (label.use_by, label.cooling) == (None, Verdict.BROKEN)
    assert "Cooling BROKE its rule" in label.why
    assert "to 21 °C" in label.why and "too late" in label.why and "3-501.14(A)" in label.why
    assert "holdctl disposition unsafe-window" in label.why
    assert "USE BY NONE" in flat(shown(label))


def test_a_cooling_whose_begin_nobody_recorded_gets_no_use_by_however_cold_it_became(nights, monkeypatch):
    (account,) = cooling_accounts(read_night(nights.good))
    assert account.cold_s is not None
    words = "to 21 °C in 40 min of the record, which does not show it pass 57 °C"
    first = msgspec.structs.replace(account.stages[0], verdict=Verdict.CANNOT_TELL, observed=words)
    stages = (first, *account.stages[1:])
    unseen = msgspec.structs.replace(account, stages=stages, verdict=Verdict.CANNOT_TELL)
    monkeypatch.setattr("holdctl.review.label.cooling_accounts", lambda night: (unseen,))
    label = made(nights.good)
    assert label.use_by is None
    assert "is not shown: to 21 °C in 40 min of the record, which does not show it pass 57 °C" in label.why
    assert "discard it" in label.why


def test_paste_that_time_alone_controls_gets_no_use_by(nights, monkeypatch):
    rule = next(r for r in code("fda-2022").of(TimeControl) if r.name == "time-4h")
    monkeypatch.setattr(Timeline, "timed", property(lambda line: rule))
    label = made(nights.good)
    assert label.use_by is None
    assert "Time alone controls it" in label.why and "3-501.19(B)" in label.why


def test_what_a_person_entered_gives_a_use_by_that_names_rule_and_person_or_none_for_discarded(tmp_path):
    record = kept("slow-cooling", tmp_path)
    late = BEGAN_UTC_MS + 10 * HOUR
    enter(record, checked(WINDOW, "used", 1, "authority asked"), "day baker", late)
    label = made(record)
    assert label.use_by == "2026-02-05"
    assert "BROKE its rule" in label.why
    assert "Entered as used: day baker" in label.why and "authority asked" in label.why
    enter(record, checked(WINDOW, "discarded", 1, ""), "day baker", late + HOUR)
    label = made(record)
    assert label.use_by is None
    assert "DISCARDED" in label.why


def test_paste_of_which_no_cooling_was_recorded_gets_no_use_by(nights):
    label = made(nights.power_cut)
    assert label.use_by is None
    assert "DISCARDED" in label.why  # as was entered in that night
    assert label.cooling is None and label.cooling_words == "none recorded"


def test_a_fridge_read_too_warm_takes_the_use_by_back_until_somebody_says_what_was_done(tmp_path):
    from holdctl.food.measured import Measurement

    record = kept("good", tmp_path)
    warm = BEGAN_UTC_MS + 60 * HOUR
    enter_note(record, 1, Measurement(storage_c=8.5).subject(), "day baker", warm)
    label = made(record)
    assert label.use_by is None
    assert "8.5 °C, ABOVE 5 °C (41 °F) by 3.5 K" in label.why
    (one,) = read_night(record).deviations
    assert (one.alarm, one.open) == (WINDOW, True)
    enter(record, checked(WINDOW, "used", 1, "door stood open"), "day baker", warm + HOUR)
    assert made(record).use_by == "2026-02-05"
    assert not read_night(record).deviations[0].open


def test_a_given_time_of_making_counts_and_can_not_be_after_the_records_begin(nights):
    day_before = BEGAN_UTC_MS - 24 * HOUR
    label = made(nights.good, made_utc_ms=day_before)
    assert (label.use_by, label.made_from) == ("2026-02-04", "as you say")
    with pytest.raises(ConfigError, match="later than the record's begin"):
        made(nights.good, made_utc_ms=BEGAN_UTC_MS + 1)


@pytest.mark.parametrize(
    ("text", "at"),
    [
        ("21:30", (2026, 1, 30, 21, 30)),
        ("22:00", (2026, 1, 29, 22, 0)),
        ("2026-01-28 09:05", (2026, 1, 28, 9, 5)),
    ],
)
def test_a_clock_time_is_the_last_one_before_the_record(text, at):
    before = datetime(2026, 1, 30, 21, 30, tzinfo=BERLIN)
    assert moment(text, before) == datetime(*at, tzinfo=BERLIN)
    with pytest.raises(ConfigError, match="is no time"):
        moment("half past nine", before)


def test_the_drawn_label_is_a_sheet_of_a7_with_everything_inside_it(good, tmp_path):
    import struct

    from holdctl.review.label_picture import _BOTTOM_MM, _HIGH_MM, _plan

    draw(lines_of(good, BERLIN, "C"), tmp_path / "label.png")
    width, height = struct.unpack(">II", (tmp_path / "label.png").read_bytes()[16:24])
    assert (width, height) == pytest.approx((105 / 25.4 * 300, 74 / 25.4 * 300), abs=1)
    draw(lines_of(good, BERLIN, "C"), tmp_path / "label.pdf")
    assert (tmp_path / "label.pdf").read_bytes().startswith(b"%PDF")
    longest = lines_of(good, BERLIN, "C")
    assert min(_plan(longest, share)[-1][1] for share in (1.0, 0.6)) < _HIGH_MM - _BOTTOM_MM


def test_the_command_prints_the_label_and_its_json_and_refuses_in_one_sentence(nights):
    path = str(nights.good.path)

    def run(*arguments):
        return CliRunner().invoke(cli, ["label", "--record", path, *arguments])

    found = json.loads(run("--json", "--batch", "7").stdout)
    assert (found["batch"], found["days"], found["cooling"]) == ("7", 7, "met")
    assert found["use_by"] in ("2026-02-04", "2026-02-05")  # the zone of whoever runs this
    assert "USE BY" in run().stdout
    assert "is no time" in str(run("--made", "soon").exception)
    assert ".pdf" in str(run("--output", "label.doc").exception)
