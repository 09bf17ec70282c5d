import math

import pytest
from laser_samples import LEAF, placement, rich_part
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon, box

from nesting.laser.kerf import burn_paths, moved


@settings(max_examples=40, deadline=None)
@given(st.floats(0.05, 1.0), st.floats(0, 360))
def test_the_outline_runs_half_a_kerf_outside_the_part(kerf, angle):
    part = placement(angle=angle)
    line = burn_paths(part, kerf).outline[0]
    gaps = [Point(xy).distance(part.outline) for xy in line.segmentize(1.0).coords]
    assert min(gaps) > kerf / 2 - 0.01 and max(gaps) < kerf / 2 + 0.01


def test_cutouts_and_round_stitch_holes_run_inside():
    part = rich_part()
    paths = burn_paths(part, 0.4)
    assert Polygon(paths.cutout[0]).area == pytest.approx(9.6 * 6.6, abs=0.01)
    assert Polygon(paths.stitch[0]).area == pytest.approx(math.pi * 0.8**2, rel=0.01)


def test_open_slits_and_engraving_stay_as_drawn():
    part = rich_part()
    paths = burn_paths(part, 0.4)
    assert paths.stitch[1].equals(part.stitch[1]) and paths.engrave == part.engrave


def test_a_hole_no_wider_than_the_kerf_becomes_a_listed_dot():
    tiny = LineString(Point(10, 10).buffer(0.08).exterior.coords)
    paths = burn_paths(placement(stitch=[tiny]), 0.2)
    assert paths.stitch[0].length < 0.1
    assert paths.stitch[0].centroid.distance(Point(30, 30)) < 0.05
    assert "stitch hole 1" in paths.warnings[0] and "dot" in paths.warnings[0]


def test_a_cutout_split_by_the_kerf_keeps_both_pieces_and_is_listed():
    waist = box(5, 5, 15, 15).union(box(15, 9.95, 25, 10.05)).union(box(25, 5, 29, 15))
    paths = burn_paths(placement(cutouts=[waist]), 0.3)
    assert len(paths.cutout) == 2 and "2 pieces" in paths.warnings[0]


def test_without_kerf_nothing_moves():
    assert moved(LEAF, 0)[0].equals(LEAF)
