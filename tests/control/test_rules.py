"""Tuning rules and the half rule, against worked examples of the literature.

Skogestad: J. Process Control 13 (2003) 291–309 (processes and settings from memory, E2 quoted in a public test
suite). Seborg, Edgar & Mellichamp, Process Dynamics and Control, as quoted in the tests of the public repository
alchemyst/Dynamics-and-Control. AMIGO: Åström & Hägglund, J. Process Control 14 (2004) 635–650, its three typical
processes (from memory, to 1 %).
"""

import pytest

from holdctl.control import rules
from holdctl.control.rules import Pid, Process, half_rule, ideal

E = {
    "E1": Process(1, (1, 0.2)),
    "E2": Process(1, (2, 1, 0.4, 0.2, 0.05, 0.05, 0.05), zeros_s=(-0.3, 0.08)),
    "E3": Process(2, (20, 1, 0.1, 0.1), zeros_s=(15,)),
    "E4": Process(1, (1, 1, 1, 1)),
    "E5": Process(1, (1, 0.2, 0.04, 0.008)),
    "E7": Process(1, (1, 1, 1), zeros_s=(-2,)),
    "E9": Process(1, (1, 1), 1.0),
    "E10": Process(1, (20, 2), 1.0),
    "E11": Process(1, (6, 2, 2), 1.0, (-1,)),
}
"""Skogestad 2003, table 4."""

SIMC_PI = {
    # k, τ1, θ; Kc, τI
    "E1": (1, 1.1, 0.1, 5.50, 0.80),
    "E2": (1, 2.5, 1.47, 0.850, 2.50),
    "E3": (1.5, 1.05, 0.15, 2.333, 1.05),
    "E4": (1, 1.5, 2.5, 0.300, 1.50),
    "E5": (1, 1.1, 0.148, 3.716, 1.10),
    "E7": (1, 1.5, 3.5, 0.214, 1.50),
    "E9": (1, 1.5, 1.5, 0.500, 1.50),
    "E10": (1, 21, 2, 5.25, 16),
    "E11": (1, 7, 5, 0.700, 7),
}
SIMC_PID = {
    # τ1, τ2, θ; Kc, τI (series; τD = τ2)
    "E2": (2, 1.2, 0.77, 1.299, 2.00),
    "E3": (1, 0.15, 0.05, 6.667, 0.40),
    "E4": (1.5, 1.0, 1.5, 0.500, 1.50),
    "E5": (1, 0.22, 0.028, 17.86, 0.224),
    "E7": (1.5, 1.0, 2.5, 0.300, 1.50),
    "E9": (1, 1, 1, 0.500, 1.00),
    "E10": (20, 2, 1, 10.0, 8),
    "E11": (6, 3, 3, 1.000, 6),
}


@pytest.mark.parametrize("name", SIMC_PI)
def test_half_rule_and_simc_pi_give_skogestads_table(name):
    k, lag, delay, kc, ti = SIMC_PI[name]
    model = half_rule(E[name])
    assert (model.gain, *model.lags_s, model.delay_s) == pytest.approx((k, lag, delay))
    found = rules.simc_pi(model)
    assert (found.kc, found.ti_s) == pytest.approx((kc, ti), rel=2e-3)
    assert found.td_s == 0


@pytest.mark.parametrize("name", SIMC_PID)
def test_half_rule_of_second_order_and_simc_pid_give_skogestads_table(name):
    first, second, delay, kc, ti = SIMC_PID[name]
    model = half_rule(E[name], 2)
    assert sorted(model.lags_s, reverse=True) == pytest.approx([first, second])
    assert model.delay_s == pytest.approx(delay)
    found = rules.simc_pid_series(model)
    assert (found.kc, found.ti_s, found.td_s) == pytest.approx((kc, ti, second), rel=2e-3)


@pytest.mark.parametrize(
    ("process", "first", "second"),
    [
        # Seborg, example 5.4 (quoted)
        (Process(1, (5, 3, 0.5), zeros_s=(-0.1,)), (6.5, 2.1), None),
        # Seborg, example 5.5 (quoted)
        (Process(1, (12, 3, 0.2, 0.05), 1.0, (-1,)), (13.5, 3.75), (12, 3.1, 2.15)),
    ],
    ids=["example-5.4", "example-5.5"],
)
def test_the_half_rule_gives_seborgs_examples(process, first, second):
    one = half_rule(process)
    assert (*one.lags_s, one.delay_s) == pytest.approx(first)
    if second:
        two = half_rule(process, 2)
        assert (*two.lags_s, two.delay_s) == pytest.approx(second)


def test_the_half_rule_keeps_an_integrator_and_the_gain():
    found = half_rule(Process(3.0, (10, 4, 2), 1.0, integrators=1))
    assert found == Process(3.0, (12.0,), 5.0, integrators=1)


def test_a_lead_slower_than_every_lag_is_set_against_the_slowest():
    """T1: (8 s + 1)/(4 s + 1) counts as 8/4 where the delay is short (Skogestad 2003, from memory)."""
    assert half_rule(Process(1, (4, 1), 0.1, (8,))) == Process(2.0, (1,), 0.1)


