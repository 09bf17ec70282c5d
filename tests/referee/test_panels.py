import math
from dataclasses import replace

import numpy as np
import pytest
from layouts import MARGINS, SETTING, TAG, layout, put, rules
from shapely import affinity
from shapely.geometry import Polygon, box

from nesting.geometry import place
from nesting.model import (
    Cut,
    Hide,
    Machine,
    Panel,
    Part,
    Workshop,
)
from nesting.referee.findings import too_near
from nesting.referee.rules import check


def test_a_panel_bigger_than_the_bed_fails():
    hide = Hide("h", box(0, 0, 900, 300), nominal_mm=1.5)
    halves = (Panel("1", "h", box(0, 0, 450, 300)), Panel("2", "h", box(450, 0, 900, 300)))
    assert rules(put(), hide=hide) == {5}
    assert rules(put(), hide=hide, panels=()) == {5}
    cuts = (Cut("h", (450, 0), (450, 300)),)
    assert rules(put(), hide=hide, panels=halves, cuts=cuts) == set()
    assert rules(put(x=430), hide=hide, panels=halves, cuts=cuts) == {5}
    assert rules(put(panel="9"), hide=hide, panels=halves, cuts=cuts) == {5}


def test_overlapping_panels_fail():
    assert rules(put(), panels=(Panel("1", "h", box(0, 0, 300, 300)), Panel("2", "h", box(250, 0, 500, 300)))) == {5}


def test_panels_on_two_sides_of_a_knife_line_that_share_only_part_of_it_are_apart():
    right = Polygon(
        [
            (329.49681798087676, 104.24707705132862),
            (102.84356806721549, -361.0718264124468),
            (-33.10108824509552, -15.9112391880534),
        ]
    )
    left = Polygon(
        [
            (36.22534173880393, -191.92956850319075),
            (102.84356806721549, -361.0718264124468),
            (-115.93955511287419, -423.6048758167779),
        ]
    )
    for one, other in ((right, left), (left, right)):
        assert list(too_near(np.array([one]), np.array([other]), 0.0)) == []
    deeper = affinity.translate(left, 0.1)
    assert [n for n, _, shared in too_near(np.array([right]), np.array([deeper]), 0.0) if shared] == [0]


def test_a_panel_fits_the_bed_at_a_slant():
    slant = Hide("h", place(box(0, 0, 680, 15), 20, 20, 10), nominal_mm=1.5)
    strip = put(outline=place(box(10, 4, 20, 11), 20, 20, 10), x=20, y=20, angle=10)
    assert rules(strip, hide=slant) == set()
    longer = Hide("h", place(box(0, 0, 720, 15), 20, 20, 10), nominal_mm=1.5)
    assert rules(strip, hide=longer) == {5}


def test_a_whole_hide_that_fits_the_bed_needs_no_panels():
    assert rules(put(panel=""), panels=()) == set()
    wide = Hide("h", box(0, 0, 900, 300), nominal_mm=1.5)
    assert rules(put(panel=""), hide=wide, panels=()) == {5}


def test_a_panel_outside_its_hide_or_listed_twice_fails():
    assert rules(put(), panels=(Panel("1", "h", box(0, 0, 501, 300)),)) == {5}
    assert rules(put(), panels=(Panel("1", "h", box(0, 0, 200, 300)), Panel("1", "h", box(0, 0, 200, 300)))) == {5}


BOW = Polygon([(0, 0), (10, 10), (10, 0), (0, 20)])


with np.errstate(invalid="ignore"):
    NOWHERE = Polygon([(0, 0), (math.nan, 0), (10, 10)])


@pytest.mark.parametrize("shape", [BOW, NOWHERE, Polygon()])
def test_a_broken_panel_is_a_finding_not_a_crash(shape):
    findings = check(layout(put(), panels=(Panel("1", "h", shape),)))
    assert [(finding.rule, finding.what) for finding in findings] == [(5, "geometry")]


WIDE = Hide("h", box(0, 0, 900, 300), nominal_mm=1.5)


HALVES = (Panel("1", "h", box(0, 0, 450, 300)), Panel("2", "h", box(450, 0, 900, 300)))


@pytest.mark.parametrize(
    "cuts",
    [
        (),
        (Cut("h", (400, 0), (400, 300)),),
        (Cut("h", (450, 0), (450, 200)),),
        (Cut("h", (450, 50), (450, 250)),),
        (Cut("h", (450, 0), (450, 0)),),
        (Cut("h", (450, 0), (450, math.nan)),),
        (Cut("h", (0, 150), (900, 150)), Cut("h", (450, 0), (450, 300))),
    ],
)
def test_panels_that_the_knife_lines_do_not_make_fail(cuts):
    assert rules(put(), hide=WIDE, panels=HALVES, cuts=cuts) == {5}


