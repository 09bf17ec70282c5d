"""Kriging against scikit-learn's GaussianProcessRegressor (Rasmussen and Williams 2006, algorithm 2.1)."""

import numpy as np
import pytest

from nesting.leather.thickness import Covariance, Kriging

gaussian_process = pytest.importorskip("sklearn.gaussian_process")
kernels = gaussian_process.kernels

COVARIANCE = Covariance(sd_mm=0.15, length_mm=350.0, noise_mm=0.03)


def readings(count):
    random = np.random.default_rng(count)
    points = random.uniform((0, 0), (1600, 1000), (count, 2))
    return points, 1.6 + 0.15 * np.sin(points[:, 0] / 300) + 0.03 * random.standard_normal(count)


def matern():
    return COVARIANCE.sd_mm**2 * kernels.Matern(COVARIANCE.length_mm, nu=1.5)


def reference(kernel, points, values):
    process = gaussian_process.GaussianProcessRegressor(kernel, alpha=COVARIANCE.noise_mm**2, optimizer=None)
    return process.fit(points, values)


PLACES = np.random.default_rng(0).uniform((-100, -100), (1700, 1100), (300, 2))


@pytest.mark.parametrize("count", [4, 11, 20])
def test_without_a_trend_mean_and_deviation_are_those_of_scikit_learn(count):
    points, values = readings(count)
    mean, sd = Kriging(points, values, COVARIANCE, "none").mean_sd(PLACES)
    expected, expected_sd = reference(matern(), points, values).predict(PLACES, return_std=True)
    assert mean == pytest.approx(expected, abs=1e-6) and sd == pytest.approx(expected_sd, abs=1e-6)


def test_without_a_trend_the_likelihood_is_that_of_scikit_learn():
    points, values = readings(12)
    expected = reference(matern(), points, values).log_marginal_likelihood_value_
    assert Kriging(points, values, COVARIANCE, "none").log_likelihood == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("count", [6, 11, 20])
def test_a_trend_is_the_limit_of_a_very_wide_prior_on_its_coefficients(count):
    # Rasmussen and Williams (2006), section 2.7: B^-1 -> 0. In metres the wide kernel is well conditioned.
    points, values = readings(count)
    metres = points / 1000
    covariance = COVARIANCE._replace(length_mm=COVARIANCE.length_mm / 1000)
    short = COVARIANCE.sd_mm**2 * kernels.Matern(covariance.length_mm, nu=1.5)
    wide = 1e4 * kernels.DotProduct(sigma_0=1.0, sigma_0_bounds="fixed")
    for trend, kernel in (("linear", short + wide), ("constant", short + kernels.ConstantKernel(1e4))):
        mean, sd = Kriging(metres, values, covariance, trend).mean_sd(PLACES / 1000)
        expected, expected_sd = reference(kernel, metres, values).predict(PLACES / 1000, return_std=True)
        assert mean == pytest.approx(expected, abs=2e-5) and sd == pytest.approx(expected_sd, abs=2e-5)


def test_with_coordinates_in_mm_or_metres_the_map_is_the_same():
    points, values = readings(10)
    metres = Kriging(points / 1000, values, COVARIANCE._replace(length_mm=0.35), "linear").mean_sd(PLACES / 1000)
    assert np.allclose(Kriging(points, values, COVARIANCE, "linear").mean_sd(PLACES), metres, atol=1e-9)
