from shapely.geometry import box

from nesting.files.patterns import Drawing
from nesting.model import Part
from nesting.report.parts_picture import draw_parts


def test_what_is_said_of_a_part_at_the_right_edge_stays_on_the_page():
    parts = (
        Part("a long strap to be cut", box(0, 0, 700, 60)),
        Part("tab of a very long name", box(690, 80, 700, 160)),
    )
    figure = draw_parts(Drawing(parts=parts), "straps", "inch")
    ends = [text.get_window_extent().x1 for axes in figure.axes for text in axes.texts if "\n" in text.get_text()]
    assert len(ends) == 2 and max(ends) <= figure.bbox.x1
