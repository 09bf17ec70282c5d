import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.laser.panels import bed_angle, split
from nesting.model import Hide

BED = 600, 400


def wavy(width, height, waves):
    angles = np.linspace(0, 2 * math.pi, 90, endpoint=False)
    radii = 1 + 0.12 * np.sin(waves * angles)
    return Polygon(np.column_stack([width / 2 * radii * np.cos(angles), height / 2 * radii * np.sin(angles)]))


def panels_of(outline, edge_mm=3, **others):
    return [panel.polygon for panel in split(Hide("h", outline, **others), *BED, edge_mm)]


def cut_by_knife(pieces):
    """Whether straight lines, each right across the connected piece it cuts, make these pieces of their union."""
    if len(pieces) == 1:
        return True
    whole = shapely.union_all(pieces).buffer(1e-6)
    parts = shapely.get_parts(whole)
    if len(parts) > 1:
        groups = [[piece for piece in pieces if part.contains(piece.representative_point())] for part in parts]
        return all(map(cut_by_knife, groups))
    border = whole.exterior.buffer(1e-3)
    for piece in pieces:
        corners = np.asarray(piece.exterior.coords)
        for a, b in zip(corners, corners[1:]):
            if np.hypot(*(b - a)) < 1 or LineString([a, b]).intersection(border).length > 0.5:
                continue
            normal = np.array([a[1] - b[1], b[0] - a[0]]) / np.hypot(*(b - a))
            sides = [(np.asarray(other.exterior.coords) - a) @ normal for other in pieces]
            left = [p for p, side in zip(pieces, sides) if side.min() > -1e-5]
            right = [p for p, side in zip(pieces, sides) if side.max() < 1e-5]
            if left and right and len(left) + len(right) == len(pieces):
                return cut_by_knife(left) and cut_by_knife(right)
    return False


@settings(max_examples=12, deadline=None)
@given(st.floats(300, 1500), st.floats(300, 1200), st.integers(2, 7), st.floats(0, 180))
def test_panels_add_up_to_the_hide_and_fit_the_bed(width, height, waves, turn):
    outline = affinity.rotate(wavy(width, height, waves).difference(Point(30, 20).buffer(25)), turn)
    panels = split(Hide("h", outline), *BED, 3)
    assert shapely.union_all([p.polygon for p in panels]).symmetric_difference(outline).area < 1e-6
    assert sum(p.polygon.area for p in panels) == pytest.approx(outline.area, abs=1e-6)
    assert all(p.polygon.is_valid and bed_angle(p.polygon, *BED) is not None for p in panels)
    assert [p.id for p in panels] == [str(n) for n in range(1, len(panels) + 1)]


@settings(max_examples=8, deadline=None)
@given(st.floats(500, 1500), st.floats(500, 1200), st.integers(2, 7))
def test_a_knife_and_a_straightedge_can_make_the_panels(width, height, waves):
    assert cut_by_knife(panels_of(wavy(width, height, waves)))


def test_the_knife_check_knows_a_pinwheel_that_no_straight_cut_makes():
    pinwheel = [box(0, 0, 2, 1), box(2, 0, 3, 2), box(1, 2, 3, 3), box(0, 1, 1, 3), box(1, 1, 2, 2)]
    assert not cut_by_knife([affinity.scale(piece, 10, 10, origin=(0, 0)) for piece in pinwheel])


def test_a_hide_that_fits_turned_stays_whole():
    tilted = affinity.rotate(box(0, 0, 590, 390), 30)
    assert panels_of(tilted)[0].equals(tilted)


@pytest.mark.parametrize("turn", [0, 30, 77])
def test_two_beds_of_leather_side_by_side_are_two_panels_at_any_angle(turn):
    assert len(panels_of(affinity.rotate(box(0, 0, 1199, 399), turn))) == 2


def test_a_hide_of_exactly_two_beds_is_two_panels():
    assert len(panels_of(box(0, 0, 1200, 400))) == 2


def test_a_square_metre_takes_six_panels_of_a_600_by_400_bed():
    assert len(panels_of(box(0, 0, 1000, 1000))) == 6


def test_pieces_that_a_knife_line_frees_are_panels_of_their_own():
    # Two legs, each as wide as the bed is high, on a bridge: a line across the legs frees one end of each.
    trousers = box(0, 0, 1100, 300).union(box(0, 0, 390, 900)).union(box(710, 0, 1100, 900))
    panels = panels_of(trousers)
    assert all(panel.geom_type == "Polygon" and panel.is_valid for panel in panels)
    assert shapely.union_all(panels).symmetric_difference(trousers).area < 1e-6


def test_a_knife_line_may_run_along_an_edge_of_the_hide():
    # Half of 1000 mm is where the step is.
    stepped = box(0, 0, 500, 390).union(box(500, 0, 1000, 200))
    panels = panels_of(stepped)
    assert len(panels) == 2 and sum(panel.area for panel in panels) == pytest.approx(stepped.area)


def test_a_knife_line_through_a_hole_leaves_two_sound_panels():
    holed = box(0, 0, 1190, 390).difference(Point(595, 200).buffer(60))
    panels = panels_of(holed)
    assert len(panels) == 2 and all(panel.is_valid and not panel.interiors for panel in panels)


def test_slivers_do_not_count_when_the_way_of_cutting_is_chosen():
    # A spike of 4 mm width: with a 3 mm edge no part fits on it, so a cut that frees it costs no panel.
    spiked = box(0, 0, 600, 400).union(box(600, 200, 700, 204))
    panels = panels_of(spiked)
    assert len(panels) == 2 and sum(not panel.buffer(-3).is_empty for panel in panels) == 1


def test_the_same_hide_is_always_cut_the_same_way():
    assert panels_of(wavy(1400, 1000, 5)) == panels_of(wavy(1400, 1000, 5))


def test_the_backbone_is_one_of_the_directions_tried():
    # A hide with square ends across a backbone at 41 degrees, but whose smallest rectangle lies along another edge.
    shape = affinity.rotate(box(0, 0, 1195, 395), 41, origin=(0, 0))
    along = math.radians(41)
    assert len(panels_of(shape, backbone=((0, 0), (math.cos(along), math.sin(along))))) == 2


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
