import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from nesting.geometry import place
from nesting.model import Curve, Curves

ROUND = Curve(((5.0, 0.0, 1.0), (-5.0, 0.0, 1.0)), True)
QUARTER = math.tan(math.pi / 8)
"""A quarter turn is a bulge of tan(90 degrees / 4)."""
SLOT = Curve(((0.0, 0.0, 0.0), (20.0, 0.0, 1.0), (20.0, 6.0, 0.0), (0.0, 6.0, 1.0)), True)
number = st.floats(-50, 50)
nodes = st.lists(st.tuples(number, number, st.floats(-1.5, 1.5)), min_size=2, max_size=8, unique_by=lambda n: n[:2])


def test_the_perimeter_and_area_of_circle_and_slot_are_those_of_geometry():
    assert ROUND.length == pytest.approx(2 * math.pi * 5)
    assert Polygon(ROUND.flattened(1e-6)).area == pytest.approx(math.pi * 25, rel=1e-6)
    # A slot of two sides of 20 mm and two half circles of radius 3.
    assert SLOT.length == pytest.approx(40 + 6 * math.pi)
    assert Polygon(SLOT.flattened(1e-6)).area == pytest.approx(120 + 9 * math.pi, rel=1e-6)


def test_a_quarter_turn_to_the_left_bows_to_the_right_of_its_chord():
    quarter = Curve(((1.0, 0.0, QUARTER), (0.0, 1.0, 0.0)))
    line = quarter.flattened(1e-6)
    assert max(abs(math.hypot(x, y) - 1) for x, y in line.coords) < 1e-12 and quarter.length == pytest.approx(
        math.pi / 2
    )


def test_a_circle_is_told_from_what_is_none():
    assert ROUND.circle == pytest.approx((0, 0, 5, True)) and ROUND.backwards.circle == pytest.approx((0, 0, 5, False))
    assert SLOT.circle is None and Curve.of(Point(0, 0).buffer(5)).circle is None
    assert Curve(((5.0, 0.0, 1.0), (-5.0, 0.0, 0.9)), True).circle is None


def test_a_polygon_is_its_corners_and_an_open_line_stays_open():
    square = Curve.of(box(0, 0, 2, 2))
    assert square.closed and len(square.nodes) == 4 and square.flattened(0.1).equals(box(0, 0, 2, 2).exterior)
    line = LineString([(0, 0), (3, 4)])
    assert not Curve.of(line).closed and Curve.of(line).length == 5 and Curve.of(line).flattened(0.1).equals(line)


@settings(max_examples=40, deadline=None)
@given(nodes, st.booleans(), st.floats(1e-2, 1))
def test_no_chord_is_farther_from_its_arc_than_asked(nodes, closed, tolerance):
    curve = Curve(tuple(nodes), closed)
    rough, fine = curve.flattened(tolerance), curve.flattened(tolerance / 10)
    assert shapely.distance(rough, shapely.points(fine.coords)).max() <= tolerance * 1.01 + 1e-9


@settings(max_examples=40, deadline=None)
@given(nodes, st.booleans(), number, number, st.floats(-360, 360))
def test_turning_moving_mirroring_and_going_back_keep_the_line(nodes, closed, x, y, angle):
    curve = Curve(tuple(nodes), closed)
    line = curve.flattened(0.01)
    assert curve.placed(x, y, angle).flattened(0.01).equals_exact(place(line, x, y, angle), 1e-6)
    mirrored = np.asarray(curve.mirrored.flattened(0.01).coords) * (-1, 1)
    assert np.allclose(mirrored, line.coords, atol=1e-6)
    back = curve.backwards
    assert np.allclose(back.flattened(0.01).coords, list(line.coords)[::-1], atol=1e-6)
    assert back.backwards == curve or (not closed and back.backwards.nodes[:-1] == curve.nodes[:-1])
    assert back.length == pytest.approx(curve.length)


def test_the_lines_of_a_part_move_together():
    part = Curves(SLOT, (ROUND,), (ROUND,), (Curve.of(LineString([(0, 0), (1, 1)])),))
    moved = part.placed(3, 4, 90)
    assert moved.counts == (1, 1, 1) and moved.cutouts[0].circle == pytest.approx((3, 4, 5, True))
    assert part.mirrored.mirrored == part
