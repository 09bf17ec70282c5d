import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from laser_samples import hide, placement
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.laser.corner import drawn_ends, in_corner

BAY = Polygon([(0, 0), (300, 60), (600, 0), (620, 300), (400, 410), (10, 380)])


@given(st.floats(0, 360), st.floats(-500, 500), st.floats(0, 360))
@settings(max_examples=40, deadline=None)
def test_a_hide_lies_in_the_corner_however_it_was_traced_and_its_parts_with_it(turn, move, angle):
    part = placement(x=250, y=200, angle=angle)
    leather = affinity.translate(affinity.rotate(BAY, turn, origin=(0, 0)), move, -move)
    centre = affinity.translate(affinity.rotate(Point(250, 200), turn, origin=(0, 0)), move, -move)
    moved = placement(x=centre.x, y=centre.y, angle=angle + turn)
    here, there = (
        in_corner(replace(hide(outline=outline), backbone=None), [[each]])
        for outline, each in ((BAY, part), (leather, moved))
    )
    # the longest straight side of this outline is its foot, over the bay: 600 mm
    assert there.touches[0] == pytest.approx(here.touches[0], abs=1e-6)
    assert there.held_mm == pytest.approx(600, abs=1e-6)
    assert there.outline.bounds[:2] == pytest.approx((0, 0), abs=1e-6)
    assert there.outline.symmetric_difference(here.outline).area < 1e-3
    assert there.parts[0].outline.symmetric_difference(here.parts[0].outline).area < 1e-3


@given(st.floats(0, 360), st.floats(3, 80), st.floats(3, 80))
@settings(max_examples=40, deadline=None)
def test_a_template_laid_by_its_points_covers_the_part_though_it_is_as_wide_as_long_or_round(angle, wide, high):
    outline = affinity.translate(affinity.scale(Point(0, 0).buffer(1), wide, high), 90, 90)
    copies = [placement(n, outline=outline, x=250 + n, y=200, angle=angle * n) for n in (1, 2)]
    for lying in in_corner(hide(outline=BAY), [copies]).parts:
        a, b = (np.array(end) for end in drawn_ends(copies[0]))
        to_a, to_b = np.array(lying.a), np.array(lying.b)
        turn = math.atan2(*(to_b - to_a)[::-1]) - math.atan2(*(b - a)[::-1])
        paper = affinity.rotate(affinity.translate(outline, *-a), turn, origin=(0, 0), use_radians=True)
        assert affinity.translate(paper, *to_a).hausdorff_distance(lying.outline) < 1e-4
        assert lying.outline.exterior.distance(Point(lying.a)) < 1e-6


def test_the_distance_of_the_points_from_the_edge_counts_holes_and_every_edge():
    leather = box(0, 0, 500, 300).difference(box(200, 120, 220, 180))
    part = placement(outline=box(0, 0, 100, 40), x=60, y=130)
    (lying,) = in_corner(hide(outline=leather), [[part]]).parts
    assert lying.a == pytest.approx((60, 150)) and lying.b == pytest.approx((160, 150))
    assert lying.edge_mm == pytest.approx((60, 40))


def test_the_short_batten_touches_the_leather_at_the_left():
    corner = in_corner(hide(outline=BAY), [])
    assert corner.side == pytest.approx((0, 0), abs=1e-9)
    assert LineString([(0, 0), (0, 500)]).distance(corner.outline) == pytest.approx(0, abs=1e-9)
    assert shapely.get_coordinates(corner.outline)[:, 0].min() == pytest.approx(0, abs=1e-9)
