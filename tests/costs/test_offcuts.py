import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from laser_samples import MACHINE, layout_of, placement
from laser_samples import hide as sample_hide
from layouts import layout, put
from shapely.geometry import LineString, Point, Polygon, box

from nesting.costs.offcuts import largest_rectangle, offcuts
from nesting.model import Cut, Hide, Panel, Zone
from nesting.planning.hands import spoiled


def square(x, y, side, piece=1):
    return put(piece=piece, outline=box(x, y, x + side, y + side))


@pytest.mark.parametrize("smallest_mm", [5.0, 60.0, 150.0])
def test_parts_kerf_offcuts_and_scrap_add_up_to_the_hide(smallest_mm):
    tiles = [square(10, 10, 90), square(110, 10, 90, 2), square(60, 150, 100, 3)]
    ring = replace(square(250, 40, 120, 4), cutouts=(box(260, 50, 300, 90), box(310, 50, 360, 150)))
    hide = Hide("h", box(0, 0, 500, 300).difference(Point(440, 200).buffer(20)))
    plan = layout(*tiles, ring, hide=hide)
    plan = replace(plan, workshop=replace(plan.workshop, smallest_offcut_mm=smallest_mm))
    pieces, scrap = offcuts(plan, "h")
    outlines = shapely.union_all([placement.outline for placement in plan.placements])
    kerf = shapely.union_all([placement.outline.buffer(0.2) for placement in plan.placements]).difference(outlines)
    parts = sum(placement.area_mm2 for placement in plan.placements)
    assert parts == outlines.area - 40 * 40 - 50 * 100
    total = parts + kerf.area + sum(piece.area_mm2 for piece in pieces) + scrap.area
    assert total == pytest.approx(hide.outline.area, rel=1e-12)
    everything = [piece.polygon for piece in pieces] + [scrap, kerf]
    assert shapely.union_all(everything).area == pytest.approx(total - parts, rel=1e-12)


@pytest.mark.parametrize("overhang, count", [(800, 1), (700, 2)])
def test_an_offcut_is_parted_where_leather_is_cut_off_between_stages(overhang, count):
    long = sample_hide(outline=box(0, 0, 1300, 300))
    machine = replace(MACHINE, feed_through="width", overhang_mm=overhang)
    plan = layout_of([placement(1), placement(2, x=750)], hides=[long], machine=machine, kerf=0)
    # the leather is laid with its left end at the stop, and fed on to a millimetre before the second part
    kept, scrap = offcuts(plan, "h1")
    assert len(kept) == count
    assert max(one.polygon.bounds[2] - one.polygon.bounds[0] for one in kept) == pytest.approx(
        1300 if count == 1 else 749, abs=0.01
    )
    whole = sum(one.area_mm2 for one in kept) + scrap.area + sum(part.area_mm2 for part in plan.placements)
    assert whole == pytest.approx(1300 * 300, rel=1e-9)


@pytest.mark.parametrize("tilt", [0, 14, 63])
def test_offcuts_on_both_sides_of_a_knife_line_add_up_too(tilt):
    def turned(shape):
        return shapely.affinity.rotate(shape, tilt, origin=(0, 0))

    panels = (Panel("1", "h", turned(box(0, 0, 263.4, 300))), Panel("2", "h", turned(box(263.4, 0, 500, 300))))
    ends = [put(outline=turned(box(10, 10, 90, 90))), put(piece=2, panel="2", outline=turned(box(410, 10, 490, 90)))]
    knife = Cut("h", *turned(LineString([(263.4, 0), (263.4, 300)])).coords)
    plan = layout(*ends, hide=Hide("h", turned(box(0, 0, 500, 300))), panels=panels, cuts=(knife,))
    pieces, scrap = offcuts(plan, "h")
    assert len(pieces) == 2
    taken = sum(placement.outline.buffer(0.2).area for placement in ends)
    assert taken + sum(piece.area_mm2 for piece in pieces) + scrap.area == pytest.approx(500 * 300, rel=1e-12)


