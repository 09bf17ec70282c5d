import math
import re
import xml.etree.ElementTree as ElementTree

import pytest
import svgelements
from laser_samples import LEAF, layout_of, placement, rich_part
from shapely.geometry import Polygon

from nesting.laser.export import export
from nesting.model import OPERATIONS

SVG = "{http://www.w3.org/2000/svg}"


def groups(path):
    return [g for g in ElementTree.parse(path).getroot() if g.tag == SVG + "g"]


def polygons(path, group):
    """Rings of one group as an independent reader sees them, in mm, y down."""
    document = svgelements.SVG.parse(str(path), ppi=25.4)
    return [
        Polygon([(p.x, p.y) for p in shape.as_points()])
        for g in document.select(lambda e: isinstance(e, svgelements.Group) and e.id == group)
        for shape in g.select(lambda e: isinstance(e, svgelements.Path))
    ]


def test_groups_come_in_burning_order_and_the_guide_last(tmp_path):
    path = export(layout_of([rich_part()]), tmp_path).files[0]
    assert [g.get("id") for g in groups(path)] == [*OPERATIONS, "guide-not-for-burning"]


def test_an_independent_reader_finds_the_part_grown_by_half_the_kerf(tmp_path):
    part = placement(outline=Polygon([(0, 0), (60, 0), (40, 50)]), angle=25)
    path = export(layout_of([part], kerf=0.4), tmp_path).files[0]
    read = polygons(path, "outline")[0]
    # Steiner's formula for a convex area offset by r: A + L r + pi r^2
    assert read.area == pytest.approx(part.outline.area + part.outline.length * 0.2 + math.pi * 0.04, rel=1e-4)


def test_the_file_is_in_mm_at_true_size_and_not_mirrored(tmp_path):
    part = placement(outline=LEAF, x=100, y=50)
    path = export(layout_of([part], kerf=0), tmp_path).files[0]
    root = ElementTree.parse(path).getroot()
    assert root.get("width") == "510.0000mm" and root.get("viewBox") == "0 0 510.0000 310.0000"
    read = Polygon([(x - 5, 305 - y) for x, y in polygons(path, "outline")[0].exterior.coords])
    assert read.symmetric_difference(part.outline).area < 0.05  # coordinates have four decimals


def test_burning_groups_hold_plain_paths_in_one_colour_each(tmp_path):
    path = export(layout_of([rich_part()]), tmp_path).files[0]
    colours = [g.get("stroke") for g in groups(path)]
    assert len(set(colours)) == 5
    for group in groups(path)[:-1]:
        assert all(child.tag == SVG + "path" for child in group)


@pytest.mark.parametrize("tannage, word", [("unknown", "not known"), ("chrome", "hexavalent"), ("synthetic", "hydrogen chloride")])
def test_leather_not_known_to_be_safe_is_refused_with_the_reason(tmp_path, tannage, word):
    result = export(layout_of([placement()], tannage=tannage), tmp_path)
    assert not result.files and word in result.refusals[0]
    assert list(tmp_path.iterdir()) == []


def test_a_hide_without_a_tested_setting_is_refused(tmp_path):
    assert "no tested setting" in export(layout_of([placement()], setting=None), tmp_path).refusals[0]


def test_names_from_orders_cannot_break_the_file(tmp_path):
    path = export(layout_of([placement(order='<A&"1>')]), tmp_path).files[0]
    ids = re.findall(r' id="([^"]*)"', path.read_text())
    ElementTree.parse(path)
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+", text) for text in ids) and len(ids) == len(set(ids))


def test_the_file_says_the_setting_and_the_cautions(tmp_path):
    text = export(layout_of([placement()]), tmp_path).files[0].read_text()
    assert "10 mm/s" in text and "IEC 60825-1" in text and "extinguisher" in text
