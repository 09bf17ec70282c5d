import re
import xml.etree.ElementTree as ElementTree
from itertools import groupby

import pytest
import svgelements
from laser_samples import LEAF, hide, layout_of, placement, rich_part
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.files.errors import FileError
from nesting.laser.cautions import CAUTIONS
from nesting.laser.export import REFUSALS, export
from nesting.laser.load import bed_loads
from nesting.model import OPERATIONS, Layout, Panel

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "\"><script>alert(1)</script><!-- ]]> & ' \x00\x1b\ud800\ufffe Größe 漢"


def written(layout: Layout, folder):
    result = export(layout, folder)
    assert not result.refusals
    return result.files[0]


def groups(path):
    return [element for element in ElementTree.parse(path).getroot() if element.tag == SVG + "g"]


def read(path):
    """(group, line in hide coordinates) of every path burnt, as an independent reader of SVG sees the file."""
    mm = 25.4 / 96
    document = svgelements.SVG.parse(str(path), ppi=96)
    x0, y1 = -5.0, float(document.viewbox.height) - 5.0
    lines = []
    for group in document:
        if isinstance(group, svgelements.Group) and group.id in OPERATIONS:
            for shape in group.select(lambda element: isinstance(element, svgelements.Path)):
                points = [(p.x * mm + x0, y1 - p.y * mm) for p in shape.as_points()]
                lines.append((group.id, LineString([p for p, _ in groupby(points)])))
    return lines


def test_groups_come_in_burning_order_and_the_guide_last(tmp_path):
    path = written(layout_of([rich_part()]), tmp_path)
    assert [group.get("id") for group in groups(path)] == [*OPERATIONS, "guide-not-for-burning"]
    assert [operation for operation, _ in groupby(operation for operation, _ in read(path))] == list(OPERATIONS)


def test_an_independent_reader_finds_the_lines_at_true_size_and_in_order(tmp_path):
    layout = layout_of([rich_part(number=n, x=20 + 90 * n, y=40 + 10 * n, angle=33 * n) for n in range(4)])
    seen = read(written(layout, tmp_path))
    (load,) = bed_loads(layout, "h1")
    assert [operation for operation, _ in seen] == [burnt.operation for burnt in load.lines]
    for (_, line), burnt in zip(seen, load.lines):
        assert line.length == pytest.approx(burnt.line.length, abs=1e-3 * len(line.coords))
        assert line.is_closed == burnt.line.is_closed
        # Four decimals in the file, and the reader rounds its own scale.
        assert line.hausdorff_distance(burnt.line) < 5e-4
        if line.is_closed:
            assert Polygon(line).area == pytest.approx(Polygon(burnt.line).area, abs=1e-3 * line.length)


def test_without_kerf_the_outline_read_back_is_the_finished_part_and_not_its_mirror_image(tmp_path):
    part = placement(outline=LEAF, x=100, y=50, angle=20)
    ((_, line),) = read(written(layout_of([part], kerf=0), tmp_path))
    assert Polygon(line).symmetric_difference(part.outline).area < 0.05
    # The part would not pass for its mirror image.
    assert Polygon(line).symmetric_difference(affinity.scale(part.outline, -1, 1)).area > 100


def test_the_page_is_in_mm_with_y_down(tmp_path):
    layout = layout_of([placement(outline=box(0, 0, 10, 10), x=480, y=285)], kerf=0)
    root = ElementTree.parse(written(layout, tmp_path)).getroot()
    assert (root.get("width"), root.get("height"), root.get("viewBox")) == (
        "510.0000mm",
        "310.0000mm",
        "0 0 510.0000 310.0000",
    )
    # The part at the top right of the hide is at the top right of the page: small y.
    numbers = [float(value) for value in re.findall(r"[\d.]+", root.find(f"{SVG}g[@id='outline']/{SVG}path").get("d"))]
    assert sorted(set(numbers[0::2])) == [485, 495] and sorted(set(numbers[1::2])) == [10, 20]


def test_burning_groups_hold_nothing_but_paths_in_one_colour_each(tmp_path):
    colours = dict(zip([*OPERATIONS, "guide"], ["#010101", "#020202", "#030303", "#040404", "#050505"]))
    path = written(layout_of([rich_part()], colours=colours), tmp_path)
    assert [group.get("stroke") for group in groups(path)] == list(colours.values())
    for group in groups(path)[:-1]:
        assert group.get("fill") == "none" and group.get("stroke-width") == "0.1"
        assert all(child.tag == SVG + "path" and set(child.attrib) == {"id", "d"} for child in group)


def test_every_path_is_named_after_its_part(tmp_path):
    path = written(layout_of([rich_part(number=7)]), tmp_path)
    assert [child.get("id") for child in groups(path)[3]] == ["outline-1-A-1-body-7-1"]


def test_the_guide_shows_the_hide_its_holes_and_the_names_and_says_what_it_is(tmp_path):
    holed = hide(outline=box(0, 0, 500, 300).difference(box(400, 200, 420, 220)))
    guide = groups(written(layout_of([placement()], hides=[holed]), tmp_path))[-1]
    assert guide.find(SVG + "title").text == "Guide (not for burning)"
    assert len(guide.findall(SVG + "path")) == 2
    assert [text.text for text in guide.findall(SVG + "text")] == ["A-1 body"]


