import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from layouts import MARGINS, SETTING, TAG, layout, put, rules
from shapely.geometry import LineString, MultiPolygon, Polygon, box

from nesting.geometry import place
from nesting.leather.thickness import thickness_map
from nesting.model import (
    Direction,
    Doubt,
    Hide,
    Machine,
    Margins,
    Panel,
    Part,
    Reading,
    Setting,
    StatedError,
    Unplaced,
    Workshop,
    Zone,
)
from nesting.referee.limits import RefereeLimits
from nesting.referee.rules import check


def test_a_good_layout_passes():
    assert check(layout(put(), put(x=120, angle=25, piece=2), put(x=300, y=150, angle=200, piece=3))) == []


def test_parts_exactly_the_gap_apart_pass_and_closer_ones_fail():
    assert rules(put(), put(x=81.2, piece=2)) == set()
    assert rules(put(), put(x=81.19, piece=2)) == {1}


def test_overlapping_parts_fail():
    assert rules(put(), put(x=50, piece=2)) == {1}


def test_a_part_inside_the_cutout_of_another_fails():
    ring = put(outline=box(20, 20, 220, 220), cutouts=(box(30, 30, 210, 210),), product="ring", part="ring")
    findings = check(layout(ring, put(x=100, y=100, piece=2)))
    assert [(finding.rule, finding.what) for finding in findings] == [(1, "in a cutout")]


def test_a_part_inside_a_hole_of_an_outline_fails():
    ring = put(outline=box(20, 20, 220, 220).difference(box(30, 30, 210, 210)), product="ring", part="ring")
    assert rules(ring, put(x=100, y=100, piece=2)) == {1}


def test_parts_that_touch_pass_when_no_gap_is_asked_and_overlapping_ones_fail():
    tight = Workshop(Machine("laser", 600, 400, 40), (SETTING,), Margins(0, 0, 0, 0))
    assert rules(put(), put(x=80, piece=2), workshop=tight) == set()
    assert rules(put(), put(x=79.9995, piece=2), workshop=tight) == set()
    assert rules(put(), put(x=79.995, piece=2), workshop=tight) == {1}


@settings(max_examples=60, deadline=None)
@given(st.floats(-0.01, 0.01), st.floats(0, 360), st.floats(-40, 40))
def test_two_turned_squares_are_too_near_exactly_when_their_gap_is_short(short, angle, slide):
    tile = Part("tile", box(0, 0, 50, 50))
    pair = [
        put(tile, *place(shapely.Point(x, y), 250, 150, angle).coords[0], angle, piece=piece)
        for piece, (x, y) in enumerate([(-50, 0), (1.2 + short, slide)])
    ]
    # each corner is moved by half the diagonal of a step of the grid at most, 1e-4 mm
    if abs(short + 0.001) > 2**0.5 * 1e-4:
        assert rules(*pair) == ({1} if short < -0.001 else set())


def test_a_part_near_the_edge_or_over_it_fails():
    assert rules(put(x=3.0)) == set()
    assert rules(put(x=2.9)) == {2}
    assert rules(put(x=-5)) >= {2}


def test_a_part_near_a_hole_fails():
    hide = Hide("h", box(0, 0, 500, 300).difference(box(82, 20, 90, 60)), nominal_mm=1.5)
    assert rules(put(), hide=hide) == {2}


def test_a_hole_of_the_hide_under_a_part_fails():
    hide = Hide("h", box(0, 0, 500, 300).difference(box(40, 30, 44, 34)), nominal_mm=1.5)
    assert rules(put(), hide=hide) >= {2}


def test_an_edge_margin_of_nothing_still_keeps_parts_inside():
    bare = Workshop(Machine("laser", 600, 400, 40), (SETTING,), Margins(0.2, 1, 0, 0))
    assert rules(put(x=0, y=0), workshop=bare) == set()
    assert 2 in rules(put(x=-0.005, y=0), workshop=bare)