LOWER = Polygon([(0, 0), (900, 0), (900, 150), (500, 220), (300, 100), (0, 130)])
BENT = Cut("h", (0, 130), (900, 150), ((300, 100), (500, 220)))


def test_a_line_of_three_strokes_makes_two_panels_whichever_way_it_is_told():
    wide = Workshop(Machine("laser", 1000, 400, 40), (SETTING,), MARGINS, thickness_spread_mm=0.1)
    panels = (Panel("1", "h", LOWER), Panel("2", "h", WIDE.outline.difference(LOWER)))
    back = Cut("h", BENT.end, BENT.start, BENT.via[::-1])
    for cut in (BENT, back):
        assert rules(put(), hide=WIDE, panels=panels, cuts=(cut,), workshop=wide) == set()
    straight = Cut("h", BENT.start, BENT.end)
    four = Cut("h", BENT.start, BENT.end, (*BENT.via, (700, 185)))
    turns = Cut("h", BENT.start, BENT.end, ((500, 220), (300, 100)))
    for cut in (straight, four, turns, Cut("h", BENT.start, BENT.end, ((300, math.nan),))):
        assert rules(put(), hide=WIDE, panels=panels, cuts=(cut,), workshop=wide) == {5}


@pytest.mark.parametrize("knife", [0.0, 1.5, 8.0])
def test_the_margin_along_a_knife_line_is_its_own_and_no_more_than_that_of_the_edge(knife):
    workshop = Workshop(
        Machine("laser", 600, 400, 40), (SETTING,), replace(MARGINS, knife_mm=knife), thickness_spread_mm=0.1
    )
    cuts, least = (Cut("h", (450, 0), (450, 300)),), min(knife, MARGINS.edge_mm)
    reach = 450 - TAG.outline.bounds[2]
    assert rules(put(x=reach - least), hide=WIDE, panels=HALVES, cuts=cuts, workshop=workshop) == set()
    if least:
        assert rules(put(x=reach - least + 0.1), hide=WIDE, panels=HALVES, cuts=cuts, workshop=workshop) == {5}
    near_edge = put(y=MARGINS.edge_mm - 0.1 - TAG.outline.bounds[1])
    assert rules(near_edge, hide=WIDE, panels=HALVES, cuts=cuts, workshop=workshop) == {2}


def test_a_pinwheel_that_no_straight_cut_makes_fails():
    hide = Hide("h", box(0, 0, 600, 600), nominal_mm=1.5)
    pinwheel = [
        box(0, 0, 400, 200),
        box(400, 0, 600, 400),
        box(200, 400, 600, 600),
        box(0, 200, 200, 600),
        box(200, 200, 400, 400),
    ]
    panels = tuple(Panel(str(n), "h", piece) for n, piece in enumerate(pinwheel, 1))
    lines = [((0, 200), (400, 200)), ((400, 0), (400, 400)), ((200, 400), (600, 400)), ((200, 200), (200, 600))]
    assert rules(put(), hide=hide, panels=panels, cuts=tuple(Cut("h", *line) for line in lines)) == {5}


def test_a_line_across_two_legs_goes_right_across_and_half_of_it_does_not():
    trousers = Hide("h", box(0, 0, 500, 100).union(box(0, 0, 150, 350)).union(box(350, 0, 500, 350)), nominal_mm=1.5)
    panels = (Panel("1", "h", box(0, 200, 150, 350)),)
    legs = put(x=20, y=220, outline=box(20, 220, 90, 260))
    assert rules(legs, hide=trousers, panels=panels, cuts=(Cut("h", (0, 200), (500, 200)),)) == set()
    assert rules(legs, hide=trousers, panels=panels, cuts=(Cut("h", (0, 200), (150, 200)),)) == {5}


def test_a_part_nearer_to_a_knife_line_than_the_edge_margin_fails():
    cuts, edge = (Cut("h", (450, 0), (450, 300)),), MARGINS.edge_mm
    reach = 450 - TAG.outline.bounds[2]
    assert rules(put(x=reach - edge), hide=WIDE, panels=HALVES, cuts=cuts) == set()
    assert rules(put(x=reach - edge + 0.1), hide=WIDE, panels=HALVES, cuts=cuts) == {5}


def test_the_margin_of_the_bed_counts():
    machine = Machine("laser", 600, 400, 40, bed_margin_mm=60)
    workshop = Workshop(machine, (SETTING,), MARGINS, thickness_spread_mm=0.1)
    assert rules(put(), workshop=workshop) == {5}
    fed = replace(machine, bed_margin_mm=0, bed_width_mm=310, bed_height_mm=310, feed_through="width")
    assert rules(put(), workshop=replace(workshop, machine=fed)) == set()


