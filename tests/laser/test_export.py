import math
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from itertools import groupby

import pytest
import shapely
import svgelements
from burnt_files import read
from laser_samples import DEEP, LEAF, MACHINE, SETTING, hide, layout_of, placement, rich_part
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.errors import FileError
from nesting.laser.cautions import CAUTIONS
from nesting.laser.export import NO_FRAME, REFUSALS, export
from nesting.laser.load import bed_loads
from nesting.laser.registration import lay
from nesting.laser.time import machine_seconds
from nesting.model import OPERATIONS, Layout, Panel

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "\"><script>alert(1)</script><!-- ]]> & ' \x00\x1b\ud800\ufffe Größe 漢"


def written(layout: Layout, folder):
    result = export(layout, folder)
    assert not result.refusals
    return result.files[0]


def groups(path):
    return [element for element in ElementTree.parse(path).getroot() if element.tag == SVG + "g"]


def lines(path):
    """(group, line in bed coordinates) of every path burnt, as an independent reader of SVG sees the file."""
    return [(group, line) for group, line, _ in read(path)]


def test_groups_come_in_burning_order_and_there_are_no_others(tmp_path):
    path = written(layout_of([rich_part()]), tmp_path)
    assert [group.get("id") for group in groups(path)] == list(OPERATIONS)
    assert [operation for operation, _ in groupby(operation for operation, _ in lines(path))] == list(OPERATIONS)


def test_an_independent_reader_finds_the_lines_at_true_size_and_in_order(tmp_path):
    layout = layout_of([rich_part(number=n, x=20 + 90 * n, y=40 + 10 * n, angle=33 * n) for n in range(4)])
    seen = lines(written(layout, tmp_path))
    (load,) = bed_loads(layout, "h1")
    assert [operation for operation, _ in seen] == [burnt.operation for burnt in load.lines]
    for (_, line), burnt in zip(seen, load.lines):
        true = burnt.curve.flattened(1e-5)
        assert line.length == pytest.approx(true.length, abs=2e-3)
        assert line.is_closed == true.is_closed
        # Four decimals in the file, and the reader rounds its own scale.
        assert line.hausdorff_distance(load.pose.put(true)) < 5e-4
        if line.is_closed:
            assert Polygon(line).area == pytest.approx(Polygon(true).area, abs=1e-3 * line.length)


def test_without_kerf_the_outline_read_back_is_the_finished_part_and_not_its_mirror_image(tmp_path):
    part = placement(outline=LEAF, x=100, y=50, angle=20)
    ((_, line),) = lines(written(layout_of([part], kerf=0), tmp_path))
    outline = lay(box(0, 0, 500, 300), hide(), MACHINE).put(part.outline)
    assert Polygon(line).symmetric_difference(outline).area < 0.05
    # The part would not pass for its mirror image.
    assert Polygon(line).symmetric_difference(affinity.scale(outline, -1, 1)).area > 100


def test_the_page_is_the_bed_in_mm_with_y_down(tmp_path):
    layout = layout_of([placement(outline=box(0, 0, 10, 10), x=480, y=285)], kerf=0)
    root = ElementTree.parse(written(layout, tmp_path)).getroot()
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == (
        "600.0000mm",
        "400.0000mm",
        "0 0 600.0000 400.0000",
    )
    # The hide of 500 x 300 mm lies at the bottom left of the bed, so its bottom is at 400 on the page.
    numbers = [float(value) for value in re.findall(r"[\d.]+", root.find(f"{SVG}g[@id='outline']/{SVG}path").get("d"))]
    assert {480, 490} <= set(numbers[0::2]) and {105, 115} <= set(numbers[1::2])
    assert min(numbers[0::2]) == 480 and max(numbers[1::2]) == 115


def test_burning_groups_hold_nothing_but_paths_in_one_colour_each(tmp_path):
    colours = dict(zip([*OPERATIONS, "guide"], ["#010101", "#020202", "#030303", "#040404", "#050505"]))
    path = written(layout_of([rich_part()], colours=colours), tmp_path)
    assert [*(group.get("stroke") for group in groups(path)), "#050505"] == list(colours.values())
    for group in groups(path):
        assert group.get("fill") == "none" and group.get("stroke-width") == "0.1"
        assert all(child.tag == SVG + "path" and set(child.attrib) == {"id", "d"} for child in group)


