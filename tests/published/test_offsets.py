"""Offsets against Steiner's formula and against shapely's buffer."""

import math

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.geometry import MultiPoint, Polygon, box

from nesting.geometry import TOLERANCE_MM, offset

points = st.lists(st.tuples(st.floats(-300, 300), st.floats(-300, 300)), min_size=3, max_size=12)


@settings(max_examples=60, deadline=None)
@given(points=points, distance=st.floats(0.05, 100))
def test_the_area_of_a_grown_convex_polygon_follows_steiners_formula(points, distance):
    # Steiner (1840): area + perimeter r + pi r^2; quoted from memory, found in any text on convex bodies.
    hull = MultiPoint(points).convex_hull
    assume(hull.geom_type == "Polygon" and hull.area > 1)

    def steiner(r):
        return hull.area + hull.length * r + math.pi * r * r

    # Corners are rounded to 1e-4 mm, which moves the area by no more than the perimeter times that.
    slack = 1e-4 * (hull.length + 2 * math.pi * distance)
    assert steiner(distance) - slack <= offset(hull, distance).area <= steiner(distance + TOLERANCE_MM) + slack


@pytest.mark.parametrize("distance", [-30.0, -4.0, -0.6, 0.6, 4.0, 30.0])
def test_offsets_agree_with_shapelys_buffer(distance):
    random = np.random.default_rng(2)
    turns = np.linspace(0, 2 * np.pi, 80, endpoint=False)
    radii = random.uniform(150, 220, 80)
    shape = Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)])).difference(box(-20, -20, 30, 10))
    expected = shape.buffer(distance, quad_segs=500)
    ours = offset(shape, distance)
    assert ours.area == pytest.approx(expected.area, abs=1.1 * TOLERANCE_MM * expected.length)
    assert shapely.hausdorff_distance(ours.boundary, expected.boundary) < 0.05
    extra, lacking = ours.difference(expected).area, expected.difference(ours).area
    # A grown area lies around the true one, a shrunk one in it.
    assert (lacking if distance > 0 else extra) < 0.01


def test_a_square_grown_by_one_tenth_of_its_side_has_the_area_worked_by_hand():
    # 100 mm square grown by 10 mm: 10000 + 400 x 10 + pi x 100 = 14314.159 mm2.
    assert offset(box(0, 0, 100, 100), 10).area == pytest.approx(14314.159, abs=5)
