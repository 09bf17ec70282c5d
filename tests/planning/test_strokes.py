import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.leather.knife import straight_line
from nesting.planning.limits import PlanLimits
from nesting.planning.strokes import strokes

LEATHER = box(0, 0, 600, 900)


def below(line, towards_deg):
    """Area between a line and the origin's level, where both lie over the leather."""
    turned = affinity.rotate(line, 90 - towards_deg, origin=(0, 0))
    floor = Polygon([*turned.coords, (turned.coords[-1][0], -5000), (turned.coords[0][0], -5000)])
    return floor.buffer(0).area


@st.composite
def some_parts(draw):
    count = draw(st.integers(1, 8))
    spots = draw(st.lists(st.tuples(st.floats(60, 540), st.floats(60, 400)), min_size=count, max_size=count))
    sizes = draw(st.lists(st.floats(5, 60), min_size=count, max_size=count))
    return [
        Point(spot).buffer(size) if size > 30 else box(*spot, spot[0] + size, spot[1] + 2 * size)
        for spot, size in zip(spots, sizes)
    ]


@settings(max_examples=40, deadline=None)
@given(some_parts(), st.floats(0, 360), st.floats(0, 4))
def test_strokes_keep_clear_of_the_parts_and_leave_less_before_them_than_a_straight_line(parts, towards, clear):
    def turned(shape):
        return affinity.rotate(shape, towards - 90, origin=(0, 0))

    top = max(part.bounds[3] for part in parts) + clear + 0.001
    straight = straight_line(turned(LEATHER), towards, top)
    line = strokes(straight, [turned(part) for part in parts], towards, clear, 0.0, 3)
    if line is None:
        return
    assert 3 <= len(line.coords) <= 4
    assert min(line.distance(turned(part)) for part in parts) >= clear
    limits = PlanLimits()
    won = below(straight, towards) - below(line, towards)
    assert won >= (len(line.coords) - 2) * limits.stroke_gain_mm2 - 1.0
    heights = np.array(line.coords) @ [math.cos(math.radians(towards)), math.sin(math.radians(towards))]
    assert heights.max() <= top + 1e-6 and heights.min() >= top - limits.stroke_depth_mm - 1e-6


def test_a_step_is_followed():
    parts, straight = [box(0, 0, 300, 400), box(300, 0, 600, 330)], straight_line(LEATHER, 90, 401.5)
    line = strokes(straight, parts, 90, 1.5, 0.0, 3)
    # a line of three strokes could win 300 mm by 70 mm, less what its slope takes
    assert line is not None and 70 * 300 * 0.8 < below(straight, 90) - below(line, 90) <= 70 * 301


def test_it_lies_no_farther_back_than_it_may():
    parts, straight = [box(0, 0, 300, 400), box(300, 0, 600, 330)], straight_line(LEATHER, 90, 401.5)
    line = strokes(straight, parts, 90, 1.5, 380.0, 3)
    assert line is not None and min(y for _, y in line.coords) == pytest.approx(380.0)
    assert strokes(straight, parts, 90, 1.5, 400.5, 3) is None


def test_a_straight_front_has_a_straight_line():
    assert strokes(straight_line(LEATHER, 90, 401.5), [box(0, 0, 600, 400)], 90, 1.5, 0.0, 3) is None


def test_strokes_are_as_good_as_the_best_of_many_tried_at_random():
    rng = np.random.default_rng(5)
    parts = [Point(*rng.uniform((40, 150), (560, 350))).buffer(35) for _ in range(9)]
    top = max(part.bounds[3] for part in parts) + 2.0
    straight = straight_line(LEATHER, 90, top)
    line = strokes(straight, parts, 90, 1.5, 0.0, 3)
    assert line is not None
    best, grown = below(straight, 90), [part.buffer(1.5) for part in parts]
    for _ in range(4000):
        across = np.sort(rng.uniform(0, 600, 2))[::-1]
        points = [
            (601.0, rng.uniform(top - 120, top)),
            *zip(across, rng.uniform(top - 120, top, 2)),
            (-1.0, rng.uniform(top - 120, top)),
        ]
        tried = LineString(points)
        if below(tried, 90) < best and not any(tried.intersects(part) for part in grown):
            under = Polygon([*points, (-1, -100), (601, -100)])
            if all(under.contains(part) for part in parts):
                best = below(tried, 90)
    assert below(line, 90) <= best + 1.0