def test_every_path_is_named_after_its_part(tmp_path):
    path = written(layout_of([rich_part(number=7)]), tmp_path)
    assert [child.get("id") for child in groups(path)[3]] == ["outline-1-A-1-body-7-1"]


def names(group):
    return [title.text for path in group.findall(SVG + "path") for title in path.findall(SVG + "title")]


def test_the_guide_shows_the_panel_its_holes_the_stops_and_the_names_and_says_what_it_is(tmp_path):
    holed = hide(outline=box(0, 0, 500, 300).difference(box(400, 200, 420, 220)))
    result = export(layout_of([placement()], hides=[holed]), tmp_path)
    (guide,) = result.guides
    assert guide.name == "h1-panel-1-guide.svg" and guide not in result.files
    assert ElementTree.parse(guide).getroot().find(SVG + "title").text.startswith("Guide (not for burning): Hide h1")
    panel, parts, labels = groups(guide)
    assert all(group.get("data-burn") == "no" for group in (panel, parts, labels))
    ids = {path.get("id"): path for path in panel.findall(SVG + "path")}
    assert ids["panel-outline"].get("d").count("M") == 2 and {"bottom-stop", "left-stop"} <= set(ids)
    assert names(panel) == ["A", "B"] and len(parts) == 1 and names(labels) == ["A-1 body"]