def zoned(grade):
    return Hide("h", box(0, 0, 500, 300), (Zone(box(60, 20, 100, 60), grade, "scar"),), nominal_mm=1.5)


def test_a_zone_below_the_grade_of_the_part_fails():
    assert rules(put(), hide=zoned("C")) == {2}
    assert rules(put(replace(TAG, grade="C")), hide=zoned("C")) == set()
    assert rules(put(replace(TAG, grade="B")), hide=zoned("C")) == {2}


def test_a_zone_nearer_than_the_flaw_margin_fails():
    near = Hide("h", box(0, 0, 500, 300), (Zone(box(80.5, 20, 100, 60), "C"),), nominal_mm=1.5)
    assert rules(put(), hide=near) == {2}


def test_the_parts_own_zone_counts():
    lined = replace(TAG, zones=(Zone(box(35, 0, 60, 45), "D"),))
    assert rules(put(lined), hide=zoned("C")) == set()
    assert rules(put(lined), hide=zoned("E")) == {2}
    assert rules(put(replace(TAG, zones=(Zone(box(0, 0, 20, 45), "D"),))), hide=zoned("C")) == {2}


def test_a_flaw_that_reaches_past_the_parts_own_zone_fails():
    # The flaw begins 40 mm along the part and has to end the flaw margin of 1 mm inside the own zone.
    assert rules(put(replace(TAG, zones=(Zone(box(38.9, 0, 60, 45), "D"),))), hide=zoned("C")) == set()
    assert rules(put(replace(TAG, zones=(Zone(box(39.1, 0, 60, 45), "D"),))), hide=zoned("C")) == {2}
    assert rules(put(replace(TAG, zones=(Zone(box(43, 0, 60, 45), "D"),))), hide=zoned("C")) == {2}


@pytest.mark.parametrize("order", [1, -1])
def test_where_own_zones_overlap_the_stricter_counts(order):
    strict, mild = Zone(box(35, 0, 60, 45), "B"), Zone(box(35, 0, 60, 45), "D")
    assert rules(put(replace(TAG, zones=(strict, mild)[::order])), hide=zoned("C")) == {2}
    assert rules(put(replace(TAG, zones=(strict, mild)[::order])), hide=zoned("B")) == set()
    assert rules(put(replace(TAG, zones=(mild,))), hide=zoned("C")) == set()
    assert rules(put(replace(TAG, zones=(strict,))), hide=zoned("C")) == {2}


@pytest.mark.parametrize("order", [1, -1])
@pytest.mark.parametrize(
    "left, right, grade, broken",
    [
        (1, 9, "B", True),  # in the A zone only
        (22, 28, "B", True),  # where both are
        (32, 48, "B", False),  # in the C zone only
        (32, 48, "D", True),
        (52, 58, "D", False),  # in neither, where the part takes D
    ],
)
def test_a_scar_is_judged_by_the_strictest_of_what_lies_over_it(order, left, right, grade, broken):
    zones = (Zone(box(0, 0, 30, 20), "A"), Zone(box(20, 0, 50, 20), "C"))[::order]
    part = Part("tag", box(0, 0, 60, 20), zones=zones, grade="D")
    scar = Zone(box(20 + left, 30, 20 + right, 31), grade, "scar")
    narrow = Workshop(Machine("laser", 600, 400, 40), (SETTING,), Margins(0.2, 1, 3, 0.5), thickness_spread_mm=0.1)
    hide = Hide("h", box(0, 0, 500, 300), (scar,), nominal_mm=1.5)
    assert rules(put(part), hide=hide, workshop=narrow) == ({2} if broken else set())


def test_an_own_zone_may_ask_for_more_than_the_part():
    shown = replace(TAG, grade="D", zones=(Zone(box(45, 0, 60, 45), "A"),))
    assert rules(put(replace(TAG, grade="D")), hide=zoned("C")) == set()
    assert rules(put(shown), hide=zoned("C")) == {2}


