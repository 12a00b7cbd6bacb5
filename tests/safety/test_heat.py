"""Heat against orders, from looks back made by hand. All heats in units of full power."""

import pytest

from holdctl.safety.heat import (
    FLOOR,
    RECENT_LOOKS,
    SEEN,
    SEEN_UNSURE,
    HeatBalance,
    Look,
)


def _look(heat=0.0, sigmas=0.0, duty=0.3, **more):
    return Look(**{"window_s": 240, "share": None, "favour": 0.0, "change": heat, **more}, heat=heat, sigmas=sigmas,
                duty=duty)  # fmt: skip


def _see(balance, *looks, times=1, hold=0.3, learnt=True):
    for _ in range(times):
        found = balance.look(looks, hold, learnt=learnt)
    return found


def test_nothing_is_found_in_nothing():
    found = _see(HeatBalance(100.0), _look(0.01, 0.5), times=100)
    assert (found.unordered, found.nothing, found.missing, found.touched) == ("", "", "", False)
    assert _see(HeatBalance(100.0)).missing == ""


def test_more_heat_than_a_lost_loss_explains_is_told_on_the_second_look():
    balance = HeatBalance(100.0)
    assert _see(balance, _look(0.6, 12.0)).unordered == ""
    assert "60 W" in _see(balance, _look(0.6, 12.0)).unordered


def test_a_lid_put_on_gives_at_most_what_the_hold_needs_and_is_no_fault():
    assert _see(HeatBalance(100.0), _look(0.32, 12.0), times=9).unordered == ""


def test_heat_that_is_not_sure_is_not_told():
    assert _see(HeatBalance(100.0), _look(0.9, 5.0), times=9).unordered == ""


def test_heat_that_comes_back_after_it_was_missing_is_the_lid():
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.4, -12.0), times=3)
    assert _see(balance, _look(0.6, 12.0), times=3).unordered == ""
    _see(balance, _look(0.0, 0.0), times=RECENT_LOOKS)
    assert _see(balance, _look(0.6, 12.0), times=3).unordered != ""


def test_more_than_the_heater_can_give_is_no_relay():
    assert _see(HeatBalance(100.0), _look(1.9, 20.0), times=9).unordered == ""


def test_before_the_model_is_identified_no_relay_is_suspected():
    assert _see(HeatBalance(100.0), _look(0.9, 20.0), times=20, learnt=False).unordered == ""


def test_a_dead_heater_is_no_heat_and_half_a_heater_is_heat_missing():
    dead = _see(HeatBalance(100.0), _look(-0.3, -9.0), times=SEEN)
    assert dead.nothing
    half = _see(HeatBalance(100.0), _look(-0.15, -9.0), times=SEEN)
    assert half.missing
    assert not half.nothing


def test_a_weak_mains_is_no_fault():
    assert _see(HeatBalance(100.0), _look(-0.03, -9.0), times=9).missing == ""


def test_before_the_model_is_identified_only_full_power_without_heat_is_told():
    assert _see(HeatBalance(100.0), _look(-0.3, -9.0), times=20, learnt=False).nothing == ""
    balance = HeatBalance(100.0)
    assert _see(balance, _look(-0.9, -9.0, 1.0), times=SEEN_UNSURE - 1, learnt=False).nothing == ""
    assert _see(balance, _look(-0.9, -9.0, 1.0), learnt=False).nothing


def test_the_alarm_stays_while_half_is_missing_however_old_it_is():
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.3, -9.0), times=SEEN)
    assert _see(balance, _look(-0.3, -0.1), times=200).nothing
    assert _see(balance, _look(-0.02, -1.0)).nothing == ""


def test_what_was_missing_long_ago_and_has_come_back_is_not_missing_now():
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.3, -9.0), times=SEEN)
    old = _look(-0.2, -40.0, window_s=3600)
    assert _see(balance, _look(-0.01, -0.1, window_s=60), old).missing, "the young one can't tell"
    assert not _see(balance, _look(-0.01, -1.0, window_s=600), old).missing


