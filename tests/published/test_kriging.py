"""The thickness map against scikit-learn's GaussianProcessRegressor (Rasmussen and Williams 2006, algorithm 2.1).

The planner and the referee share the map, so that neither can judge it for the other: what is proved here stands for
it.
"""

import numpy as np
import pytest
from scipy.spatial.distance import cdist
from shapely.geometry import box

from nesting.leather.limits import LeatherLimits
from nesting.leather.thickness import Covariance, Kriging, fit_covariance, thickness_map
from nesting.model import Hide, Reading

gaussian_process = pytest.importorskip("sklearn.gaussian_process")
kernels = gaussian_process.kernels

COVARIANCE = Covariance(sd_mm=0.15, length_mm=350.0, noise_mm=0.03)
OUTLINE = box(0, 0, 1600, 1000)
PLACES = np.vstack([
    np.stack(np.meshgrid(np.linspace(-100, 1700, 37), np.linspace(-100, 1100, 25)), axis=-1).reshape(-1, 2),
    np.random.default_rng(0).uniform((-100, -100), (1700, 1100), (600, 2)),
])  # fmt: skip
"""All over the hide and beyond its edge: some 1500 places."""
WIDE = 1e4
"""Variance in mm2 of a prior on the trend's coefficients that says nothing of them."""


def readings(count, slope=(0.0, 0.0)):
    random = np.random.default_rng(count)
    points = random.uniform((0, 0), (1600, 1000), (count, 2))
    values = 1.6 + 0.15 * np.sin(points[:, 0] / 300) + points @ slope + 0.03 * random.standard_normal(count)
    return points, values


def matern(covariance=COVARIANCE):
    return covariance.sd_mm**2 * kernels.Matern(covariance.length_mm, nu=1.5)


def with_trend(trend, covariance):
    """The kernel for coordinates in metres, in which the wide part is well conditioned."""
    short = matern(covariance._replace(length_mm=covariance.length_mm / 1000))
    if trend == "constant":
        return short + kernels.ConstantKernel(WIDE)
    return short + WIDE * kernels.DotProduct(sigma_0=1.0, sigma_0_bounds="fixed")


def reference(kernel, points, values, noise_mm=COVARIANCE.noise_mm):
    process = gaussian_process.GaussianProcessRegressor(kernel, alpha=noise_mm**2, optimizer=None)
    return process.fit(points, values)


@pytest.mark.parametrize("count", [1, 2, 4, 11, 20, 60])
def test_without_a_trend_mean_and_deviation_are_those_of_scikit_learn(count):
    points, values = readings(count)
    places = np.vstack([PLACES, points])
    mean, sd = Kriging(points, values, COVARIANCE, "none").mean_sd(places)
    expected, expected_sd = reference(matern(), points, values).predict(places, return_std=True)
    assert mean == pytest.approx(expected, abs=1e-6) and sd == pytest.approx(expected_sd, abs=1e-6)


def test_without_a_trend_the_likelihood_is_that_of_scikit_learn():
    points, values = readings(12)
    expected = reference(matern(), points, values).log_marginal_likelihood_value_
    assert Kriging(points, values, COVARIANCE, "none").log_likelihood == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("slope", [(0.0, 0.0), (6e-4, -2e-4)])
@pytest.mark.parametrize("trend, count", [
    ("constant", 4), ("constant", 5), ("constant", 6), ("constant", 11), ("constant", 20),
    ("linear", 6), ("linear", 7), ("linear", 11), ("linear", 20), ("linear", 60),
])  # fmt: skip
def test_a_trend_is_the_limit_of_a_very_wide_prior_on_its_coefficients(trend, count, slope):
    # Rasmussen and Williams (2006), section 2.7: B^-1 -> 0.
    points, values = readings(count, slope)
    places = np.vstack([PLACES, points])
    mean, sd = Kriging(points, values, COVARIANCE, trend).mean_sd(places)
    process = reference(with_trend(trend, COVARIANCE), points / 1000, values)
    expected, expected_sd = process.predict(places / 1000, return_std=True)
    assert mean == pytest.approx(expected, abs=2e-5) and sd == pytest.approx(expected_sd, abs=2e-5)


