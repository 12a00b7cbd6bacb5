"""`note`: words and measurements, their times of day, and notes for a hold that has ended."""

import json
from datetime import datetime, timedelta, timezone

import pytest
from msgspec.structs import replace

from holdctl.cli.noting import measurement, moment_s
from holdctl.errors import ConfigError
from holdctl.food.accounts import mix_of
from holdctl.food.measured import Measured, read_subject
from holdctl.record.afterwards import enter_note
from holdctl.record.query import Record
from holdctl.record.store import Store
from holdctl.review.bread import measured_of
from holdctl.review.figures import figures
from tests.daemon.rig import holdctl
from tests.review.conftest import SETTINGS, write_night

NOW = datetime(2026, 1, 31, 6, 30, tzinfo=timezone(timedelta(hours=1)))
STARTED_MS = int(datetime(2026, 1, 30, 22, 0, tzinfo=timezone(timedelta(hours=1))).timestamp() * 1000)


def ended(tmp_path, **night):
    path = tmp_path / "night.db"
    with Store.open(path, batch_ms=10**9) as store:
        write_night(store, hours=0.5, **night)
    return path


def ask(path, *arguments):
    return holdctl("note", *arguments, "--record", str(path))


@pytest.mark.parametrize(
    ("when", "seconds"),
    [("22:30", 1800), ("21:45", -900), ("6:30", 8.5 * 3600), ("06:31", -15.4833 * 3600), ("now", 8.5 * 3600)],
)
def test_a_clock_time_is_the_last_one_past_since_the_holds_start(when, seconds):
    assert moment_s(when, STARTED_MS, NOW) == pytest.approx(seconds, abs=1)


@pytest.mark.parametrize("when", ["25:00", "half past", "", "9.30", "21:5"])
def test_what_is_no_time_is_refused(when):
    with pytest.raises(ConfigError, match="no time"):
        moment_s(when, STARTED_MS, NOW)


def test_options_become_one_measurement():
    given = {"ph": 5.9, "brix": 22.5, "taste": "sweet", "mix_peak": 86.5, "malt": "mix"}
    found = measurement("stirred", given, STARTED_MS)
    assert (found.ph, found.brix, found.mix_c, found.malt, found.text) == (
        5.9,
        22.5,
        86.5,
        "with the flour",
        "stirred",
    )
    assert found.words() == "pH 5.9, 22.5 °Brix, mix 86.5 °C, malt in with the flour, taste: sweet"
    assert read_subject(found.subject()) == found
    assert measurement("", {"malt": "none"}, STARTED_MS).words() == "no malt"


def test_packaged_says_of_what_paste_a_ph_or_a_water_activity_is():
    assert (
        measurement("", {"ph": 4.5, "packaged": True}, STARTED_MS).words() == "pH 4.5, packaged after heating"
    )
    assert measurement("", {"ph": 4.5, "packaged": False}, STARTED_MS).words() == "pH 4.5"
    with pytest.raises(ConfigError, match="add --ph"):
        measurement("", {"brix": 20.0, "packaged": True}, STARTED_MS)


def test_malt_that_goes_in_now_is_dated_by_the_holds_own_clock(tmp_path):
    found = measurement("", {"malt": "now", "mix_peak": 84.0}, STARTED_MS)
    assert (found.malt, found.malt_s) == ("now", None)
    mix, _ = mix_of([Measured(at_s=840.0, by="baker", value=found)])
    assert mix.malt_s == 840.0
    late = ask(ended(tmp_path), "--malt", "now")
    assert late.returncode == 2 and "by the clock" in late.stderr


def test_a_mix_time_without_its_temperature_is_refused():
    with pytest.raises(ConfigError, match="--mix-peak"):
        measurement("", {"mix_at": "21:30"}, STARTED_MS)
    with pytest.raises(ConfigError, match="not both"):
        measurement("", {"mix_peak": 80.0, "mix_plan": 3}, STARTED_MS)


def test_a_plans_mix_says_that_it_is_the_plans(monkeypatch):
    from types import SimpleNamespace

    monkeypatch.setattr(
        "holdctl.plan.store.load", lambda number: SimpleNamespace(mix=SimpleNamespace(mix_c=84.26))
    )
    found = measurement("", {"mix_plan": 3}, STARTED_MS)
    assert found.words() == "mix 84.3 °C (from plan 3)"
    monkeypatch.setattr("holdctl.plan.store.load", lambda number: SimpleNamespace(mix=None))
    with pytest.raises(ConfigError, match="says nothing of its mix"):
        measurement("", {"mix_plan": 3}, STARTED_MS)


