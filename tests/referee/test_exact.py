"""The referee's exact predicates against GEOS by way of shapely (the reference), and against plain fractions."""

import math
from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from layouts import layout, put
from shapely.geometry import MultiPolygon, Polygon, box

from nesting.errors import ModelError
from nesting.geometry import place
from nesting.referee.exact import PER_MM, apart, closer, leaves, on_grid, overlap
from nesting.referee.rules import check

SLACK = 10


def scaled(shape, steps=1):
    """A shape drawn in steps of the grid, in mm."""
    return shapely.transform(shape, lambda points: points * steps / PER_MM)


def stars(rng, count, reach):
    """Simple polygons, some convex and some not, with corners on a coarse grid so that many touch."""
    found = []
    while len(found) < count:
        turns = np.sort(rng.uniform(0, 2 * math.pi, rng.integers(3, 9)))
        radii = rng.uniform(0.2, 1.0, len(turns)) * reach
        corners = np.rint(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]) + rng.integers(-reach, reach))
        one = Polygon(corners)
        if one.is_valid and one.area > 0:
            found.append(one)
    return np.array(found, object)


def true_square(one, other):
    """The squared distance of two polygons whose corners are whole numbers, as a fraction."""

    def off(point, start, end):
        way = [b - a for a, b in zip(start, end)]
        share = Fraction(sum((p - a) * w for p, a, w in zip(point, start, way)), sum(w * w for w in way))
        share = min(max(share, Fraction(0)), Fraction(1))
        return sum((p - a - share * w) ** 2 for p, a, w in zip(point, start, way))

    def turn(a, b, c):
        cross = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        return (cross > 0) - (cross < 0)

    def holds(ring, point):
        odd = False
        for a, b in pairwise(ring):
            if (a[1] > point[1]) != (b[1] > point[1]):
                odd ^= a[0] + Fraction((point[1] - a[1]) * (b[0] - a[0]), b[1] - a[1]) > point[0]
        return odd

    rings = [shapely.remove_repeated_points(shape).exterior.coords for shape in (one, other)]
    rings = [[(int(x), int(y)) for x, y in ring] for ring in rings]
    best = None
    for (a, b), (c, d) in product(pairwise(rings[0]), pairwise(rings[1])):
        if turn(a, b, c) * turn(a, b, d) < 0 and turn(c, d, a) * turn(c, d, b) < 0:
            return Fraction(0)
        least = min(off(c, a, b), off(d, a, b), off(a, c, d), off(b, c, d))
        best = least if best is None else min(best, least)
    if holds(rings[0], rings[1][0]) or holds(rings[1], rings[0][0]):
        return Fraction(0)
    return best


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from([8, 40, 1000, 2_000_000]))
def test_ten_thousand_random_pairs_are_judged_as_geos_does_save_for_exact_ties_and_its_rounding(seed, reach):
    """20 times 500 pairs. GEOS 3.11 and later by way of shapely is the reference; where it differs, fractions decide,
    and its own distance has to lie within its rounding of the bound."""
    rng = np.random.default_rng(seed)
    first, second = stars(rng, 500, reach), stars(rng, 500, reach)
    distances = shapely.distance(first, second)
    # bounds that are often met exactly
    bounds = np.maximum(np.rint(distances + rng.integers(-1, 2, 500)), 1).astype(int)
    geos = shapely.distance(first, second) < bounds
    why = Counter()
    for n, (one, other) in enumerate(zip(first, second)):
        ours = not apart(on_grid(scaled(one)), on_grid(scaled(other)), int(bounds[n]))
        if ours != geos[n]:
            true = true_square(one, other)
            assert ours == (true < int(bounds[n]) ** 2)
            assert abs(distances[n] - bounds[n]) <= 4e-16 * (bounds[n] + reach * 3)
            why["a tie" if true == int(bounds[n]) ** 2 else "nearer to the bound than a float can tell"] += 1
    assert sum(why.values()) <= 25, why


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from([4, 9, 30]))
def test_ties_on_a_coarse_grid_are_decided_as_fractions_say(seed, reach):
    rng = np.random.default_rng(seed)
    one, other = stars(rng, 2, reach)
    true = true_square(one, other)
    bound = max(1, math.isqrt(math.floor(true)))
    shapes = on_grid(scaled(one)), on_grid(scaled(other))
    for tried in (bound, bound + 1, 1):
        assert apart(*shapes, tried) == (true >= tried**2)