@settings(max_examples=15, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 440), st.floats(0, 240), st.floats(0, 90)), min_size=1, max_size=8))
def test_whatever_is_cut_every_offcut_is_leather_wide_enough(spots):
    parts = [put(x=x, y=y, angle=angle, piece=piece) for piece, (x, y, angle) in enumerate(spots)]
    plan = layout(*parts)
    pieces, scrap = offcuts(plan, "h")
    areas = [piece.area_mm2 for piece in pieces]
    assert areas == sorted(areas, reverse=True)
    for piece in pieces:
        assert min(piece.polygon.distance(part.outline) for part in parts) > 0.2 - 1e-3
        assert piece.polygon.difference(plan.hides[0].outline).area < 1e-6
        assert piece.height_mm >= 60
        assert piece.polygon.covers(piece.rectangle)
    # a disc in which a square of 60 mm lies is sqrt(2) times as wide
    assert scrap.buffer(-1.02 * 30 * math.sqrt(2)).is_empty


def test_a_strip_narrower_than_the_smallest_useful_width_is_scrap():
    plan = layout(put(outline=box(10, 10, 450, 290)))
    pieces, scrap = offcuts(plan, "h")
    assert pieces == []
    assert scrap.area == pytest.approx(500 * 300 - plan.placements[0].outline.buffer(0.2).area)


def test_a_strip_is_kept_from_the_smallest_useful_width_on():
    for width, count in ((59.9, 0), (60.1, 1)):
        assert len(offcuts(layout(put(outline=box(width + 0.2, -1, 501, 301))), "h")[0]) == count


def test_pieces_joined_by_a_narrow_neck_are_two_offcuts():
    pieces, _ = offcuts(layout(put(outline=box(200, 0, 320, 250))), "h")
    assert [piece.id for piece in pieces] == ["h-offcut-1", "h-offcut-2"]
    assert pieces[0].polygon.covers(Point(50, 150)) and pieces[1].polygon.covers(Point(450, 150))


def test_a_wide_end_is_an_offcut_with_its_rectangle():
    # 500 x 300 less 250.2 on the left; a disc of 60 cannot reach the corners, so the opening is a rounded rectangle
    pieces, _ = offcuts(layout(put(outline=box(0, 0, 250, 300))), "h")
    assert len(pieces) == 1 and pieces[0].id == "h-offcut-1"
    inner = box(250.2, 0, 500, 300).buffer(-30).buffer(30)
    assert pieces[0].area_mm2 == pytest.approx(inner.area, rel=1e-3)
    # corners of the rectangle lie on the arcs: 30 (1 - 1/sqrt 2) inside every side
    inset = 2 * 30 * (1 - math.sqrt(0.5))
    assert pieces[0].width_mm * pieces[0].height_mm == pytest.approx((300 - inset) * (249.8 - inset), rel=0.015)


def test_knife_lines_part_offcuts():
    panel, cut = Panel("1", "h", box(0, 0, 150, 300)), Cut("h", (150, 0), (150, 300))
    pieces, _ = offcuts(layout(put(outline=box(10, 10, 90, 290)), panels=(panel,), cuts=(cut,)), "h")
    wide = box(150, 0, 500, 300).buffer(-30).buffer(30).area
    assert pieces[0].area_mm2 == pytest.approx(wide, rel=1e-3) and pieces[0].polygon.bounds[0] >= 150 - 1e-6


def test_what_falls_out_of_a_cutout_is_scrap():
    plain = layout(put(outline=box(10, 10, 250, 290)))
    ring = layout(put(outline=box(10, 10, 250, 290), cutouts=(box(50, 50, 200, 200),)))
    assert offcuts(ring, "h")[1].area == pytest.approx(offcuts(plain, "h")[1].area + 150 * 150)


def test_flaws_stay_in_the_offcut():
    flawed = Hide("h", box(0, 0, 500, 300), (Zone(box(400, 100, 450, 200), "E"),))
    (with_flaw, scrap), (without, plain) = (
        offcuts(layout(put(), hide=hide), "h") for hide in (flawed, replace(flawed, zones=()))
    )
    assert with_flaw[0].polygon.equals(without[0].polygon) and scrap.equals(plain)