def test_knife_lines_and_panel_names_are_in_the_guide_of_a_hide_cut_up(tmp_path):
    big = hide(outline=box(0, 0, 1100, 390))
    panels = (Panel("1", "h1", box(0, 0, 550, 390)), Panel("2", "h1", box(550, 0, 1100, 390)))
    part = placement(x=900, panel=next(panel.id for panel in panels if panel.polygon.bounds[0] > 500))
    path = written(layout_of([part], hides=[big], panels=panels), tmp_path)
    guide = groups(path)[-1]
    assert [text.text for text in guide.findall(SVG + "text")] == ["panel 1", "panel 2", "A-1 body"]
    (knife,) = [line for line in guide.findall(SVG + "path") if line.get("stroke-dasharray")]
    assert re.findall(r"(\d+\.\d)\d+,", knife.get("d")) == ["555.0", "555.0"]
    assert f"panel-{part.panel}" in groups(path)[3][0].get("id")


def test_the_panels_of_a_hide_follow_one_another_in_each_group(tmp_path):
    halves = (Panel("1", "h1", box(0, 0, 250, 300)), Panel("2", "h1", box(250, 0, 500, 300)))
    parts = [placement(n, x=20 + 250 * (n % 2), y=20 + 40 * n, panel=str(1 + n % 2)) for n in range(6)]
    names = [child.get("id") for child in groups(written(layout_of(parts, panels=halves), tmp_path))[3]]
    assert [re.search(r"panel-(\d)", name)[1] for name in names] == list("111222")


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


def test_a_refused_hide_does_not_keep_the_others_from_being_written(tmp_path):
    hides = [hide(), hide("h2", "chrome"), hide("h3")]
    parts = [placement(n, hide=each.id) for n, each in enumerate(hides)]
    result = export(layout_of(parts, hides=hides), tmp_path)
    assert [path.name for path in result.files] == ["h1.svg", "h3.svg"] and "hide h2" in result.refusals[0]


def test_a_file_left_from_before_the_refusal_is_pointed_out(tmp_path):
    written(layout_of([placement()]), tmp_path)
    (refusal,) = export(layout_of([placement()], tannage="unknown"), tmp_path).refusals
    assert str(tmp_path / "h1.svg") in refusal and "delete it" in refusal


def test_a_hide_from_which_nothing_is_cut_is_passed_over(tmp_path):
    result = export(layout_of([placement()], hides=[hide(), hide("h2", "chrome")]), tmp_path)
    assert [path.name for path in result.files] == ["h1.svg"] and result.refusals == ()


def test_names_from_orders_cannot_break_the_file(tmp_path):
    path = written(
        layout_of([rich_part(order=HOSTILE, part=HOSTILE), rich_part(number=2, x=200, order=HOSTILE)]), tmp_path
    )
    root = ElementTree.parse(path).getroot()
    assert {element.tag for element in root.iter()} <= {
        SVG + tag for tag in ("svg", "title", "desc", "g", "path", "text")
    }
    ids = [element.get("id") for element in root.iter() if element.get("id")]
    assert len(ids) == len(set(ids)) and all(re.fullmatch(r"[a-z][A-Za-z0-9_-]*", text) for text in ids)
    assert "Größe 漢" in groups(path)[-1].find(SVG + "text").text


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
        "on a scrap",
        *CAUTIONS,
    ):
        assert words in about


def test_what_does_not_come_out_as_drawn_is_told(tmp_path):
    tiny = LineString(Point(10, 10).buffer(0.05).exterior.coords)
    (warning,) = export(layout_of([placement(stitch=[tiny])]), tmp_path).warnings
    assert warning.startswith("hide h1: A-1 body: stitch hole 1") and "dot" in warning


def test_a_panel_that_fits_the_bed_only_turned_is_told(tmp_path):
    upright = hide(outline=box(0, 0, 300, 500))
    (warning,) = export(layout_of([placement()], hides=[upright]), tmp_path).warnings
    assert "panel 1" in warning and "90 degrees" in warning


def test_a_panel_that_does_not_fit_the_bed_is_told(tmp_path):
    (warning,) = export(layout_of([placement()], hides=[hide(outline=box(0, 0, 900, 300))]), tmp_path).warnings
    assert "panel 1 is bigger than the bed" in warning


def test_a_folder_that_cannot_be_written_is_one_clear_error(tmp_path):
    (tmp_path / "cut").write_text("a file")
    with pytest.raises(FileError):
        export(layout_of([placement()]), tmp_path / "cut")


def test_an_older_file_is_replaced_and_nothing_else_is_left_in_the_folder(tmp_path):
    first = written(layout_of([placement()]), tmp_path).read_text()
    second = written(layout_of([placement(x=100)]), tmp_path).read_text()
    assert first != second and [path.name for path in tmp_path.iterdir()] == ["h1.svg"]
    assert written(layout_of([placement(x=100)]), tmp_path).read_text() == second
