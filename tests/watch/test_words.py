from datetime import timedelta, timezone

import pytest

from holdctl.watch.words import Look, fahrenheit, span


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0, "0 s"), (59.9, "59 s"), (60, "1 min"), (3599, "59 min"), (3600, "1 h"), (6720, "1 h 52 min"),
     (14_400, "4 h"), (3661, "1 h 01 min"), (-3, "0 s")],
)  # fmt: skip
def test_lengths_of_time_are_rounded_down(seconds: float, said: str) -> None:
    assert span(seconds) == said


@pytest.mark.parametrize(("celsius", "f"), [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0), (57.0, 134.6)])
def test_fahrenheit_by_its_definition(celsius: float, f: float) -> None:
    assert fahrenheit(celsius) == pytest.approx(f)  # NIST SP 811, B.8


def test_chosen_temperatures_get_no_decimals_that_nobody_gave() -> None:
    assert Look().limit(62.0) == "62 °C"
    assert Look().limit(62.5) == "62.5 °C"
    assert Look().temp(62.0) == "62.0 °C"
    assert Look().temp(None) == "--.- °C"


def test_recorded_texts_are_said_in_the_users_unit() -> None:
    look = Look(units="F")
    assert look.text("probe 2 (wall) at 91.3 °C, limit 90 °C") == "probe 2 (wall) at 196.3 °F, limit 194 °F"
    assert look.text("let it fall 2 K below the limit") == "let it fall 3.6 °F below the limit"
    assert Look().text("at 91.3 °C, 2 K") == "at 91.3 °C, 2 K"


def test_a_note_cannot_drive_the_terminal() -> None:
    assert Look().text("malt\x1b[2J\nadded\x07") == "malt [2J added "


def test_plain_texts_are_ascii() -> None:
    assert Look(plain=True).text("“stir” – 66 °C → café…") == '"stir" - 66 C -> caf?...'


def test_clock_times_are_local() -> None:
    look = Look(zone=timezone(timedelta(hours=-5)))
    assert look.time(1_767_214_800_000) == "16:00"
    assert look.day(1_767_214_800_000) == "2025-12-31"
    assert look.second_of_day(1_767_214_800_000) == 16 * 3600