def test_what_is_missing_is_counted_from_what_was_usual():
    balance = HeatBalance(100.0)
    less = _look(-0.05, -9.0, change=-0.15)  # a tenth more than ordered was usual
    assert "by about 15 W" in _see(balance, less, times=SEEN).missing
    assert _see(balance, _look(-0.05, -1.0, change=0.0, window_s=600)).missing
    assert not _see(balance, _look(0.08, 9.0, change=0.13, window_s=600)).missing


def test_while_no_look_can_tell_a_lack_goes_on_standing():
    balance = HeatBalance(100.0)
    told = _see(balance, _look(-0.15, -9.0), times=SEEN).missing
    assert _see(balance, _look(0.02, 0.1), times=50).missing == told


@pytest.mark.parametrize(("sigmas", "tells"), [(0.85, False), (0.86, True)])
def test_a_look_tells_where_the_lack_would_be_three_of_its_deviations(sigmas, tells):
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.15, -9.0), times=SEEN)
    # At a duty of 0.3 a lack of 0.105 counts: three deviations of a look are 3 * 0.03 / sigmas.
    assert bool(_see(balance, _look(0.03, sigmas)).missing) is not tells


@pytest.mark.parametrize(
    ("favour", "words"), [(40.0, "the heater gives"), (-40.0, "lid, draught?"), (3.0, "lid? heater?")]
)
def test_the_cause_is_named_only_when_the_evidence_separates_them(favour, words):
    found = _see(HeatBalance(100.0), _look(-0.2, -9.0, 0.4, share=0.5, favour=favour), times=SEEN)
    assert words in found.missing


def test_a_step_within_the_shortest_look_is_a_hand_in_the_paste():
    balance = HeatBalance(100.0)
    found = _see(balance, _look(30.0, 20.0, off_k=0.5, window_s=60), _look(0.9, 19.0))
    assert found.touched
    assert found.unordered == ""


def test_a_tiny_step_is_not():
    assert not _see(HeatBalance(100.0), _look(30.0, 20.0, off_k=0.04, window_s=60)).touched


# Words ----------------------------------------------------------------------------------------------------------


def test_words_and_watts_of_each_finding():
    hot = _see(HeatBalance(200.0), _look(0.6, 12.0), times=SEEN)
    assert hot.unordered == "about 120 W more than ordered heat the paste"
    dead = _see(HeatBalance(200.0), _look(-0.3, -9.0), times=SEEN)
    assert dead.nothing == "power is asked for and no heat comes"
    unsure = _see(HeatBalance(200.0), _look(-0.2, -9.0, 0.4), times=SEEN)
    assert unsure.missing == "the warmer loses more heat than it gets, by about 40 W: lid? heater?"
    loss = _see(HeatBalance(200.0), _look(-0.2, -9.0, 0.4, favour=-40.0), times=SEEN)
    assert "loses about 40 W more than usual" in loss.missing


@pytest.mark.parametrize(
    ("heat", "duty", "share", "percent"),
    [
        (-0.2, 0.4, 0.9, 50),
        (-0.5, 0.4, 0.9, 100),
        (-0.06, 0.05, 0.6, 60),
        (-0.1, 0.1, 0.6, 60),
        (-0.06, 0.05, 0.0, 0),
    ],
)
def test_the_heaters_lack_is_in_percent_of_the_duty_or_of_what_fits_where_that_is_small(
    heat, duty, share, percent
):
    found = _see(HeatBalance(100.0), _look(heat, -9.0, duty, share=share, favour=40.0), times=SEEN, hold=0.1)
    assert found.missing == f"the heater gives {percent} % less than ordered"


@pytest.mark.parametrize(("favour", "share"), [(16.0, 0.5), (-16.0, 0.5), (40.0, None)])
def test_four_deviations_are_not_more_than_four_and_a_heater_needs_a_share(favour, share):
    found = _see(HeatBalance(100.0), _look(-0.2, -9.0, 0.4, share=share, favour=favour), times=SEEN)
    assert "lid? heater?" in found.missing


