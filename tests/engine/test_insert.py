import math
from itertools import product

import numpy as np
import pytest
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.engine import Area, Container, Insertion, Item, Obstacle, Pose, Problem, Shape, Solution, insert, overlaps

BED = box(0, 0, 300, 200)


def among(polygon, others=(), region=BED, angles=((0.0, 360.0),), obstacles=(), areas=()):
    """A problem whose item 0 is to be put among the others, which lie as they are drawn."""
    shapes = (Shape(polygon, tuple(areas), angles), *(Shape(other, angles=((0.0, 0.0),)) for other in others))
    problem = Problem((Container(region, tuple(obstacles)),), shapes, tuple(Item(n) for n in range(len(shapes))))
    return problem, Solution((None, *(Pose(0, 0.0, 0.0, 0.0) for _ in others)), (), 0.0)


def fits(problem, solution):
    pose = insert(problem, solution, 0)
    if pose is not None:
        assert overlaps(problem, Solution((pose, *solution.poses[1:]), (), 0.0)) == []
    return pose is not None


@pytest.mark.parametrize("turn", [0.0, 17.3, 61.0])
def test_a_part_goes_into_the_one_gap_it_fits_at_whatever_angle(turn):
    gap = affinity.rotate(box(90, 70, 210, 111), turn)
    block = BED.buffer(-0.5).difference(gap)
    left, right = (block.intersection(half) for half in (box(0, 0, 150, 200), box(150, 0, 300, 200)))
    others = [bit for half in (left, right) for bit in getattr(half, "geoms", [half])]
    assert fits(*among(box(0, 0, 119, 40), others))
    assert not fits(*among(box(0, 0, 121, 40), others)) and not fits(*among(box(0, 0, 119, 42), others))


def test_a_fixed_angle_is_kept():
    assert fits(*among(box(0, 0, 250, 30), angles=((0.0, 0.0),)))
    assert not fits(*among(box(0, 0, 250, 30), angles=((90.0, 90.0),)))


def test_a_part_keeps_clear_of_what_its_areas_avoid_only():
    flaw = Obstacle(box(0, 0, 300, 120), 3)
    tall = box(0, 0, 60, 150)
    avoids = [Area(tall, frozenset({3}))]
    assert fits(*among(tall, obstacles=[flaw])) and fits(*among(tall, obstacles=[flaw], areas=avoids))
    assert not fits(*among(tall, obstacles=[flaw], areas=avoids, angles=((0.0, 0.0),)))
    top = [Area(box(0, 90, 60, 150), frozenset({3})), Area(box(0, 0, 60, 90))]
    assert fits(*among(tall, obstacles=[flaw], areas=top, angles=((0.0, 0.0),)))


def test_parts_put_in_one_after_another_fill_a_grid():
    square = Shape(box(0, 0, 49.5, 49.5), angles=((0.0, 0.0), (90.0, 90.0)))
    problem = Problem((Container(BED),), (square,), tuple(Item(0) for _ in range(25)))
    insertion = Insertion(problem, Solution((None,) * 25, (), 0.0))
    placed = [insertion.insert(item) for item in range(25)]
    assert sum(pose is not None for pose in placed) == 24
    assert overlaps(problem, Solution(tuple(placed), (), 0.0)) == []
    insertion.remove(3)
    assert insertion.insert(24) is not None


def test_a_group_stays_on_its_site():
    regions = (Container(box(0, 0, 100, 100), site="a"), Container(box(0, 0, 100, 100), site="b"))
    items = (Item(0, group="pair"), Item(0, group="pair"), Item(0))
    problem = Problem(regions, (Shape(box(0, 0, 90, 90)),), items)
    insertion = Insertion(problem, Solution((None,) * 3, (), 0.0))
    assert insertion.insert(0).container == 0 and insertion.insert(1) is None and insertion.insert(2).container == 1


def test_the_same_question_has_the_same_answer():
    others = [Point(x, y).buffer(14) for x, y in product(range(20, 300, 40), range(20, 200, 40))]
    problem, solution = among(Polygon([(0, 0), (30, 0), (0, 30)]), others[::2])
    first, second = (insert(problem, solution, 0) for _ in range(2))
    assert first is not None and first == second and math.isfinite(first.x)
    assert np.isfinite([first.y, first.angle_deg]).all()


def test_an_item_taken_back_leaves_all_as_it_was_before_it():
    square = Shape(box(0, 0, 99.5, 99.5), angles=((0.0, 0.0),))
    long = Shape(box(0, 0, 299.0, 99.5), angles=((0.0, 0.0),))
    problem = Problem((Container(BED),), (square, long), (Item(0), Item(1), Item(1), Item(1)))
    insertion = Insertion(problem, Solution((None,) * 4, (), 0.0))
    assert insertion.insert(1) is not None
    fresh = Insertion(problem, Solution(tuple(insertion.poses), (), 0.0))
    # with the square in there is no room for another long one, without it there is
    assert insertion.insert(0) is not None and insertion.insert(2) is None
    insertion.take_back(0)
    assert insertion.poses == fresh.poses and insertion.insert(2) == fresh.insert(2) is not None
    # of any but the last nothing is remembered
    insertion.take_back(1)
    assert insertion.poses[1] is None and insertion.insert(3) is not None
