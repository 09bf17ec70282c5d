import math

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Point, Polygon

from nesting.engine.fields import clearance_field, inscribed_circles
from nesting.engine.world import polygon_edges


def star(radii: list[float]) -> Polygon:
    angles = np.linspace(0, 2 * math.pi, len(radii), endpoint=False)
    return Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None])


stars = st.lists(st.floats(20, 100), min_size=4, max_size=12).map(star)


def field_of(polygon, cell=4.0):
    x0, y0, x1, y1 = polygon.bounds
    x0, y0 = x0 - 2 * cell, y0 - 2 * cell
    nx, ny = int((x1 - x0) / cell) + 4, int((y1 - y0) / cell) + 4
    return clearance_field(polygon_edges(polygon), x0, y0, cell, nx, ny)[0], x0, y0, cell


@settings(max_examples=25, deadline=None)
@given(stars)
def test_clearance_is_the_signed_distance_to_the_border(polygon):
    field, x0, y0, cell = field_of(polygon)
    ys, xs = np.mgrid[0 : field.shape[0], 0 : field.shape[1]]
    points = shapely.points(x0 + xs * cell, y0 + ys * cell)
    true = shapely.distance(polygon.exterior, points) * np.where(shapely.contains(polygon, points), 1, -1)
    assert np.abs(field - true).max() < 0.05 * cell


def test_a_hole_counts_as_outside():
    ring = Point(0, 0).buffer(100).difference(Point(0, 0).buffer(40))
    field, x0, y0, cell = field_of(ring)
    middle = field[round(-y0 / cell), round(-x0 / cell)]
    assert abs(middle + 40) < 2


@settings(max_examples=25, deadline=None)
@given(stars)
def test_inscribed_circles_lie_inside(polygon):
    field, x0, y0, cell = field_of(polygon)
    for x, y, radius in inscribed_circles(field, x0, y0, cell, 12, 2.0):
        assert polygon.buffer(0.1 * cell).contains(Point(x, y).buffer(max(radius - 0.1 * cell, 0.01)))
