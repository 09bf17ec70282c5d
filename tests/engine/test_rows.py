"""Rows of equal items: densities known from the literature, and rows that never overlap."""

import itertools
import math

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.engine import FREE, Container, Item, Problem, Search, Shape, Stop, overlaps
from nesting.engine.rows import densest_rows


def regular(corners):
    """A regular polygon of radius 50 mm about its centre."""
    turns = 2 * math.pi * np.arange(corners) / corners
    return Polygon(50 * np.column_stack([np.cos(turns), np.sin(turns)]))


def density(outline, half_turn=True):
    return outline.area / densest_rows(outline, half_turn).cell_mm2


@pytest.mark.parametrize(
    "outline, known",
    [
        # G. Fejes Toth and W. Kuperberg, in Handbook of Convex Geometry (1993), and the sources named there; from
        # memory
        (box(-40, -25, 40, 25), 1.0),
        (Polygon([(-40, -20), (50, -20), (-10, 40)]), 1.0),  # a triangle and its half-turned twin tile the plane
        (regular(6), 1.0),
        (regular(5), (5 - math.sqrt(5)) / 3),  # Hales and Kusner, Packings of regular pentagons in the plane (2016)
        (regular(90), math.pi / math.sqrt(12)),  # circles: Thue
    ],
)
def test_the_densest_rows_reach_the_known_density_and_never_pass_it(outline, known):
    # a regular 90-gon may be packed denser than circles by less than this
    assert known - 0.006 < density(outline) <= known + 0.0012


def test_without_half_turns_triangles_cover_two_thirds():
    # I. Fary, Sur la densite des reseaux de domaines convexes (1950): no convex shape does worse in a lattice; from
    # memory
    assert density(Polygon([(-40, -20), (50, -20), (-10, 40)]), half_turn=False) == pytest.approx(2 / 3, abs=0.006)


@st.composite
def outlines(draw):
    corners = draw(st.integers(3, 9))
    radii = draw(st.lists(st.floats(15, 60), min_size=corners, max_size=corners))
    turns = 2 * math.pi * np.arange(corners) / corners
    return Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]))


@given(outlines(), st.booleans())
@example(Polygon([(15, 0), (-12, 12 * 3**0.5), (-23.5, -23.5 * 3**0.5)]), True)
@settings(max_examples=100, deadline=None)
def test_rows_of_any_shape_never_overlap(outline, half_turn):
    rows = densest_rows(outline, half_turn)
    turned = affinity.rotate(outline, 180, origin=(0, 0))
    copies = []
    for i, j in itertools.product(range(-2, 3), repeat=2):
        x, y = i * rows.along + j * rows.across
        copies.append(affinity.translate(outline, x, y))
        if rows.paired:
            copies.append(affinity.translate(turned, x + rows.twin[0], y + rows.twin[1]))
    tree = shapely.STRtree(copies)
    a, b = tree.query(copies)
    shared = shapely.area(shapely.intersection(np.array(copies)[a[a < b]], np.array(copies)[b[a < b]]))
    assert shared.max(initial=0.0) < 1e-6


@given(outlines(), st.integers(0, 1000))
@settings(max_examples=10, deadline=None)
def test_layouts_begun_in_rows_are_sound(outline, seed):
    blob = Point(0, 0).buffer(300, quad_segs=5).difference(Point(60, 40).buffer(35))
    problem = Problem(
        (Container(blob),),
        (Shape(outline), Shape(box(0, 0, 50, 30), angles=((0, 0), (170, 190)))),
        (Item(0), Item(1)) * 15,
    )
    search = Search(problem, seed)
    state = search.aside.starts.next(search.placer.order, search.random, lambda: False)
    assert (state[:, 0] >= 0).sum() > 5
    assert overlaps(problem, search.given.solution(state)) == []


def test_rectangles_fill_a_rectangle_that_they_fit():
    problem = Problem((Container(box(0, 0, 401, 241)),), (Shape(box(0, 0, 80, 40), angles=FREE),), (Item(0),) * 30)
    best = Search(problem, 1).run(Stop(iterations=60, enough_mm2=math.inf))
    assert all(best.poses)


def test_a_layout_in_rows_that_was_broken_off_is_gone_on_with():
    shapes = (Shape(box(0, 0, 80, 40)), Shape(box(0, 0, 50, 30)))
    problem = Problem((Container(box(0, 0, 401, 241)),), shapes, (Item(0), Item(1)) * 8)
    whole, broken = Search(problem, 1), Search(problem, 1)
    state = whole.aside.starts.next(whole.placer.order, whole.random, lambda: False)
    assert broken.aside.starts.next(broken.placer.order, broken.random, lambda: True) is None
    assert np.array_equal(broken.aside.starts.next(broken.placer.order, broken.random, lambda: False), state)


def test_items_that_may_not_lie_in_the_first_container_are_laid_in_the_next():
    containers = (Container(box(0, 0, 300, 300)), Container(box(0, 0, 300, 300)))
    problem = Problem(containers, (Shape(box(0, 0, 80, 40)),), (Item(0, containers=(1,)),) * 6)
    search = Search(problem, 1)
    state = search.aside.starts.next(np.array([0, 1]), search.random, lambda: False)
    assert (state[:, 0] == 1).all()
