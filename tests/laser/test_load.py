from dataclasses import replace
from itertools import pairwise

import pytest
from burnt_files import burnt, read
from laser_samples import DEEP, SHALLOW, hide, layout_of, placement, rich_part
from shapely.geometry import LineString, Point, Polygon, box

from nesting.laser.export import export
from nesting.laser.load import bed_loads, unfilled
from nesting.laser.order import travel_mm
from nesting.model import OPERATIONS, Panel

HALVES = (Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300)))


def test_each_panel_is_burnt_by_itself():
    parts = [placement(1, x=300, panel="2"), placement(2, x=20), placement(3, x=400, panel="2"), placement(4, x=100)]
    loads = bed_loads(layout_of(parts, panels=HALVES, kerf=0), "h1")
    assert [load.panel for load in loads] == ["1", "2"]
    assert [sorted(line.placement.piece for line in load.lines) for load in loads] == [[2, 4], [1, 3]]


def test_the_head_starts_at_the_bed_corner():
    (load,) = bed_loads(layout_of([placement(x=300, y=20, panel="2")], panels=HALVES, kerf=0), "h1")
    # The panel's knife edge of 300 mm, at x = 250, is against the bed's bottom: the part's long edge runs up the bed.
    start = load.pose.back(0, 0)
    assert start == pytest.approx((250, 300))
    assert load.lines[0].travel_mm == pytest.approx(LineString([start, load.lines[0].line.coords[0]]).length)


def test_a_part_in_the_cutout_of_another_is_burnt_before_what_surrounds_it():
    around = placement(1, outline=box(0, 0, 100, 100), cutouts=[box(10, 10, 90, 90), box(1, 1, 5, 5)])
    inside = placement(2, x=50, y=50, outline=box(0, 0, 20, 20), cutouts=[box(5, 5, 15, 15)])
    (load,) = bed_loads(layout_of([around, inside], kerf=0), "h1")
    burnt = [(line.placement.piece, round(Polygon(line.line).area)) for line in load.lines]
    assert burnt[-3:] == [(2, 400), (1, 6400), (1, 10000)]
    assert sorted(burnt[:2]) == [(1, 16), (2, 100)]


def test_closed_engraving_is_filled_when_its_row_has_a_line_spacing():
    ring, inner = (LineString(box(a, a, 30 - a, 30 - a).exterior.coords) for a in (2, 8))
    part = placement(outline=box(0, 0, 40, 40), engrave=[ring, inner, LineString([(32, 5), (38, 5)])])
    (load,) = bed_loads(layout_of([part], engravings=(DEEP,), engraving_depth="deep"), "h1")
    fills = [line.fill for line in load.lines if line.operation == "engrave"]
    assert sorted(round(fill.area) for fill in fills if fill) == [26**2 - 14**2] and fills.count(None) == 1


def test_closed_engraving_is_followed_when_its_row_has_none():
    part = placement(outline=box(0, 0, 40, 40), engrave=[LineString(box(2, 2, 28, 28).exterior.coords)])
    (load,) = bed_loads(layout_of([part], engravings=(SHALLOW,)), "h1")
    assert load.engraving == SHALLOW and [line.fill for line in load.lines] == [None, None]


def test_each_shape_is_filled_or_followed_as_its_pattern_says_filled_ones_first():
    rings = [LineString(box(a, 2, a + 8, 10).exterior.coords) for a in (2, 12, 22)]
    part = placement(outline=box(0, 0, 40, 40), engrave=rings, engrave_how=("line", "fill", ""))
    (load,) = bed_loads(layout_of([part], engravings=(DEEP,), engraving_depth="deep"), "h1")
    engraved = [line for line in load.lines if line.operation == "engrave"]
    assert [line.fill is not None for line in engraved] == [True, True, False]
    assert load.pose.put(engraved[2].line).bounds[0] == pytest.approx(22) and not load.warnings