def test_the_guide_shows_what_lies_in_the_parts_and_takes_little_for_hundreds_of_holes(tmp_path):
    holes = [LineString(Point(6 + 2 * (n % 80), 6 + 3 * (n // 80)).buffer(0.5).exterior.coords) for n in range(400)]
    ring = LineString(Point(60, 60).buffer(20, 64).exterior.coords)
    sheet = box(0, 0, 180, 100)
    part = placement(outline=sheet, cutouts=[box(120, 50, 140, 70)], stitch=holes, engrave=[ring])
    (guide,) = export(layout_of([part]), tmp_path / "rich").guides
    (bare,) = export(layout_of([placement(outline=sheet)]), tmp_path / "bare").guides
    _, _, inside, stitches, _ = groups(guide)
    assert [group.get("id") for group in (inside, stitches)] == ["inside", "stitch-holes"]
    assert all(group.get("data-burn") == "no" for group in (inside, stitches))
    (lines,), (dots,) = inside, stitches
    assert lines.get("d").count("M") == 2 and dots.get("d").count("h0") == 400
    assert float(stitches.get("stroke-width")) == pytest.approx(1.0, abs=0.01)
    assert guide.stat().st_size - bare.stat().st_size < 400 * 20
    # each dot lies where its hole is burnt, to the tenth of a mm that is written
    spots = [tuple(map(float, spot.split(","))) for spot in re.findall(r"M([\d.,]+)h0", dots.get("d"))]
    (load,) = export(layout_of([part]), tmp_path / "again").loads
    pose = load.load.laid
    burnt = [pose.put(hole).centroid for hole in load.load.placements[0].stitch]
    top = pose.bed_mm[1]
    assert all(math.dist(spot, (hole.x, top - hole.y)) < 0.08 for spot, hole in zip(spots, burnt, strict=True))


def test_no_file_holds_text_but_as_paths(tmp_path):
    result = export(layout_of([rich_part()]), tmp_path, frame=True)
    for path in (*result.files, *result.guides):
        tags = {element.tag.removeprefix(SVG) for element in ElementTree.parse(path).getroot().iter()}
        assert tags <= {"svg", "title", "desc", "g", "path"}


def test_each_panel_of_a_hide_has_a_file_of_its_own_with_its_knife_edge_on_the_stop(tmp_path):
    halves = (Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300)))
    parts = [placement(n, x=20 + 250 * (n % 2), y=20 + 40 * n, panel=str(1 + n % 2)) for n in range(6)]
    result = export(layout_of(parts, panels=halves), tmp_path)
    assert [path.name for path in result.files] == ["h1-panel-1.svg", "h1-panel-2.svg"]
    for file, path in zip(result.loads, result.guides):
        guide = groups(path)[0]
        (outline,) = [path for path in guide.findall(SVG + "path") if path.get("id") == "panel-outline"]
        numbers = [float(value) for value in re.findall(r"[\d.]+", outline.get("d"))]
        # 300 mm of knife edge along the bottom, 250 mm up.
        assert (max(numbers[0::2]), min(numbers[1::2]), max(numbers[1::2])) == (300, 150, 400)
        assert len(groups(file.path)[3]) == 3


def test_panels_whose_names_make_one_file_name_do_not_overwrite_each_other(tmp_path):
    halves = (Panel("a b", "h1", box(0, 0, 250, 300)), Panel("a/b", "h1", box(250, 0, 500, 300)))
    parts = [placement(1, x=20, panel="a b"), placement(2, x=270, panel="a/b")]
    files = export(layout_of(parts, panels=halves), tmp_path).files
    assert [path.name for path in files] == ["h1-panel-a-b.svg", "h1-panel-a-b-run-2.svg"]


def test_parts_burnt_with_another_setting_have_a_file_of_their_own_on_the_same_panel(tmp_path):
    thick = replace(SETTING, name="thick", speed_mm_s=8)
    parts = [placement(1), placement(2, x=100, setting="thick"), placement(3, x=200)]
    layout = replace(layout_of(parts), more_settings={"h1": (thick,)})
    result = export(layout, tmp_path)
    assert [path.name for path in result.files] == ["h1-panel-1.svg", "h1-panel-1-run-2.svg"]
    assert [[part.piece for part in file.load.placements] for file in result.loads] == [[1, 3], [2]]
    assert "speed 8 mm/s" in result.files[1].read_text() and "speed 10 mm/s" in result.files[0].read_text()


def test_a_filled_engraving_is_read_back_with_its_area(tmp_path):
    rings = [LineString(box(a, a, 30 - a, 30 - a).exterior.coords) for a in (2, 8)]
    part = placement(outline=box(0, 0, 40, 40), engrave=rings)
    path = written(layout_of([part], kerf=0, engravings=(DEEP,), engraving_depth="deep"), tmp_path)
    (drawn,) = groups(path)[0]
    assert drawn.get("fill") == groups(path)[0].get("stroke") and drawn.get("fill-rule") == "evenodd"
    (shape,) = [shape for shape in svgelements.SVG.parse(str(path), ppi=96).elements() if shape.id == drawn.get("id")]
    mm = 25.4 / 96
    areas = [
        Polygon([(p.x * mm, p.y * mm) for p in sub.as_points()]).area
        for sub in map(svgelements.Path, shape.as_subpaths())
    ]
    assert sorted(areas) == pytest.approx([14**2, 26**2], abs=0.01)


@pytest.mark.parametrize("kind", ["svg", "dxf"])
def test_how_far_rows_lie_apart_is_told_only_where_something_is_filled(tmp_path, kind):
    ring = LineString(box(2, 2, 28, 28).exterior.coords)
    for how, told in (("fill", True), ("line", False)):
        part = placement(outline=box(0, 0, 40, 40), engrave=[ring], engrave_how=(how,))
        layout = layout_of([part], engravings=(DEEP,), engraving_depth="deep")
        text = export(layout, tmp_path / how, kind=kind).files[0].read_text()
        assert "Setting for engrave" in text and (f"rows {DEEP.line_spacing_mm:g} mm apart" in text) == told


def test_a_panel_measured_on_the_bed_is_burnt_where_it_lies(tmp_path):
    halves = (Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300)))
    layout = layout_of([placement(x=30, y=40)], panels=halves, kerf=0)
    # The knife edge from (250, 0) to (250, 300) lies along the bed's bottom, 20 mm up and 50 mm from the left.
    measured = {("h1", "1"): {"A": (50.0, 20.0), "B": (350.5, 20.0)}}
    result = export(layout, tmp_path, measured=measured)
    assert any("A to B measures 300.5 mm" in text for text in result.warnings)
    ((_, line),) = lines(result.files[0])
    # (x, y) of the hide lies at (50.25 + y, 20 + 250 - x); the part spans x 30 to 90, y 40 to 80.
    assert line.bounds == pytest.approx((90.25, 180, 130.25, 240), abs=1e-3)


@pytest.mark.parametrize(
    "measured, words",
    [
        ({("h1", "1"): {"A": (50, 20), "B": (360, 20)}}, "each would miss by 5.0 mm"),
        ({("h1", "9"): {"A": (50, 20), "B": (350, 20)}}, "this layout has h1/1, h1/2"),
        ({("h1", "1"): {"A": (50, 20), "X": (350, 20)}}, "this panel has A, B"),
        ({("h1", "1"): {"A": (350, 20), "B": (50, 20)}}, "off the bed"),
    ],
)
def test_measured_points_that_cannot_be_are_refused_and_nothing_is_written(tmp_path, measured, words):
    halves = (Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300)))
    with pytest.raises(FileError, match=words):
        export(layout_of([placement(x=30, y=40)], panels=halves, kerf=0), tmp_path / "cut", measured=measured)
    assert not (tmp_path / "cut").exists()