def test_a_part_longer_than_the_bed_fails_however_long_the_leather_may_be():
    machine = Machine("laser", 300, 250, 40, feed_through="width")
    shop = Workshop(machine, (SETTING,), MARGINS, thickness_spread_mm=0.1)
    long, short = (Part("strap", box(0, 0, length, 30)) for length in (450, 280))
    narrow = Hide("h", box(0, 0, 500, 240), nominal_mm=1.5, tannage="vegetable")
    assert rules(put(short), hide=narrow, workshop=shop) == set()
    assert rules(put(long), hide=narrow, workshop=shop) == {5}


BELT = box(0, 0, 700, 30)
SIDE = Hide("h", box(0, 0, 900, 300), nominal_mm=1.5)
"""Longer than the bed of 600 mm x 400 mm, as the belt is."""


def belt(polygon, longer, **facts):
    part = replace(put(Part("belt", BELT), x=50, y=200, panel="L1"), **facts)
    return rules(part, hide=SIDE, panels=(Panel("L1", "h", polygon, longer),))


def test_a_belt_may_lie_on_a_panel_of_its_own_that_is_longer_than_the_bed():
    laid = place(BELT, 50, 200, 0)
    assert belt(laid, "knife") == set() and belt(box(47, 197, 753, 233), "two loads") == set()


@pytest.mark.parametrize(
    "polygon, longer",
    [
        (box(50, 200, 750, 231), "knife"),
        (box(47, 197, 753, 233), "knife"),
        (box(48, 198, 752, 232), "two loads"),
        (box(47, 197, 753, 233), ""),
        (box(3, 3, 897, 297), "two loads"),
    ],
    ids=["wider than the part", "not the part", "nearer than the margin", "none said", "longer than two beds"],
)
def test_a_long_panel_that_is_not_what_it_says_fails(polygon, longer):
    small = replace(Machine("small", 440, 280, 40)) if polygon.bounds[0] == 3 else None
    if small is None:
        assert belt(polygon, longer) == {5}
    else:
        part = put(Part("belt", BELT), x=50, y=200, panel="L1")
        found = layout(part, hide=SIDE, panels=(Panel("L1", "h", polygon, longer),))
        found = replace(found, workshop=replace(found.workshop, machine=small))
        assert {finding.rule for finding in check(found)} == {5}


def test_a_part_that_fits_the_bed_needs_no_long_panel():
    part = put(panel="L1")
    assert rules(part, hide=SIDE, panels=(Panel("L1", "h", part.outline, "knife"),)) == {5}


def test_no_panel_has_leather_that_was_cut_out_for_a_belt():
    laid = place(BELT, 50, 200, 0)
    long = Panel("L1", "h", laid, "knife")
    cuts = (Cut("h", (450, 0), (450, 300)),)
    halves = [Panel(str(n), "h", box(x, 0, x + 450, 300)) for n, x in enumerate((0, 450))]
    both = (put(Part("belt", BELT), x=50, y=200, panel="L1"), put(x=20, y=20, panel="0"))
    assert rules(*both, hide=SIDE, panels=(long, *halves), cuts=cuts) == {5}
    less = [replace(half, polygon=half.polygon.difference(laid)) for half in halves]
    assert rules(*both, hide=SIDE, panels=(long, *less), cuts=cuts) == set()
    near = replace(both[1], x=120.0, y=158.5, outline=place(both[1].outline, 100, 138.5, 0))
    assert rules(both[0], near, hide=SIDE, panels=(long, *less), cuts=cuts) == {5}


def test_the_window_of_a_setting_does_not_bind_what_is_cut_by_knife():
    thick = replace(SIDE, nominal_mm=4.0)
    part = put(Part("belt", BELT), x=50, y=200, panel="L1")
    knife, loads = (
        Panel("L1", "h", place(BELT, 50, 200, 0), "knife"),
        Panel("L1", "h", box(47, 197, 753, 233), "two loads"),
    )
    assert rules(part, hide=thick, panels=(knife,)) == set()
    assert rules(part, hide=thick, panels=(loads,)) == {3}


def test_leather_that_is_never_burnt_may_be_bigger_than_the_bed_and_what_is_not_known_may_not():
    wide = Hide("h", box(0, 0, 900, 700), nominal_mm=1.5, tannage="chrome")
    assert rules(put(panel=""), hide=wide, panels=()) == set()
    assert rules(put(), hide=wide, panels=(Panel("1", "h", wide.outline),)) == set()
    for tannage in ("unknown", "vegetable"):
        assert rules(put(panel=""), hide=replace(wide, tannage=tannage), panels=()) == {5}
