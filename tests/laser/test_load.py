import pytest
from laser_samples import hide, layout_of, placement, rich_part
from shapely.geometry import LineString, Point, Polygon, box

from nesting.laser.load import bed_loads
from nesting.model import OPERATIONS, Panel

HALVES = (Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300)))


def test_each_panel_is_burnt_by_itself_from_its_own_corner():
    parts = [placement(1, x=300, panel="2"), placement(2, x=20), placement(3, x=400, panel="2"), placement(4, x=100)]
    loads = bed_loads(layout_of(parts, panels=HALVES, kerf=0), "h1")
    assert [load.panel for load in loads] == ["1", "2"]
    assert [[line.placement.piece for line in load.lines] for load in loads] == [[2, 4], [1, 3]]


def test_the_head_starts_at_the_lower_left_of_the_panel():
    (load,) = bed_loads(layout_of([placement(x=300, y=20, panel="2")], panels=HALVES, kerf=0), "h1")
    # From (250, 0) to the corner of the part at (300, 20).
    assert load.lines[0].travel_mm == pytest.approx((50**2 + 20**2) ** 0.5)


def test_a_panel_without_parts_is_no_load():
    assert [load.panel for load in bed_loads(layout_of([placement(panel="2", x=300)], panels=HALVES), "h1")] == ["2"]


def test_lines_come_operation_by_operation_over_all_parts():
    parts = [rich_part(number=n, x=20 + 80 * n, y=50) for n in range(4)]
    (load,) = bed_loads(layout_of(parts), "h1")
    operations = [line.operation for line in load.lines]
    assert operations == sorted(operations, key=OPERATIONS.index)
    assert [operations.count(operation) for operation in OPERATIONS] == [4, 8, 4, 4]


def test_every_line_knows_its_part():
    parts = [rich_part(number=n, x=20 + 80 * n, y=50) for n in range(4)]
    (load,) = bed_loads(layout_of(parts), "h1")
    for burnt in load.lines:
        assert burnt.placement.outline.buffer(0.2).covers(burnt.line)


def test_one_part_on_another_hide_is_not_in_the_load():
    layout = layout_of([placement(1), placement(2, hide="h2")], hides=[hide(), hide("h2")])
    assert [[line.placement.piece for line in load.lines] for load in bed_loads(layout, "h1")] == [[1]]
    assert bed_loads(layout_of([]), "h1") == ()


def test_what_does_not_come_out_as_drawn_is_told_with_the_load():
    tiny = LineString(Point(10, 10).buffer(0.05).exterior.coords)
    (load,) = bed_loads(layout_of([placement(stitch=[tiny])]), "h1")
    assert len(load.warnings) == 1 and "dot" in load.warnings[0]


def test_a_part_on_a_hide_without_panels_is_burnt_too():
    (load,) = bed_loads(
        layout_of([placement(panel="")], panels=[Panel("1", "other", Polygon([(0, 0), (1, 0), (1, 1)]))]), "h1"
    )
    assert len(load.lines) == 1
