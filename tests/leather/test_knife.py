import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.leather.knife import (
    bed_angle,
    cut_across,
    cut_along,
    cut_up,
    divide,
    divide_along,
    goes_across,
    needed,
    reach,
    ways,
)
from nesting.model import Cut, Hide

BED = 600, 400


def wavy(width, height, waves):
    angles = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    radii = 1 + 0.12 * np.sin(waves * angles)
    return Polygon(np.column_stack([width / 2 * radii * np.cos(angles), height / 2 * radii * np.sin(angles)]))


@settings(max_examples=12, deadline=None)
@given(st.floats(300, 1500), st.floats(300, 1200), st.integers(2, 7), st.floats(0, 180), st.floats(0.1, 0.9))
def test_what_a_knife_line_leaves_adds_up_to_the_piece(width, height, waves, towards, share):
    piece = wavy(width, height, waves).difference(Point(30, 20).buffer(25))
    low, high = reach(piece, towards)
    before, beyond = divide(piece, towards, low + share * (high - low))
    assert sum(bit.area for bit in (*before, *beyond)) == pytest.approx(piece.area, rel=1e-9)
    assert max(reach(bit, towards)[1] for bit in before) <= low + share * (high - low) + 1e-6
    assert min(reach(bit, towards)[0] for bit in beyond) >= low + share * (high - low) - 1e-6


@settings(max_examples=25, deadline=None)
@given(st.integers(2, 7), st.floats(0, 360), st.lists(st.floats(-150, 150), min_size=4, max_size=4))
def test_a_bent_line_parts_leather_whole_and_the_cut_gives_the_same_bits(waves, towards, heights):
    hide, turn = Hide("h", wavy(900, 700, waves)), math.radians(towards)
    along, across = np.array([math.cos(turn), math.sin(turn)]), np.array([-math.sin(turn), math.cos(turn)])
    points = [at * across + height * along for at, height in zip((-600, -150, 150, 600), heights)]
    line = LineString(points)
    before, beyond = divide_along(hide.outline, line, towards)
    assert sum(bit.area for bit in (*before, *beyond)) == pytest.approx(hide.outline.area, rel=1e-9)
    for bits, sign in ((before, 1), (beyond, -1)):
        for bit in bits:
            spot = bit.representative_point()
            away = line.intersection(LineString([np.array(spot.coords[0]) + far * along for far in (-2000.0, 2000.0)]))
            assert sign * ((np.array(away.coords[0]) - spot.coords[0]) @ along) > 0
    cut = cut_along("h", hide.outline, line)
    assert 2 <= len(cut.points) <= 4
    if goes_across(hide.outline, cut):
        made, bits = cut_up(hide, (cut,)), [*before, *beyond]
        assert sorted(bit.area for bit in made) == pytest.approx(sorted(bit.area for bit in bits), abs=0.05)


def test_a_bent_line_that_leather_lies_ahead_of_does_not_go_across():
    cup = box(0, 0, 300, 300).difference(box(100, 100, 200, 300))
    assert goes_across(cup, Cut("h", (0, 50), (300, 50), ((100, 80), (200, 20))))
    # it ends at the left arm, and goes on ahead into the right one
    assert not goes_across(cup, Cut("h", (0, 150), (100, 200), ((50, 190),)))


def test_a_line_across_two_legs_frees_an_end_of_each():
    trousers = box(0, 0, 1100, 300).union(box(0, 0, 390, 900)).union(box(710, 0, 1100, 900))
    before, beyond = divide(trousers, 90, 600)
    assert len(before) == 1 and sorted(bit.area for bit in beyond) == pytest.approx([390 * 300, 390 * 300])
    assert cut_across("h", trousers, 90, 600).start == pytest.approx((1100, 600))


def test_a_line_that_another_ends_on_is_needed():
    # an arm is cut off by a line that goes on through the other arm, down to the strip cut off before
    arms = Polygon([(0, 0), (320, 0), (320, 99), (40, 99), (40, 101), (320, 101), (320, 200), (0, 200)])
    hide = Hide("h", arms)
    cuts = (Cut("h", (0, 11), (320, 11)), Cut("h", (289, 200), (289, 11)))
    panel = box(289, 101, 320, 200)
    assert any(panel.equals(bit) for bit in cut_up(hide, cuts)) and needed(hide, cuts, [panel]) == cuts


