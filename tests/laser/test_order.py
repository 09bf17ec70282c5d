import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from nesting.laser import tour as tour_module
from nesting.laser.order import STEPS, HeatSpread, burning_order, travel_mm
from nesting.model import OPERATIONS


def spots(count, seed):
    return np.random.default_rng(seed).uniform(0, 500, (count, 2))


def slits(count, seed):
    return [LineString([(x, y), (x + 5, y)]) for x, y in spots(count, seed)]


def discs(count, seed, radius=8.0):
    return [LineString(Point(spot).buffer(radius).exterior.coords) for spot in spots(count, seed)]


def ordered(lines, operation="cutout"):
    return [line for _, line in burning_order({operation: lines})[operation]]


def shortest(lines):
    """Least travel over every order and both ways along every open line, by trying them all."""
    ways = itertools.product(itertools.permutations(lines), itertools.product((False, True), repeat=len(lines)))
    return min(sum(travel_mm([line.reverse() if back else line for line, back in zip(*way)])) for way in ways)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 40), st.integers(0, 10), st.integers(0, 1000))
def test_every_line_is_burnt_once_and_whole(open_count, closed_count, seed):
    lines = slits(open_count, seed) + discs(closed_count, seed + 1)
    burnt = burning_order({"cutout": lines})["cutout"]
    assert sorted(index for index, _ in burnt) == list(range(len(lines)))
    for index, line in burnt:
        assert line.length == pytest.approx(lines[index].length) and line.is_closed == lines[index].is_closed
        assert set(line.coords) == set(lines[index].coords)


def test_operations_come_in_burning_order_whatever_is_given():
    burnt = burning_order({"outline": discs(3, 1), "engrave": slits(2, 2)})
    assert tuple(burnt) == STEPS == ("fill", *OPERATIONS) and [len(lines) for lines in burnt.values()] == [
        0,
        2,
        0,
        0,
        3,
    ]


def test_travel_is_far_less_than_in_file_order():
    # Measured over these ten random sets: 15.0 to 17.5 % of the travel in file order.
    for seed, make in itertools.product(range(5), (slits, discs)):
        lines = make(80, seed)
        assert sum(travel_mm(ordered(lines))) < 0.2 * sum(travel_mm(lines))


def test_travel_is_near_the_least_there_is():
    for seed in range(6):
        lines = slits(5, seed)
        assert sum(travel_mm(ordered(lines))) <= 1.15 * shortest(lines)


def test_two_opt_and_or_opt_mend_what_the_nearest_neighbour_leaves():
    lines = discs(150, 3, radius=1.0)
    tour = tour_module._Tour(lines, np.zeros(2))
    tour._nearest()
    greedy = sum(travel_mm([tour._burnt(k, place) for place, k in enumerate(tour.order)]))
    assert sum(travel_mm(ordered(lines))) < 0.95 * greedy


def test_slits_in_a_row_are_walked_from_end_to_end():
    lines = [LineString([(10 * k, 0), (10 * k, 1)]) for k in (3, 0, 4, 1, 2)]
    assert [index for index, _ in burning_order({"cutout": lines})["cutout"]] == [1, 3, 4, 0, 2]


def test_an_open_line_is_burnt_backwards_when_its_far_end_is_nearer():
    (line,) = ordered([LineString([(100, 0), (10, 0)])])
    assert line.coords[0] == (10, 0) and line.coords[-1] == (100, 0)


def test_or_opt_moves_a_line_that_two_opt_leaves_out_of_the_way():
    tour = tour_module._Tour([LineString([(x, 0), (x, 0.001)]) for x in (50, 10, 20, 90, 100)], np.zeros(2))
    tour._nearest()
    # As if the tour went 10, 20, 90, 50, 100: the line at 50 belongs between 20 and 90.
    for name in ("order", "come", "go"):
        setattr(tour, name, getattr(tour, name)[[0, 1, 3, 2, 4]])
    assert tour._or_opt()
    assert [round(float(x)) for x, _ in tour.come] == [10, 20, 50, 90, 100]