def test_engraving_to_fill_with_a_setting_for_lines_is_followed_and_told():
    part = placement(
        outline=box(0, 0, 40, 40), engrave=[LineString(box(2, 2, 28, 28).exterior.coords)], engrave_how=("fill",)
    )
    (load,) = bed_loads(layout_of([part], engravings=(SHALLOW,)), "h1")
    assert load.lines[0].fill is None and "has no line_spacing_mm" in load.warnings[0]


def test_engraving_without_a_tested_row_is_told():
    (load,) = bed_loads(layout_of([rich_part()]), "h1")
    assert load.engraving is None and "no tested setting to engrave shallow" in load.warnings[0]
    assert "--operation 'engrave shallow' --speed .. --power .." in load.warnings[0]


@pytest.mark.parametrize("tested_mm, holds", [(1.6, True), (1.9, False)])
def test_beyond_the_tested_thicknesses_an_engraving_row_holds_within_its_window(tested_mm, holds):
    # Leather of 1.5 mm; the window by the default rule is 10 % either way.
    row = replace(SHALLOW, thickness_mm=tested_mm, thinnest_mm=None, thickest_mm=None)
    (load,) = bed_loads(layout_of([rich_part()], engravings=(row,)), "h1")
    assert load.engraving == (row if holds else None)
    assert any("only 1.9 mm is tested: cut a test piece" in text for text in load.warnings) != holds


def test_heat_is_spread_over_a_load_when_asked():
    parts = [placement(n, x=20 + 45 * n, y=20, outline=box(0, 0, 40, 40)) for n in range(6)]
    (load,) = bed_loads(layout_of(parts), "h1", spread_heat=True)
    numbers = [line.placement.piece for line in load.lines]
    assert sorted(numbers) == list(range(6)) and all(abs(a - b) > 1 for a, b in pairwise(numbers))


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
    for line in load.lines:
        assert line.placement.outline.buffer(0.2).covers(line.line)


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


def test_the_parts_of_the_demo_are_burnt_with_far_less_travel_than_in_file_order():
    from nesting.app.demo import demo_folder
    from nesting.files.job import read_job

    job, parts, x = read_job(demo_folder()), [], 20.0
    for line in job.orders:
        for part in job.product(line.product).parts:
            x0, y0, x1, _ = part.outline.bounds
            drawn = {name: getattr(part, name) for name in ("outline", "cutouts", "stitch", "engrave")}
            parts.append(placement(len(parts) + 1, x=x - x0, y=20 - y0, order=line.order, part=part.name, **drawn))
            x += x1 - x0 + 5
    (load,) = bed_loads(layout_of(parts), "h1")
    paths = [burnt(part, 0.2) for part in parts]
    in_file_order = [line for operation in OPERATIONS for path in paths for line in getattr(path, operation)]
    start = load.pose.back(0, 0) if load.pose else (0, 0)
    saved = 1 - sum(line.travel_mm for line in load.lines) / sum(travel_mm(in_file_order, start))
    # Measured: 30 % where the parts lie in one row in the order of the file, 52 to 54 % on layouts of the demo's hides.
    assert saved > 0.25


def test_a_fold_line_is_never_burnt(tmp_path):
    plain = rich_part()
    folded = replace(plain, folds=(LineString([(40, 20), (40, 60)]), LineString([(20, 30), (80, 30)])))
    written = []
    for part in (plain, folded):
        result = export(layout_of([part]), tmp_path / str(len(written)))
        written.append([(op, line.wkt) for file in result.files for op, line, _ in read(file)])
    assert written[0] == written[1] and written[0]


def test_what_would_not_be_filled_is_told_before_it_is_burnt():
    part = placement(
        outline=box(0, 0, 40, 40), engrave=[LineString(box(2, 2, 28, 28).exterior.coords)], engrave_how=("fill",)
    )
    (told,) = unfilled(layout_of([part], engravings=(SHALLOW,)))
    assert told.startswith(
        f"the engraving of 1 part(s) asks to be filled, but setting {SHALLOW.name} has no line spacing"
    )
    assert unfilled(layout_of([part], engravings=(DEEP,), engraving_depth="deep")) == []
    assert unfilled(layout_of([replace(part, engrave_how=("line",))], engravings=(SHALLOW,))) == []
    assert unfilled(layout_of([part])) == []
