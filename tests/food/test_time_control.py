"""Time as the control, from cold holding on: FDA Food Code 3-501.19(B) and (C) against invented records."""

import pytest

from holdctl.food.findings import Declared
from tests.food.records import H, straight, without
from tests.food.test_judge import BROKEN, GOOD, MET, NONE, of

SIX = Declared(begins="chilled", time_control="6 h from cold")
FOUR = Declared(begins="chilled", time_control="from cold")


def test_six_hours_from_the_cold_run_from_the_first_moment_above_five_degrees() -> None:
    """FDA Food Code 3-501.19(C): from 5 °C, never above 21 °C, within 6 h; 3 to 5 °C takes half an hour here."""
    record = straight([(0, 3), (0.5, 5), (4, 19)])
    found = of(record, "time-6h", SIX)
    assert (found.verdict, found.breaches) == (MET, ())
    assert "6 h, never above 21 °C (70 °F), then discard" in found.limit
    assert "out of 5 °C (41 °F) for 3 h 30 min" in found.observed and "warmest 19.0 °C" in found.observed
    assert "use or discard it within 2 h 30 min" in found.why
    for rule, why in (
        ("reheating", "time alone"),
        ("hot-holding", "never was"),
        ("time-4h", "declared instead"),
    ):
        other = of(record, rule, SIX)
        assert other.verdict is NONE and why in other.observed


def test_six_hours_from_the_cold_are_over_after_six_hours_and_chilling_does_not_end_them() -> None:
    found = of(straight([(0, 4), (0.5, 6), (1, 12), (2, 4), (6.5, 4)]), "time-6h", SIX)
    (breach,) = found.breaches
    assert found.verdict is BROKEN
    assert (breach.start_s, breach.limit_s) == (pytest.approx(0.25 * H, abs=2), 6 * H)
    assert breach.action.startswith("discard it")


def test_above_21_degrees_it_is_discarded_however_short_it_was() -> None:
    found = of(straight([(0, 4), (2, 22), (2.2, 15), (3, 15)]), "time-6h", SIX)
    (breach,) = found.breaches
    assert found.verdict is BROKEN
    assert (breach.limit_c, breach.observed_c) == (21.0, pytest.approx(22.0, abs=0.01))
    assert breach.margin_k == pytest.approx(1.0, abs=0.01)


def test_the_hottest_paste_counts_for_21_degrees_and_for_leaving_the_cold() -> None:
    found = of(straight([(0, 2), (2, 19.5)], spread_k=2.0), "time-6h", SIX)
    assert found.breaches[0].limit_c == 21.0
    assert "began at" in of(straight([(0, 4), (2, 15)], spread_k=2.0), "time-6h", SIX).observed


def test_a_gap_may_hide_both_that_it_left_the_cold_and_that_it_was_too_warm() -> None:
    found = of(without(straight([(0, 4), (3, 4)]), 1, 1.5), "time-6h", SIX)
    assert found.verdict is BROKEN
    assert found.breaches[0].unrecorded_s == pytest.approx(0.5 * H, abs=2)
    four = of(without(straight([(0, 4), (3, 4)]), 1, 1.5), "time-4h", FOUR)
    assert four.verdict is MET and "for 2 h" in four.observed


def test_a_start_that_was_not_cold_breaks_the_rule_and_the_others_are_asked() -> None:
    record = straight([(0, 8), (2, 15)])
    found = of(record, "time-6h", SIX)
    assert found.verdict is BROKEN
    assert "it began at 8.0 °C, errors counted: not at 5 °C (41 °F) or below" in found.observed
    assert of(record, "reheating", SIX).verdict is not NONE


def test_a_probe_may_take_ten_minutes_to_show_that_it_is_cold() -> None:
    assert of(straight([(0, 20), (0.1, 4), (2, 4), (3, 15)]), "time-6h", SIX).verdict is MET
    assert of(straight([(0, 20), (0.3, 4), (2, 4), (3, 15)]), "time-6h", SIX).verdict is BROKEN


def test_four_hours_from_the_cold_have_no_ceiling() -> None:
    """3-501.19(B)."""
    record = [(0, 4), (1, 6), (2, 35), (4.4, 35)]
    assert of(straight(record), "time-4h", FOUR).verdict is MET
    assert of(straight([*record, (5, 35)]), "time-4h", FOUR).verdict is BROKEN


def test_paste_that_never_left_the_cold_uses_none_of_its_time() -> None:
    found = of(straight([(0, 3), (8, 4)]), "time-6h", SIX)
    assert (found.verdict, found.observed) == (NONE, "it never left 5 °C (41 °F)")


def test_a_gap_may_hide_that_it_was_hot_and_fell() -> None:
    told = Declared(time_control=True)
    record = straight([(0, 50), (1, 50), (1.5, 60), (2, 50), (6.5, 50)])
    assert of(record, "time-4h", told).verdict is BROKEN
    assert of(without(record, 1.2, 2), "time-4h", told).verdict is BROKEN
    assert of(without(straight([(0, 50), (4, 50)]), 1.2, 2), "time-4h", told).verdict is NONE


def test_undeclared_the_time_rules_say_so() -> None:
    for rule, words in (("time-4h", "time control was not declared"), ("time-6h", "from cold holding only")):
        found = of(straight(GOOD), rule)
        assert found.verdict is NONE and words in found.observed
    assert (
        "time 4h was declared instead" in of(straight(GOOD), "time-6h", Declared(time_control=True)).observed
    )