FED = replace(MACHINE, feed_through="width", bed_margin_mm=5.0)


@pytest.mark.parametrize("stop", ["bottom left", "bottom right", "top left", "top right"])
def test_a_panel_fed_through_is_burnt_in_stages_that_together_are_read_back_as_the_whole(tmp_path, stop):
    long = hide(outline=box(0, 0, 1500, 300))
    parts = [rich_part(number=n, x=20 + 90 * n, y=30 + 10 * (n % 7), angle=20 * (n % 3)) for n in range(16)]
    layout = layout_of(parts, hides=[long], machine=replace(FED, bed_stop=stop))
    result = export(layout, tmp_path)
    names = [path.name for path in result.files]
    assert names == [f"h1-panel-1-stage-{n}-of-3.svg" for n in (1, 2, 3)] and not result.refusals
    pieces = [part.piece for file in result.loads for part in file.load.placements]
    assert sorted(pieces) == list(range(16))
    endless = lay(long.outline, long, replace(FED, bed_stop=stop))
    burnt, fed = [], 0.0
    for file in result.loads:
        root = ElementTree.parse(file.path).getroot()
        assert (root.get("width"), root.get("height")) == ("600.0000mm", "400.0000mm")
        stage = file.load.stage
        fed += stage.step_mm
        assert stage.fed_mm == fed and stage.fed_mm == round(stage.fed_mm)
        # Leather moves towards the stop: a line on this stage's page lies further from it on the endless bed.
        back = (fed, 0) if "left" in stop else (endless.bed_mm[0] - 600 - fed, 0)
        for operation, line in lines(file.path):
            assert line.bounds[0] > 5 and line.bounds[2] < 595 and line.bounds[1] > 5 and line.bounds[3] < 395
            burnt.append((operation, affinity.translate(line, *back)))
    machine = replace(MACHINE, bed_width_mm=1510, bed_margin_mm=5.0, bed_stop=stop)
    (whole,) = bed_loads(replace(layout, workshop=replace(layout.workshop, machine=machine)), "h1")
    expected = [(line.operation, whole.pose.put(line.curve.flattened(1e-5))) for line in whole.lines]
    for operation in OPERATIONS:
        seen = [line for kind, line in burnt if kind == operation]
        true = [line for kind, line in expected if kind == operation]
        assert len(seen) == len(true)
        assert sum(line.length for line in seen) == pytest.approx(sum(line.length for line in true), abs=0.05)
        assert shapely.union_all(seen).hausdorff_distance(shapely.union_all(true)) < 0.005


def test_a_stage_is_told_on_its_page_with_marks_to_feed_by(tmp_path):
    long = hide(outline=box(0, 0, 1500, 300).difference(box(0, 0, 200, 1)))
    layout = layout_of([placement(1), placement(2, x=800)], hides=[long], machine=FED, kerf=0)
    result = export(layout, tmp_path)
    first, second = (groups(path)[0] for path in result.guides)
    assert "S2" not in names(first) and {"S2", "T2"} <= set(names(second))
    about = ElementTree.parse(result.files[1]).getroot().find(SVG + "desc").text
    # The part begins 800 mm along; 1 mm of play is kept.
    assert "fed on by 799 mm to the left along the bottom stop, mark S2 at the left end of the bed" in about
    assert result.loads[1].load.stage.marks["S2"] == pytest.approx((799, 0), abs=1e-6)


def test_a_stage_measured_on_the_bed_is_burnt_where_it_lies(tmp_path):
    long = hide(outline=box(0, 0, 1500, 300))
    layout = layout_of([placement(1), placement(2, x=800)], hides=[long], machine=FED, kerf=0)
    # S2 lies 3 mm further right and 2 mm higher than it should.
    measured = {("h1", "1/2"): {"S2": (8.0, 7.0), "T2": (598.0, 7.0)}}
    result = export(layout, tmp_path, measured=measured)
    ((_, line),) = lines(result.files[1])
    assert line.bounds == pytest.approx((5 + 1 + 3, 5 + 20 + 2, 69, 67), abs=1e-3)
    with pytest.raises(FileError, match="this panel has h1/1/1, h1/1/2"):
        export(layout, tmp_path, measured={("h1", "1/3"): {"S2": (8.0, 7.0), "T2": (598.0, 7.0)}})


