import io
import re
from dataclasses import replace

import pytest
from laser_samples import LEAF, hide, layout_of, placement
from pdfminer.high_level import extract_pages, extract_text
from pdfminer.layout import LTCurve, LTLine, LTTextContainer
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box

from nesting.model import Direction, Panel
from nesting.report.paper import (
    A4,
    CHECK_MM,
    EDGE_MM,
    FOOT_MM,
    OVERLAP_MM,
    Template,
    _room_for_words,
    _tiles,
    sheets,
    templates,
    write_templates,
)

MM = 25.4 / 72
LONG = Polygon([(0, 0), (420, 0), (420, 60), (380, 90), (0, 90)])


def written(tmp_path, parts, tannage="chrome"):
    layout = layout_of(parts, tannage=tannage, hides=[hide(tannage=tannage, outline=box(0, 0, 900, 500))])
    path, count = write_templates(layout, "h1", tmp_path)
    places, *pages = extract_pages(path)
    assert len(pages) + 1 == count and "Where the templates go" in text_of(places)
    return path, pages


def text_of(page):
    return " ".join(shape.get_text() for shape in page if isinstance(shape, LTTextContainer))


def curves(page):
    """Outlines on a page as points in mm, as an independent reader of PDF sees them."""
    return [
        [(x * MM, y * MM) for x, y in shape.pts]
        for shape in page
        if isinstance(shape, LTCurve) and not isinstance(shape, LTLine)
    ]


def test_every_page_is_a4_and_has_a_line_of_100_mm(tmp_path):
    _, pages = written(tmp_path, [placement(), placement(2, outline=LONG, part="long")])
    for page in pages:
        assert (page.width * MM, page.height * MM) == pytest.approx((210, 297), abs=0.01)
        lines = [shape for shape in page if isinstance(shape, LTLine)]
        assert sum(abs(line.width * MM - CHECK_MM) < 1e-3 and line.height < 1e-6 for line in lines) == 1


def test_a_small_part_is_drawn_at_true_size_whatever_its_turn_on_the_hide(tmp_path):
    _, (page,) = written(tmp_path, [placement(angle=37, x=200, y=100)])
    found = max((Polygon(points) for points in curves(page) if len(points) > 3), key=lambda polygon: polygon.area)
    assert found.area == pytest.approx(LEAF.area, rel=1e-4) and found.length == pytest.approx(LEAF.length, rel=1e-4)
    x0, y0, x1, y1 = found.bounds
    assert (x1 - x0, y1 - y0) == pytest.approx((60, 40), abs=1e-3)
    # Not mirrored: its thick end is on the left.
    assert found.intersection(box(x0, y0, x0 + 30, y1)).area > 0.6 * found.area


def test_a_large_part_goes_over_sheets_that_overlap_and_share_their_marks(tmp_path):
    _, (check, *pages) = written(tmp_path, [placement(outline=LONG)])
    assert len(pages) == 2
    sides = sorted(round(max(max(x) - min(x) for x in zip(*points)), 2) for points in curves(check) if len(points) > 3)
    # 4 in are 101.6 mm
    assert sides[-2:] == [100.0, 101.6]
    corner = EDGE_MM, EDGE_MM + FOOT_MM
    step = A4.area_mm[1] - OVERLAP_MM
    marks = []
    for row, page in zip((1, 0), pages):
        # Circles of 2.2 mm radius, of which the reader gives the four quarter points: a square of 2 x 2.2^2 mm2.
        circles = [
            Polygon(points).centroid
            for points in curves(page)
            if len(points) > 3 and abs(Polygon(points).area - 9.68) < 0.1
        ]
        marks.append(sorted((round(c.x - corner[0], 2), round(c.y - corner[1] + row * step, 2)) for c in circles))
    assert marks[0] == marks[1] and len(marks[0]) >= 3
    # The sheets together hold the whole outline, 90 x 420 mm.
    outlines = [
        Polygon([(x - corner[0], y - corner[1] + row * step) for x, y in max(curves(page), key=len)])
        for row, page in zip((1, 0), pages)
    ]
    assert (
        outlines[0].bounds == pytest.approx((0, 0, 90, 420), abs=1e-2)
        and outlines[0].symmetric_difference(outlines[1]).area < 0.1
    )
    assert 2 * A4.area_mm[1] - OVERLAP_MM >= 420