def test_a_closed_line_begins_near_the_head_but_away_from_its_corners_and_keeps_its_sense():
    ring = LineString(box(10, 10, 40, 40).exterior.coords)
    (line,) = ordered([ring])
    # 5 to 6 mm from the corner at (10, 10), along either side.
    assert sorted(line.coords[0]) == pytest.approx([10, 15.5], abs=0.6) and line.coords[0] == line.coords[-1]
    assert travel_mm([line]) == [pytest.approx(math.hypot(10, 15.5), abs=0.6)]
    assert Polygon(line).exterior.is_ccw == Polygon(ring).exterior.is_ccw


def test_what_lies_inside_burns_before_what_surrounds_it():
    # The big ring is nearest to the head, and the ring in its middle farthest from it.
    rings = [LineString(Point(50, 50).buffer(radius).exterior.coords) for radius in (49, 30, 10)]
    inner = LineString([(49, 50), (51, 50)])
    burnt = [index for index, _ in burning_order({"outline": [*rings, inner]})["outline"]]
    assert burnt == [3, 2, 1, 0]


@settings(max_examples=25, deadline=None)
@given(st.integers(2, 25), st.integers(0, 1000))
def test_inner_before_outer_holds_for_any_rings(count, seed):
    random = np.random.default_rng(seed)
    middles, radii = random.uniform(0, 60, (count, 2)), random.uniform(1, 40, count)
    rings = [LineString(Point(middle).buffer(radius).exterior.coords) for middle, radius in zip(middles, radii)]
    areas = [Polygon(line) for line in ordered(rings)]
    assert not any(areas[late].within(areas[early]) for early, late in itertools.combinations(range(count), 2))


def test_the_head_goes_on_from_where_the_operation_before_ended():
    squares = [LineString(box(x, 0, x + 9, 9).exterior.coords) for x in (0, 100)]
    lines = {"stitch": [LineString([(0, 0), (100, 0)])], "outline": squares}
    assert [index for index, _ in burning_order(lines)["outline"]] == [1, 0]


def test_travel_is_worked_by_hand():
    lines = [LineString([(3, 4), (10, 4)]), LineString([(10, 10), (0, 0)])]
    # 5 mm from the start to (3, 4), then 6 mm from (10, 4) to (10, 10).
    assert travel_mm(lines) == [5.0, 6.0] and travel_mm(lines, (3, 0)) == [4.0, 6.0] and travel_mm([]) == []


def test_the_same_lines_always_come_in_the_same_order():
    lines = discs(120, 9, radius=1.0)
    assert burning_order({"stitch": lines}) == burning_order({"stitch": lines})


def test_work_is_bounded_for_very_many_holes():
    lines = [LineString([(x, y), (x, y + 1)]) for x, y in spots(3000, 4)]
    tour = tour_module._Tour(lines, np.zeros(2))
    tour._nearest()
    tour.budget = 50_000
    tour._two_opt()
    tour._or_opt()
    assert -tour.limits.longest_turned <= tour.budget <= 0


def test_heat_is_spread_so_that_no_part_follows_its_neighbour():
    squares = [LineString(box(12 * k, 0, 12 * k + 9, 9).exterior.coords) for k in range(8)]
    near = {k: frozenset({k - 1, k, k + 1}) for k in range(8)}
    spread = HeatSpread({"outline": range(8)}, near)
    burnt = [index for index, _ in burning_order({"outline": squares}, spread=spread)["outline"]]
    assert sorted(burnt) == list(range(8))
    assert all(abs(a - b) > 1 for a, b in itertools.pairwise(burnt))
    # Without it they follow one another in a row.
    assert [index for index, _ in burning_order({"outline": squares})["outline"]] == list(range(8))


def test_heat_spread_still_burns_inner_before_outer():
    rings = [LineString(Point(50, 50).buffer(radius).exterior.coords) for radius in (49, 30, 10)]
    spread = HeatSpread({"outline": [0, 1, 2]}, {k: frozenset(range(3)) for k in range(3)})
    assert [index for index, _ in burning_order({"outline": rings}, spread=spread)["outline"]] == [2, 1, 0]
