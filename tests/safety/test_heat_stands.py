"""Looks at heat that come running, mains, and what heat there can be. All heats in units of full power."""

import math

import pytest

from holdctl.safety.heat import SEEN, SEEN_UNSURE, HeatBalance
from tests.safety.test_heat import _look, _see

# Looks running --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("heat", "sigmas"), [(0.6, 12.0), (-0.15, -9.0), (-0.3, -9.0)])
def test_a_finding_needs_two_looks_running_and_begins_anew_after_a_quiet_one_or_a_gap(heat, sigmas):
    balance = HeatBalance(100.0)

    def told():
        found = _see(balance, _look(heat, sigmas))
        return bool(found.unordered or found.missing or found.nothing)

    _see(balance, _look(0.0, 0.5), times=5)
    assert not told()
    _see(balance, _look(0.0, 0.5))
    assert not told()
    balance.forget()
    assert not told()
    assert told()


def test_a_lack_that_stands_is_gone_once_less_than_half_of_it_is_left():
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.15, -9.0), times=SEEN)
    assert _see(
        balance, _look(-0.06, -4.0)
    ).missing  # at a duty of 0.3 a lack of 0.105 is told, half of it stays
    assert not _see(balance, _look(-0.05, -4.0)).missing
    assert not _see(balance, _look(-0.06, -4.0), times=5).missing


@pytest.mark.parametrize(("heat", "stays"), [(-0.2, True), (-0.3, True), (-0.25, False), (-0.2001, True)])
def test_no_heat_stands_while_more_than_half_is_missing(heat, stays):
    duty = 0.5 if heat == -0.25 else 0.3
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.5, -9.0, 0.5), times=SEEN)
    assert bool(_see(balance, _look(heat, -6.0, duty)).nothing) is stays
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.3, -9.0), times=SEEN)
    assert not _see(balance, _look(-0.12, -4.0)).nothing


def test_a_young_model_asks_for_three_quarters_of_half_the_power_each_time():
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.9, -9.0, 1.0), times=SEEN)
    assert not _see(balance, _look(-0.6, -9.0, 1.0), times=20, learnt=False).nothing
    for heat, duty, found in (
        (-0.5, 0.5, True),
        (-0.75, 1.0, True),
        (-0.74, 1.0, False),
        (-0.49, 0.49, False),
    ):
        looks = _see(HeatBalance(100.0), _look(heat, -9.0, duty), times=SEEN_UNSURE, learnt=False)
        assert bool(looks.nothing) is found, (heat, duty)
    for heat, duty, found in (
        (-0.1, 0.1, True),
        (-0.09, 0.09, False),
        (-0.375, 0.5, True),
        (-0.37, 0.5, False),
    ):
        assert bool(_see(HeatBalance(100.0), _look(heat, -9.0, duty), times=SEEN).nothing) is found, (
            heat,
            duty,
        )


def test_a_young_models_short_lack_is_no_beginning_of_a_long_one():
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.9, -9.0, 1.0), times=SEEN, learnt=False)
    assert not _see(balance, _look(-0.6, -9.0, 1.0), times=20, learnt=False).nothing


def test_what_stands_goes_on_standing_while_no_look_shows_a_heat_that_can_be():
    balance = HeatBalance(100.0)
    told = _see(balance, _look(0.6, 12.0), times=SEEN)
    assert _see(balance, _look(9.0, 40.0, off_k=0.5)) == told
    assert not _see(HeatBalance(100.0), _look(9.0, 40.0, off_k=0.5)).unordered


def test_what_no_heat_explains_is_no_second_look_at_one():
    balance = HeatBalance(100.0)
    _see(balance, _look(0.6, 12.0))
    _see(balance, _look(9.0, 40.0), _look(0.6, 12.0))
    assert not _see(balance, _look(0.6, 12.0)).unordered
    assert _see(balance, _look(0.6, 12.0)).unordered


