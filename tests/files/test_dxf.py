import io
import math
from functools import cache

import ezdxf
import numpy as np
import pytest
from ezdxf import path as paths
from ezdxf import units
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.errors import FileError
from nesting.files.bring import read_any
from nesting.files.dxf import read_dxf

AT = st.tuples(st.integers(-200, 200), st.integers(-200, 200))
DOWN = (0, 0, -1)


def drawing(unit=units.MM):
    document = ezdxf.new("R2000")
    document.units = unit
    return document, document.modelspace()


def read(folder, document, unit=""):
    document.saveas(folder / "x.dxf")
    return read_dxf(folder / "x.dxf", 0.001, unit)


def only_line(folder, document):
    (shape,) = [drawn for drawn in read(folder, document).drawn if drawn.lines]
    (line,) = shape.lines
    return line


def flattened(entity):
    """What the library itself makes of a curve (the reference here), as points and length."""
    points = np.array([(p.x, p.y) for p in paths.make_path(entity, segments=8, level=16).flattening(1e-3, segments=4)])
    return points, float(np.hypot(*np.diff(points, axis=0).T).sum())


@settings(deadline=None, max_examples=12)
@given(
    places=st.lists(AT, min_size=2, max_size=6, unique=True),
    bulges=st.lists(st.floats(-3, 3), min_size=6, max_size=6),
    closed=st.booleans(),
    mirrored=st.booleans(),
)
def test_a_polyline_with_bulges_is_as_long_as_the_library_says(tmp_path_factory, places, bulges, closed, mirrored):
    document, space = drawing()
    points = [(x, y, round(b, 2)) for (x, y), b in zip(places, bulges)]
    look = {"extrusion": DOWN} if mirrored else {}
    entity = space.add_lwpolyline(points, format="xyb", close=closed, dxfattribs=look)
    theirs, length = flattened(entity)
    line = only_line(tmp_path_factory.mktemp("dxf"), document)
    assert line.curve.length == pytest.approx(length, rel=2e-4, abs=0.02)
    assert line.points.min(axis=0) == pytest.approx(theirs.min(axis=0), abs=0.1)
    assert line.points.max(axis=0) == pytest.approx(theirs.max(axis=0), abs=0.1)


@settings(deadline=None, max_examples=12)
@given(
    centre=AT,
    radius=st.floats(0.5, 300),
    start=st.floats(0, 360),
    turn=st.floats(1, 359),
    ratio=st.floats(0.1, 1),
    mirrored=st.booleans(),
)
def test_arcs_and_ellipses_begin_and_end_where_the_library_says(
    tmp_path_factory, centre, radius, start, turn, ratio, mirrored
):
    look = {"extrusion": DOWN} if mirrored else {}
    for add in ("arc", "ellipse"):
        document, space = drawing()
        if add == "arc":
            entity = space.add_arc(centre, radius, start, start + turn, dxfattribs=look)
        else:
            axis = (radius * math.cos(start), radius * math.sin(start))
            first = math.radians(start)
            entity = space.add_ellipse(centre, axis, ratio, first, first + math.radians(turn), dxfattribs=look)
        theirs, length = flattened(entity)
        line = only_line(tmp_path_factory.mktemp("dxf"), document)
        assert line.curve.length == pytest.approx(length, rel=2e-4, abs=0.02)
        ours = sorted(map(tuple, line.points[[0, -1]].tolist()))
        assert np.array(ours) == pytest.approx(np.array(sorted(map(tuple, theirs[[0, -1]].tolist()))), abs=1e-3)
        assert line.points.min(axis=0) == pytest.approx(theirs.min(axis=0), abs=0.1)


def test_a_circle_is_a_circle_and_an_ellipse_has_ramanujans_perimeter(tmp_path):
    document, space = drawing(units.IN)
    space.add_circle((1, 2), 0.5)
    circle = only_line(tmp_path, document).curve.circle
    assert (circle.x, circle.y, circle.radius) == pytest.approx((25.4, 50.8, 12.7))
    document, space = drawing()
    space.add_ellipse((0, 0), (30, 0), 0.5)
    # Ramanujan's second formula (1914); off by under 1e-8 for these axes
    h = (15 / 45) ** 2
    perimeter = math.pi * 45 * (1 + 3 * h / (10 + math.sqrt(4 - 3 * h)))
    assert only_line(tmp_path, document).curve.length == pytest.approx(perimeter, abs=0.005)


def test_a_spline_follows_the_library(tmp_path):
    document, space = drawing()
    entity = space.add_spline([(0, 0), (20, 40), (60, 10), (80, 50), (120, 0)])
    _, length = flattened(entity)
    assert only_line(tmp_path, document).curve.length == pytest.approx(length, rel=1e-4)


@pytest.mark.parametrize(
    "unit, mm", [(units.MM, 1), (units.CM, 10), (units.IN, 25.4), (units.FT, 304.8), (units.M, 1000)]
)
def test_units_come_from_the_header_unless_somebody_says_otherwise(tmp_path, unit, mm):
    document, space = drawing(unit)
    space.add_line((0, 0), (1, 0))
    assert only_line(tmp_path, document).curve.length == pytest.approx(mm)
    sheet = read(tmp_path, document, "inch")
    assert sheet.drawn[0].lines[0].curve.length == pytest.approx(25.4) and not sheet.told


def test_a_drawing_without_units_is_taken_as_mm_and_that_is_said(tmp_path):
    document, space = drawing(0)
    space.add_line((0, 0), (7, 0))
    sheet = read(tmp_path, document)
    assert sheet.drawn[0].lines[0].curve.length == 7 and "--units inch" in sheet.told[0]