def test_equal_parts_are_one_template_with_their_count_and_orders(tmp_path):
    parts = [
        placement(1),
        placement(2, angle=80, x=200),
        placement(3, x=300, order="B-2"),
        placement(4, x=400, mirrored=True),
    ]
    layout = layout_of(parts, tannage="chrome")
    made = templates(layout, layout.hides[0])
    assert [(template.count, template.orders) for template in made] == [(3, "A-1 × 2, B-2 × 1"), (1, "A-1 × 1")]
    assert "(mirrored)" in made[1].part


def test_small_parts_share_sheets_without_touching():
    parts = [placement(n, part=f"p{n}", outline=box(0, 0, 20 + 7 * n, 15 + 5 * n)) for n in range(1, 20)]
    layout = layout_of(parts, tannage="chrome")
    pages = sheets(templates(layout, layout.hides[0]))
    assert sum(len(page.drawn) for page in pages) == 19 and len(pages) < 8
    for page in pages:
        boxes = [box(x, y, x + t.size_mm[0], y + t.size_mm[1]) for t, x, y in page.drawn]
        assert all(a.distance(b) > 5 for k, a in enumerate(boxes) for b in boxes[:k])
        assert all(box(0, 0, *A4.area_mm).buffer(1e-6).contains(each) for each in boxes)


def test_a_part_that_must_lie_along_the_backbone_says_so(tmp_path):
    part = replace(placement(outline=box(0, 0, 120, 60)), direction=Direction("along", 5))
    path, _ = written(tmp_path, [part])
    assert "↔ backbone" in extract_text(path)
    path, _ = written(tmp_path, [replace(part, direction=Direction("across", 5))])
    assert "↕ backbone" in extract_text(path)


def test_a_template_names_product_part_count_grade_and_leather(tmp_path):
    path, _ = written(
        tmp_path, [placement(outline=box(0, 0, 120, 60)), placement(2, outline=box(0, 0, 120, 60), x=200)]
    )
    text = extract_text(path)
    assert all(
        words in text for words in ("tag: body", "cut 2, grade A or better", "Hide h1, chrome-tanned: cut by knife.")
    )


def test_stitch_holes_and_cutouts_are_on_the_template(tmp_path):
    hole = LineString(Point(10, 30).buffer(1.0).exterior.coords)
    part = placement(
        outline=box(0, 0, 120, 60), cutouts=[box(100, 5, 110, 15)], stitch=[hole, LineString([(40, 5), (40, 8)])]
    )
    _, (page,) = written(tmp_path, [part])
    areas = sorted(Polygon(points).area for points in curves(page) if len(points) > 3)
    assert areas[0] == pytest.approx(3.12, abs=0.05) and areas[-1] == pytest.approx(7200, rel=1e-4)
    rects = [shape for shape in page if type(shape).__name__ == "LTRect"]
    assert any(abs(shape.width * MM - 10) < 0.01 for shape in rects) or any(
        a == pytest.approx(100, rel=1e-3) for a in areas
    )


def test_the_same_layout_makes_the_same_file(tmp_path):
    path, _ = written(tmp_path, [placement()])
    first = path.read_bytes()
    assert written(tmp_path, [placement()])[0].read_bytes() == first and io.BytesIO(first).read(5) == b"%PDF-"


@pytest.mark.parametrize("size", [(90, 60), (40, 150), (380, 60), (300, 420)])
def test_words_lie_on_the_part_clear_of_lines_and_seams(size):
    wide, high = size
    outline = box(0, 0, wide, high)
    middle = LineString([(0.5 * wide, 0), (0.5 * wide, high)])
    template = Template(
        "set",
        "part",
        1,
        "A",
        "B",
        None,
        outline,
        (Point(0.3 * wide, 0.5 * high).buffer(6),),
        (outline.buffer(-3).exterior,),
        (middle,),
    )
    x, y, turn, letters = _room_for_words(template, 12.0, 4.0)
    words = affinity.translate(
        affinity.rotate(box(-6 * letters, -2 * letters, 6 * letters, 2 * letters), turn, origin=(0, 0)), x, y
    )
    for line in (*template.stitch, *template.engrave, template.cutouts[0], outline.exterior):
        assert words.distance(line) >= 1.4
    columns, rows = _tiles(template)
    for side, count, low, high in (
        (0, columns, words.bounds[0], words.bounds[2]),
        (1, rows, words.bounds[1], words.bounds[3]),
    ):
        for k in range(1, count):
            seam = k * (A4.area_mm[side] - OVERLAP_MM)
            assert high <= seam + 1e-6 or low >= seam + OVERLAP_MM - 1e-6
    assert 1.4 <= letters <= 4.2