def beyond(line, strip):
    """What of a line is off a strip; GEOS gives up on some unless it rounds to a grid."""
    try:
        return line.difference(strip)
    except shapely.errors.GEOSException:
        return line.difference(strip, grid_size=1e-6)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 2**32), st.floats(0, 360), st.sampled_from([300, 3000, 100_000]))
def test_overlaps_are_those_of_geos_that_reach_deeper_than_the_slack(seed, angle, reach):
    """GEOS by way of shapely: the stretches of each edge inside the other area and off a strip around its edge, the
    strip a little narrower than the slack, and a little wider than it is along the axes at a slant."""
    rng = np.random.default_rng(seed)
    one, other = (shapely.set_precision(place(star, 0, 0, angle), 1.0) for star in stars(rng, 2, reach))
    assume(isinstance(one, Polygon) and isinstance(other, Polygon) and one.area and other.area)
    shapes = [on_grid(scaled(star)) for star in (one, other)]
    found = overlap(*shapes, SLACK)
    assert found == overlap(*shapes[::-1], SLACK)
    less, more = (
        max(
            beyond(mine.boundary.intersection(its), its.boundary.buffer(wide)).length
            for mine, its in ((one, other), (other, one))
        )
        for wide in (0.95 * SLACK, 1.45 * SLACK)
    )
    if more > 1:
        assert found
    if less == 0 and (common := one.intersection(other)).area < 0.5 * min(one.area, other.area):
        assert not found, common.area


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from([300, 3000, 100_000]))
def test_what_leaves_an_area_is_what_geos_finds_beyond_the_slack(seed, reach):
    rng = np.random.default_rng(seed)
    shape, area = stars(rng, 2, reach)
    area = area.union(shape) if rng.random() < 0.5 else area
    assume(isinstance(area, Polygon))
    area = shapely.set_precision(area, 1.0)
    assume(isinstance(area, Polygon) and area.is_valid)
    beyond = shape.difference(area)
    found = leaves(on_grid(scaled(shape)), on_grid(scaled(area)), SLACK)
    if beyond.area and not beyond.buffer(-1.5 * SLACK).is_empty:
        assert found
    if area.buffer(0.9 * SLACK).covers(shape) and not beyond.area:
        assert not found


HOLED = box(0, 0, 100, 100).difference(box(40, 40, 60, 60))


@pytest.mark.parametrize(
    "one, other, expected",
    [
        (box(0, 0, 10, 10), box(0, 0, 10, 10), True),
        (box(0, 0, 10, 10), box(2, 2, 4, 4), True),
        (box(0, 0, 10, 10), box(10, 0, 20, 10), False),
        (box(0, 0, 10, 10), box(9.999, 0, 20, 10), False),
        (box(0, 0, 10, 10), box(9.9989, 0, 20, 10), True),
        (box(0, 0, 10, 10), box(10, 10, 20, 20), False),
        (box(0, 4, 10, 6), box(4, 0, 6, 10), True),
        (HOLED, box(40, 40, 60, 60), False),
        (HOLED, box(42, 42, 58, 58), False),
        (HOLED, box(39.998, 40, 60, 60), True),
        (MultiPolygon([box(0, 0, 1, 1), box(5, 0, 6, 1)]), box(4, 0, 5, 1), False),
        (MultiPolygon([box(0, 0, 1, 1), box(5, 0, 6, 1)]), box(5.5, 0.2, 5.6, 0.4), True),
        # a spike of a micrometre that goes 9 mm deep
        (box(0, 0, 10, 10), Polygon([(10, 0), (1, 5), (10, 0.001)]), True),
    ],
)
def test_the_least_overlaps_count_and_touches_do_not(one, other, expected):
    assert overlap(on_grid(one), on_grid(other), SLACK) is expected
    assert overlap(on_grid(other), on_grid(one), SLACK) is expected


