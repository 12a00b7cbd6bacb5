"""Which of several looks back is told, where more than one explains the readings; and what stands meanwhile."""

import math

import pytest

from holdctl.safety.heat import AS_LIKELY, SEEN, SEEN_UNSURE, Finding, HeatBalance
from tests.safety.test_heat import _look, _see

BEST, JUST_WORSE = 8.125, 7.875
"""Deviations whose squares differ by four to the last bit."""


def test_the_border_of_as_likely_is_met_to_the_last_bit():
    assert BEST**2 - JUST_WORSE**2 == AS_LIKELY


@pytest.mark.parametrize("order", [1, -1])
def test_every_moment_that_explains_it_as_well_has_to_show_heat_without_orders(order):
    sure, less = _look(0.6, 12.0), _look(0.2, 11.9)
    assert not _see(HeatBalance(100.0), *(sure, less)[::order], times=9).unordered
    assert _see(HeatBalance(100.0), *(sure, _look(0.2, 11.8))[::order], times=9).unordered


def test_what_explains_it_worse_by_four_is_no_longer_asked():
    assert _see(HeatBalance(100.0), _look(0.6, BEST), _look(0.1, JUST_WORSE), times=SEEN).unordered


def test_once_heat_without_orders_stands_one_moment_is_enough():
    balance = HeatBalance(100.0)
    _see(balance, _look(0.6, 12.0), times=SEEN)
    assert _see(balance, _look(0.6, 12.0), _look(0.2, 11.9), times=3).unordered
    assert not _see(balance, _look(0.1, 12.0), _look(0.1, 11.9)).unordered


@pytest.mark.parametrize("order", [1, -1])
def test_of_moments_that_all_show_heat_the_oldest_is_told(order):
    looks = [_look(0.7, 12.0, window_s=600), _look(0.6, 12.1, window_s=60), _look(0.8, 12.0, window_s=300)]
    assert "about 70 W" in _see(HeatBalance(100.0), *looks[::order], times=SEEN).unordered


@pytest.mark.parametrize("order", [1, -1])
def test_of_moments_that_all_show_a_lack_the_least_is_told(order):
    looks = [_look(-0.25, -12.0, window_s=600), _look(-0.2, -12.1, window_s=120), _look(-0.22, -12.0)]
    assert "by about 20 W" in _see(HeatBalance(100.0), *looks[::order], times=SEEN).missing


@pytest.mark.parametrize(("window_s", "told"), [(60, False), (179, False), (180, True), (600, True)])
def test_heat_is_missing_once_it_has_been_for_three_minutes(window_s, told):
    assert bool(_see(HeatBalance(100.0), _look(-0.2, -12.0, window_s=window_s), times=9).missing) is told


def test_a_lack_that_has_not_lasted_yet_is_not_taken_for_true_however_plain_it_is():
    """A dead heater under a stirred paste is at 25 deviations before it has lasted: it must be told, not believed."""
    balance = HeatBalance(100.0)
    assert not balance.suspects
    for window_s in (60, 120, 165):
        found = _see(balance, _look(-0.3, -40.0, window_s=window_s))
        assert not found.plain and not found.missing
        assert balance.suspects
    found = _see(balance, _look(-0.3, -40.0, window_s=180), times=SEEN)
    assert found.missing or found.nothing
    assert found.plain
    young = _see(HeatBalance(100.0), _look(-0.3, -40.0, known_s=599.0), times=9)
    assert not young.plain and not young.missing
    balance.forget()
    assert not balance.suspects
    weak = HeatBalance(100.0)
    assert _see(weak, _look(-0.04, -40.0), times=9).plain, "a weak mains is believed at once"
    assert not weak.suspects


def test_one_of_the_moments_that_show_a_lack_has_to_lie_three_minutes_back():
    looks = [_look(-0.25, -12.0, window_s=120), _look(-0.2, -11.9, window_s=180)]
    assert _see(HeatBalance(100.0), *looks, times=SEEN).missing
    assert not _see(HeatBalance(100.0), looks[0], _look(0.0, 0.1, window_s=180), times=SEEN).missing


@pytest.mark.parametrize(
    ("weaker", "told"), [(-12.0, False), (-12.001, False), (-11.999, True), (-11.9, True)]
)
def test_a_lack_is_told_where_it_is_likelier_than_a_weak_mains(weaker, told):
    """Of two moments one shows a lack and the other too little for one: the likelier counts."""
    lack, mains = _look(-0.2, -12.0), _look(-0.04, weaker, window_s=480)
    assert bool(_see(HeatBalance(100.0), lack, mains, times=SEEN).missing) is told


@pytest.mark.parametrize(("others", "told"), [(1, True), (2, False)])
def test_moments_count_together_each_as_it_explains_the_readings(others, told):
    """A χ² smaller by 1: each of the weaker has exp(-1/2) = 0.61 of the likelihood."""
    weaker = -math.sqrt(12.0**2 - 1.0)
    mains = [_look(-0.04, weaker, window_s=480 + n) for n in range(others)]
    assert bool(_see(HeatBalance(100.0), _look(-0.2, -12.0), *mains, times=SEEN).missing) is told