def test_words_that_go_nowhere_clear_lie_over_lines_but_on_the_part():
    outline = box(0, 0, 40, 14)
    lines = tuple(LineString([(0, y), (40, y)]) for y in range(1, 14, 2))
    x, y, turn, letters = _room_for_words(Template("set", "part", 1, "A", "B", None, outline, (), lines, ()), 12.0, 4.0)
    assert turn == 0 and outline.contains(box(x - 6 * letters, y - 2 * letters, x + 6 * letters, y + 2 * letters))


def test_a_guide_of_small_leather_parts_says_where_each_template_goes_and_the_templates_have_its_points(tmp_path):
    parts = [
        placement(1),
        placement(2, x=200, angle=80),
        placement(3, outline=box(0, 0, 420, 90), part="long", x=20, y=200),
    ]
    path, pages = written(tmp_path, parts)
    first = next(extract_pages(path))
    # the hide is a rectangle of 900 x 500 mm with its corner at 0, 0: it lies in the corner as it is
    told = text_of(first)
    assert "P, 0 mm, and Q, 900 mm from the corner" in told
    # the middle line of the long part, 45 mm above its foot at y = 200
    assert "20 mm, 245 mm" in told and "440 mm, 245 mm" in told
    templates_told = "".join(map(text_of, pages))
    assert "with a and b where the first sheet has them" in templates_told
    assert "tag: body, 2.1 to 2.2" in templates_told and "tag, long, 1.1" in templates_told
    # circles of 2.2 mm radius on the sheet that is not glued: squares of their quarter points
    shapes = [Polygon(points).area for points in curves(pages[-1]) if len(points) > 3]
    assert sum(abs(area - 9.68) < 0.1 for area in shapes) == 2


def test_parts_cut_by_knife_from_a_hide_to_be_burnt_are_laid_by_the_cutting_guide(tmp_path):
    long = replace(placement(outline=LONG, x=20, y=200), panel="L")
    panel = Panel("L", "h1", long.outline, "knife")
    layout = layout_of([long], hides=[hide(outline=box(0, 0, 900, 500))])
    layout = replace(layout, panels=(panel,))
    path, _ = write_templates(layout, "h1", tmp_path, knife_only=True)
    assert "with a and b where the cutting guide has them" in extract_text(path)
    assert "Where the templates go" not in extract_text(path)


def test_crosses_are_numbered_by_part_and_none_is_cut_off(tmp_path):
    big = box(0, 0, 420, 300)
    parts = [placement(1, outline=big), placement(2, outline=big, part="other", x=20, y=330)]
    _, (_, *pages) = written(tmp_path, parts)
    names = [set(re.findall(r"\b[12]-[0-9a-z]\.\d", text_of(page))) for page in pages]
    half = len(pages) // 2
    assert all(names) and {len({name[0] for name in page}) for page in names} == {1}
    assert not set.union(*names[:half]) & set.union(*names[half:])
    room = box(EDGE_MM, EDGE_MM + FOOT_MM, EDGE_MM + A4.area_mm[0], EDGE_MM + FOOT_MM + A4.area_mm[1])
    for page in pages:
        # those of points a and b are black
        circles = [
            Polygon([(x * MM, y * MM) for x, y in shape.pts])
            for shape in page
            if isinstance(shape, LTCurve) and len(shape.pts) > 3 and shape.stroking_color == 0.3
        ]
        # 4 mm is half the length of a cross
        assert circles and all(room.buffer(-4).contains(circle.centroid) for circle in circles)


def test_a_sheet_of_one_part_is_headed_by_its_name():
    layout = layout_of([placement(outline=box(0, 0, 180, 250))], tannage="chrome")
    assert [sheet.title for sheet in sheets(templates(layout, layout.hides[0]))] == ["tag, body, 1.1"]
    layout = layout_of([placement(), placement(2, x=300, part="other")], tannage="chrome")
    assert [sheet.title for sheet in sheets(templates(layout, layout.hides[0]))] == ["2 parts"]


def test_every_part_has_its_row_however_many_sheets_the_table_takes(tmp_path):
    parts = [
        placement(n, x=20 + 70 * (n % 12), y=20 + 45 * (n // 12), order=f"order-{n}", outline=box(0, 0, 60, 40))
        for n in range(110)
    ]
    layout = layout_of(parts, tannage="chrome", hides=[hide(tannage="chrome", outline=box(0, 0, 900, 500))])
    path, _ = write_templates(layout, "h1", tmp_path)
    told = [text for text in map(text_of, extract_pages(path)) if "a: along, then off" in text]
    assert len(told) == 3 and all(sum(f"order-{n}," in text for text in told) == 1 for n in range(110))