@pytest.mark.parametrize(
    "shape, area, expected",
    [
        (box(0, 0, 10, 10), box(0, 0, 10, 10), False),
        (box(0, 0, 10, 10), box(0.001, 0, 10, 10), False),
        (box(0, 0, 10, 10), box(0.0011, 0, 10, 10), True),
        (box(40, 40, 60, 60), HOLED, True),
        (box(45, 45, 55, 55), HOLED, True),
        (box(30, 30, 70, 70), HOLED, True),
        (box(200, 200, 210, 210), HOLED, True),
        (box(0, 0, 30, 100), HOLED, False),
    ],
)
def test_the_least_reach_beyond_an_area_counts(shape, area, expected):
    assert leaves(on_grid(shape), on_grid(area), SLACK) is expected


def test_a_slit_of_a_hide_cannot_be_lain_across():
    slit = box(0, 0, 100, 100).difference(box(50, 20, 50.0021, 100))
    assert leaves(on_grid(box(10, 10, 90, 90)), on_grid(slit), SLACK)


def test_a_distance_of_just_the_bound_holds_and_one_step_less_does_not():
    # 3, 4, 5: the corner of one square is 5 steps from that of the other
    one, other = scaled(box(0, 0, 7, 7)), scaled(box(10, 11, 20, 20))
    assert apart(on_grid(one), on_grid(other), 5)
    assert not apart(on_grid(one), on_grid(other), 6)
    assert not closer(on_grid(one), on_grid(scaled(box(1, 1, 2, 2))), 1)
    assert not apart(on_grid(one), on_grid(scaled(box(1, 1, 2, 2))), 1)


def test_a_difference_that_floating_point_cannot_see_is_decided():
    # The height of c over ab is 2e8 / sqrt(1 + 4e16), just under 1 step.
    long = Polygon([(0, 0), (200_000_000, 1), (200_000_000, -5)])
    near = Polygon([(100_000_000, 2), (100_000_001, 9), (100_000_000, 9)])
    far = Polygon([(100_000_000, 2), (100_000_001, 9), (100_000_000, 9)])
    assert true_square(long, near) > 1
    assert apart(on_grid(scaled(long)), on_grid(scaled(far)), 1)
    assert true_square(long, near) < 4
    assert not apart(on_grid(scaled(long)), on_grid(scaled(near)), 2)


def test_shapes_beyond_every_bench_are_refused_in_words():
    with pytest.raises(ModelError, match="40 m"):
        on_grid(box(0, 0, 50_000, 1))


def test_outlines_of_twenty_thousand_corners_side_by_side_are_judged_in_half_a_second():
    import time

    turns = np.linspace(0, 2 * math.pi, 20_000, endpoint=False)
    radii = 80 + 2 * np.sin(300 * turns)
    one = Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]))
    other = place(one, 165, 0, 3)
    began = time.process_time()
    shapes = on_grid(one), on_grid(other)
    assert apart(*shapes, 5_000) == (one.distance(other) >= 0.5)
    assert not overlap(*shapes, SLACK)
    assert not leaves(shapes[0], on_grid(box(-90, -90, 90, 90)), SLACK)
    assert time.process_time() - began < 0.5


@settings(max_examples=40, deadline=None)
@given(st.floats(-0.00105, -0.00095), st.floats(0, 360), st.floats(-20, 20))
def test_a_layout_in_memory_and_its_file_are_judged_alike(short, angle, slide):
    rounded = lambda shape: shapely.transform(shape, lambda points: np.round(points, 4))  # noqa: E731
    pair = [
        put(
            outline=place(box(x, y, x + 50, y + 50), 250, 150, angle), x=250, y=150, angle=angle, piece=piece, part=name
        )
        for piece, (name, x, y) in enumerate([("one", -51.2, 0), ("other", short, slide)], 1)
    ]
    filed = [replace(placement, outline=rounded(placement.outline)) for placement in pair]
    one, two = ({(found.rule, found.what) for found in check(layout(*parts))} for parts in (pair, filed))
    assert one == two


def test_edges_know_nothing_of_empty_areas():
    empty, square = on_grid(Polygon()), on_grid(box(0, 0, 1, 1))
    assert apart(empty, square, 5) and not overlap(empty, square, SLACK) and not leaves(empty, square, SLACK)
    assert len(empty.middles) == 0 and len(square.middles) == 1
