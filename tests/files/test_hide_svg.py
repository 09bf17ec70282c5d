import re
from dataclasses import replace
from decimal import Decimal
from io import BytesIO

import numpy as np
import pytest
from PIL import Image
from shapely import affinity
from shapely.geometry import Point, Polygon, box

from nesting.errors import FileError
from nesting.files.hide_svg import read_hide_svg, write_hide_svg
from nesting.model import Doubt, Hide, Reading, Suggestion, Traced, Zone

HOLE = Point(300, 200).buffer(20)
HIDE = Hide(
    "h", Polygon(box(0, 0, 800.25, 500.5).exterior, [HOLE.exterior]),
    zones=(Zone(box(50, 50, 90, 80), "C", "tick bite"),),
    readings=(Reading(2400, 100, 1.5, cut_off=True), Reading(400, 100, 1.25), Reading(120.5, 400.25, 1.4)),
    backbone=((0, 250), (800, 260)), price=Decimal("48.50"), tannage="vegetable", nominal_mm=1.2,
    suggestions=(Suggestion(box(500, 300, 560, 340), "D", "brand or stain", 0.83),),
    traced=Traced("markers", 1.0, 0.8, 0.2),
)  # fmt: skip


@pytest.fixture
def drawing(tmp_path):
    write_hide_svg(tmp_path / "h.svg", HIDE)
    return tmp_path / "h.svg"


def edited(drawing, *changes):
    text = drawing.read_text()
    for old, new in changes:
        assert re.search(old, text), old
        text = re.sub(old, new, text, count=1)
    drawing.write_text(text)
    return drawing


def refusal(drawing):
    with pytest.raises(FileError) as caught:
        read_hide_svg(drawing, HIDE)
    return caught.value


def test_a_drawing_not_touched_gives_the_same_hide(drawing):
    back = read_hide_svg(drawing, HIDE)
    assert back.outline.symmetric_difference(HIDE.outline).area < 0.1
    assert back.zones[0].grade == "C" and back.zones[0].kind == "tick bite"
    assert back.zones[0].polygon.symmetric_difference(HIDE.zones[0].polygon).area < 0.01
    assert [(r.x, r.y, r.mm) for r in back.readings] == [
        pytest.approx((r.x, r.y, r.mm), abs=0.01) for r in HIDE.readings
    ]
    assert np.array(back.backbone) == pytest.approx(np.array(HIDE.backbone), abs=1e-3)
    assert (back.suggestions[0].grade, back.suggestions[0].kind, back.suggestions[0].confidence) == (
        "D",
        "brand or stain",
        0.83,
    )


def test_what_no_drawing_shows_stays(drawing):
    back = read_hide_svg(drawing, replace(HIDE, colour="natural"))
    assert (back.price, back.tannage, back.nominal_mm, back.colour, back.traced) == (
        Decimal("48.50"),
        "vegetable",
        1.2,
        "natural",
        HIDE.traced,
    )


def test_a_suggestion_relabelled_as_zone_becomes_a_zone(drawing):
    back = read_hide_svg(edited(drawing, ("suggestion D brand or stain 83 %", "zone D brand")), HIDE)
    assert [zone.kind for zone in back.zones] == ["brand", "tick bite"] and back.suggestions == ()


def test_a_moved_hole_is_read_back(drawing):
    path = re.search(r'<path inkscape:label="hole"[^>]*>', drawing.read_text())[0]
    moved = path.replace('inkscape:label="hole"', 'inkscape:label="hole" transform="translate(100 -50)"')
    back = read_hide_svg(edited(drawing, (re.escape(path), moved)), HIDE)
    assert Polygon(back.outline.interiors[0]).centroid.coords[0] == pytest.approx((400, 250), abs=0.01)


def test_an_editor_that_scales_and_moves_the_whole_drawing_changes_nothing(drawing):
    # Some editors take 72 px for an inch where SVG says 96, and move the page.
    text = drawing.read_text()
    start, rest = text.split(">", 1)
    drawing.write_text(start + '><g transform="translate(37 11) scale(0.75)">' + rest.replace("</svg>", "</g></svg>"))
    back = read_hide_svg(drawing, HIDE)
    assert back.outline.symmetric_difference(HIDE.outline).area < 5


