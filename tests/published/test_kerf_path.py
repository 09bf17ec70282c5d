"""Steiner's formula (J. Steiner 1840): a convex area grown by r has area A + L r + pi r^2 and border L + 2 pi r."""

import math

import pytest
from shapely.geometry import Point, Polygon, box

from nesting.laser.kerf import moved


@pytest.mark.parametrize("polygon", [box(0, 0, 80, 30), Polygon([(0, 0), (90, 10), (20, 60)]), Point(5, 5).buffer(40, quad_segs=64)])
@pytest.mark.parametrize("r", [0.1, 0.5, 2.0])
def test_the_kerf_path_follows_steiners_formula(polygon, r):
    grown = moved(polygon, r)[0]
    assert grown.area == pytest.approx(polygon.area + polygon.length * r + math.pi * r * r, rel=2e-5)
    assert grown.length == pytest.approx(polygon.length + 2 * math.pi * r, rel=2e-4)