@pytest.mark.parametrize(
    ("heat", "known_s", "told"),
    [(0.6, 299.0, False), (0.6, 300.0, True), (-0.2, 599.0, False), (-0.2, 600.0, True)],
)
def test_a_moment_soon_after_a_new_begin_is_not_judged(heat, known_s, told):
    found = _see(HeatBalance(100.0), _look(heat, math.copysign(12.0, heat), known_s=known_s), times=9)
    assert bool(found.unordered or found.missing) is told


def test_with_a_young_model_full_power_without_heat_is_told_at_once():
    look = _look(-0.9, -9.0, 1.0, known_s=0.0)
    assert _see(HeatBalance(100.0), look, times=SEEN_UNSURE, learnt=False).nothing


@pytest.mark.parametrize(
    ("heat", "sigmas", "duty", "told"),
    [
        (-0.9, -8.1, 1.0, True),
        (-0.89, -8.1, 1.0, False),
        (-0.9, -8.0, 1.0, False),
        (-0.45, -8.1, 0.5, True),
        (-0.45, -8.1, 0.49, False),
        (0.9, 8.1, 1.0, False),
    ],
)
def test_a_heater_that_has_never_heated_is_told_after_two_minutes_of_looks(heat, sigmas, duty, told):
    balance = HeatBalance(100.0)
    looks = [_look(heat, sigmas, duty), _look(0.0, 0.5)]
    said = [balance.at_first(looks) for _ in range(SEEN_UNSURE)]
    assert not any(said[:-1])
    assert bool(said[-1]) is told
    assert not balance.at_first([])
    assert not balance.at_first(looks)


# Mains and what is no heat -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("share", "favour", "told"),
    [
        (
            -0.25,
            0.0,
            False,
        ),  # a quarter more than ordered, and nothing says that it does not go with the duty
        (-0.26, 0.0, True),
        (-0.2, -16.0, True),  # it does not care about the duty
        (-0.2, -15.9, False),
        (None, 0.0, True),
    ],
)
def test_heat_that_a_strong_mains_explains_is_no_relay(share, favour, told):
    look = _look(0.6, 12.0, 0.1, share=share, favour=favour)
    assert bool(_see(HeatBalance(100.0), look, times=SEEN).unordered) is told


@pytest.mark.parametrize(("favour", "told"), [(-15.9, True), (-16.0, False), (3.0, True), (40.0, True)])
def test_a_lack_that_does_not_care_about_the_duty_is_not_called_no_heat(favour, told):
    found = _see(HeatBalance(100.0), _look(-0.3, -9.0, share=1.0, favour=favour), times=SEEN)
    assert bool(found.nothing) is told
    assert found.missing


def test_no_heat_stands_by_what_is_missing_whatever_a_surer_look_says():
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.3, -9.0), times=SEEN)
    assert _see(balance, _look(-0.3, -9.0), _look(0.05, 10.0)).nothing


@pytest.mark.parametrize(("sigmas", "touched"), [(11.8, True), (11.9, False), (-12.1, False)])
def test_what_a_lasting_heat_explains_as_well_is_no_hand_in_the_paste(sigmas, touched):
    step = _look(30.0, 12.0, off_k=0.5, window_s=60)
    assert _see(HeatBalance(100.0), step, _look(0.9, sigmas)).touched is touched


# What there can be ------------------------------------------------------------------------------------------------


def test_a_lack_in_the_whole_or_since_alone_asks_for_six_deviations_and_both_for_less():
    for heat, change, least in ((-0.3, -0.3, 4.5), (-0.3, -0.06, 6.0), (0.0, -0.3, 6.0)):
        for sigmas, told in ((least, False), (least + 0.1, True)):
            found = _see(HeatBalance(100.0), _look(heat, -sigmas, change=change), times=SEEN)
            assert bool(found.missing) is told, (heat, change, sigmas)


def test_what_was_believed_before_is_no_lack_without_half_of_one_since():
    # At a duty of 0.3 a lack of 0.105 is told.
    assert not _see(HeatBalance(100.0), _look(-0.3, -9.0, change=-0.052), times=SEEN).missing
    assert _see(HeatBalance(100.0), _look(-0.3, -9.0, change=-0.053), times=SEEN).missing