def test_what_was_measured_after_the_end_stands_in_the_review(tmp_path):
    path = ended(tmp_path)
    done = ask(path, "--mix-peak", "84", "--malt", "none", "--brix", "21", "no lumps", "--json")
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["text"] == "no lumps (21 °Brix, mix 84 °C, no malt)"
    record = Record(path)
    (one,) = measured_of(record.events(1))
    assert one.value.brix == 21
    assert figures(record, 1).bread.missing == ()
    assert [r.kind for r in record.requests(1)] == ["note"]


def test_fahrenheit_settings_take_a_mix_and_a_storage_in_fahrenheit(tmp_path):
    path = ended(tmp_path, settings=replace(SETTINGS, units="F"))
    assert ask(path, "--mix-peak", "185", "--storage", "41").returncode == 0
    (one,) = measured_of(Record(path).events(1))
    assert (one.value.mix_c, one.value.storage_c) == (85.0, 5.0)


def test_a_fridge_read_later_stands_in_the_review_with_its_time_and_in_words(tmp_path):
    path = ended(tmp_path)
    done = ask(path, "--storage", "4.2")
    assert done.stdout == "stored at 4.2 °C\n"
    assert ask(path, "--storage", "7").returncode == 0
    found = figures(Record(path), 1)
    assert [one.words for one in found.storage.read] == [
        "4.2 °C, at or below 5 °C (41 °F)", "7.0 °C, ABOVE 5 °C (41 °F) by 2.0 K",
    ]  # fmt: skip
    assert [one.open for one in found.deviations if one.alarm == "unsafe-window"] == [True]


def test_a_souring_is_told_afterwards_with_its_ph_and_stands_in_the_review(tmp_path):
    path = ended(tmp_path)
    done = holdctl(
        "sour", "--from", "2025-10-10 06:00", "--to", "2025-10-10 14:00", "--ph", "3.9", "--record", str(path)
    )
    assert done.returncode == 0, done.stderr
    assert "pH 3.9" in done.stdout and "soured from" in done.stdout
    found = figures(Record(path), 1).food.of("souring")
    assert found.verdict.value == "met" and "8 h long" in found.observed


@pytest.mark.parametrize(
    ("arguments", "says"),
    [(("--from", "soon"), "is no time"), (("--to", "08:00"), "Say when it began"),
     (("--from", "2999-01-01 08:00"), "ends before now"), (("--from", "2025-10-10 06:00", "--ph", "15"), "at most 14")],
)  # fmt: skip
def test_a_souring_that_cannot_have_been_is_refused(tmp_path, arguments, says):
    done = holdctl("sour", *arguments, "--record", str(ended(tmp_path)))
    assert done.returncode == 2 and says in done.stderr


def test_storage_noted_for_paste_of_an_earlier_hold_is_no_measurement_of_the_later_one(tmp_path):
    path = tmp_path / "night.db"
    with Store.open(path, batch_ms=10**9) as store:
        write_night(store, hours=0.5)
        write_night(store, hours=0.5)
    value = measurement("", {"storage": 4.0, "of_hold": 1}, STARTED_MS)
    assert value.words() == "stored at 4 °C, paste of hold 1"
    enter_note(Record(path), 2, value.subject(), "baker", STARTED_MS)
    assert measured_of(Record(path).events(2)) == ()
    assert [len(figures(Record(path), n).storage.read) for n in (1, 2)] == [1, 0]


@pytest.mark.parametrize(
    ("arguments", "says"),
    [((), "Say what to note"), (("--ph", "15"), "--ph has to be at most 14; it is 15"),
     (("--malt", "soon"), "is no time"),
     (("--mix-peak", "300"), "--mix-peak has to be at most 105"), (("x", "--hold", "9"), "no hold 9"),
     (("x", "--hold", "9" * 25), "no hold 999")],
)  # fmt: skip
def test_bad_input_is_one_plain_sentence(tmp_path, arguments, says):
    done = ask(ended(tmp_path), *arguments)
    assert done.returncode == 2
    assert says in done.stderr and "Traceback" not in done.stderr


def test_what_could_drive_a_terminal_is_taken_out_of_a_note_after_the_end_too(tmp_path):
    path = ended(tmp_path)
    assert ask(path, "stirred\x1b[2J\ntwice").stdout == "stirred [2J twice\n"
    assert [e.text for e in Record(path).events(1) if e.kind == "note"][-1] == "stirred [2J twice"


def test_plain_words_stay_plain_words(tmp_path):
    path = ended(tmp_path)
    assert ask(path, "smells of honey").stdout == "smells of honey\n"
    assert measured_of(Record(path).events(1)) == ()
