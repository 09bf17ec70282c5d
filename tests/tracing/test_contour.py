import cv2
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import cKDTree
from shapely.geometry import Polygon

from nesting.tracing.contour import contours


@given(seed=st.integers(0, 10**6), blur=st.floats(0.3, 4.0))
def test_the_lines_are_those_of_a_general_library(seed, blur):
    from contourpy import contour_generator

    field = cv2.GaussianBlur(np.random.default_rng(seed).standard_normal((40, 60), np.float32), (0, 0), blur)
    field[[0, -1]] = field[:, [0, -1]] = -1
    ours, theirs = contours(field), contour_generator(z=field).lines(0)
    assert all((ring[0] == ring[-1]).all() for ring in ours)
    assert sorted(map(len, ours)) == sorted(map(len, theirs))
    points, others = (np.vstack([(-1, -1), *rings]) for rings in (ours, theirs))
    assert cKDTree(points).query(others)[0].max() < 1e-6 and cKDTree(others).query(points)[0].max() < 1e-6


def test_a_ring_has_the_area_of_the_annulus_and_turns_the_other_way_around_its_hole():
    y, x = np.mgrid[:120, :120].astype(float)
    away = np.hypot(x - 60, y - 59)
    rings = contours(np.minimum(50 - away, away - 20))
    outer, inner = sorted(map(Polygon, rings), key=lambda ring: -ring.area)
    assert outer.area == pytest.approx(np.pi * 50**2, rel=2e-3) and inner.area == pytest.approx(np.pi * 20**2, rel=5e-3)
    assert shapely.is_ccw(outer.exterior) and not shapely.is_ccw(inner.exterior)
    assert contours(np.full((5, 5), -1.0)) == []
