import math
from dataclasses import replace

import pytest
from laser_samples import MACHINE, hide
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.errors import ModelError
from nesting.laser.registration import BY_HAND, align, knife_edges, lay, named_points

HIDE = hide(outline=Polygon([(0, 0), (700, 40), (760, 300), (690, 500), (30, 540), (-40, 300)]))
LEFT, RIGHT = (HIDE.outline.intersection(box(*corners)) for corners in ((-90, -90, 350, 600), (350, -90, 900, 600)))


def test_the_knife_edge_of_a_panel_is_what_its_hide_has_not():
    for panel in (LEFT, RIGHT):
        (edge,) = knife_edges(panel, HIDE)
        assert [round(x) for x, _ in edge.coords] == [350, 350]
        # The leather is on its left.
        middle, (x0, y0), (x1, y1) = panel.centroid, *edge.coords
        assert (x1 - x0) * (middle.y - y0) - (y1 - y0) * (middle.x - x0) > 0


def test_a_knife_edge_in_pieces_on_one_line_is_one_edge():
    ring = list(LEFT.exterior.coords)
    cut = next(k for k in range(len(ring) - 1) if ring[k][0] == ring[k + 1][0] == 350)
    ring.insert(cut + 1, (350, 250))
    (edge,) = knife_edges(Polygon(ring), HIDE)
    assert edge.length == pytest.approx(knife_edges(LEFT, HIDE)[0].length)


def test_the_longest_knife_edge_lies_against_the_preferred_stop():
    pose = lay(LEFT, HIDE, MACHINE)
    (edge,) = knife_edges(LEFT, HIDE)
    assert [y for _, y in pose.put(edge).coords] == pytest.approx([0, 0], abs=1e-9)
    x0, y0, x1, y1 = pose.put(LEFT).bounds
    assert (x0, y0) == pytest.approx((0, 0), abs=1e-6) and x1 <= 600 and y1 <= 400
    assert pose.how == "its knife-straight edge of 501 mm against the bottom stop"


@pytest.mark.parametrize("stop, axis, place", [("top right", 1, 500.0), ("bottom left", 1, 0.0)])
def test_other_corners_of_the_bed_may_hold_the_stops(stop, axis, place):
    machine = replace(MACHINE, bed_stop=stop, bed_height_mm=500)
    pose = lay(LEFT, HIDE, machine)
    (edge,) = knife_edges(LEFT, HIDE)
    assert [point[axis] for point in pose.put(edge).coords] == pytest.approx([place] * 2, abs=1e-6)
    bounds = pose.put(LEFT).bounds
    corner = (600, 500) if stop == "top right" else (0, 0)
    assert (bounds[2:] if stop == "top right" else bounds[:2]) == pytest.approx(corner, abs=1e-6)


def test_an_edge_too_long_for_the_first_stop_goes_against_the_second():
    machine = replace(MACHINE, bed_width_mm=450, bed_height_mm=600)
    pose = lay(LEFT, HIDE, machine)
    (edge,) = knife_edges(LEFT, HIDE)
    assert [x for x, _ in pose.put(edge).coords] == pytest.approx([0, 0], abs=1e-6) and "left stop" in pose.how


def test_a_whole_small_hide_goes_into_the_corner_and_is_laid_by_hand():
    small = hide(outline=affinity.translate(Point(0, 0).buffer(150), 900, -300))
    pose = lay(small.outline, small, MACHINE)
    assert pose.how == BY_HAND and pose.put(small.outline).bounds[:2] == pytest.approx((0, 0), abs=1e-6)


def test_a_panel_bigger_than_the_bed_has_no_pose():
    big = hide(outline=box(0, 0, 900, 450))
    assert lay(big.outline, big, MACHINE) is None


def test_a_panel_lies_in_the_usable_bed_only():
    machine = replace(MACHINE, bed_margin_mm=15, bed_height_mm=500)
    assert lay(LEFT, HIDE, machine).put(LEFT).bounds[:2] == pytest.approx((15, 15), abs=1e-6)
    assert lay(LEFT, HIDE, replace(machine, bed_margin_mm=60)) is None


def test_a_panel_fed_through_makes_the_bed_longer():
    pose = lay(HIDE.outline, HIDE, replace(MACHINE, bed_height_mm=600, feed_through="width"))
    assert pose.bed_mm == pytest.approx((800, 600)) and pose.put(HIDE.outline).bounds[0] == pytest.approx(0)


def test_a_frame_leaves_card_between_the_panel_and_the_stops():
    pose = lay(LEFT, HIDE, replace(MACHINE, bed_height_mm=500), border_mm=20)
    assert pose.put(LEFT).bounds[:2] == pytest.approx((20, 20), abs=1e-6)


def test_a_pose_leads_back_to_the_hide():
    pose = lay(LEFT, HIDE, MACHINE)
    assert pose.back(*pose.put(Point(12, 34)).coords[0]) == pytest.approx((12, 34))


def test_points_are_named_after_the_ends_of_knife_edges():
    points = named_points(LEFT, HIDE)
    assert list(points) == ["A", "B"] and {round(x) for x, _ in points.values()} == {350}
    whole = named_points(HIDE.outline, HIDE)
    assert math.dist(*whole.values()) == pytest.approx(math.dist((0, 0), (690, 500)))


def test_two_measured_points_turn_the_panel_to_where_it_lies():
    points = {"A": (350.0, 0.0), "B": (350.0, 400.0), "C": (0.0, 0.0)}
    # Turned a quarter clockwise and moved: (x, y) -> (y + 10, 370 - x).
    pose = align(points, {"A": (10.0, 20.0), "B": (410.0, 20.0)}, (600, 400))
    assert pose.put(Point(100, 50)).coords[0] == pytest.approx((60, 270))
    assert "+0.00%" in pose.how


def test_what_is_left_of_stretch_is_shared_evenly_and_told():
    pose = align({"A": (0, 0), "B": (400, 0)}, {"A": (10, 50), "B": (411, 50)}, (600, 400))
    assert pose.put(Point(0, 0)).coords[0] == pytest.approx((10.5, 50))
    assert pose.put(Point(400, 0)).coords[0] == pytest.approx((410.5, 50))
    assert "A to B measures 401.0 mm on the bed and 400.0 mm in the layout (+0.25%)" in pose.how


@pytest.mark.parametrize(
    "measured, words",
    [
        ({"A": (0, 0), "B": (403, 0)}, "each would miss by 1.5 mm"),
        ({"A": (0, 0), "Q": (400, 0)}, "this panel has A, B, C"),
        ({"A": (0, 0)}, "give two points"),
        ({"A": (0, 0), "C": (5, 0)}, "at least 20 mm apart"),
        ({"A": (7, 7), "B": (7, 7)}, "at least 20 mm apart"),
        ({"A": (0, 0), "B": (math.nan, 0)}, "give finite x and y"),
    ],
)
def test_points_that_cannot_be_are_refused(measured, words):
    with pytest.raises(ModelError, match=words):
        align({"A": (0, 0), "B": (400, 0), "C": (5, 0)}, measured, (600, 400))
