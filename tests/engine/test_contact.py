import itertools
import math
from functools import cache

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit
from shapely.geometry import Point, Polygon, box

from nesting.engine import Container, Item, Problem, Shape
from nesting.engine.contact import no_fit_polygon, table_depth
from nesting.engine.world import build_world

ARROW = Polygon([(0, 0), (80, 0), (80, -30), (130, 30), (80, 90), (80, 60), (0, 60), (30, 30)])
HOOK = Polygon([(0, 0), (90, 0), (90, 20), (20, 20), (20, 70), (60, 70), (60, 90), (0, 90)])


@njit
def depth_in(world, k, x, y):
    return table_depth(world, k, x, y)


@pytest.mark.parametrize("still, moving", [(ARROW, HOOK), (HOOK, ARROW), (HOOK, HOOK), (ARROW, ARROW)])
def test_the_no_fit_polygon_tells_overlap_from_freedom(still, moving):
    region = no_fit_polygon(still, moving)
    for x, y in np.random.default_rng(1).uniform(-160, 160, (400, 2)):
        overlap = still.intersection(shapely.transform(moving, lambda p, x=x, y=y: p + (x, y))).area
        if region.boundary.distance(Point(x, y)) > 0.01:
            assert region.contains(Point(x, y)) == (overlap > 1e-6)


def test_a_small_square_that_fits_into_a_bay_is_free_there():
    frame = Polygon(
        [
            (0, 0),
            (100, 0),
            (100, 100),
            (52, 100),
            (52, 90),
            (90, 90),
            (90, 10),
            (10, 10),
            (10, 90),
            (48, 90),
            (48, 100),
            (0, 100),
        ]
    )
    assert not no_fit_polygon(frame, box(-10, -10, 10, 10)).contains(Point(50, 50))


def test_a_shape_inside_another_of_the_same_width_overlaps_it():
    assert no_fit_polygon(box(0, 0, 50, 20), box(0, 0, 20, 20)).contains(Point(15, 0.001))


@settings(max_examples=60, deadline=None)
@given(st.floats(-150, 150), st.floats(-150, 150), st.integers(0, 1), st.integers(0, 1))
def test_tabled_depth_is_the_distance_to_the_border_of_the_no_fit_polygon(x, y, i, j):
    world, k, region = tables()[i, j]
    true = region.exterior.distance(Point(x, y)) if region.contains(Point(x, y)) else 0.0
    cell = 1 / world.table_grid[k, 2]
    got = depth_in(world, k, x, y)
    assert abs(got - true) < (2e-5 if true < 0.5 * cell else 0.8 * cell)


@cache
def tables():
    """Number of the table and the no-fit polygon of each of the arrow's angles with each of the hook's, and their
    world."""
    angles = ((0.0, 0.0), (90.0, 90.0))
    shapes = (Shape(ARROW, angles=angles), Shape(HOOK, angles=angles))
    problem = Problem((Container(box(0, 0, 500, 500)),), shapes, (Item(0), Item(1)), tolerance_mm=0)
    world, centres, _, contacts = build_world(problem)
    contacts.make()
    world = world._replace(**contacts.arrays)
    outlines = [shapely.transform(s.polygon, lambda p, c=c: p - c) for s, c in zip(shapes, centres)]
    made = {}
    for i, j in itertools.product((0, 1), repeat=2):
        turn = math.radians(90 * (j - i))
        moving = shapely.affinity.rotate(outlines[1], turn, origin=(0, 0), use_radians=True)
        made[i, j] = world, world.table[i, 2 + j], no_fit_polygon(outlines[0], moving)
    return made
