import math

import numpy as np
import pytest
import shapely
from burnt_files import burnt
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from laser_samples import placement, rich_part
from shapely.geometry import LineString, MultiLineString, Point, Polygon, box

from nesting.laser.limits import LaserLimits


@st.composite
def stars(draw):
    """Outlines with bays and spikes about the origin."""
    count = draw(st.integers(5, 14))
    radii = draw(st.lists(st.floats(8, 40), min_size=count, max_size=count))
    turns = np.linspace(0, 2 * math.pi, count, endpoint=False) + draw(st.floats(0, 6))
    star = Polygon(np.column_stack([radii * np.cos(turns), radii * np.sin(turns)]))
    assume(star.is_valid and star.area > 50)
    return star


def drawn(outline=None, **others):
    """A part at the origin, as drawn."""
    return placement(outline=outline or box(-100, -100, 100, 100), x=0, y=0, **others)


def rings(lines):
    return [line for line in lines if line.is_closed]


def along(lines, step=0.5):
    """Points every so many mm on lines."""
    return shapely.points(shapely.get_coordinates(MultiLineString(lines).segmentize(step)))


@settings(max_examples=60, deadline=None)
@given(stars(), st.floats(0.05, 1.0), st.booleans())
def test_the_outline_is_burnt_half_a_kerf_outside_the_part_everywhere(star, kerf, clockwise):
    part = drawn(star if clockwise else star.reverse())
    lines = rings(burnt(part, kerf).outline)
    gaps = shapely.distance(star, along(lines))
    assert np.abs(gaps - kerf / 2).max() < 0.01
    # The beam, as wide as the kerf, does not bite into the finished part.
    assert MultiLineString(lines).buffer(kerf / 2 - 0.01).intersection(star).area == 0


@settings(max_examples=60, deadline=None)
@given(stars(), st.floats(0.05, 1.0))
def test_a_cutout_is_burnt_half_a_kerf_inside_its_edge_everywhere(star, kerf):
    lines = rings(burnt(drawn(cutouts=[star]), kerf).cutout)
    assert lines
    points = along(lines)
    assert (
        np.abs(shapely.distance(star.exterior, points) - kerf / 2).max() < 0.01 and shapely.covers(star, points).all()
    )


@settings(max_examples=40, deadline=None)
@given(st.floats(0.5, 3), st.floats(0.05, 0.4), st.floats(0, 360))
def test_a_round_hole_comes_out_at_its_drawn_diameter(radius, kerf, angle):
    hole = LineString(Point(5, 5).buffer(radius, quad_segs=32).exterior.coords)
    line = burnt(drawn(stitch=[hole], angle=angle), kerf).stitch[0]
    middle = Polygon(line).centroid
    assert np.abs(shapely.distance(middle, along([line])) - (radius - kerf / 2)).max() < 0.01


def test_cutouts_and_round_stitch_holes_are_smaller_by_the_kerf():
    paths = burnt(rich_part(), 0.4)
    assert Polygon(paths.cutout[0]).area == pytest.approx(9.6 * 6.6, abs=0.001)
    assert Polygon(paths.stitch[0]).area == pytest.approx(math.pi * 0.8**2, rel=0.002)
    assert paths.warnings == ()


def test_open_slits_and_engraving_stay_as_drawn():
    part = rich_part()
    paths = burnt(part, 0.4)
    assert paths.stitch[1].equals(part.stitch[1]) and paths.engrave == list(part.engrave)


def test_closed_engraving_stays_as_drawn():
    ring = LineString([(0, 0), (5, 0), (5, 5), (0, 0)])
    assert burnt(drawn(engrave=[ring]), 0.4).engrave[0].equals_exact(ring, 1e-9)


def test_without_kerf_every_line_is_the_drawn_one():
    part = rich_part()
    paths = burnt(part, 0.0)
    assert paths.outline[0].equals(part.outline.exterior) and paths.cutout[0].equals(part.cutouts[0].exterior)
    assert paths.stitch[0].equals(part.stitch[0]) and paths.warnings == ()


@pytest.mark.parametrize("kerf", [-0.1, math.nan, math.inf])
def test_a_kerf_that_cannot_be_is_refused(kerf):
    with pytest.raises(ValueError, match="kerf"):
        burnt(rich_part(), kerf)


