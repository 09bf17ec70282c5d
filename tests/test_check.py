import ast
import math
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box

import nesting.check
from nesting.check import check
from nesting.model import (
    Direction, Hide, Layout, Machine, Margins, Panel, Part, Placement, Reading, Setting, Unplaced, Workshop, Zone, place,
)

TAG = Part("tag", Polygon([(0, 0), (60, 0), (60, 30), (20, 40), (0, 30)]))
MARGINS = Margins(kerf_mm=0.2, gap_mm=1.0, edge_mm=3.0, flaw_mm=1.0)
SETTING = Setting("1.5 mm", 1.5, 10, 60, 2, 1.2, 1.8)


def put(drawn=TAG, x=20.0, y=20.0, angle=0.0, piece=1, **more):
    part = drawn.mirrored if more.get("mirrored") else drawn
    facts = dict(
        hide="h", panel="1", order="A", product="tag", part=part.name, piece=piece, copy=1, grade=part.grade, x=x, y=y, angle=angle,
        mirrored=False, match="", direction=part.direction, thickness_mm=part.thickness_mm,
        outline=more.get("outline") or place(part.outline, x, y, angle),
        zones=tuple(replace(zone, polygon=place(zone.polygon, x, y, angle)) for zone in part.zones),
    )
    return Placement(**{**facts, **more})


def layout(*placements, hide=None, panels=None, unplaced=(), wanted=None, **more):
    hide = hide or Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, tannage="vegetable")
    count = {}
    for thing in (*placements, *unplaced):
        key = (thing.order, thing.product, thing.part)
        count[key] = count.get(key, 0) + 1
    facts = dict(
        workshop=Workshop(Machine("laser", 600, 400, 40), (SETTING,), MARGINS, thickness_spread_mm=0.1), hides=(hide,),
        panels=(Panel("1", "h", hide.outline),) if panels is None else panels, settings={"h": SETTING},
        wanted=count if wanted is None else wanted, placements=placements, unplaced=tuple(unplaced),
    )
    return Layout(**{**facts, **more})


def rules(*args, **more):
    return {finding.rule for finding in check(layout(*args, **more))}


def test_a_good_layout_passes():
    assert check(layout(put(), put(x=120, angle=25, piece=2), put(x=300, y=150, angle=200, piece=3))) == []


def test_parts_exactly_the_gap_apart_pass_and_closer_ones_fail():
    assert rules(put(), put(x=81.2, piece=2)) == set()
    assert rules(put(), put(x=81.19, piece=2)) == {1}


def test_overlapping_parts_fail():
    assert rules(put(), put(x=50, piece=2)) == {1}


def test_a_part_inside_the_cutout_of_another_fails():
    ring = put(outline=box(20, 20, 220, 220), cutouts=(box(30, 30, 210, 210),), part="ring")
    assert rules(ring, put(x=100, y=100, piece=2)) == {1}


@settings(max_examples=60, deadline=None)
@given(st.floats(-0.01, 0.01))
def test_a_gap_is_found_short_exactly_when_it_is(short):
    found = rules(put(), put(x=81.2 + short, piece=2))
    if abs(short + 0.001) > 1e-6:
        assert found == ({1} if short < -0.001 else set())


def test_a_part_near_the_edge_or_over_it_fails():
    assert rules(put(x=3.0)) == set()
    assert rules(put(x=2.9)) == {2}
    assert rules(put(x=-5)) >= {2}


def test_a_part_near_a_hole_fails():
    hide = Hide("h", box(0, 0, 500, 300).difference(box(82, 20, 90, 60)), nominal_mm=1.5)
    assert rules(put(), hide=hide) == {2}


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


def test_leather_too_thin_for_the_setting_fails():
    thin = Hide("h", box(0, 0, 500, 300), nominal_mm=1.1)
    assert rules(put(), hide=thin) == {3}


