import math

import pytest
from shapely.geometry import LineString, box

from nesting.app.demo import demo_folder
from nesting.files.pattern_svg import write_pattern
from nesting.files.patterns import Drawing, Note, read_drawing
from nesting.model import Part, Zone


@pytest.mark.parametrize("path", sorted(demo_folder().glob("patterns/*.svg")), ids=lambda path: path.stem)
def test_a_pattern_written_and_read_again_is_the_same(tmp_path, path):
    before = read_drawing(path)
    write_pattern(tmp_path / "again.svg", before)
    after = read_drawing(tmp_path / "again.svg")
    assert [part.name for part in after.parts] == [part.name for part in before.parts] and not after.guessed
    for one, other in zip(before.parts, after.parts):
        dx, dy = (a - b for a, b in zip(one.curves.outline.nodes[0], other.curves.outline.nodes[0][:2]))
        assert other.outline.area == pytest.approx(one.outline.area, rel=2e-4)
        assert [len(each.stitch) for each in (one, other)] == [len(one.stitch)] * 2
        lengths = [
            [curve.length for curve in (each.curves.outline, *each.curves.cutouts, *each.curves.stitch)]
            for each in (one, other)
        ]
        assert lengths[1] == pytest.approx(lengths[0], abs=0.01)
        assert other.engrave_how == one.engrave_how and len(other.engrave) == len(one.engrave)
        assert [zone.grade for zone in other.zones] == [zone.grade for zone in one.zones]
        for a, b in zip(one.curves.stitch, other.curves.stitch):
            assert (a.circle is None) == (b.circle is None)
            if a.circle is not None:
                assert (a.circle.x - b.circle.x - dx, a.circle.y - b.circle.y - dy) == pytest.approx((0, 0), abs=1e-3)


def test_any_name_zone_fold_and_note_is_read_back(tmp_path):
    part = Part(
        'Front & "back" <2>',
        box(0, 0, 60, 40),
        cutouts=(box(5, 5, 10, 10),),
        zones=(Zone(box(0, 0, 60, 4), "C"),),
        folds=(LineString([(30, 0), (30, 40)]), LineString([(40, 0), (40, 40)])),
    )
    write_pattern(tmp_path / "x.svg", Drawing((part,), (Note("cut 2 <twice>", 20, 20),)))
    text = (tmp_path / "x.svg").read_text()
    assert 'inkscape:label="zone C"' in text and 'id="outline" inkscape:label="outline"' in text
    drawing = read_drawing(tmp_path / "x.svg")
    (again,) = drawing.parts
    assert again.name == part.name and again.zones[0].grade == "C"
    assert [fold.length for fold in again.folds] == pytest.approx([40, 40])
    assert (again.outline.area, again.cutouts[0].area) == pytest.approx((2400, 25))


def test_arcs_stay_arcs(tmp_path):
    drawn = (
        '<rect width="60" height="40" rx="8"/><ellipse cx="30" cy="20" rx="12" ry="6"/><circle cx="8" cy="20" r="2"/>'
    )
    head = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    (tmp_path / "x.svg").write_text(f"{head}{drawn}</svg>")
    write_pattern(tmp_path / "y.svg", read_drawing(tmp_path / "x.svg"))
    (part,) = read_drawing(tmp_path / "y.svg").parts
    assert part.curves.outline.length == pytest.approx(2 * (44 + 24) + 16 * math.pi, abs=1e-3)
    assert len(part.curves.outline.nodes) == 8
    # Ramanujan's second formula for the perimeter of an ellipse (1914)
    h = ((12 - 6) / (12 + 6)) ** 2
    ellipse = math.pi * 18 * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert sorted(curve.length for curve in part.curves.cutouts) == pytest.approx([4 * math.pi, ellipse], abs=0.01)