@pytest.mark.parametrize("radius", [0.08, 1e-4, 1e-7])
def test_a_hole_no_wider_than_the_kerf_becomes_a_listed_dot(radius):
    tiny = LineString(Point(10, 10).buffer(radius).exterior.coords)
    paths = burnt(placement(stitch=[tiny], x=20, y=20), 0.2)
    assert paths.stitch[0].length == pytest.approx(LaserLimits().dot_mm)
    assert paths.stitch[0].centroid.distance(Point(30, 30)) < 1e-6
    assert paths.warnings == ("A-1 body: stitch hole 1: no wider than the kerf of 0.2 mm: burnt as a dot",)


def test_many_holes_with_one_fault_are_one_warning():
    tiny = [LineString(Point(10 * n, 10).buffer(0.05 if n != 3 else 1.0).exterior.coords) for n in range(6)]
    (warning,) = burnt(drawn(stitch=tiny), 0.2).warnings
    assert "stitch hole 1 to 3, 5 to 6:" in warning


def test_a_cutout_that_the_kerf_splits_keeps_both_pieces_and_is_listed():
    # A neck 0.2 mm long: both squares stay, and between them nothing worth a line of its own is lost.
    waist = box(5, 5, 15, 15).union(box(15, 9.9, 15.2, 10.1)).union(box(15.2, 5, 20, 15))
    paths = burnt(drawn(cutouts=[waist]), 0.3)
    assert sorted(Polygon(line).area for line in paths.cutout) == pytest.approx([4.5 * 9.7, 9.7 * 9.7], abs=0.05)
    assert len(paths.warnings) == 1 and "cutout 1" in paths.warnings[0] and "kept as 2 pieces" in paths.warnings[0]


def test_a_long_neck_too_narrow_for_the_beam_is_burnt_along_its_middle():
    waist = box(5, 5, 15, 15).union(box(15, 9.95, 25, 10.05)).union(box(25, 5, 29, 15))
    paths = burnt(drawn(cutouts=[waist]), 0.3)
    assert len(rings(paths.cutout)) == 2
    (neck,) = [line for line in paths.cutout if not line.is_closed]
    assert neck.length == pytest.approx(10, abs=0.1) and neck.distance(Point(20, 10)) < 0.01
    assert any("2 pieces" in text for text in paths.warnings) and any("middle" in text for text in paths.warnings)
    # Every bit of the drawn cutout is burnt out or loose.
    gone = (
        MultiLineString(paths.cutout).buffer(0.15).union(shapely.union_all([Polygon(r) for r in rings(paths.cutout)]))
    )
    assert waist.difference(gone).area < 0.05 and gone.geom_type == "Polygon"


@pytest.mark.parametrize("angle", [0, 33, 90])
def test_a_straight_slot_narrower_than_the_kerf_is_one_line_along_its_middle(angle):
    paths = burnt(drawn(cutouts=[box(-10, -0.05, 10, 0.05)], angle=angle), 0.2)
    (line,) = paths.cutout
    turn = math.radians(angle)
    ends = sorted(line.coords[0:1] + line.coords[-1:])
    expected = sorted([(-9.9 * math.cos(turn), -9.9 * math.sin(turn)), (9.9 * math.cos(turn), 9.9 * math.sin(turn))])
    assert np.abs(np.array(ends) - expected).max() < 0.05
    assert "cutout 1: narrower than the kerf of 0.2 mm: burnt as one line" in paths.warnings[0]


def test_a_bent_slot_narrower_than_the_kerf_is_followed_round_its_bend():
    arc = LineString([(20 * math.cos(t), 20 * math.sin(t)) for t in np.linspace(0, 2, 60)])
    (line,) = burnt(drawn(cutouts=[arc.buffer(0.06)]), 0.2).cutout
    assert line.hausdorff_distance(arc) < 0.2
    assert max(line.distance(Point(xy)) for xy in arc.coords[5:-5]) < 0.03


def test_the_narrow_tail_of_a_keyhole_is_not_dropped():
    keyhole = Point(0, 0).buffer(5).union(box(0, -0.05, 20, 0.05))
    paths = burnt(drawn(cutouts=[keyhole]), 0.2)
    (tail,) = [line for line in paths.cutout if not line.is_closed]
    assert tail.length == pytest.approx(15 - 0.1, abs=0.05) and len(rings(paths.cutout)) == 1
    assert "cutout 1" in paths.warnings[0] and "middle" in paths.warnings[0]


