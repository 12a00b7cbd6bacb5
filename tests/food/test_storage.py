"""Cold storage: which limit counts, days of the calendar, and what a reading in the fridge says.

FDA Food Code 3-501.17(A): seven days at most at 5 °C (41 °F) or below, the day of preparation counted as day 1. Worked
examples: Southern Nevada Health District, "How long can I keep TCS food?" (April 1, by April 7); University of New
Hampshire Extension, "The importance of date marking", October 2025 (October 19, by October 25).
"""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdctl.food.codes import CODES, code
from holdctl.food.storage import cooled_to, date_rule, judged, storage_limit, use_by

BERLIN = ZoneInfo("Europe/Berlin")
"""Clocks are set forward on 29 March 2026 and back on 25 October 2026 (EU: last Sunday of either month)."""


def ms(*when: int, zone: ZoneInfo = BERLIN) -> float:
    return datetime(*when, tzinfo=zone).timestamp() * 1000


@pytest.mark.parametrize(("made", "last"), [((4, 1), (4, 7)), ((10, 19), (10, 25)), ((10, 20), (10, 26))])
def test_the_day_of_preparation_is_the_first_of_seven_as_in_the_published_examples(made, last):
    assert use_by(ms(2025, *made, 9, 0), 7, BERLIN) == date(2025, *last)
    assert use_by(ms(2025, *made, 9, 0), 1, BERLIN) == date(2025, *made)


def test_a_paste_made_just_before_midnight_has_that_day_as_its_first():
    assert use_by(ms(2026, 1, 30, 23, 59), 7, BERLIN) == date(2026, 2, 5)
    assert use_by(ms(2026, 1, 31, 0, 0), 7, BERLIN) == date(2026, 2, 6)


def test_the_day_is_the_local_one_not_that_of_utc():
    at = datetime(2026, 1, 30, 23, 30, tzinfo=UTC).timestamp() * 1000  # 00:30 of the 31st in Berlin
    assert use_by(at, 7, UTC) == date(2026, 2, 5)
    assert use_by(at, 7, BERLIN) == date(2026, 2, 6)


@pytest.mark.parametrize(
    ("made", "last"),
    [((2026, 3, 28, 23, 30), date(2026, 4, 3)), ((2026, 3, 29, 3, 30), date(2026, 4, 4)),
     ((2026, 10, 24, 23, 30), date(2026, 10, 30)), ((2026, 10, 25, 0, 30), date(2026, 10, 31)),
     ((2028, 2, 27, 22, 0), date(2028, 3, 4))],
)  # fmt: skip
def test_nights_in_which_clocks_are_set_and_leap_days_move_no_date(made, last):
    assert use_by(ms(*made), 7, BERLIN) == last


@given(st.integers(1_577_836_800, 2_208_988_800))
def test_whenever_it_was_made_seven_days_hold_six_nights(at_s):
    """From 2020 to 2040."""
    local = datetime.fromtimestamp(at_s, BERLIN)
    assert (use_by(at_s * 1000, 7, BERLIN) - local.date()).days == 6


@pytest.mark.parametrize(
    ("named", "limit_c"),
    [("fda-2022", 5.0), ("anz", 5.0), ("canada", 4.0), ("france", 3.0), ("uk", 5.0), ("de-bfr-2020", 5.0)],
)  # fmt: skip
def test_the_storage_limit_is_the_codes_own_and_never_above_that_of_date_marking(named, limit_c):
    found = storage_limit(code(named))
    assert found.limit_c == limit_c
    assert found.source and found.sureness and found.force in ("law", "recommendation")


def test_only_the_food_code_has_date_marking_of_its_own_and_the_rest_get_it_as_a_guide():
    assert {date_rule(one).source for one in CODES} == {"FDA Food Code 2022, 3-501.17(A)"}
    assert date_rule(code("uk")).days == 7
    assert storage_limit(code("fda-2022")).words == "5 °C (41 °F)"


@pytest.mark.parametrize(
    ("named", "to_c"),
    [("fda-2022", 5.0), ("canada", 4.0), ("france", 10.0), ("uk", 8.0), ("de-bfr-2020", 5.0)],
)
def test_a_cooling_is_over_at_the_codes_last_stage_or_its_cold_holding(named, to_c):
    assert cooled_to(code(named)).limit_c == to_c


def test_a_reading_in_the_fridge_is_judged_in_words_and_the_limit_itself_is_kept():
    limit = storage_limit(code("fda-2022"))
    at, above = judged([(1, "a", 5.0), (2, "b", 6.2)], limit)
    assert (at.over_k, at.words) == (0.0, "5.0 °C, at or below 5 °C (41 °F)")
    assert above.words == "6.2 °C, ABOVE 5 °C (41 °F) by 1.2 K"
    assert above.over_k == pytest.approx(1.2)