def test_blocks_are_spelled_out_turned_scaled_and_in_blocks(tmp_path):
    document, space = drawing()
    inner = document.blocks.new("hole")
    inner.add_circle((0, 0), 2)
    outer = document.blocks.new("flap")
    outer.add_lwpolyline([(0, 0), (40, 0), (40, 20), (0, 20)], close=True)
    outer.add_blockref("hole", (10, 10))
    space.add_blockref("flap", (100, 50), dxfattribs={"rotation": 90, "xscale": 2, "yscale": 2, "zscale": 2})
    document.saveas(tmp_path / "x.dxf")
    (part,) = read_any(tmp_path / "x.dxf").parts
    assert part.name == "flap" and part.outline.bounds == pytest.approx((60, 50, 100, 130))
    circle = part.curves.cutouts[0].circle
    assert (circle.x, circle.y, circle.radius) == pytest.approx((80, 70, 4))


def test_layers_are_labels_colours_and_dashes_are_seen_and_text_is_a_note(tmp_path):
    document, space = drawing()
    document.linetypes.add("DASHED", pattern=[0.6, 0.5, -0.1])
    document.layers.add("Outline")
    document.layers.add("Fold", linetype="DASHED", color=1)
    document.layers.add("hidden").off()
    box = [(0, 0), (60, 0), (60, 40), (0, 40)]
    space.add_lwpolyline(box, close=True, dxfattribs={"layer": "Outline"})
    space.add_line((0, 20), (60, 20), dxfattribs={"layer": "Fold"})
    space.add_line((0, 10), (60, 10), dxfattribs={"layer": "hidden"})
    space.add_text("back", dxfattribs={"layer": "0"}).set_placement((10, 10))
    space.add_hatch().paths.add_polyline_path(box)
    document.saveas(tmp_path / "x.dxf")
    drawn = read_dxf(tmp_path / "x.dxf", 0.01).drawn
    assert [(shape.colour, shape.dashed) for shape in drawn if shape.lines][1] == ("#ff0000", True)
    understood = read_any(tmp_path / "x.dxf")
    assert not understood.guessed and [note.text for note in understood.notes] == ["back"]
    (part,) = understood.parts
    assert (part.name, len(part.folds)) == ("back", 1)
    said = " ".join(understood.told)
    assert "1 HATCH" in said and "1 line on a layer that is off" in said


def test_loose_lines_and_arcs_are_joined_to_an_outline(tmp_path):
    document, space = drawing(units.IN)
    space.add_line((0, 0), (4, 0))
    space.add_line((4, 3), (0, 3))
    space.add_arc((4, 1.5), 1.5, -90, 90)
    space.add_line((0, 0), (0, 3))
    document.saveas(tmp_path / "bag.dxf")
    (part,) = read_any(tmp_path / "bag.dxf").parts
    assert part.name == "bag" and part.curves.outline.length == pytest.approx((11 + math.pi * 1.5) * 25.4, abs=1e-3)


@pytest.mark.parametrize(
    "content, value",
    [
        (b"", "empty"),
        (b"AC1027 binary", "a DWG drawing"),
        (b"hello", "file"),
        (b"AutoCAD Binary DXF\r\n\x1a\x00\x00\x01", "file"),
    ],
)
def test_what_is_no_dxf_is_refused_in_one_line(tmp_path, content, value):
    (tmp_path / "x.dxf").write_bytes(content)
    with pytest.raises(FileError) as caught:
        read_dxf(tmp_path / "x.dxf", 0.01)
    assert value in str(caught.value) and str(caught.value).isprintable()


@cache
def sound():
    """The bytes of a sound drawing, the same all the while."""
    document, space = drawing()
    space.add_lwpolyline([(0, 0, 0.5), (40, 0, 0), (40, 20, -1)], format="xyb", close=True)
    space.add_spline([(0, 0), (20, 40), (60, 10)])
    document.blocks.new("b").add_circle((0, 0), 1)
    space.add_blockref("b", (3, 3))
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def test_what_is_of_no_known_kind_is_left_out(tmp_path):
    path = tmp_path / "x.dxf"
    path.write_bytes(sound().replace(b"\nSPLINE", b"\nSPL INE"))
    sheet = read_dxf(path, 0.01)
    assert sheet.drawn and any("SPL INE" in line for line in sheet.told)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.floats(0, 0.999), st.integers(0, 8), st.binary(max_size=8)), min_size=1, max_size=4))
def test_any_damage_gives_lines_or_one_message(tmp_path_factory, damage):
    content = bytearray(sound())
    start = content.index(b"ENTITIES")
    for share, length, other in damage:
        at = start + int(share * (len(content) - start))
        content[at : at + length] = other
    path = tmp_path_factory.mktemp("dxf") / "x.dxf"
    path.write_bytes(bytes(content))
    try:
        assert all(np.isfinite(line.points).all() for drawn in read_dxf(path, 0.01).drawn for line in drawn.lines)
    except FileError as error:
        assert str(error).isprintable()


def test_stitches_on_a_layer_leave_the_outline_and_a_hole_beside_them_what_they_look_like(tmp_path):
    document, space = drawing()
    space.add_lwpolyline([(0, 0), (180, 0), (180, 95), (0, 95)], close=True)
    for x in range(5, 180, 5):
        space.add_circle((x, 4), 0.6, dxfattribs={"layer": "STITCH"})
    space.add_circle((90, 80), 4, dxfattribs={"color": 1})
    document.saveas(tmp_path / "pen flap.dxf")
    found = read_any(tmp_path / "pen flap.dxf")
    (flap,) = found.parts
    assert (flap.name, flap.outline.area, len(flap.stitch), len(flap.cutouts)) == ("pen flap", 180 * 95, 35, 1)
    assert found.guessed and found.partly and found.asked_colours == {"#ff0000": 1}