def test_an_own_zone_that_takes_any_grade_must_still_lie_on_leather():
    lined = replace(TAG, zones=(Zone(box(35, 0, 60, 45), "E"),))
    assert rules(put(lined), hide=zoned("E")) == set()
    torn = zoned("E").outline.difference(box(70, 30, 74, 34))
    assert 2 in rules(put(lined), hide=replace(zoned("E"), outline=torn))


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 360))
def test_an_own_zone_along_the_outline_leaves_no_strip_of_better_grade_after_rounding(angle):
    lined = replace(TAG, zones=(Zone(box(30, 0, 60, 45).intersection(TAG.outline), "D"),))
    placed = put(lined, 250, 150, angle)

    def rounded(shape):
        return shapely.transform(shape, lambda points: np.round(points, 4))

    placed = replace(placed, outline=rounded(placed.outline), zones=(Zone(rounded(placed.zones[0].polygon), "D"),))
    scar = Zone(place(box(50, -20, 90, 60), 250, 150, angle), "C", "scar")
    assert rules(placed, hide=Hide("h", box(0, 0, 500, 300), (scar,), nominal_mm=1.5)) == set()


def test_leather_too_thin_for_the_setting_fails():
    thin = Hide("h", box(0, 0, 500, 300), nominal_mm=1.1)
    assert rules(put(), hide=thin) == {3}


def test_leather_near_a_limit_of_the_setting_fails_at_the_stated_confidence():
    # Window 1.2 to 1.8 mm, spread 0.1 mm: one and a half spreads inside a limit is 93.3 % sure, one is 84.1 %.
    def lies_at(nominal_mm):
        return rules(put(), hide=Hide("h", box(0, 0, 500, 300), nominal_mm=nominal_mm))

    assert lies_at(1.65) == lies_at(1.35) == set()
    assert lies_at(1.7) == lies_at(1.3) == {3}


def test_a_tip_that_reaches_into_leather_too_thin_fails():
    readings = tuple(Reading(x, y, 1.2 + x / 1000) for x in (20, 250, 480) for y in (20, 150, 280))
    hide = Hide("h", box(0, 0, 500, 300), readings=readings)
    along = np.column_stack([np.arange(10.0, 490.0, 0.1), np.full(4800, 150.0)])
    limit = along[np.argmax(thickness_map(hide, 0.1).inside(along, 1.45, 1.9) >= 0.9), 0]
    tip = Part("tag", Polygon([(52, -1), (52, 1), (0, 0)]), thickness_mm=(1.45, 1.9))
    assert 50 < limit < 400
    assert rules(put(tip, limit + 0.5, 150), hide=hide, settings={}) == set()
    assert rules(put(tip, limit - 0.5, 150), hide=hide, settings={}) == {3}


def test_a_part_that_asks_for_thicker_leather_fails_where_it_drifts_thin():
    readings = tuple(Reading(x, y, 1.2 + x / 1000) for x in (20, 250, 480) for y in (20, 150, 280))
    hide = Hide("h", box(0, 0, 500, 300), readings=readings)
    stout = replace(TAG, thickness_mm=(1.45, 1.9))
    assert rules(put(stout, x=400), hide=hide, settings={}) == set()
    assert rules(put(stout, x=20), hide=hide, settings={}) == {3}


def test_a_setting_on_a_hide_of_unknown_thickness_fails():
    assert rules(put(), hide=Hide("h", box(0, 0, 500, 300))) == {3}


def test_a_hide_without_setting_and_a_part_without_range_have_no_thickness_to_prove():
    assert rules(put(), hide=Hide("h", box(0, 0, 500, 300)), settings={}) == set()


def test_a_part_whose_range_misses_the_window_of_the_setting_fails():
    assert rules(put(replace(TAG, thickness_mm=(1.9, 2.5)))) == {3}


