import itertools
import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numba import njit
from shapely.geometry import Point, Polygon, box

from nesting.engine import Container, Item, Problem, Shape, Stop, solve
from nesting.engine.contact import no_fit_polygon, table_depth
from nesting.engine.limits import SearchLimits
from nesting.engine.proof import overlaps
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
    world = replace(world, **contacts.arrays)
    outlines = [shapely.transform(s.polygon, lambda p, c=c: p - c) for s, c in zip(shapes, centres)]
    made = {}
    for i, j in itertools.product((0, 1), repeat=2):
        turn = math.radians(90 * (j - i))
        moving = shapely.affinity.rotate(outlines[1], turn, origin=(0, 0), use_radians=True)
        made[i, j] = world, world.table[i, 2 + j], no_fit_polygon(outlines[0], moving)
    return made


def wavy(seed, points):
    """A star of few points, or a ring of many with deep bays; sides of some are in line or parallel."""
    random = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * math.pi, points, endpoint=False)
    reach = random.uniform(10, 80, points) if points < 20 else 50 + 25 * np.sin(random.integers(2, 7) * turn)
    return Polygon(np.round(np.column_stack([np.cos(turn), np.sin(turn)]) * reach[:, None], seed % 4))


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([4, 9, 60, 150]), st.sampled_from([4, 9, 60]), st.booleans())
def test_no_fit_polygons_of_any_outlines_tell_overlap_from_freedom(seed, one, other, same):
    still = wavy(seed, one)
    moving = still if same else wavy(seed + 1, other)
    if not (still.is_valid and moving.is_valid):
        return
    region, places = no_fit_polygon(still, moving), np.random.default_rng(seed).uniform(-130, 130, (80, 2))
    overlap = [still.intersection(shapely.transform(moving, lambda p, place=place: p + place)).area for place in places]
    clear = shapely.distance(region.boundary, shapely.points(places)) > 1e-3
    assert (shapely.contains(region, shapely.points(places)) == (np.array(overlap) > 1e-9))[clear].all()
    # Brunn and Minkowski: the root of the area of a sum is no less than the sum of the roots
    assert math.sqrt(region.area) >= (math.sqrt(still.area) + math.sqrt(moving.area)) * (1 - 1e-9)


def turned_problem(shapes, points):
    random = np.random.default_rng(1)
    made = [wavy(int(random.integers(1000)), points) for _ in range(shapes)]
    quarters = tuple((angle, angle) for angle in (0.0, 90.0, 180.0, 270.0))
    made = tuple(Shape(outline, angles=quarters) for outline in made if outline.is_valid)
    return Problem((Container(box(0, 0, 900, 600)),), made, tuple(Item(n % len(made)) for n in range(2 * len(made))))


def test_tables_are_made_a_few_at_a_time_and_none_when_the_search_is_to_end():
    limits = SearchLimits(tables_a_step=10)
    problem = turned_problem(4, 5)
    world, _, _, contacts = build_world(problem, limits=limits)
    assert (world.table < 0).all() and not contacts.done
    contacts.make(lambda: True)
    assert len(contacts.arrays["table_meta"]) == 0
    steps = 0
    while not contacts.done:
        contacts.make()
        steps += 1
    table = contacts.arrays["table"]
    # of four shapes at four angles each: six pairs and four of a shape with itself, four turns for each
    assert steps == 4 and len(contacts.arrays["table_meta"]) == 40
    assert ((table >= 0) | (table.T >= 0)).all()
    assert all(
        len(contacts.arrays[f"table_{name}"])
        == contacts.arrays["table_meta"][-1, 0] + np.prod(contacts.arrays["table_meta"][-1, 1:3])
        for name in ("values", "near")
    )


@pytest.mark.parametrize("shapes, points", [(60, 5), (12, 150)])
def test_where_tables_would_be_too_many_or_too_slow_there_are_none(shapes, points):
    _, _, _, contacts = build_world(turned_problem(shapes, points))
    assert contacts.done and (contacts.arrays["table"] < 0).all()


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10_000))
def test_tables_of_outlines_finer_than_their_grid_miss_no_spike(seed):
    random = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * math.pi, 14, endpoint=False)
    stars = [
        Polygon(np.column_stack([np.cos(turn), np.sin(turn)]) * random.uniform(5, 80, 14)[:, None]).buffer(0.3)
        for _ in range(2)
    ]
    shapes = tuple(Shape(Polygon(star.exterior), angles=((0.0, 0.0),)) for star in stars)
    world, _, outlines, contacts = build_world(
        Problem((Container(box(0, 0, 500, 500)),), shapes, (Item(0), Item(1)), tolerance_mm=0)
    )
    contacts.make()
    world = replace(world, **contacts.arrays)
    region, k = no_fit_polygon(*outlines), world.table[0, 1]
    assert world.table_meta[k, 4] > world.table_meta[k, 1:3].sum()
    border = shapely.line_interpolate_point(region.boundary, random.uniform(0, 1, 200), normalized=True)
    places = shapely.get_coordinates(border) + random.normal(0, 0.5 / world.table_grid[k, 2], (200, 2))
    sure = shapely.distance(region.boundary, shapely.points(places)) > 1e-3
    told = np.array([depth_in(world, k, x, y) > 0 for x, y in places])
    assert (told == shapely.contains_xy(region, places))[sure].all()


@pytest.mark.parametrize("seed", range(4))
def test_spikes_that_a_table_misses_are_in_no_layout(seed):
    random = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * math.pi, 14, endpoint=False)
    star = Polygon(np.column_stack([np.cos(turn), np.sin(turn)]) * random.uniform(5, 80, 14)[:, None])
    # not convex, so that nothing is pressed apart at last
    room = box(0, 0, 900, 600).difference(box(400, 250, 420, 270))
    problem = Problem((Container(room),), (Shape(star, angles=((0.0, 0.0),)),), (Item(0),) * 40)
    first = solve(problem, Stop(iterations=1), seed)
    found = solve(problem, Stop(iterations=4), seed, start=first)
    assert overlaps(problem, found) == []