def test_a_crumb_beyond_a_slit_is_scrap():
    # The slit is thinner than the error of a disc drawn with chords.
    slit = box(100, -1, 100.005, 299.9)
    hide = Hide("h", box(0, 0, 500, 300).difference(slit))
    pieces, _ = offcuts(layout(put(outline=box(130, 0, 500, 300)), hide=hide), "h")
    assert all(not piece.polygon.buffer(-29).is_empty for piece in pieces)


def test_a_hide_that_nothing_is_cut_from_has_no_offcuts():
    pieces, scrap = offcuts(layout(), "h")
    assert pieces == [] and scrap.is_empty


@settings(max_examples=20, deadline=None)
@given(st.lists(st.floats(30, 100), min_size=5, max_size=10), st.floats(0, 90))
def test_the_rectangle_lies_inside(radii, turn):
    angles = np.linspace(0, 2 * math.pi, len(radii), endpoint=False) + math.radians(turn)
    polygon = Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None])
    rectangle, long, short = largest_rectangle(polygon)
    assert polygon.covers(rectangle) and long >= short > 0
    # The square in the largest circle is one of the rectangles it could have found.
    circle = shapely.maximum_inscribed_circle(polygon)
    assert long * short >= 0.98 * 2 * circle.length**2
    assert long * short == pytest.approx(rectangle.area)


@pytest.mark.parametrize("turn", [0, 7, 30, 45])
@pytest.mark.parametrize(
    ("shape", "greatest_mm2"),
    [
        (box(0, 0, 200, 80), 200 * 80),
        (box(0, 0, 3000, 60), 3000 * 60),
        # A rectangle in a triangle covers half of it at most, in an ellipse with half axes a and b 2 a b.
        (Polygon([(0, 0), (300, 0), (0, 200)]), 150 * 100),
        (shapely.affinity.scale(Point(0, 0).buffer(1, 64), 150, 50), 2 * 150 * 50),
        (Polygon([(0, 0), (300, 0), (300, 70), (110, 70), (110, 260), (0, 260)]), 110 * 260),
        (box(0, 200, 400, 263).union(box(130, 0, 291, 230)), 161 * 263),
    ],
)
def test_the_rectangle_is_within_two_per_cent_of_the_greatest(shape, greatest_mm2, turn):
    _, long, short = largest_rectangle(shapely.affinity.rotate(shape, turn, origin=(0, 0)))
    assert 0.98 * greatest_mm2 <= long * short <= greatest_mm2 * (1 + 1e-9)


def test_a_thin_ring_still_has_a_rectangle():
    ring = Point(0, 0).buffer(100, 64).difference(Point(0, 0).buffer(99.5, 64))
    rectangle, long, short = largest_rectangle(ring)
    # Between circles of radii r and R the half length of a rectangle is less than sqrt(R^2 - r^2).
    assert ring.covers(rectangle) and 0.3 < short < 0.5 and long < 2 * math.sqrt(100**2 - 99.5**2)


def test_the_leather_of_a_part_lost_is_scrap_and_no_offcut():
    before = layout(put(), put(x=120.0, piece=2))
    after = spoiled(before, before.placements[0])
    (kept, scrap), (kept_before, scrap_before) = offcuts(after, "h"), offcuts(before, "h")
    assert [one.area_mm2 for one in kept] == pytest.approx([one.area_mm2 for one in kept_before])
    assert scrap.area == pytest.approx(scrap_before.area + before.placements[0].outline.area)


@pytest.mark.parametrize("across, kept", [(80, 0), (88, 1)])
def test_an_offcut_shows_a_rectangle_no_smaller_than_the_smallest_useful_one_or_is_scrap(across, kept):
    leather = Point(100, 100).buffer(across / 2, quad_segs=64).union(box(300, 0, 400, 100))
    hide = Hide("h", leather.union(box(100, 99, 310, 101)))
    pieces, _ = offcuts(layout(put(outline=box(310, 10, 390, 90)), hide=hide), "h")
    assert len(pieces) == kept and all(piece.height_mm >= 60 for piece in pieces)
