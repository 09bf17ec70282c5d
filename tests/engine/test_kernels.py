"""The exact test of the kernels against shapely, on outlines of few and of many points."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.engine import Container, Item, Problem, Shape
from nesting.engine.compiled import compiled
from nesting.engine.given import Given
from nesting.engine.kernels import crosses_wall, shapes_touch


@compiled()
def touch(world, a, ax, ay, turn_a, b, bx, by, turn_b):
    return shapes_touch(
        world, a, ax, ay, math.cos(turn_a), math.sin(turn_a), b, bx, by, math.cos(turn_b), math.sin(turn_b)
    )


@compiled()
def crosses(world, t, x, y, turn):
    return crosses_wall(world, 0, t, x, y, math.cos(turn), math.sin(turn))


def star(seed: int, points: int) -> Polygon:
    """A star, or a wavy ring where there are many points; deep bays either way."""
    random = np.random.default_rng(seed)
    turn = np.linspace(0, 2 * math.pi, points, endpoint=False)
    if points < 20:
        reach = random.uniform(15, 90, points)
    else:
        reach = (
            50 + 30 * np.sin(random.integers(2, 9) * turn + random.uniform(0, 6)) + random.uniform(-0.01, 0.01, points)
        )
    return Polygon(np.column_stack([np.cos(turn), np.sin(turn)]) * reach[:, None])


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 1000), st.sampled_from([5, 12, 79]), st.sampled_from([7, 60, 400]))
def test_shapes_touch_where_shapely_says_so(seed, few, many):
    shapes = Shape(star(seed, few)), Shape(star(seed + 1, many))
    room = box(0, 0, 300, 260).difference(star(seed + 2, 200).buffer(0).intersection(box(-40, -40, 40, 40)))
    problem = Problem((Container(room),), shapes, (Item(0), Item(1)))
    given = Given(problem)
    random = np.random.default_rng(seed)
    for _ in range(60):
        places = [(*random.uniform((-20, -20), (320, 280)), random.uniform(0, 2 * math.pi)) for _ in shapes]
        if random.random() < 0.7:
            # near enough to matter
            far, way = random.uniform(0, 180), random.uniform(0, 2 * math.pi)
            places[1] = places[0][0] + far * math.cos(way), places[0][1] + far * math.sin(way), places[1][2]
        laid = [
            affinity.translate(affinity.rotate(given.outlines[n], turn, origin=(0, 0), use_radians=True), x, y)
            for n, (x, y, turn) in enumerate(places)
        ]
        apart = laid[0].distance(laid[1]) if laid[0].disjoint(laid[1]) else -1.0
        if abs(apart) > 1e-6:
            assert touch(given.world, 0, *places[0], 1, *places[1]) == (apart < 0)
        for n, (x, y, turn) in enumerate(places):
            inside = room.contains(laid[n])
            # the container is made plainer inwards by 0.02 mm where it has many corners
            if not inside or laid[n].distance(room.boundary) > 0.05:
                assert crosses(given.world, n, x, y, turn) == (not inside)


def test_a_shape_wholly_inside_another_touches_it():
    given = Given(Problem((Container(box(0, 0, 300, 300)),), (Shape(star(1, 300)), Shape(box(0, 0, 3, 3))), (Item(0),)))
    assert touch(given.world, 0, 100.0, 100.0, 0.3, 1, 100.0, 100.0, 1.0)
    assert touch(given.world, 1, 100.0, 100.0, 1.0, 0, 100.0, 100.0, 0.3)
