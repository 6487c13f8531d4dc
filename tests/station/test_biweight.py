"""Tukey's biweight against what is published of it."""

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import median_abs_deviation, norm

from station.biweight import TUKEY, root_weight, spread_of


def weight(residual: float) -> float:
    return float(root_weight(np.array([residual]), 1.0)[0]) ** 2


def test_the_spread_is_scipys_scaled_median_of_the_size_about_zero() -> None:
    residual = np.random.default_rng(3).normal(0.0, 2.5, 4001)
    assert spread_of(residual, least=0.0) == pytest.approx(
        median_abs_deviation(residual, center=lambda _values, axis: np.float64(0.0), scale="normal"), rel=1e-4
    )


def test_outliers_do_not_move_the_spread_and_it_has_a_least() -> None:
    residual = np.array([-1.0, 1.0, -1.0, 1.0, 1e9])
    assert spread_of(residual, least=0.0) == pytest.approx(1.4826)
    assert spread_of(residual, least=2.0) == 2.0


def test_weights_by_the_published_formula() -> None:
    """(1 - (u/c)^2)^2 within c, 0 beyond (Mosteller and Tukey 1977, from memory)."""
    assert weight(0.0) == 1.0
    assert weight(TUKEY / 2.0) == pytest.approx(0.5625)
    assert weight(-TUKEY / 2.0) == pytest.approx(0.5625)
    assert weight(TUKEY) == pytest.approx(0.0)
    assert weight(100.0) == 0.0


def test_gaussian_residuals_lose_a_twentieth_of_the_precision() -> None:
    """The asymptotic efficiency E[psi']^2 / E[psi^2] of c = 4.685 is 0.95 (Huber and Ronchetti, from memory)."""

    def slope(u: float) -> float:
        step = 1e-5
        return ((u + step) * weight(u + step) - (u - step) * weight(u - step)) / (2.0 * step)

    mean_slope = quad(lambda u: slope(u) * norm.pdf(u), -TUKEY, TUKEY)[0]
    mean_square = quad(lambda u: (u * weight(u)) ** 2 * norm.pdf(u), -TUKEY, TUKEY)[0]
    assert mean_slope**2 / mean_square == pytest.approx(0.95, abs=5e-4)