def test_where_little_is_ordered_a_lack_is_measured_by_half_of_what_the_hold_needs():
    # 0.3 of 0.2 and 0.015
    assert not _see(HeatBalance(100.0), _look(-0.07, -9.0, 0.0), times=SEEN, hold=0.4).missing
    assert _see(HeatBalance(100.0), _look(-0.08, -9.0, 0.0), times=SEEN, hold=0.4).missing


def test_more_than_a_lid_and_a_heater_can_take_is_no_lack():
    # A duty of 0.2, and six times the hold's 0.1.
    for change, told in ((-0.79, True), (-0.81, False)):
        assert bool(_see(HeatBalance(100.0), _look(change, -20.0, 0.2), times=SEEN, hold=0.1).missing) is told


def test_a_lack_beyond_a_dead_heater_and_a_loss_as_large_counts_by_what_there_can_be():
    # Of 1.0, 0.4 can be: in chi-squared it explains 0.4 * (2 * 1.0 - 0.4) = 0.64, eight tenths of the deviations.
    for sigmas, told in ((-5.6, False), (-5.7, True)):
        found = _see(HeatBalance(100.0), _look(-1.0, sigmas, 0.2), times=SEEN, hold=0.2)
        assert bool(found.missing) is told
    assert _see(HeatBalance(100.0), _look(-0.4, -4.6, 0.2), times=SEEN, hold=0.2).missing


def test_a_lack_that_a_younger_look_knows_to_be_over_is_not_told():
    old, young = _look(-0.3, -9.0, window_s=1800), _look(-0.01, -1.0, window_s=300)
    assert _see(HeatBalance(100.0), old, times=SEEN).missing
    assert not _see(HeatBalance(100.0), old, young, times=SEEN).missing


def test_unordered_heat_stands_until_a_look_that_can_tell_shows_less_than_half_of_what_is_told():
    def standing():
        balance = HeatBalance(100.0)
        _see(balance, _look(0.7, 12.0), times=SEEN)
        return balance

    # What else explains it is 0.3 of the hold and 0.03: a look tells where that is three of its deviations.
    assert _see(standing(), _look(0.5, 0.5, change=0.05), times=9).unordered, (
        "a calm look back at heat that goes on"
    )
    assert not _see(standing(), _look(0.16, 1.0, change=0.05)).unordered
    assert _see(standing(), _look(0.17, 1.0, change=0.05)).unordered
    assert _see(standing(), _look(0.0, 0.1, change=0.05), times=9).unordered, "nobody can tell"
    balance = standing()
    assert not _see(balance, _look(0.0, 1.0, change=0.05)).unordered
    assert not _see(balance, _look(0.7, 12.0)).unordered, "it is told anew from the begin"


@pytest.mark.parametrize("heat", [0.7, -0.3])
def test_heat_that_has_been_told_is_plain_beyond_twelve_deviations(heat):
    balance, look = HeatBalance(100.0), _look(heat, math.copysign(12.1, heat))
    assert not _see(balance, look).plain, "not before it has been told"
    assert _see(balance, look).plain
    assert not _see(balance, _look(heat, math.copysign(12.0, heat))).plain
    _see(balance, look)
    assert not _see(balance, _look(9.0, 40.0)).plain, "what no heat explains is not taken"


def test_heat_that_is_no_fault_is_plain_beyond_twenty_five_deviations_of_an_identified_model():
    assert not _see(HeatBalance(100.0), _look(-0.03, -25.0)).plain
    assert _see(HeatBalance(100.0), _look(-0.03, -25.1)).plain
    assert not _see(HeatBalance(100.0), _look(-0.03, -25.1), learnt=False).plain
    assert not _see(HeatBalance(100.0), _look(0.7, 99.0)).plain, (
        "a first look at a fault is to be followed by another"
    )


def test_what_has_shown_something_once_is_suspected_until_a_quiet_look():
    balance = HeatBalance(100.0)
    assert not balance.suspects
    _see(balance, _look(0.7, 12.0))
    assert balance.suspects
    _see(balance, _look(0.0, 0.5))
    assert not balance.suspects
    _see(balance, _look(-0.9, -9.0, 1.0), learnt=False)
    assert balance.suspects