def test_a_cause_is_named_as_soon_as_it_can_be_and_then_kept():
    balance = HeatBalance(100.0)
    _see(balance, _look(0.0, 0.5))
    assert "lid? heater?" in _see(balance, _look(-0.2, -9.0, 0.4, favour=3.0), times=SEEN).missing
    assert "the heater gives" in _see(balance, _look(-0.2, -9.0, 0.4, share=0.5, favour=40.0)).missing
    assert "the heater gives" in _see(balance, _look(-0.2, -9.0, 0.4, share=0.5, favour=-40.0)).missing
    _see(balance, _look(0.0, 0.5))
    assert "lid, draught?" in _see(balance, _look(-0.2, -9.0, 0.4, favour=-40.0), times=SEEN).missing


# At their borders -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "more", [{"change": 3.0}, {"off_k": 0.05}, {"sigmas": 6.0}, {"change": -3.0}, {"sigmas": -6.0}]
)
def test_a_touch_is_beyond_all_three_of_its_limits(more):
    beyond = {"heat": 30.0, "sigmas": 20.0, "change": 30.0, "off_k": 0.5, "window_s": 60}
    assert _see(HeatBalance(100.0), _look(**beyond)).touched
    assert not _see(HeatBalance(100.0), _look(**{**beyond, **more})).touched


def test_what_the_heater_can_just_give_is_judged():
    assert _see(HeatBalance(100.0), _look(1.5, 12.0), times=SEEN).unordered
    assert not _see(HeatBalance(100.0), _look(1.51, 12.0), times=SEEN).unordered


def test_at_six_deviations_and_at_what_else_explains_it_nothing_is_told():
    assert not _see(HeatBalance(100.0), _look(0.9, 6.0), times=9).unordered
    just = 0.25 + FLOOR
    assert not _see(HeatBalance(100.0), _look(just, 12.0, 0.0), times=9, hold=0.25).unordered
    assert _see(HeatBalance(100.0), _look(just + 0.001, 12.0, 0.0), times=9, hold=0.25).unordered
    assert not _see(HeatBalance(100.0), _look(-0.3, -4.5), times=9).missing
    assert _see(HeatBalance(100.0), _look(-0.3, -4.6), times=9).missing
    assert not _see(
        HeatBalance(100.0), _look(-0.09, -9.0), times=9
    ).missing  # 0.3 of 0.3 and 0.015 are missing
    assert _see(HeatBalance(100.0), _look(-0.11, -9.0), times=9).missing


def test_the_surest_look_is_told_in_whichever_order_they_come():
    for order in (1, -1):
        hot = [_look(0.6, 12.0, window_s=60), _look(0.8, 8.0), _look(0.0, 0.0)][::order]
        assert "60 W" in _see(HeatBalance(100.0), *hot, times=SEEN).unordered
        cold = [_look(-0.2, -12.0, window_s=180), _look(-0.29, -8.0), _look(0.0, 0.0)][::order]
        assert "20 W" in _see(HeatBalance(100.0), *cold, times=SEEN).missing
        young = [_look(-0.9, -9.0, 1.0), _look(0.0, 0.1, 1.0)][::order]
        assert _see(HeatBalance(100.0), *young, times=SEEN_UNSURE, learnt=False).nothing


def test_a_look_that_shows_heat_more_surely_than_another_shows_a_lack_tells_of_no_lack():
    found = _see(HeatBalance(100.0), _look(0.6, 12.0), _look(-0.3, -9.0), times=9)
    assert found.unordered
    assert not found.missing


def test_without_an_identified_model_no_lack_is_measured():
    found = _see(HeatBalance(100.0), _look(-0.2, -9.0, 0.4), times=20, learnt=False)
    assert found.missing == found.nothing == ""


@pytest.mark.parametrize("sigmas", [-5.0, -6.0])
def test_heat_that_was_not_surely_missing_excuses_nothing(sigmas):
    balance = HeatBalance(100.0)
    _see(balance, _look(-0.4, sigmas), times=3)
    assert _see(balance, _look(0.6, 12.0), times=SEEN).unordered