def test_more_readings_than_a_map_takes_are_a_finding():
    readings = tuple(Reading(i % 40 * 10.0, i // 40 * 10.0, 1.5) for i in range(501))
    assert rules(put(), hide=Hide("h", box(0, 0, 500, 300), readings=readings)) == {3}


def test_a_part_across_the_backbone_fails_when_it_must_lie_along():
    along = replace(TAG, direction=Direction("along", 10))
    spine = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, backbone=((0, 0), (0, 100)))
    assert rules(put(along, x=100, y=150, angle=95), hide=spine) == set()
    assert rules(put(along, x=100, y=150, angle=270), hide=spine) == set()
    assert rules(put(along, angle=0), hide=spine) == {4}
    slant = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, backbone=((0, 0), (math.sqrt(3), 1)))
    assert rules(put(along, x=100, y=150, angle=39.9), hide=slant) == set()
    assert rules(put(along, x=100, y=150, angle=40.1), hide=slant) == {4}
    assert rules(put(along, x=100, y=150, angle=-30), hide=slant) == {4}


def test_a_turn_by_half_fails_when_it_is_not_allowed():
    one_way = replace(TAG, direction=Direction("fixed", turn=False))
    assert rules(put(one_way, x=100, y=100, angle=180)) == {4}


def test_a_mirrored_part_fails_unless_it_is_a_twin():
    flipped = put(x=200, piece=2, outline=place(TAG.mirrored.outline, 200, 20, 0))
    assert rules(put(), flipped) == {4}
    assert rules(put(), put(x=200, mirrored=True)) == set()


def test_a_twin_drawn_like_the_part_itself_fails():
    assert rules(put(), put(x=200, mirrored=True, outline=place(TAG.outline, 200, 20, 0))) == {4}


def test_a_part_with_its_flesh_side_out_is_laid_mirrored_and_its_twin_as_drawn():
    mirrored, drawn = (place(part.outline, 100, 20, 0) for part in (TAG.mirrored, TAG))
    flesh = put(x=100, outline=mirrored, flesh_out=True)
    twin = replace(flesh, mirrored=True, x=200, outline=place(TAG.outline, 200, 20, 0))
    assert rules(flesh, twin) == set()
    assert rules(replace(flesh, outline=drawn), twin) == {4}
    assert rules(flesh, replace(twin, x=300, outline=place(TAG.mirrored.outline, 300, 20, 0))) == {4}


def test_a_part_laid_mirrored_without_a_word_that_its_flesh_side_is_out_fails():
    flipped = put(x=200, piece=2, outline=place(TAG.mirrored.outline, 200, 20, 0), flesh_out=True)
    first = put(x=100, outline=place(TAG.mirrored.outline, 100, 20, 0), flesh_out=True)
    assert rules(first, flipped) == set()
    drawn = put(x=200, piece=2, flesh_out=True)
    assert [(f.rule, f.what) for f in check(layout(first, drawn))] == [(4, "shape")]


def test_parts_of_one_product_that_show_different_sides_fail():
    first = put(x=100, outline=place(TAG.mirrored.outline, 100, 20, 0), flesh_out=True)
    (finding,) = check(layout(first, put(x=200, piece=2)))
    assert (finding.rule, finding.what, finding.who) == (4, "side", "A tag tag 2.1")
    assert finding.value == "grain side out" and finding.bound.startswith("flesh side out as A tag tag 1.1")


def test_a_copy_that_does_not_lie_as_its_angle_says_fails():
    assert rules(put(), put(x=200, piece=2, angle=30, outline=place(TAG.outline, 200, 20, 31))) == {4}


def test_a_mirrored_drawing_on_the_same_corners_fails():
    # The two outlines mirror each other and join the same five corners in another order.
    one = Polygon([(0, 0), (40, 0), (40, 40), (20, 20), (0, 40)])
    other = shapely.affinity.rotate(one, 180, origin=(20, 20))
    assert {*one.exterior.coords} == {*other.exterior.coords}
    assert rules(put(Part("tag", one)), put(Part("tag", other), x=100, piece=2)) == {4}


