import numpy as np
import pytest
from covers import BLUR, seen, traced
from shapely.geometry import Point, Polygon

from nesting.geometry import largest_polygon
from nesting.tracing.tips import sharpened


def spike(angle_deg):
    half = np.radians(angle_deg) / 2
    return Polygon(
        [
            (60, 100),
            (60, 250),
            (250, 250),
            (250, 100),
            (155 + 80 * np.tan(half), 100),
            (155, 20),
            (155 - 80 * np.tan(half), 100),
        ]
    )


@pytest.mark.parametrize("angle", [15, 25, 40])
def test_a_spike_gets_its_point_back(angle):
    cover = seen(spike(angle))
    before = traced(cover)
    after = sharpened(before, cover, BLUR)
    lost, left = before[:, 1].min() - 20, after[:, 1].min() - 20
    assert abs(left) < 4 and abs(left) < lost


def test_a_narrow_bay_gets_its_end_back():
    half = np.radians(20) / 2
    bay = Polygon([(155 - 80 * np.tan(half), 49), (155 + 80 * np.tan(half), 49), (155, 130)])
    shape = Polygon([(60, 50), (250, 50), (250, 250), (60, 250)]).difference(bay)
    cover = seen(shape)
    after = Polygon(sharpened(traced(cover), cover, BLUR))
    inside = [row for row in range(100, 140) if not after.contains(Point(155, row))]
    assert abs(max(inside) - 130) < 4


@pytest.mark.parametrize("angle, width", [(8, 4), (8, 2), (15, 4), (25, 6)])
@pytest.mark.parametrize("sign", [1, -1])
def test_a_wedge_that_ends_blunt_is_not_drawn_out_to_a_point(angle, width, sign):
    slope = np.tan(np.radians(angle) / 2)
    wedge = Polygon(
        [
            (155 - width / 2 - 80 * slope, 120),
            (155 + width / 2 + 80 * slope, 120),
            (155 + width / 2, 40),
            (155 - width / 2, 40),
        ]
    )
    frame = (
        Polygon([(60, 119), (250, 119), (250, 250), (60, 250)])
        if sign > 0
        else Polygon([(60, 20), (250, 20), (250, 119), (60, 119)])
    )
    shape = frame.union(wedge) if sign > 0 else frame.difference(wedge)
    cover = seen(shape)
    after = Polygon(sharpened(traced(cover), cover, BLUR))
    along = [row for row in np.arange(25, 110, 0.25) if after.contains(Point(155, row)) == (sign > 0)]
    assert abs(min(along) - 40) < 2.5


def test_a_rounded_end_is_hardly_drawn_out():
    shape = (
        Point(155, 60)
        .buffer(8)
        .union(Polygon([(147, 60), (163, 60), (163, 200), (147, 200)]))
        .union(Point(155, 230).buffer(60))
    )
    cover = seen(largest_polygon(shape))
    before = traced(cover)
    assert sharpened(before, cover, BLUR)[:, 1].min() > before[:, 1].min() - 3.5


def test_a_round_shape_is_left_alone():
    cover = seen(Point(150, 150).buffer(90))
    before = traced(cover)
    assert Polygon(sharpened(before, cover, BLUR)).symmetric_difference(Polygon(before)).area < 1
