"""The latest start for a time: local clocks, the nights in which they are set, and paste that waits."""

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from holdctl.errors import ConfigError
from holdctl.plan.ready import asked, latest_start

BERLIN = ZoneInfo("Europe/Berlin")
HOUR = 3600.0


def _at(text: str, zone=BERLIN) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone)


def test_a_time_that_has_passed_today_is_tomorrows():
    assert asked("05:30", _at("2026-01-10 21:00")) == _at("2026-01-11 05:30")
    assert asked("22:15", _at("2026-01-10 21:00")) == _at("2026-01-10 22:15")
    assert asked("5:30", _at("2026-01-10 05:30")) == _at("2026-01-11 05:30")


@pytest.mark.parametrize("text", ["25:00", "half past five", "", "05:30+01:00"])
def test_what_is_no_local_time_is_told(text):
    with pytest.raises(ConfigError, match="--ready"):
        asked(text, _at("2026-01-10 21:00"))


@pytest.mark.parametrize(
    ("evening", "start"),
    [
        ("2026-01-10 18:00", "2026-01-10 21:30"),  # an ordinary night
        (
            "2026-03-28 18:00",
            "2026-03-28 20:30",
        ),  # clocks go forward at 02:00 CET (EU summer time): an hour less
        ("2026-10-24 18:00", "2026-10-24 22:30"),  # and back at 03:00 CEST: an hour more
    ],
)
def test_eight_hours_are_eight_hours_in_every_night(evening, start):
    now = _at(evening)
    found = latest_start(asked("05:30", now), 8 * HOUR, now)
    assert found.start == _at(start)
    assert found.ready_utc_ms - found.start_utc_ms == 8 * HOUR * 1000


def test_a_time_that_the_night_leaves_out_is_the_moment_it_is_skipped_to():
    assert asked("02:30", _at("2026-03-28 20:00")).isoformat() == "2026-03-29T03:30:00+02:00"


def test_of_an_hour_that_comes_twice_the_first_counts():
    assert asked("02:30", _at("2026-10-24 20:00")).isoformat() == "2026-10-25T02:30:00+02:00"


def test_too_late_names_the_earliest_time():
    now = _at("2026-01-10 23:30")
    with pytest.raises(ConfigError, match="Started now it is ready by 07:30") as error:
        latest_start(asked("05:30", now), 8 * HOUR, now)
    assert "been 2 h ago" in str(error.value)
    with pytest.raises(ConfigError, match="never gets into range"):
        latest_start(asked("05:30", now), None, now)


def test_a_start_within_the_last_minute_is_now():
    now = _at("2026-01-10 21:30") + timedelta(seconds=40)
    assert latest_start(asked("05:30", now), 8 * HOUR, now).start == _at("2026-01-10 21:30")