def test_a_panel_with_a_part_longer_than_the_bed_the_way_leather_is_fed_is_refused_by_the_parts_name(tmp_path):
    long = hide(outline=box(0, 0, 1500, 390))
    halves = (Panel("1", "h1", box(0, 0, 1500, 200)), Panel("2", "h1", box(0, 200, 1500, 390)))
    strap = placement(outline=box(0, 0, 700, 30), part="strap")
    layout = layout_of([strap, placement(2, y=300, panel="2")], hides=[long], panels=halves, machine=FED)
    result = export(layout, tmp_path)
    assert [path.name for path in result.files] == ["h1-panel-2-stage-1-of-1.svg"]
    (refusal,) = result.refusals
    assert "panel 1: no laser file: part A-1 strap: 700 mm long the way the leather is fed" in refusal
    # It is timed all the same.
    assert all(seconds > 0 for seconds in machine_seconds(layout, "h1").values())


def test_leather_fed_through_that_fits_the_bed_has_one_page_and_no_stage(tmp_path):
    path = written(layout_of([placement()], machine=replace(MACHINE, feed_through="width")), tmp_path)
    assert path.name == "h1-panel-1.svg"


def test_a_frame_is_open_to_the_side_where_little_card_is_left(tmp_path):
    curved = Polygon([(0, 0), (400, 0), (400, 392), (200, 380), (0, 392)])
    layout = layout_of([placement()], hides=[hide(outline=curved)])
    _, frame = export(layout, tmp_path, frame=True).files
    cut = [line for _, line in lines(frame)]
    x0, y0, x1, y1 = shapely.union_all(cut).bounds
    # The hide of 392 mm leaves 8 mm of card, all of it at the bottom stop; the hole is open at the top.
    assert (x0, x1) == pytest.approx((19.8, 420.2), abs=0.01) and y0 == pytest.approx(7.8, abs=0.01) and y1 > 399.9
    (line,) = cut
    assert not line.is_closed and min(line.coords[0][1], line.coords[-1][1]) > 399.9


def test_a_panel_as_wide_as_the_bed_has_no_frame_and_that_is_told(tmp_path):
    layout = layout_of([placement()], hides=[hide(outline=box(0, 0, 595, 300))])
    result = export(layout, tmp_path, frame=True)
    assert [path.name for path in result.files] == ["h1-panel-1.svg"]
    assert any("no frame" in text for text in result.warnings)
    assert result.frameless == (("h1/1", NO_FRAME),)
    assert "frame of card, which" not in result.loads[0].load.pose.how


def test_a_frame_of_card_is_the_panel_with_a_little_play(tmp_path):
    layout = layout_of([placement()], hides=[hide(outline=box(0, 0, 400, 300))])
    _, frame = export(layout, tmp_path, frame=True).files
    assert frame.name == "h1-panel-1-frame.svg"
    assert [group.get("id") for group in groups(frame)] == ["outline"]
    ((_, hole),) = lines(frame)
    # 20 mm from both stops; 0.3 mm of play all round, of which the beam takes 0.1 mm.
    assert hole.bounds == pytest.approx((19.8, 19.8, 420.2, 320.2), abs=0.01)


@pytest.mark.parametrize(
    "tannage, words",
    [
        ("unknown", ["not known", "hexavalent chromium", "hydrogen chloride", "set its tannage"]),
        ("chrome", ["hexavalent chromium", "knife or die"]),
        ("synthetic", ["hydrogen chloride", "knife or die"]),
    ],
)
def test_leather_not_known_to_be_safe_is_refused_with_the_reason_and_what_would_change_it(tmp_path, tannage, words):
    result = export(layout_of([placement()], tannage=tannage), tmp_path / "cut")
    assert result.files == () and len(result.refusals) == 1
    assert all(word in result.refusals[0] for word in ["hide h1", *words])
    assert not (tmp_path / "cut").exists()


def test_every_refusal_fits_the_line_a_report_has_for_it():
    assert all(len(text) < 300 and "\n" not in text for text in REFUSALS.values())


