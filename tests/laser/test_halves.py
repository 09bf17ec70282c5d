import cmath
import math

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point

from nesting.laser.halves import half_of
from nesting.model import Curve

STADIUM = Curve(((0, 0, 0), (100, 0, 1), (100, 40, 0), (0, 40, 1)), True)
"""Two straight sides of 100 mm and two half circles of 20 mm radius."""
NEAR_MM = 1e-6


def test_a_line_on_one_side_stays_as_it_is_and_on_the_other_is_gone():
    assert half_of(STADIUM, 1, 121) == [STADIUM] and half_of(STADIUM, 1, -21) == []
    assert half_of(STADIUM, -1, -121) == [] and half_of(STADIUM, -1j, 1) == [STADIUM]


def test_a_closed_line_parts_into_two_open_halves_that_keep_its_arcs():
    (left,), (right,) = half_of(STADIUM, 1, 60), half_of(STADIUM, -1, -60)
    assert not left.closed and not right.closed
    assert left.length == pytest.approx(120 + 20 * math.pi) and right.length == pytest.approx(80 + 20 * math.pi)
    assert {left.nodes[0][:2], left.nodes[-1][:2]} == {(60, 0), (60, 40)}


def test_an_arc_is_parted_where_it_crosses():
    # of a circle of radius 10 about the origin the share beyond x = 5 is a third: acos(1/2) = 60 degrees either way
    circle = Curve(((10, 0, 1), (-10, 0, 1)), True)
    (right,) = half_of(circle, -1, -5)
    assert right.length == pytest.approx(20 * math.pi / 3)
    assert sum(half.length for half in half_of(circle, 1, 5)) == pytest.approx(40 * math.pi / 3)


@given(
    st.lists(
        st.tuples(st.floats(-50, 50), st.floats(-50, 50), st.floats(-1.5, 1.5)), min_size=2, max_size=7, unique=True
    ),
    st.booleans(),
    st.floats(0, 2 * math.pi),
    st.floats(-60, 60),
)
def test_both_halves_are_the_line_and_each_lies_on_its_side(nodes, closed, turn, most):
    curve, way = Curve(tuple(nodes), closed), cmath.exp(1j * turn)
    if any(abs(a - b) < 1e-3 for a, b, _ in curve.stretches()):
        return
    near, far = half_of(curve, way, most), half_of(curve, -way, -most)
    assert sum(half.length for half in (*near, *far)) == pytest.approx(curve.length, abs=1e-4)
    whole = curve.flattened(1e-4)
    for halves, sign in ((near, 1), (far, -1)):
        for half in halves:
            chords = half.flattened(1e-4)
            points = shapely.get_coordinates(chords) @ (way.real, way.imag)
            assert (sign * (points - most)).max() < 1e-3
            assert whole.distance(Point(chords.coords[0])) < 1e-3 and isinstance(chords, LineString)
