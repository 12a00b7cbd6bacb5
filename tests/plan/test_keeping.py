"""What the food codes' times make of a foretold curve. Figures: FDA Food Code 2022, SI 2013/2996, Standard 3.2.2."""

import msgspec
import numpy as np
import pytest

from holdctl.plan.keeping import judge
from tests.closed_loop import told

HOUR = 3600.0


def _judged(hours, coldest, code="fda-2022", waited_s=0.0):
    settings = msgspec.structs.replace(told("jacket"), food_code=code)
    return judge(settings, HOUR * np.array(hours), np.array(coldest, float), waited_s)


def test_a_come_up_is_measured_between_5_and_57_against_two_hours_of_advice():
    found = _judged([0, 2, 4], [21, 57, 65])[0]
    assert found.kept
    assert found.advisory
    assert found.used_s == pytest.approx(2 * HOUR, abs=20)
    late = _judged([0, 2.1, 4], [21, 57, 65])[0]
    assert not late.kept
    assert late.used_s == pytest.approx(2.1 * HOUR, abs=20)
    assert "over the 2 h of this project's advice" in late.words


def test_time_that_mixed_paste_waits_counts():
    assert _judged([0, 1.5, 3], [21, 57, 65])[0].kept
    assert not _judged([0, 1.5, 3], [21, 57, 65], waited_s=0.6 * HOUR)[0].kept


def test_a_hot_mix_in_a_cold_vessel_begins_its_come_up_at_the_wall():
    """The skin falls within a minute: it was never held hot, so no rule of hot holding is broken by it."""
    hours = [0, 0.01, 0.2, 0.5, 3]
    found = _judged(hours, [66, 35, 50, 60, 65])
    assert all(rule.kept for rule in found)
    assert found[0].used_s == pytest.approx(0.41 * HOUR, abs=0.03 * HOUR)


def test_paste_that_was_hot_and_falls_again_breaks_hot_holding():
    found = _judged([0, 1, 2, 3, 4], [60, 60, 55, 60, 65])
    assert not found[0].kept
    assert found[0].source.endswith("3-501.16(A)(1)")
    assert not found[0].advisory


def test_england_allows_one_period_of_less_than_two_hours():
    once = [rule for rule in _judged([0, 1, 2, 2.5, 5], [66, 66, 60, 66, 66], "uk") if "63" in rule.what]
    assert once[0].kept
    assert once[0].limit_s == 2 * HOUR
    long = [rule for rule in _judged([0, 1, 2, 4, 5], [66, 66, 60, 60, 66], "uk") if "63" in rule.what]
    assert not long[0].kept


def test_all_times_are_added_up_where_the_code_does():
    found = [rule for rule in _judged([0, 5, 6], [20, 59, 66], "anz") if "in all" in rule.what]
    assert found[0].limit_s == 4 * HOUR
    assert not found[0].kept
