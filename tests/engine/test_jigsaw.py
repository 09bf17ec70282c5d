"""What was cut up is put together again: the optimum of a dissection is 100 %, whatever cuts it."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Polygon, box
from shapely.ops import split

from nesting.engine import FREE, Container, Item, Problem, Search, Shape, Stop, overlaps
from nesting.engine.limits import SearchLimits

KNIFE = 0.5


def blob(seed):
    """A wavy outline of 120 corners, about a metre across."""
    random, turn = np.random.default_rng(seed), np.linspace(0, 2 * math.pi, 120, endpoint=False)
    waves = (random.uniform(0.02, 0.1) / k * np.cos(k * turn + random.uniform(0, 6)) for k in range(2, 9))
    reach = 400 * (1 + sum(waves))
    return Polygon(np.column_stack([1.3 * reach * np.cos(turn), reach * np.sin(turn)]))


def cut_up(outline, count, seed):
    """The biggest piece is cut in two by a random straight line through it until there are so many."""
    random, pieces = np.random.default_rng(seed), [outline]
    while len(pieces) < count:
        piece = pieces.pop(int(np.argmax([p.area for p in pieces])))
        middle, angle = piece.representative_point(), random.uniform(0, math.pi)
        way = 1e4 * np.array([math.cos(angle), math.sin(angle)])
        knife = LineString([(middle.x - way[0], middle.y - way[1]), (middle.x + way[0], middle.y + way[1])])
        pieces += [part for part in split(piece, knife).geoms if part.area > 100.0]
    return [piece.buffer(-KNIFE / 2, join_style="mitre") for piece in pieces]


def jigsaw(count, seed, turned):
    outline = blob(seed)
    pieces = cut_up(outline, count, seed)
    if turned:
        pieces = [affinity.rotate(piece, 40.0 * n, origin="centroid") for n, piece in enumerate(pieces)]
    shapes = tuple(Shape(piece, angles=FREE if turned else ((0.0, 0.0),)) for piece in pieces)
    return Problem((Container(outline),), shapes, tuple(map(Item, range(len(shapes)))), tolerance_mm=0.0)


@pytest.mark.parametrize("turned", [False, True])
@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_a_cut_up_outline_is_all_but_put_together_at_once(turned, seed):
    problem = jigsaw(6, seed, turned)
    found = Search(problem, 1).run(Stop(iterations=2))
    sizes = np.array([problem.shapes[item.shape].polygon.area for item in problem.items])
    placed = np.array([pose is not None for pose in found.poses])
    assert not overlaps(problem, found)
    assert sizes[placed].sum() > 0.9 * sizes.sum()


@pytest.mark.parametrize("turned", [False, True])
def test_what_is_put_together_is_all_of_it(turned):
    problem = jigsaw(8, 3, turned)
    found = Search(problem, 1).run(Stop(iterations=2))
    assert None not in found.poses and not overlaps(problem, found)


def test_what_fills_no_container_or_has_equals_is_no_jigsaw():
    room = Container(box(0, 0, 300, 200))
    sides = [(50 + n, 100) for n in range(12)]
    unlike = Problem((room,), tuple(Shape(box(0, 0, *side)) for side in sides), tuple(map(Item, range(11))))
    for problem, left in (
        (unlike, True),
        (Problem((room,), unlike.shapes, tuple(map(Item, range(5)))), False),
        (Problem((room,), unlike.shapes, (Item(0),) * 11), False),
    ):
        assert Search(problem).aside.jigsaw.left is left
    assert not Search(unlike, limits=SearchLimits(most_jigsaw_items=10)).aside.jigsaw.left
    assert Search(unlike, starts=slice(1, None, 2)).aside.jigsaw is None


def test_no_more_is_fitted_once_the_search_is_to_end():
    search = Search(jigsaw(6, 1, False), 1)
    search.run(Stop(iterations=1))
    assert search.aside.jigsaw.layout(lambda: True) is None
