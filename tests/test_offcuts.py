import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry import Polygon, box
from test_check import layout, put

from nesting.offcuts import largest_rectangle, offcuts


def square(x, y, side, piece=1):
    return put(piece=piece, outline=box(x, y, x + side, y + side))


def test_parts_kerf_offcuts_and_scrap_add_up_to_the_hide():
    plan = layout(square(10, 10, 90), square(110, 10, 90, 2), square(60, 150, 100, 3))
    pieces, scrap = offcuts(plan, "h")
    grown = shapely.union_all([p.outline.buffer(0.2) for p in plan.placements])
    assert sum(p.area_mm2 for p in pieces) + scrap.area + grown.area == pytest.approx(plan.hides[0].outline.area, rel=1e-9)


def test_a_strip_narrower_than_the_smallest_useful_width_is_scrap():
    plan = layout(put(outline=box(10, 10, 450, 290)))
    assert offcuts(plan, "h")[0] == []


def test_a_wide_end_is_an_offcut_with_its_rectangle():
    # 500 x 300 less 250.2 on the left; a disc of 60 cannot reach the corners, so the opening is a rounded rectangle
    pieces, _ = offcuts(layout(put(outline=box(0, 0, 250, 300))), "h")
    assert len(pieces) == 1 and pieces[0].id == "h-offcut-1"
    inner = box(250.2, 0, 500, 300).buffer(-30).buffer(30)
    assert pieces[0].area_mm2 == pytest.approx(inner.area, rel=1e-3)
    # corners of the rectangle lie on the arcs: 30 (1 - 1/sqrt 2) inside every side
    inset = 2 * 30 * (1 - math.sqrt(0.5))
    assert pieces[0].width_mm * pieces[0].height_mm == pytest.approx((300 - inset) * (249.8 - inset), rel=0.015)


def test_what_falls_out_of_a_cutout_is_scrap():
    plain = layout(put(outline=box(10, 10, 250, 290)))
    ring = layout(put(outline=box(10, 10, 250, 290), cutouts=(box(50, 50, 200, 200),)))
    assert offcuts(ring, "h")[1].area == pytest.approx(offcuts(plain, "h")[1].area + 150 * 150)


def test_a_hide_that_nothing_is_cut_from_has_no_offcuts():
    pieces, scrap = offcuts(layout(), "h")
    assert pieces == [] and scrap.is_empty


@settings(max_examples=20, deadline=None)
@given(st.lists(st.floats(30, 100), min_size=5, max_size=10), st.floats(0, 90))
def test_the_rectangle_lies_inside(radii, turn):
    angles = np.linspace(0, 2 * math.pi, len(radii), endpoint=False) + math.radians(turn)
    polygon = Polygon(np.column_stack([np.cos(angles), np.sin(angles)]) * np.array(radii)[:, None])
    rectangle, long, short = largest_rectangle(polygon)
    assert polygon.buffer(1e-6).contains(rectangle) and long >= short > 0


@pytest.mark.parametrize("turn", [0, 30])
def test_a_rectangle_is_its_own_largest_rectangle(turn):
    _, long, short = largest_rectangle(shapely.affinity.rotate(box(0, 0, 200, 80), turn))
    assert long == pytest.approx(200, rel=0.015) and short == pytest.approx(80, rel=0.015)