def test_a_part_that_asks_for_thicker_leather_fails_where_it_drifts_thin():
    readings = tuple(Reading(x, y, 1.2 + x / 1000) for x in (20, 250, 480) for y in (20, 150, 280))
    hide = Hide("h", box(0, 0, 500, 300), readings=readings)
    stout = replace(TAG, thickness_mm=(1.45, 1.9))
    assert rules(put(stout, x=400), hide=hide, settings={}) == set()
    assert rules(put(stout, x=20), hide=hide, settings={}) == {3}


def test_a_part_across_the_backbone_fails_when_it_must_lie_along():
    along = replace(TAG, direction=Direction("along", 10))
    spine = Hide("h", box(0, 0, 500, 300), nominal_mm=1.5, backbone=((0, 0), (0, 100)))
    assert rules(put(along, x=100, y=150, angle=95), hide=spine) == set()
    assert rules(put(along, x=100, y=150, angle=270), hide=spine) == set()
    assert rules(put(along, angle=0), hide=spine) == {4}


def test_a_turn_by_half_fails_when_it_is_not_allowed():
    one_way = replace(TAG, direction=Direction("fixed", turn=False))
    assert rules(put(one_way, x=100, y=100, angle=180)) == {4}


def test_a_mirrored_part_fails_unless_it_is_a_twin():
    flipped = put(x=200, piece=2, outline=place(TAG.mirrored.outline, 200, 20, 0))
    assert rules(put(), flipped) == {4}
    assert rules(put(), put(x=200, piece=2, mirrored=True)) == set()


def test_a_panel_bigger_than_the_bed_fails():
    hide = Hide("h", box(0, 0, 900, 300), nominal_mm=1.5)
    halves = (Panel("1", "h", box(0, 0, 450, 300)), Panel("2", "h", box(450, 0, 900, 300)))
    assert rules(put(), hide=hide) == {5}
    assert rules(put(), hide=hide, panels=()) == {5}
    assert rules(put(), hide=hide, panels=halves) == set()
    assert rules(put(x=430), hide=hide, panels=halves) == {5}
    assert rules(put(panel="9"), hide=hide, panels=halves) == {5}


def test_overlapping_panels_fail():
    assert rules(put(), panels=(Panel("1", "h", box(0, 0, 300, 300)), Panel("2", "h", box(250, 0, 500, 300)))) == {5}


def test_matching_parts_from_two_hides_fail():
    other = Hide("k", box(0, 0, 500, 300), nominal_mm=1.5)
    both = layout(put(match="A/tag/1"), put(hide="k", copy=2, match="A/tag/1"))
    both = replace(both, hides=(*both.hides, other), panels=(*both.panels, Panel("1", "k", other.outline)))
    assert {finding.rule for finding in check(both)} == {6}


def test_missing_doubled_and_unasked_parts_fail():
    wanted = {("A", "tag", "tag"): 2}
    assert rules(put(), wanted=wanted) == {7}
    assert rules(put(), put(x=120), wanted=wanted) == {7}
    assert rules(put(), put(x=120, piece=2, order="B"), wanted=wanted) == {7}
    assert rules(put(), unplaced=[Unplaced("A", "tag", "tag", 2, 1, False, "no room left")], wanted=wanted) == set()
    assert rules(put(), unplaced=[Unplaced("A", "tag", "tag", 2, 1, False, " ")], wanted=wanted) == {7}
    assert rules(put(), put(x=120, piece=2, hide="lost"), wanted=wanted) >= {7}


def test_broken_geometry_is_a_finding_not_a_crash():
    bow = Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])
    assert 1 in rules(put(outline=bow))
    assert 1 in rules(put(x=math.nan, outline=TAG.outline))


def test_a_finding_reads_as_one_plain_line():
    text = str(check(layout(put(), put(x=50, piece=2)))[0])
    assert text.startswith("rule 1, overlap: A tag tag") and "\n" not in text


@pytest.mark.parametrize("banned", ["engine", "regions", "plan"])
def test_the_referee_shares_no_code_with_what_it_judges(banned):
    tree = ast.parse(Path(nesting.check.__file__).read_text())
    names = {node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    names |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    assert not any(banned in name.split(".") for name in names)