def test_a_branched_slot_narrower_than_the_kerf_is_burnt_along_its_edge():
    cross = box(-10, -0.05, 10, 0.05).union(box(-0.05, -10, 0.05, 10))
    paths = burnt(drawn(cutouts=[cross]), 0.2)
    assert paths.cutout[0].equals(cross.exterior) and "branched" in paths.warnings[0]


@st.composite
def slotted(draw):
    """Holes made of bars and discs, many of them narrower than the beam."""
    shapes = []
    for _ in range(draw(st.integers(1, 4))):
        long, wide = draw(st.floats(0.1, 15)), draw(st.floats(0.01, 0.6))
        bar = shapely.affinity.rotate(box(-long, -wide, long, wide), draw(st.floats(0, 180)))
        disc = Point(draw(st.floats(-8, 8)), 0).buffer(draw(st.floats(0.05, 4)))
        shapes.append(draw(st.sampled_from([bar, bar, disc])))
    return max(shapely.get_parts(shapely.union_all(shapes)), key=lambda shape: shape.area)


@settings(max_examples=60, deadline=None)
@given(slotted(), st.sampled_from([0.1, 0.3, 0.8]))
def test_no_stretch_of_a_hole_is_lost_and_what_is_cut_wider_is_listed(hole, kerf):
    paths = burnt(drawn(cutouts=[hole]), kerf)
    beam = MultiLineString(paths.cutout).buffer(kerf / 2)
    loose = shapely.union_all([beam, *(Polygon(line).buffer(0) for line in rings(paths.cutout))])
    corners = shapely.points(shapely.get_coordinates(hole))
    assert shapely.distance(loose, corners).max() <= 2.2 * kerf
    too_much = beam.difference(hole.buffer(0.01))
    assert too_much.is_empty or paths.warnings


def test_a_slot_of_the_outline_narrower_than_the_kerf_is_not_merged_silently():
    slotted = Polygon(box(0, 0, 40, 20).difference(box(20, 8, 20.1, 21)).exterior)
    paths = burnt(drawn(slotted), 0.2)
    slot, edge = sorted(paths.outline, key=lambda line: line.length)
    assert slot.length == pytest.approx(12 - 0.1, abs=0.05) and slot.distance(Point(20.05, 14)) < 0.01
    assert edge.is_closed and "outline" in paths.warnings[0]


def test_a_pocket_behind_a_throat_that_the_kerf_closes_is_still_burnt():
    pocket = Point(20, 8).buffer(3).union(box(19.95, 8, 20.05, 21))
    paths = burnt(drawn(Polygon(box(0, 0, 40, 20).difference(pocket).exterior)), 0.2)
    inner = min(rings(paths.outline), key=lambda line: line.length)
    assert len(rings(paths.outline)) == 2 and Polygon(inner).area == pytest.approx(math.pi * 2.9**2, rel=0.03)
    (throat,) = [line for line in paths.outline if not line.is_closed]
    assert throat.length == pytest.approx(9, abs=0.1)


def test_ordinary_corners_raise_no_warning():
    arrow = Polygon([(0, 0), (30, 8), (60, 0), (30, 60)])  # a bay of 150 degrees, tips of 39 and 53 degrees
    paths = burnt(drawn(arrow, cutouts=[shapely.affinity.scale(arrow, 0.3, 0.3)]), 0.2)
    assert paths.warnings == () and len(paths.outline) == len(paths.cutout) == 1


def test_an_island_left_in_a_cutout_is_burnt_round():
    ring = Point(0, 0).buffer(20, quad_segs=64).difference(Point(0, 0).buffer(10, quad_segs=64))
    lines = burnt(drawn(cutouts=[ring]), 0.4).cutout
    areas = sorted(Polygon(line).area for line in lines)
    assert areas == pytest.approx([math.pi * 10.2**2, math.pi * 19.8**2], rel=0.001)


def test_a_closed_stitch_line_that_crosses_itself_stays_and_is_listed():
    bow = LineString([(0, 0), (4, 4), (4, 0), (0, 4), (0, 0)])
    paths = burnt(drawn(stitch=[bow]), 0.2)
    assert paths.stitch[0].equals_exact(bow, 1e-9) and "crosses itself" in paths.warnings[0]
