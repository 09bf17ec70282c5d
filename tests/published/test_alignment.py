"""Turning a file to two measured points, against a reference library's least-squares rigid motion."""

import numpy as np
import pytest
from shapely.geometry import MultiPoint
from skimage.transform import EuclideanTransform

from nesting.laser.registration import align


@pytest.mark.parametrize("seed", range(8))
def test_two_measured_points_give_the_least_squares_rigid_motion(seed):
    # scikit-image estimates it by Umeyama's method (1991) without scale.
    random = np.random.default_rng(seed)
    true = random.uniform(0, 500, (2, 2))
    turn = random.uniform(-np.pi, np.pi)
    turning = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    seen = true @ turning + random.uniform(-200, 600, 2) + random.uniform(-0.3, 0.3, (2, 2))
    pose = align(dict(zip("AB", map(tuple, true))), dict(zip("AB", map(tuple, seen))), (600, 400))
    expected = EuclideanTransform.from_estimate(true, seen) if hasattr(EuclideanTransform, "from_estimate") else None
    if expected is None:
        expected = EuclideanTransform()
        assert expected.estimate(true, seen)
    spots = random.uniform(0, 600, (20, 2))
    found = np.array([point.coords[0] for point in pose.put(MultiPoint(spots)).geoms])
    assert found == pytest.approx(expected(spots), abs=1e-6)
