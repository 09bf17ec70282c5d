import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.laser.entry import begun_at, entries


def ring(polygon):
    return LineString(polygon.exterior.coords)


def test_on_a_rectangle_all_entries_keep_five_mm_from_the_corners():
    line = ring(box(0, 0, 60, 30))
    corners = np.array([(0, 0), (60, 0), (60, 30), (0, 30)])
    found = entries(line)
    assert np.hypot(*(found[:, None] - corners[None]).transpose(2, 0, 1)).min() == pytest.approx(5.5, abs=0.6)


def test_on_short_sides_entries_are_in_their_middles():
    found = entries(ring(affinity.rotate(box(0, 0, 8, 8), 0)))
    assert all(min(abs(x - 4), abs(y - 4)) < 0.6 for x, y in found)


def test_rounded_corners_count_as_corners_and_large_bends_do_not():
    rounded = box(0, 0, 60, 30).buffer(-1).buffer(1, quad_segs=16)
    assert all(min(x, 60 - x) > 4 or min(y, 30 - y) > 4 for x, y in entries(ring(rounded)))
    circle = ring(Point(0, 0).buffer(20, quad_segs=32))
    assert len(entries(circle)) == 64


def test_a_small_hole_may_be_entered_anywhere():
    hole = ring(box(0, 0, 1, 3))
    assert {tuple(point) for point in entries(hole)} == set(hole.coords)


def test_beginning_elsewhere_changes_neither_shape_nor_sense():
    line = ring(Polygon([(0, 0), (60, 0), (60, 20), (30, 40)]))
    for point in entries(line):
        begun = begun_at(line, point)
        assert begun.coords[0] == begun.coords[-1] == tuple(point)
        assert (
            begun.length == pytest.approx(line.length)
            and Polygon(begun).exterior.is_ccw == Polygon(line).exterior.is_ccw
        )
        assert Polygon(begun).symmetric_difference(Polygon(line)).area < 1e-9