@pytest.mark.parametrize(("tau_c", "kc"), [(3.0, 1.875), (10.0, 0.682)])
def test_simc_gives_seborgs_direct_synthesis_where_its_limit_on_the_integral_is_far(tau_c, kc):
    """2 e^−s/((10 s + 1)(5 s + 1)): Kc 1.88 and 0.682 at τc 3 and 10, τI 15, τD 3.33 (Seborg, from memory)."""
    found = ideal(rules.simc_pid_series(Process(2, (10, 5), 1.0), tau_c))
    assert (found.kc, found.ti_s, found.td_s) == pytest.approx((kc, 15, 10 / 3), rel=1e-3)


def test_itae_for_a_load_step_gives_seborgs_example_11_5():
    found = rules.itae_load_pi(Process(1.54, (5.93,), 1.07))
    assert (found.kc, found.ti_s) == pytest.approx((2.97, 2.75), abs=0.005)


def test_ziegler_nichols_from_the_reaction_curve_gives_odwyers_worked_figures():
    """k 1.25, τ 4, θ 0.9: 4.267, 1.8, 0.45 (O'Dwyer's handbook as used in the public repository gmxavier/turu)."""
    found = rules.zn_step_pid(Process(1.25, (4,), 0.9))
    assert (found.kc, found.ti_s, found.td_s) == pytest.approx((4.267, 1.8, 0.45), abs=5e-4)
    assert rules.zn_step_pi(Process(1.25, (4,), 0.9)) == Pid(pytest.approx(3.2), pytest.approx(3.0))


@pytest.mark.parametrize(
    ("lag", "delay", "pi", "pid"),
    [
        (1.03, 0.075, (4.13, 0.54), (6.44, 0.361, 0.0367)),
        (2.9, 1.42, (0.414, 2.66), (1.12, 2.40, 0.619)),
        (0.093, 1.01, (0.175, 0.36), (0.242, 0.474, 0.119)),
    ],
    ids=["lag-dominant", "balanced", "delay-dominant"],
)
def test_amigo_gives_the_settings_of_its_authors_typical_processes(lag, delay, pi, pid):
    """Printed values from memory; they were computed from unrounded T and L, hence 2 %."""
    process = Process(1, (lag,), delay)
    found = rules.amigo_pi(process)
    assert (found.kc, found.ti_s) == pytest.approx(pi, rel=0.025)
    found = rules.amigo_pid(process)
    assert (found.kc, found.ti_s, found.td_s) == pytest.approx(pid, rel=0.02)


def test_the_rules_from_ultimate_gain_and_period_give_their_printed_factors():
    """Ziegler & Nichols 1942, Tyreus & Luyben 1992, on Ku 0.9517 and Pu 11.974 of 4 e^−3.5s/(7 s + 1) (Seborg)."""
    ku, pu = 0.9517, 11.974
    assert rules.zn_pi(ku, pu) == Pid(pytest.approx(0.428, abs=1e-3), pytest.approx(9.98, abs=5e-3))
    assert rules.zn_pid(ku, pu) == Pid(
        pytest.approx(0.571, abs=1e-3), pytest.approx(5.99, abs=5e-3), pytest.approx(1.50, abs=5e-3)
    )
    assert rules.tyreus_luyben_pi(ku, pu) == Pid(
        pytest.approx(0.297, abs=1e-3), pytest.approx(26.34, abs=5e-3)
    )
    assert rules.tyreus_luyben_pid(ku, pu) == Pid(
        pytest.approx(0.433, abs=1e-3), pytest.approx(26.34, abs=5e-3), pytest.approx(1.90, abs=5e-3)
    )


def test_improved_simc_adds_a_third_of_the_delay_to_the_lag():
    """Grimholt & Skogestad 2012: a pure delay then gets integral action at all, where SIMC's gain is zero."""
    pure = rules.improved_simc_pi(Process(1, (0.0,), 3.0))
    assert (pure.kc, pure.ti_s) == pytest.approx((1 / 6, 1.0))
    same = rules.simc_pi(Process(2, (11.0,), 3.0))
    assert rules.improved_simc_pi(Process(2, (10.0,), 3.0)) == same


def test_lambda_is_simc_without_the_limit_on_the_integral():
    process = Process(2, (5.0,), 1.0)
    assert rules.lambda_pi(process, 1.0) == rules.simc_pi(process)
    slow = Process(2, (500.0,), 1.0)
    assert rules.lambda_pi(slow, 1.0).ti_s == 500.0
    assert rules.simc_pi(slow).ti_s == 8.0


def test_simc_of_an_integrator_is_the_limit_of_a_very_long_lag():
    integrating = rules.simc_pi(Process(0.01, (), 7.0, integrators=1))
    long = rules.simc_pi(Process(0.01 * 1e9, (1e9,), 7.0))
    assert (integrating.kc, integrating.ti_s) == pytest.approx((long.kc, long.ti_s))


def test_series_and_ideal_settings_are_the_same_controller():
    series, s = Pid(1.7, 9.0, 2.0), 0.3j
    same = ideal(series)
    left = series.kc * (1 + 1 / (series.ti_s * s)) * (1 + series.td_s * s)
    right = same.kc * (1 + 1 / (same.ti_s * s) + same.td_s * s)
    assert left == pytest.approx(right)