def tile(x, piece):
    """A square with a mark of every kind, ``x`` mm from its left side."""
    mark = box(x, 10, x + 5, 20)
    line = (LineString(mark.exterior.coords),)
    part = Part("tile", box(0, 0, 50, 50), cutouts=(mark,), stitch=line, engrave=line, zones=(Zone(mark, "B"),))
    kinds = ("cutouts", "stitch", "engrave")
    inner = {kind: tuple(place(shape, 100.0 * piece, 100, 0) for shape in getattr(part, kind)) for kind in kinds}
    return put(part, 100.0 * piece, 100, piece=piece, **inner)


@pytest.mark.parametrize("kind", ["cutouts", "stitch", "engrave", "zones"])
def test_a_square_whose_inner_lines_are_mirrored_fails(kind):
    one, other, mirrored = tile(5, 1), tile(5, 2), tile(40, 2)
    assert rules(one, other) == set()
    assert rules(one, replace(other, **{kind: getattr(mirrored, kind)})) == {4}


def test_a_copy_that_is_engraved_in_another_way_fails():
    one, other = tile(5, 1), tile(5, 2)
    assert rules(replace(one, engrave_how=("fill",)), replace(other, engrave_how=("fill",))) == set()
    assert rules(replace(one, engrave_how=("fill",)), replace(other, engrave_how=("line",))) == {4}


@pytest.mark.parametrize("first", [0, 1])
def test_a_copy_that_lacks_a_cutout_fails(first):
    one, other = tile(5, 1), tile(5, 2)
    more = replace(one, cutouts=(*one.cutouts, box(120, 110, 125, 120)))
    assert rules(*[more, other][:: 1 - 2 * first]) == {4}
    assert rules(*[replace(one, cutouts=()), other][:: 1 - 2 * first]) == {4}


def test_a_copy_whose_line_starts_at_another_corner_passes():
    corners = [*TAG.outline.exterior.coords[:-1]]
    rolled = Polygon([(10, 0), *corners[1:], corners[0]])
    assert rules(put(), put(x=200, piece=2, outline=place(rolled, 200, 20, 0))) == set()


def test_missing_doubled_and_unasked_parts_fail():
    wanted = {("A", "tag", "tag"): 2}
    assert rules(put(), wanted=wanted) == {7}
    assert rules(put(), put(x=120), wanted=wanted) == {7}
    assert rules(put(), put(x=120, piece=2, order="B"), wanted=wanted) == {7}
    assert rules(put(), unplaced=[Unplaced("A", "tag", "tag", 2, 1, False, "no room left")], wanted=wanted) == set()
    assert rules(put(), unplaced=[Unplaced("A", "tag", "tag", 2, 1, False, " ")], wanted=wanted) == {7}
    assert rules(put(), put(x=120, piece=2, hide="lost"), wanted=wanted) >= {7}


def test_an_unknown_hide_and_a_hide_listed_twice_fail():
    assert rules(put(), settings={"h": SETTING, "lost": SETTING}) == {7}
    assert rules(put(), panels=(Panel("1", "h", box(0, 0, 500, 300)), Panel("1", "lost", box(0, 0, 9, 9)))) == {7}
    twice = layout(put())
    assert {finding.rule for finding in check(replace(twice, hides=twice.hides * 2))} == {7}


BOW = Polygon([(0, 0), (10, 10), (10, 0), (0, 20)])


with np.errstate(invalid="ignore"):
    NOWHERE = Polygon([(0, 0), (math.nan, 0), (10, 10)])


