"""Heat against orders, from looks back made by hand. All heats in units of full power."""

import pytest

from holdctl.safety.heat import QUIET_LOOKS, RECENT_LOOKS, SEEN, SEEN_UNSURE, HeatBalance, Look, Scatter


def _look(heat=0.0, sigmas=0.0, duty=0.3, **more):
    return Look(**{"window_s": 120, "share": None, "favour": 0.0, "change": heat, **more}, heat=heat, sigmas=sigmas,
                duty=duty)  # fmt: skip


def _see(balance, *looks, times=1, hold=0.3, learnt=True, quiet=False):
    for _ in range(times):
        found = balance.look(looks, hold, learnt=learnt, quiet=quiet)
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
    assert _see(balance, _look(-0.02, 0.1)).nothing == ""


@pytest.mark.parametrize(
    ("favour", "words"), [(40.0, "the heater gives"), (-40.0, "lid, draught?"), (3.0, "lid? heater?")]
)
def test_the_cause_is_named_only_when_the_evidence_separates_them(favour, words):
    found = _see(HeatBalance(100.0), _look(-0.2, -9.0, 0.4, share=0.5, favour=favour), times=SEEN)
    assert words in found.missing


def test_a_step_within_the_shortest_look_is_a_hand_in_the_paste():
    balance = HeatBalance(100.0)
    found = _see(balance, _look(30.0, 20.0, off_k=0.5, window_s=60), _look(0.9, 20.0))
    assert found.touched
    assert found.unordered == ""


def test_a_tiny_step_is_not():
    assert not _see(HeatBalance(100.0), _look(30.0, 20.0, off_k=0.1, window_s=60)).touched


def test_the_scatter_of_a_quiet_hold_makes_the_looks_sharper():
    balance = HeatBalance(100.0)
    for at in range(2 * QUIET_LOOKS):
        _see(balance, _look(0.0, 0.2 if at % 2 else -0.2), quiet=True)
    assert _see(
        balance, _look(-0.2, -3.0), times=SEEN
    ).missing  # three deviations of the model, fifteen of its own
    balance.forget()
    assert _see(balance, _look(-0.2, -3.0), times=SEEN).missing == ""


def test_an_outlier_teaches_nothing():
    scatter = Scatter()
    for _ in range(QUIET_LOOKS):
        scatter.learn(0.5)
    before = scatter.share
    scatter.learn(50.0)
    assert scatter.share == before == pytest.approx(0.5)