def test_the_photo_is_drawn_where_it_lies(tmp_path):
    content = BytesIO()
    Image.new("RGB", (90, 60), (10, 120, 40)).save(content, "JPEG")
    write_hide_svg(tmp_path / "h.svg", HIDE, content.getvalue(), (-50, -20, 850, 580))
    text = (tmp_path / "h.svg").read_text()
    assert 'x="-50.000" y="-580.000" width="900.000" height="600.000"' in text
    assert read_hide_svg(tmp_path / "h.svg", HIDE).outline.equals_exact(read_hide_svg(tmp_path / "h.svg", HIDE).outline)


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        ((r'<path inkscape:label="outline"[^>]*>', ""), "outline", "missing"),
        (('inkscape:label="frame [^"]*"', 'inkscape:label="scribble"'), "frame", "missing"),
        (("zone C tick bite", "zone F"), "zone F", "unknown label"),
        (
            ('inkscape:label="zone C tick bite"', 'inkscape:label="zone C tick bite" transform="translate(5000 0)"'),
            "zones",
            "outside the leather",
        ),
        (("reading 1.25", "reading 99"), "reading", "99"),
        (('inkscape:label="frame', 'transform="scale(1 1.3)" inkscape:label="frame'), "frame", "stretched"),
    ],
)
def test_a_drawing_that_cannot_be_right_is_refused(drawing, change, place, words):
    fault = refusal(edited(drawing, change))
    assert place in fault.place and words in str(fault)


def test_two_outlines_are_refused(drawing):
    ring = affinity.translate(box(0, 0, 50, 50), 2000, 0)
    path = "M" + " L".join(f"{x},{-y}" for x, y in ring.exterior.coords) + " Z"
    fault = refusal(edited(drawing, ("</svg>", f'<path inkscape:label="outline" d="{path}"/></svg>')))
    assert "second outline" in str(fault)


@pytest.mark.parametrize("content", [b"", b"<svg", b"\x89PNG", b"<svg xmlns='http://www.w3.org/2000/svg'/>"])
def test_files_that_are_no_drawing_are_refused(tmp_path, content):
    (tmp_path / "h.svg").write_bytes(content)
    refusal(tmp_path / "h.svg")


def test_a_drawing_that_lost_its_labels_is_read_by_its_ids(drawing):
    text = drawing.read_text()
    ids = re.findall(r' id="([^"]*)"', text)
    assert len(set(ids)) == len(ids) and "outline" in ids and "zone_x0020_C_x0020_tick_x0020_bite" in ids
    before = read_hide_svg(drawing, HIDE)
    drawing.write_text(re.sub(r' inkscape:label="[^"]*"', "", text))
    assert read_hide_svg(drawing, HIDE) == before


def test_doubts_are_drawn_by_number_moved_and_deleted(tmp_path):
    doubts = (
        Doubt(box(100, 100, 120, 130), "slit or mark", 30.0, "look", 1, (5.0, 6.0)),
        Doubt(box(700, 400, 760, 420), "point or bay", 8.0, "look", 2, (7.0, 8.0)),
    )
    hide = replace(HIDE, doubts=doubts)
    write_hide_svg(tmp_path / "h.svg", hide)
    back = read_hide_svg(tmp_path / "h.svg", hide)
    assert [(one.number, one.kind, one.size_mm, one.settles, one.pixel) for one in back.doubts] == [
        (one.number, one.kind, one.size_mm, one.settles, one.pixel) for one in doubts
    ]
    moved = edited(
        tmp_path / "h.svg", (r'<path [^>]*label="doubt 1 slit or mark"[^>]*/>', ""), (r"700\.0000", "690.0000")
    )
    (left,) = read_hide_svg(moved, hide).doubts
    assert left.number == 2 and left.polygon.bounds[0] == pytest.approx(690, abs=0.01)
