import itertools

import numpy as np
from shapely.geometry import LineString

from nesting.laser.order import burning_order, travel_mm


def random_lines(count, seed):
    spots = np.random.default_rng(seed).uniform(0, 500, (count, 2))
    return [LineString([(x, y), (x + 5, y)]) for x, y in spots]


def test_every_line_is_burnt_once():
    lines = {"stitch": random_lines(50, 1), "outline": random_lines(7, 2)}
    order = burning_order(lines)
    assert sorted(order["stitch"]) == list(range(50)) and sorted(order["outline"]) == list(range(7))


def test_travel_is_at_least_a_quarter_less_than_file_order():
    for seed in range(5):
        lines = random_lines(80, seed)
        order = burning_order({"outline": lines})["outline"]
        assert travel_mm(lines, order) < 0.75 * travel_mm(lines, list(range(80)))


def test_a_line_of_spots_is_walked_from_end_to_end():
    lines = [LineString([(10 * k, 0), (10 * k, 1)]) for k in (3, 0, 4, 1, 2)]
    assert burning_order({"cutout": lines})["cutout"] == [1, 3, 4, 0, 2]


def test_two_opt_undoes_a_crossing():
    spots = [(0, 0), (1, 2.2), (2, 0), (-2.5, 0), (3, 1)]
    lines = [LineString([p, (p[0] + 0.001, p[1])]) for p in spots]
    order = burning_order({"cutout": lines})["cutout"]
    best = min(travel_mm(lines, list(p)) for p in itertools.permutations(range(5)))
    assert travel_mm(lines, order) < 1.1 * best