@pytest.mark.parametrize(
    "broken",
    [
        {"outline": BOW},
        {"outline": NOWHERE},
        {"outline": MultiPolygon([TAG.outline])},
        {"outline": LineString([(0, 0), (1, 1)])},
        {"cutouts": (BOW,)},
        {"cutouts": (NOWHERE,)},
        {"stitch": (LineString([(0, 0), (math.inf, 1)]),)},
        {"x": math.nan, "outline": TAG.outline},
        {"y": math.inf, "outline": TAG.outline},
        {"angle": math.nan, "outline": TAG.outline},
    ],
)
def test_broken_geometry_is_a_finding_not_a_crash(broken):
    findings = check(layout(put(), put(piece=2, **broken)))
    assert [(finding.rule, finding.what) for finding in findings] == [(1, "geometry")]


def test_each_part_is_proved_against_its_own_setting():
    thin, thick = Setting("thin", 1.0, 10, 50, 1, 0.8, 1.2), SETTING
    workshop = Workshop(Machine("laser", 600, 400, 40), (thin, thick), MARGINS, thickness_spread_mm=0.1)
    facts = dict(workshop=workshop, settings={"h": thick}, more_settings={"h": (thin,)})
    assert rules(put(setting=thick.name), **facts) == set()
    assert rules(put(), **facts) == set()
    assert rules(put(setting="thin"), **facts) == {3}
    assert rules(put(setting="unheard of"), **facts) == {3}


def test_what_is_said_of_the_leather_under_a_part_must_be_so():
    true = thickness_map(Hide("h", box(0, 0, 500, 300), nominal_mm=1.5), 0.1).under(
        put().outline, SETTING.thinnest_mm, SETTING.thickest_mm
    )
    assert rules(put(under=true)) == set()
    assert rules(put(under=replace(true, least_mm=1.3))) == {3}
    assert rules(put(under=replace(true, confidence=0.5))) == {3}


def test_a_referee_given_other_limits_holds_a_layout_to_them():
    near = layout(put(), put(x=20 + 60 + 1.2 - 0.0004, piece=2))
    assert check(near) == [] and {finding.rule for finding in check(near, RefereeLimits(slack_mm=0.0001))} == {1}
    turned = put(angle=0.001, direction=Direction("along"))
    assert {finding.rule for finding in check(layout(turned))} == {4}
    assert check(layout(turned), RefereeLimits(backbone_deg=0.01)) == []


def traced(**facts):
    return Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable", **facts)


def test_a_part_on_doubt_fails_and_one_that_touches_it_passes():
    hide = traced(doubts=(Doubt(box(80, 0, 120, 300), "slit or mark", number=4),))
    assert rules(put(x=20), hide=hide) == set()
    (finding,) = check(layout(put(x=21), hide=hide))
    assert (finding.rule, finding.what) == (2, "doubt") and "on doubt 4 slit or mark of hide h" in finding.value


@settings(max_examples=80, deadline=None)
@given(st.floats(3, 50), st.floats(0, 20), st.floats(0, 20), st.floats(0, 240))
def test_a_part_keeps_the_margin_and_the_error_stated_where_it_is_nearest_to_the_edge(x, low, high, y):
    hide = traced(error=StatedError((0.0, 500.0), (0.0, 300.0), ((low, low), (high, high))))
    tile = Part("tile", box(0, 0, 50, 40))
    assume(y > 40 and y < 200)
    # along its left side the error grows evenly, so the bound is broken at one of its ends, if at all
    asked = max(3 + low + (high - low) * at / 300 for at in (y, y + 40))
    assume(abs(x - asked) > 0.2)
    assert rules(put(tile, x=x, y=y), hide=hide) == (set() if x > asked else {2})


def test_a_hole_keeps_its_stated_error_too():
    hide = traced(error=StatedError((0.0, 500.0), (0.0, 300.0), ((5.0, 5.0), (5.0, 5.0))))
    hide = replace(hide, outline=hide.outline.difference(box(200, 100, 220, 120)))
    assert rules(put(x=132 - 0.1, y=95), hide=hide) == set()
    assert rules(put(x=132.2, y=95), hide=hide) == {2}
