from dataclasses import replace

from laser_samples import layout_of, placement
from shapely.geometry import box

from nesting.model import Cut, Hide, Panel
from nesting.report.guide import draw_guide

HIDE = Hide("h1", box(0, 0, 1000, 390), backbone=((0, 150), (1000, 150)), tannage="vegetable", nominal_mm=1.5)
CUTS = (Cut("h1", (560, 0), (560, 390)), Cut("h1", (560, 200), (1000, 200)))


def test_the_guide_is_drawn_with_a_row_for_every_end():
    layout = layout_of([placement(x=20, y=20)], hides=[HIDE], panels=(Panel("1", "h1", box(0, 0, 560, 390)),))
    figure = draw_guide(replace(layout, cuts=CUTS), "h1")
    texts = [text.get_text() for text in (*figure.axes[0].texts, *figure.texts)]
    for name in ("1a", "1b", "2a", "2b"):
        assert name in texts and any(text.startswith(f"{name}  ") for text in texts)
    assert "M" in texts
