from dataclasses import replace
from datetime import date

import pytest
from laser_samples import layout_of, placement
from shapely.geometry import LineString, box

from nesting.model import Cut, Hide, OrderLine, Panel
from nesting.report.drawing import draw_hide
from nesting.report.guide import LINE, draw_guide
from nesting.report.layers import KNIFE

HIDE = Hide("h1", box(0, 0, 1000, 390), backbone=((0, 150), (1000, 150)), tannage="vegetable", nominal_mm=1.5)
CUTS = (Cut("h1", (560, 0), (560, 390)), Cut("h1", (560, 200), (1000, 200)))


def test_the_guide_is_drawn_with_a_row_for_every_end():
    layout = layout_of([placement(x=20, y=20)], hides=[HIDE], panels=(Panel("1", "h1", box(0, 0, 560, 390)),))
    figure = draw_guide(replace(layout, cuts=CUTS), "h1")
    texts = [text.get_text() for text in (*figure.axes[0].texts, *figure.texts)]
    for name in ("1a", "1b", "2a", "2b"):
        assert name in texts and any(text.startswith(f"{name}  ") for text in texts)
    assert "M" in texts


def test_the_guide_tells_which_lines_free_each_panel_and_when_that_is_burnt():
    panels = (Panel("1", "h1", box(0, 0, 560, 390)), Panel("2", "h1", box(560, 0, 1000, 200)))
    parts = [placement(x=20, y=20, order="A-1"), placement(x=600, y=20, order="A-2", panel="2")]
    layout = layout_of(parts, hides=[HIDE], panels=panels)
    lines = tuple(OrderLine(f"A-{n}", "tag", 1, date(2026, 9, 20 - n)) for n in (1, 2))
    figure = draw_guide(replace(layout, cuts=CUTS, lines=lines), "h1")
    texts = [text.get_text() for text in figure.texts]
    assert [text for text in texts if text.startswith("Panel ")] == [
        "Panel 2. Free once knife lines 1 and 2 are cut. Burn first of 2.",
        "Panel 1. Free once knife line 1 is cut. Burn 2nd of 2.",
    ]


@pytest.mark.parametrize("draw", [draw_guide, draw_hide])
def test_no_knife_line_is_drawn_through_a_part_that_is_cut_out_before(draw):
    belt = Panel("L1", "h1", box(20, 300, 980, 360), "knife")
    layout = layout_of(
        [placement(1, x=20, y=20), placement(2, x=20, y=310, panel="L1")],
        hides=[HIDE],
        panels=(Panel("1", "h1", box(0, 0, 560, 390)), belt),
    )
    figure = draw(replace(layout, cuts=CUTS[:1]), "h1")
    orange = {LINE["color"], KNIFE["color"]}
    lines = [LineString(line.get_xydata()) for line in figure.axes[0].lines if line.get_color() in orange]
    upright = [line for line in lines if line.bounds[0] == line.bounds[2] == 560]
    assert sorted(line.length for line in upright) == pytest.approx([30, 300])
    assert not any(line.crosses(belt.polygon) for line in upright)