def test_a_line_that_takes_only_a_thin_tip_off_a_panel_is_needed():
    hide = Hide("h", Polygon([(0, 0), (163.7, 0), (163.725, -86), (163.75, 0), (320, 0), (320, 80), (0, 80)]))
    panel, _ = divide(hide.outline, 90 + 180, 38)
    cuts = (cut_across("h", hide.outline, 90, -38),)
    assert needed(hide, cuts, panel) == cuts


def test_lines_made_one_after_another_give_back_the_pieces_whatever_lies_beyond_a_piece():
    hide = Hide("h", box(0, 0, 1000, 800))
    lower, upper = (bits[0] for bits in divide(hide.outline, 90, 390))
    cuts = (
        cut_across("h", hide.outline, 90, 390),
        cut_across("h", lower, 0, 600),
        cut_across("h", upper, 0, 300),
    )
    assert sorted(piece.area for piece in cut_up(hide, cuts)) == pytest.approx(
        sorted([600 * 390, 400 * 390, 300 * 410, 700 * 410])
    )


def test_a_line_that_only_frees_unused_leather_is_not_needed():
    hide = Hide("h", box(0, 0, 1000, 800))
    lower, upper = (bits[0] for bits in divide(hide.outline, 90, 390))
    cuts = (
        cut_across("h", hide.outline, 90, 390),
        cut_across("h", lower, 0, 600),
        cut_across("h", upper, 0, 300),
    )
    assert needed(hide, cuts, [box(0, 0, 600, 390)]) == cuts[:2]


def test_a_line_through_a_hole_goes_from_edge_to_edge():
    holed = box(0, 0, 1190, 390).difference(Point(595, 200).buffer(60))
    assert all(len(bits) == 1 and not bits[0].interiors for bits in divide(holed, 0, 595))
    cut = cut_across("h", holed, 0, 595)
    assert sorted([cut.start, cut.end]) == [pytest.approx((595, 0)), pytest.approx((595, 390))]


def test_the_ways_to_cut_a_hide_up_make_no_panel_bigger_than_the_bed():
    hide = Hide("h", wavy(1400, 1000, 5), backbone=((0, 0), (100, 87)))
    for way in ways(hide, BED):
        assert min(way.long_mm, way.wide_mm) <= 400 and max(way.long_mm, way.wide_mm) <= 600
    assert any(way.along_deg == pytest.approx(hide.backbone_deg) for way in ways(hide, BED))


def test_a_bed_that_leather_is_fed_through_asks_for_strips_only():
    hide = Hide("h", box(0, 0, 1400, 1000))
    assert all(way.long_mm >= 1000 or way.wide_mm >= 1000 for way in ways(hide, (math.inf, 400)))
    assert bed_angle(box(0, 0, 5000, 390), math.inf, 400) == 0 and bed_angle(box(0, 0, 390, 5000), math.inf, 400) == 90


@pytest.mark.parametrize(
    "shape, expected",
    [(box(0, 0, 600, 400), 0.0), (box(0, 0, 400, 600), 90.0), (affinity.rotate(box(0, 0, 600, 400), 30), -30.0)],
)
def test_the_bed_angle_turns_a_piece_onto_the_bed(shape, expected):
    angle = bed_angle(shape, *BED)
    assert angle == pytest.approx(expected, abs=1e-6)
    x0, y0, x1, y1 = affinity.rotate(shape, angle).bounds
    assert x1 - x0 <= 600 + 1e-6 and y1 - y0 <= 400 + 1e-6


def test_a_long_thin_piece_may_lie_from_corner_to_corner():
    angle = bed_angle(box(0, 0, 690, 20), *BED)
    assert 20 < abs(angle) < 40  # the bed's diagonal is 721 mm long and rises at 33.7 degrees


def test_a_piece_a_hair_too_long_does_not_fit():
    assert bed_angle(box(0, 0, 601, 399.9), *BED) is None