def test_a_hide_without_a_tested_setting_is_refused(tmp_path):
    result = export(layout_of([placement()], setting=None), tmp_path)
    assert result.files == () and "no tested setting" in result.refusals[0]
    assert re.search(r"nesting swatch FOLDER --thickness \d+(\.\d+)? --speed \.\. --power", result.refusals[0])


def test_a_refused_hide_does_not_keep_the_others_from_being_written(tmp_path):
    hides = [hide(), hide("h2", "chrome"), hide("h3")]
    parts = [placement(n, hide=each.id) for n, each in enumerate(hides)]
    result = export(layout_of(parts, hides=hides), tmp_path)
    assert [path.name for path in result.files] == [
        "h1-panel-1.svg",
        "h3-panel-1.svg",
    ] and "hide h2" in result.refusals[0]


def test_a_file_from_before_the_refusal_is_put_aside(tmp_path):
    written(layout_of([placement()]), tmp_path)
    assert export(layout_of([placement()], tannage="unknown"), tmp_path).refusals
    assert [path.name for path in tmp_path.iterdir()] == ["earlier"]


def test_a_hide_from_which_nothing_is_cut_is_passed_over(tmp_path):
    result = export(layout_of([placement()], hides=[hide(), hide("h2", "chrome")]), tmp_path)
    assert [path.name for path in result.files] == ["h1-panel-1.svg"] and result.refusals == ()


def test_names_from_orders_cannot_break_the_file(tmp_path):
    parts = [rich_part(order=HOSTILE, part=HOSTILE), rich_part(number=2, x=200, order=HOSTILE)]
    result = export(layout_of(parts), tmp_path)
    for path in (*result.files, *result.guides):
        root = ElementTree.parse(path).getroot()
        assert {element.tag for element in root.iter()} <= {SVG + tag for tag in ("svg", "title", "desc", "g", "path")}
        ids = [element.get("id") for element in root.iter() if element.get("id")]
        assert len(ids) == len(set(ids)) and all(re.fullmatch(r"[a-z][A-Za-z0-9_-]*", text) for text in ids)
    assert "Größe 漢" in names(groups(path)[-1])[-1]


@pytest.mark.parametrize("name", ["../h1", "a/b", "", ".h1", "a\x00b", "C:h1"])
def test_a_hide_whose_id_is_no_file_name_is_refused(tmp_path, name):
    result = export(layout_of([placement(hide=name)], hides=[hide(name)]), tmp_path / "cut")
    assert result.files == () and "cannot name a file" in result.refusals[0]
    assert list(tmp_path.iterdir()) == []


def test_the_file_says_the_setting_the_kerf_and_the_cautions(tmp_path):
    root = ElementTree.parse(written(layout_of([rich_part()]), tmp_path)).getroot()
    about = root.find(SVG + "desc").text
    for words in (
        "speed 10 mm/s",
        "power 60 %",
        "passes 2",
        "kerf of 0.2 mm",
        "engrave, stitch, cutout, outline",
        "no tested setting for engraving",
        *CAUTIONS,
    ):
        assert words in about


def test_what_does_not_come_out_as_drawn_is_told(tmp_path):
    tiny = LineString(Point(10, 10).buffer(0.05).exterior.coords)
    (warning,) = export(layout_of([placement(stitch=[tiny])]), tmp_path).warnings
    assert warning.startswith("hide h1, panel 1: A-1 body: stitch hole 1") and "dot" in warning


def test_a_panel_that_does_not_fit_the_bed_is_refused(tmp_path):
    result = export(layout_of([placement()], hides=[hide(outline=box(0, 0, 900, 300))]), tmp_path / "cut")
    assert result.files == () and not (tmp_path / "cut").exists()
    assert "panel 1: no laser file: it is bigger than the usable bed of 600 mm x 400 mm" in result.refusals[0]


def test_a_folder_that_cannot_be_written_is_one_clear_error(tmp_path):
    (tmp_path / "cut").write_text("a file")
    with pytest.raises(FileError):
        export(layout_of([placement()]), tmp_path / "cut")


def test_an_older_file_is_replaced_and_kept_among_the_earlier_ones(tmp_path):
    first = written(layout_of([placement()]), tmp_path).read_text()
    second = written(layout_of([placement(x=100)]), tmp_path).read_text()
    assert first != second and len(list(tmp_path.iterdir())) == 3
    assert [path.read_text() for path in tmp_path.glob("earlier/*/h1-panel-1.svg")] == [first]
    assert written(layout_of([placement(x=100)]), tmp_path).read_text() == second
