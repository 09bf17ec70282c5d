"""Arcs for curves, checked by dense sampling of the curves themselves."""

import math
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from nesting.files.arcs import fitted
from nesting.files.limits import DEFAULT
from nesting.files.svg_curves import Pen, _cubic
from nesting.model import Curve

number = st.floats(0, 100)
point = st.builds(complex, number, number)
SAME = np.eye(3)


def curve_of(follow, closed=False):
    end = follow(np.array([1.0]))[0][0]
    return Curve((*fitted(follow, DEFAULT.fit_mm), (end.real, end.imag, 0.0)), closed)


def strays(follow, curve):
    points = follow(np.linspace(0, 1, 2001))[0]
    line = curve.flattened(1e-5)
    there = shapely.distance(line, shapely.points(points.real, points.imag)).max()
    path = shapely.linestrings(points.real, points.imag)
    return max(there, shapely.distance(path, shapely.points(shapely.get_coordinates(line))).max())


def directions(curve):
    """By how much each arc but the last turns away from the next, radians."""
    ways = []
    for start, end, bulge in curve.stretches():
        half, chord = 2 * math.atan(bulge), np.angle(end - start)
        ways.append((chord - half, chord + half))
    return [abs((after[0] - before[1] + math.pi) % (2 * math.pi) - math.pi) for before, after in pairwise(ways)]


@settings(max_examples=25, deadline=None)
@given(point, point, point, point)
def test_arcs_keep_to_a_cubic_and_go_on_where_it_does(start, first, second, end):
    assume(min(abs(first - start), abs(second - first), abs(end - second)) > 5)
    follow = _cubic(start, first, second, end)
    ways = follow(np.linspace(0, 1, 401))[1]
    # no cusp, where a curve has no one direction
    assume(np.abs(ways).min() > 1)
    curve = curve_of(follow)
    assert strays(follow, curve) <= DEFAULT.fit_mm * 1.05 + 2e-5
    assert max(directions(curve), default=0) < 2e-3


def test_a_cubic_with_a_cusp_or_handles_of_no_length_is_followed_all_the_same():
    for control in ((0j, 50 + 50j, 0 + 50j, 50 + 0j), (0j, 0j, 30 + 40j, 60 + 0j), (0j, 30 + 40j, 60 + 0j, 60 + 0j)):
        follow = _cubic(*control)
        assert strays(follow, curve_of(follow)) <= 2 * DEFAULT.fit_mm


def ramanujan(a, b):
    """Perimeter of an ellipse, Ramanujan's second approximation (1914, from memory): good to h^5 / 2^36 or so."""
    h = ((a - b) / (a + b)) ** 2
    return math.pi * (a + b) * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))


def test_ramanujans_formula_agrees_with_the_integral():
    for a, b in ((60, 20), (21.5, 20), (3, 1)):
        t = (np.arange(20_000) + 0.5) * (math.pi / 2 / 20_000)
        around = 2 * math.pi * np.hypot(a * np.sin(t), b * np.cos(t)).mean()
        assert ramanujan(a, b) == pytest.approx(around, rel=1e-5)


@pytest.mark.parametrize("a, b", [(60, 20), (21.5, 20), (3, 1)])
def test_an_ellipse_has_the_perimeter_and_area_of_an_ellipse(a, b):
    (line,) = Pen(0.05).draw(f"M {a},0 A {a},{b} 0 0 1 {-a},0 A {a},{b} 0 0 1 {a},0 Z", SAME)
    assert line.curve.closed and line.curve.circle is None
    assert line.curve.length == pytest.approx(ramanujan(a, b), abs=0.002)
    area = shapely.Polygon(line.curve.flattened(1e-5)).area
    assert area == pytest.approx(math.pi * a * b, abs=DEFAULT.fit_mm * ramanujan(a, b) / 2)


@pytest.mark.parametrize("turn", [np.eye(3), np.array([[0, -3, 7], [3, 0, 1], [0, 0, 1]]), np.diag([2.0, -2.0, 1.0])])
def test_an_arc_of_a_circle_stays_one_however_it_is_turned_and_scaled(turn):
    (line,) = Pen(0.05).draw("M 5,0 A 5,5 0 0 1 -5,0 A 5,5 0 0 1 5,0 Z", turn)
    circle = line.curve.circle
    size = math.sqrt(abs(np.linalg.det(turn)))
    assert circle is not None and (circle.x, circle.y) == pytest.approx(tuple(turn[:2, 2]))
    assert circle.radius == pytest.approx(5 * size) and len(line.curve.nodes) == 2
    assert circle.left == (np.linalg.det(turn) > 0)


def test_a_square_with_round_corners_is_four_sides_and_four_arcs():
    data = "M 2,0 H 8 A 2,2 0 0 1 10,2 V 8 A 2,2 0 0 1 8,10 H 2 A 2,2 0 0 1 0,8 V 2 A 2,2 0 0 1 2,0 Z"
    (line,) = Pen(0.05).draw(data, SAME)
    assert len(line.curve.nodes) == 8 and line.curve.length == pytest.approx(24 + 4 * math.pi)
    assert sum(bulge != 0 for *_, bulge in line.curve.nodes) == 4


def test_a_quarter_circle_drawn_as_a_cubic_is_one_arc():
    (line,) = Pen(0.05).draw("M 0,0 C 0.773,0 1.4,0.627 1.4,1.4", SAME)
    assert len(line.curve.nodes) == 2 and line.curve.length == pytest.approx(0.7 * math.pi, abs=0.003)
