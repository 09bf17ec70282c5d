import math
from dataclasses import astuple, replace

import numpy as np
import pytest
from laser_samples import layout_of, placement
from shapely.geometry import LineString, Point, box

from nesting.laser.guide import End, bend_sentence, flaw_sentence, from_backbone, knife_lines, mark, sentence
from nesting.model import Cut, Hide, Panel, Zone

SPINE = ((0, 150), (1000, 150))
HIDE = Hide("h1", box(0, 0, 1000, 390), backbone=SPINE, tannage="vegetable", nominal_mm=1.5)
CUTS = (Cut("h1", (560, 0), (560, 390)), Cut("h1", (560, 200), (1000, 200)))


def lines(hide=HIDE, cuts=CUTS):
    panels = (Panel("1", "h1", box(0, 0, 560, 390)),)
    layout = layout_of([placement(x=20, y=20)], hides=[hide], panels=panels)
    return knife_lines(replace(layout, cuts=cuts), "h1")


def test_measuring_starts_where_the_backbone_meets_the_edge():
    assert mark(HIDE) == pytest.approx((0, 150))
    assert mark(replace(HIDE, backbone=((300, 150), (700, 150)))) == pytest.approx((0, 150))


def test_without_a_backbone_it_starts_at_the_leftmost_point():
    assert mark(replace(HIDE, backbone=None)) == (0, 0)


def test_ends_on_the_edge_are_measured_along_it_the_shorter_way_round():
    first = lines()[0]
    assert first.length_mm == 390
    assert first.ends[0].along_mm == pytest.approx(150 + 560) and not first.ends[0].clockwise
    assert first.ends[1].along_mm == pytest.approx(240 + 560) and first.ends[1].clockwise


def test_an_end_on_an_earlier_line_is_measured_along_that_line():
    end = lines()[1].ends[0]
    assert end.line == 1 and end.along_mm == pytest.approx(200)
    assert sentence(end) == "on line 1, 200 mm from 1a"


def test_where_strokes_meet_is_measured_from_both_ends_and_leads_back_there():
    bent = Cut("h1", (560, 0), (560, 390), ((520, 120), (610, 300)))
    (first,) = lines(cuts=(bent,))
    assert [bend.name for bend in first.bends] == ["1c", "1d"]
    assert first.length_mm == pytest.approx(
        math.dist((560, 0), (520, 120)) + math.dist((520, 120), (610, 300)) + math.dist((610, 300), (560, 390))
    )
    for bend, point in zip(first.bends, bent.via):
        a, b = (np.array(end) for end in (bent.start, bent.end))
        far, (one, other) = math.dist(a, b), bend.from_mm
        along = (one**2 - other**2 + far**2) / (2 * far)
        off = math.sqrt(one**2 - along**2) * (1 if bend.left else -1)
        unit = (b - a) / far
        assert a + along * unit + off * np.array([-unit[1], unit[0]]) == pytest.approx(point)
    assert first.bends[0].spine_mm == pytest.approx(520) and first.bends[0].off_mm == pytest.approx(-30)
    assert bend_sentence(first.bends[0]).endswith("left of a to b")


def test_an_end_on_a_bent_line_is_measured_along_its_strokes():
    bent = Cut("h1", (560, 0), (560, 390), ((520, 120), (610, 300)))
    end = lines(cuts=(bent, Cut("h1", (610, 300), (1000, 300))))[1].ends[0]
    assert end.line == 1 and end.along_mm == pytest.approx(
        math.dist((560, 0), (520, 120)) + math.dist((520, 120), (610, 300))
    )


def test_ends_are_also_measured_from_the_backbone():
    below, above = lines()[0].ends
    assert (below.spine_mm, below.off_mm) == pytest.approx((560, -150))
    assert from_backbone(below) == "150 mm right of it, 560 mm on from M"
    assert from_backbone(above) == "240 mm left of it, 560 mm on from M"


def test_without_a_backbone_the_straight_distance_from_the_mark_is_given():
    end = lines(replace(HIDE, backbone=None))[0].ends[1]
    assert end.straight_mm == pytest.approx(math.hypot(560, 390)) and "straight from M" in from_backbone(end)


def test_measured_distances_lead_back_to_the_ends():
    """Walking the outline by the distances of the guide, with shapely's own referencing, ends where the line does."""
    hide = replace(HIDE, outline=HIDE.outline.difference(box(400, 300, 500, 390)))
    for line in lines(hide, CUTS[:1]):
        for end in line.ends:
            ring = (
                hide.outline.exterior
                if hide.outline.exterior.is_ccw
                else LineString(hide.outline.exterior.coords[::-1])
            )
            start = ring.project(Point(mark(hide)))
            walked = ring.interpolate((start + (-end.along_mm if end.clockwise else end.along_mm)) % ring.length)
            assert walked.distance(Point(end.x, end.y)) < 1e-6


def test_an_end_beside_the_mark_is_level_with_it():
    end = End("1a", 0.0, 0.0, 2.0, True, None, -0.3, 2.0, 2.0)
    assert from_backbone(end) == "2 mm left of it, level with M"
    assert from_backbone(replace(end, spine_mm=-3.0)) == "2 mm left of it, 3 mm behind M"


def test_a_line_tells_where_it_crosses_a_flaw():
    scar = Zone(box(550, 100, 570, 140), "D", "scar")
    aside = Zone(box(100, 100, 120, 140), "C")
    first, second = lines(hide=replace(HIDE, zones=(aside, scar)))
    ((kind, *along),) = map(astuple, first.flaws)
    assert kind == "scar" and along == pytest.approx([100, 140]) and second.flaws == ()
    said = flaw_sentence(first, first.flaws[0])
    assert said == "crosses scar 100 mm to 140 mm from 1a: cut slowly, the rule may lift"