def test_however_sure_the_looks_are_their_likelihoods_can_be_told():
    assert _see(HeatBalance(100.0), _look(-0.2, -90.0), _look(-0.04, -89.99), times=SEEN).missing


def test_what_a_lasting_heat_explains_worse_by_four_is_a_hand_in_the_paste():
    step = _look(30.0, BEST, off_k=0.5, window_s=60)
    assert _see(HeatBalance(100.0), step, _look(0.9, JUST_WORSE)).touched
    assert not _see(HeatBalance(100.0), step, _look(0.9, JUST_WORSE + 0.01)).touched


@pytest.mark.parametrize(("hold", "heat", "told"), [
    (0.05, -0.034, False), (0.05, -0.036, True),  # 0.3 of the duty, and a tenth of what the hold needs
    (0.3, -0.059, False), (0.3, -0.061, True),  # … of half of it, and at most 0.015 of full power
])  # fmt: skip
def test_the_floor_of_a_lack_is_a_tenth_of_what_the_hold_needs_and_at_most_so_much(hold, heat, told):
    found = _see(HeatBalance(100.0), _look(heat, -9.0, 0.1), times=SEEN, hold=hold)
    assert bool(found.missing) is told


def test_a_lack_at_its_limit_is_none():
    assert not _see(HeatBalance(100.0), _look(-0.06, -9.0, 0.0), times=SEEN).missing
    assert _see(HeatBalance(100.0), _look(-0.0601, -9.0, 0.0), times=SEEN).missing


@pytest.mark.parametrize("found", [_look(0.6, 12.0), _look(-0.15, -9.0), _look(-0.3, -9.0)])
def test_whatever_stands_goes_on_standing_while_a_hand_is_in_the_paste(found):
    balance = HeatBalance(100.0)
    told = _see(balance, found, times=SEEN)
    assert told != Finding()
    assert balance.suspects
    assert _see(balance, _look(9.0, 40.0, off_k=0.5)) == told


def test_so_does_a_young_models_heater_that_makes_no_heat():
    balance = HeatBalance(100.0)
    told = _see(balance, _look(-0.9, -9.0, 1.0), times=SEEN_UNSURE, learnt=False)
    assert told == Finding(nothing="power is asked for and no heat comes")
    assert _see(balance, _look(9.0, 40.0, off_k=0.5), learnt=False) == told


def test_a_heater_that_never_heats_is_told_in_the_same_words_and_counted_anew_after_heat():
    balance, dead = HeatBalance(100.0), [_look(-0.9, -9.0, 1.0)]
    said = [balance.at_first(dead) for _ in range(SEEN_UNSURE)]
    assert said == [""] * (SEEN_UNSURE - 1) + ["power is asked for and no heat comes"]
    assert balance.at_first([_look(0.0, 0.5, 1.0)]) == ""
    assert [balance.at_first(dead) for _ in range(SEEN_UNSURE - 1)] == [""] * (SEEN_UNSURE - 1)
    assert balance.at_first(dead)
    assert balance.at_first([]) == ""
    assert balance.at_first(dead) == ""


def test_a_balance_that_has_seen_nothing_suspects_nothing():
    balance = HeatBalance(100.0)
    assert not balance.suspects
    _see(balance, _look(0.6, 12.0))
    assert balance.suspects, "one look is enough to look closer"
    balance.forget()
    assert not balance.suspects


@pytest.mark.parametrize(("duty", "told"), [(0.6, True), (0.7, False), (1.0, False)])
def test_where_all_is_ordered_a_relay_can_add_nothing(duty, told):
    # A quarter more than the rest of the power, against 0.43 that a loss explains.
    found = _see(HeatBalance(100.0), _look(0.9, 12.0, duty), times=SEEN, hold=0.4)
    assert bool(found.unordered) is told


def test_heat_that_a_younger_look_knows_to_be_over_is_not_told():
    old, young = _look(0.9, 12.0, window_s=1800), _look(0.01, 1.0, window_s=300)
    assert _see(HeatBalance(100.0), old, times=SEEN).unordered
    assert not _see(HeatBalance(100.0), old, young, times=SEEN).unordered
    assert _see(HeatBalance(100.0), old, _look(0.01, 0.01, window_s=300), times=SEEN).unordered, (
        "it can't tell"
    )


@pytest.mark.parametrize(("sigmas", "told"), [(-6.1, False), (-6.2, True)])
def test_the_more_a_lack_asks_for_beyond_what_there_can_be_the_less_of_its_deviations_count(sigmas, told):
    # Of 1.25, 0.4 can be: in chi-squared 0.4 * (2 * 1.25 - 0.4) / 1.25**2 = 0.5376, and 4.5 / sqrt(0.5376) = 6.14.
    found = _see(HeatBalance(100.0), _look(-1.25, sigmas, 0.2), times=SEEN, hold=0.2)
    assert bool(found.missing) is told