@pytest.mark.parametrize("trend, count", [("constant", 2), ("constant", 12), ("linear", 4), ("linear", 40)])
def test_mean_and_deviation_solve_the_equations_of_universal_kriging(trend, count):
    # Cressie, Statistics for Spatial Data (1993), section 3.4: weights w of the readings with least error variance
    # whose trend is that of the place, by Lagrange multipliers; quoted from memory.
    points, values = readings(count, (5e-4, 1e-4))

    def covariance(a, b):
        scaled = np.sqrt(3) * cdist(a, b) / COVARIANCE.length_mm
        return COVARIANCE.sd_mm**2 * (1 + scaled) * np.exp(-scaled)

    def basis(xy):
        return np.column_stack([np.ones(len(xy)), xy / 1000])[:, : 3 if trend == "linear" else 1]

    known = basis(points)
    size = known.shape[1]
    system = np.block([
        [covariance(points, points) + COVARIANCE.noise_mm**2 * np.eye(count), known],
        [known.T, np.zeros((size, size))],
    ])  # fmt: skip
    right = np.vstack([covariance(points, PLACES), basis(PLACES).T])
    solved = np.linalg.solve(system, right)
    mean, sd = Kriging(points, values, COVARIANCE, trend).mean_sd(PLACES)
    assert mean == pytest.approx(values @ solved[:count], abs=1e-9)
    assert sd**2 == pytest.approx(COVARIANCE.sd_mm**2 - (solved * right).sum(axis=0), abs=1e-9)


def test_with_coordinates_in_mm_or_metres_the_map_is_the_same():
    points, values = readings(10)
    metres = Kriging(points / 1000, values, COVARIANCE._replace(length_mm=0.35), "linear").mean_sd(PLACES / 1000)
    assert np.allclose(Kriging(points, values, COVARIANCE, "linear").mean_sd(PLACES), metres, atol=1e-9)


def test_a_map_worked_out_in_small_blocks_is_the_same():
    points, values = readings(10)
    whole = Kriging(points, values, COVARIANCE, "linear").mean_sd(PLACES)
    assert np.allclose(Kriging(points, values, COVARIANCE, "linear", block=100).mean_sd(PLACES), whole, atol=1e-12)


@pytest.mark.parametrize("count, slope", [(4, (0, 0)), (5, (0, 0)), (6, (6e-4, 0)), (9, (0, 0)), (24, (6e-4, -2e-4))])
def test_the_map_of_a_hide_is_that_of_scikit_learn_with_the_covariance_it_found(count, slope):
    points, values = readings(count, slope)
    taken = tuple(Reading(x, y, mm) for (x, y), mm in zip(points.tolist(), values.tolist()))
    estimate = thickness_map(Hide("h", OUTLINE, readings=taken), 0.15)
    kriging = estimate.estimate
    assert kriging.trend == ("linear" if count >= 6 else "constant")
    process = reference(
        with_trend(kriging.trend, kriging.covariance), points / 1000, values, kriging.covariance.noise_mm
    )
    expected, expected_sd = process.predict(PLACES / 1000, return_std=True)
    mean, sd = estimate.mean_sd(PLACES)
    assert mean == pytest.approx(expected, abs=5e-5) and sd == pytest.approx(expected_sd, abs=5e-5)


@pytest.mark.parametrize("trend, count", [("constant", 5), ("linear", 8), ("linear", 30)])
def test_the_covariance_found_is_the_likeliest_by_scikit_learn_and_the_beliefs(trend, count):
    points, values = readings(count, (4e-4, 0))
    limits, spread = LeatherLimits(), 0.15
    middle = np.log([spread, limits.length_mm, limits.noise_mm])

    def likely(logs):
        covariance = Covariance(*np.exp(logs))
        process = reference(with_trend(trend, covariance), points / 1000, values, covariance.noise_mm)
        # With a prior so wide the likelihood is the restricted one but for a constant.
        return process.log_marginal_likelihood_value_ - 0.5 * (((logs - middle) / limits.belief_width) ** 2).sum()

    found = np.log(fit_covariance(points, values, trend, spread))
    best = likely(found)
    others = found + np.random.default_rng(1).normal(0, (0.3, 0.3, 0.3), (150, 3))
    least = np.log([limits.spread_bounds[0] * spread, limits.length_bounds_mm[0], limits.noise_bounds_mm[0]])
    most = np.log([limits.spread_bounds[1] * spread, limits.length_bounds_mm[1], limits.noise_bounds_mm[1]])
    assert all(likely(logs) < best + 1e-4 for logs in np.clip(others, least, most))
