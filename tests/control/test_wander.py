"""Wandering mains in a fit: the whitening against the covariance it stands for."""

import numpy as np
import pytest

from holdctl.control.wander import LIKE_S, SHARE_S, WANDER, shares, whitener


def test_the_shares_of_a_stretch_add_up_to_its_duty():
    duty = np.random.default_rng(1).uniform(0.0, 1.0, 301)
    alone = shares(duty, 10.0)
    assert alone.shape == (3, 301)
    assert alone.sum(axis=0) == pytest.approx(duty)
    assert np.count_nonzero(alone[0][:120]) == 120
    assert not alone[0][120:].any()


def test_whitened_residuals_are_independent():
    """Against the covariance itself, I + A S Aᵀ, by numpy's own products: W (I + A S Aᵀ) Wᵀ = I."""
    rng = np.random.default_rng(2)
    answers = rng.normal(size=(40, 5)) * 30.0
    at = np.arange(5) * SHARE_S
    alike = WANDER**2 * np.exp(-np.abs(at[:, None] - at[None, :]) / LIKE_S)
    covariance = np.eye(40) + answers @ alike @ answers.T
    white = whitener(answers)
    turned = np.array([white(column) for column in np.eye(40)]).T
    assert turned @ covariance @ turned.T == pytest.approx(np.eye(40), abs=1e-9)


def test_without_heat_nothing_is_changed():
    residuals = np.arange(12.0)
    assert whitener(np.zeros((12, 3)))(residuals) == pytest.approx(residuals)
