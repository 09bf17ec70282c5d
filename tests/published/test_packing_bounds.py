"""Packing densities that no layout can pass, and sums of shapes that have a formula."""

import math

import numpy as np
import pytest
import shapely
import shapely.ops
from shapely.geometry import LineString, Point, Polygon, box

from nesting.engine import Container, Item, Problem, Shape, Stop, overlaps, solve
from nesting.engine.contact import no_fit_polygon


def density(shape: Polygon, count: int, side: float) -> float:
    """Area share of as many equal shapes as the engine gets into a square."""
    problem = Problem((Container(box(0, 0, side, side)),), (Shape(shape),), (Item(0),) * count)
    solution = solve(problem, Stop(iterations=4))
    return sum(pose is not None for pose in solution.poses) * shape.area / side**2


def test_equal_circles_stay_below_pi_over_root_twelve():
    """Thue 1910, Fejes Toth 1940: no packing of equal circles in the plane is denser than pi / sqrt(12)."""
    disc = Point(0, 0).buffer(25, quad_segs=12)
    assert 0.6 < density(disc, 150, 500) < math.pi / math.sqrt(12)


def test_equal_pentagons_stay_below_the_bound_of_hales_and_kusner():
    """T. Hales and W. Kusner, Packings of regular pentagons in the plane (2016): at most (5 - sqrt 5) / 3."""
    corners = [(30 * math.cos(math.radians(90 + 72 * k)), 30 * math.sin(math.radians(90 + 72 * k))) for k in range(5)]
    assert 0.6 < density(Polygon(corners), 130, 500) < (5 - math.sqrt(5)) / 3


@pytest.mark.parametrize(
    "a, b", [(box(0, 0, 30, 10), Polygon([(0, 0), (20, 5), (8, 25)])), (Point(0, 0).buffer(9), box(0, 0, 5, 40))]
)
def test_the_no_fit_polygon_of_convex_shapes_is_their_minkowski_difference(a, b):
    """Minkowski sum of convex sets = hull of the sums of their corners (any text on computational geometry)."""
    corners = [(p[0] - q[0], p[1] - q[1]) for p in a.exterior.coords for q in b.exterior.coords]
    hull = shapely.MultiPoint(corners).convex_hull
    assert no_fit_polygon(a, b).symmetric_difference(hull).area < 1e-3 * hull.area


def test_the_no_fit_polygon_of_two_rectangles_has_the_area_of_their_mixed_volume():
    """Area of A + B = area A + 2 V(A, B) + area B; for boxes a x b and c x d it is (a + c)(b + d)."""
    assert no_fit_polygon(box(0, 0, 30, 10), box(5, 5, 12, 45)).area == pytest.approx(37 * 50, rel=1e-4)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_jigsaw_is_put_together_again(seed):
    """A rectangle cut by random lines has a packing of density 1 by construction; no other value can be right."""
    pieces, random = [box(0, 0, 400, 300)], np.random.default_rng(seed)
    while len(pieces) < 7:
        piece = pieces.pop(int(np.argmax([p.area for p in pieces])))
        middle, angle = piece.centroid, random.uniform(0, math.pi)
        dx, dy = 1000 * math.cos(angle), 1000 * math.sin(angle)
        knife = LineString([(middle.x - dx, middle.y - dy), (middle.x + dx, middle.y + dy)])
        pieces += list(shapely.ops.split(piece, knife).geoms)
    shapes = tuple(Shape(piece, angles=((0.0, 0.0),)) for piece in pieces)
    problem = Problem((Container(box(0, 0, 1500, 300)),), shapes, tuple(Item(n) for n in range(7)), tolerance_mm=0.0)
    whole = 400 * 300
    solution = solve(problem, Stop(iterations=600, enough_mm2=1.00001 * whole), seed=1)
    assert solution.consumed_mm2 == pytest.approx(whole, rel=1e-5)
    assert solution.consumed_mm2 >= whole * (1 - 1e-9)
    assert overlaps(problem, solution) == []
