import numpy as np
import pytest
from scipy.optimize import least_squares as reference

from nesting.tracing.fit import least_squares


def valley(values):
    """Rosenbrock's function (1960), whose least value 0 lies at (1, 1)."""
    x, y = np.asarray(values).T
    return np.stack([10 * (y - x**2), 1 - x], axis=-1)


def test_the_bottom_of_a_bent_valley_is_found():
    found = least_squares(valley, [-1.2, 1.0])
    assert found.values == pytest.approx([1, 1], abs=1e-6) and found.cost < 1e-12


def test_a_noisy_curve_is_fitted_as_scipy_fits_it():
    chance = np.random.default_rng(3)
    x = np.linspace(0, 4, 40)
    y = 1000 * np.exp(-1.3 * x) + 0.002 * x + chance.normal(0, 2, 40)

    def away(values):
        height, fall, foot = values.T[..., None]
        return height * np.exp(-fall * x) + foot - y

    found, expected = (
        least_squares(away, [500, 1, 0]),
        reference(lambda values: away(values[None])[0], [500, 1, 0], x_scale="jac"),
    )
    assert found.values == pytest.approx(expected.x, rel=1e-4, abs=1e-4)
    assert found.cost == pytest.approx(expected.cost, rel=1e-9)
    assert found.slopes == pytest.approx(expected.jac, rel=1e-3, abs=1e-3)


def test_a_value_that_nothing_depends_on_stays_where_it_was():
    found = least_squares(lambda values: (values[:, :1] - 3) * (1, 2), [0.0, 5.0])
    assert found.values == pytest.approx([3, 5])
