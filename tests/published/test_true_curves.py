"""Files to burn, read back by svgelements and ezdxf, against the drawings and against formulas."""

import io
import math
from dataclasses import replace

import ezdxf
import numpy as np
import pytest
import shapely
import svgelements
from burnt_files import along, read
from laser_samples import MACHINE, hide, layout_of, placement
from shapely.geometry import LineString, Polygon, box

from nesting.app.demo import demo_folder
from nesting.files.patterns import read_pattern
from nesting.geometry import place
from nesting.laser.export import export
from nesting.laser.load import bed_loads

BED = replace(MACHINE, bed_width_mm=2000, bed_height_mm=2000)
PATTERNS = sorted((demo_folder() / "patterns").glob("*.svg"))
TRUE_MM = 0.005
OPERATIONS = ("engrave", "stitch", "cutout", "outline")


def layout(path, angle=0.0, kerf=0.2):
    parts = []
    for number, part in enumerate(read_pattern(path), 1):
        drawn = {name: getattr(part, name) for name in ("outline", "cutouts", "stitch", "engrave", "engrave_how")}
        spot = {"x": 700.0, "y": 450.0 * number, "angle": angle}
        how = drawn.pop("engrave_how")
        parts.append(placement(number, part=part.name, drawn=part.curves, engrave_how=how, **spot, **drawn))
    leather = box(0, 0, 1990, 1990)
    return layout_of(parts, hides=[hide(outline=leather)], machine=BED, kerf=kerf)


def drawing(path):
    """Every line of a pattern in mm, y up from the page's lower edge, as svgelements reads it, in fine chords."""
    document = svgelements.SVG.parse(str(path), ppi=25.4)
    high = float(document.height)
    lines = []
    # zones may run along an edge
    for shape in document.elements(lambda e: isinstance(e, svgelements.Shape) and not str(e.id).startswith("zone")):
        for path_ in svgelements.Path(shape).as_subpaths():
            points = [(p.real, high - p.imag) for p in along(svgelements.Path(path_))]
            if len(points) > 1:
                lines.append(LineString(points))
    return lines


@pytest.mark.parametrize("path", PATTERNS, ids=lambda path: path.stem)
def test_what_is_burnt_lies_half_a_kerf_from_what_was_drawn_to_five_microns(path, tmp_path):
    made = layout(path, angle=33.0)
    (load,) = bed_loads(made, "h1")
    corners = [np.asarray(line.coords) for line in drawing(path)]
    drawn = shapely.STRtree(
        shapely.linestrings(np.concatenate([np.stack([c[:-1], c[1:]], axis=1) for c in corners])).tolist()
    )
    seen = read(export(made, tmp_path).files[0])
    assert len(seen) == len(load.lines)
    for (group, line, _), burn in zip(seen, load.lines):
        # back to where it was drawn
        back = place(place(line, -load.pose.x_mm, -load.pose.y_mm, 0), 0, 0, -load.pose.angle_deg)
        back = place(place(back, -burn.placement.x, -burn.placement.y, 0), 0, 0, -burn.placement.angle)
        points = shapely.points(shapely.get_coordinates(back.segmentize(1.0)))
        away = drawn.query_nearest(points, return_distance=True, all_matches=False)[1]
        half = 0.0 if group == "engrave" or not line.is_closed else 0.1
        assert np.abs(away - half).max() <= TRUE_MM, group


def test_circles_are_circles_and_points_are_few(tmp_path):
    made = layout(demo_folder() / "patterns" / "card-holder.svg")
    chords = replace(made, placements=tuple(replace(part, drawn=None) for part in made.placements))
    exact, rough = (export(each, tmp_path / name).files[0] for each, name in ((made, "exact"), (chords, "rough")))
    holes = [(line, count) for group, line, count in read(exact) if group == "stitch"]
    drawn = (demo_folder() / "patterns" / "card-holder.svg").read_text().count("<circle")
    assert len(holes) == drawn > 100 and all(count == 1 for _, count in holes)
    # a hole of 1 mm less a kerf of 0.2 mm
    assert all(line.length == pytest.approx(0.8 * math.pi, abs=2e-3) for line, _ in holes)
    # chords of the drawing that are 0.05 mm off it make twelve times the points
    assert sum(count for *_, count in read(exact)) * 8 < sum(count for *_, count in read(rough))
    assert exact.stat().st_size * 3 < rough.stat().st_size


def test_a_round_part_read_back_has_the_perimeter_and_area_of_a_circle(tmp_path):
    made = layout(demo_folder() / "patterns" / "coaster.svg")
    ((_, line, count),) = [found for found in read(export(made, tmp_path).files[0]) if found[0] == "outline"]
    assert count == 1
    # 48 mm of radius and half a kerf of 0.2 mm; read in 256 chords, so the length is short by 2 pi r (pi / 256)^2 / 6
    assert line.length == pytest.approx(2 * math.pi * 48.1, abs=0.01)
    assert Polygon(line).area == pytest.approx(math.pi * 48.1**2, rel=2e-4)


def points_of(entity):
    """Chords of an entity no farther off than 0.1 micron; its arcs, which run counter-clockwise each, end to end."""
    stretches = list(entity.virtual_entities()) if entity.dxftype() == "POLYLINE" else [entity]
    first, *others = map(chords, stretches)
    if others and min(math.dist(first[0], end) for end in (others[0][0], others[0][-1])) < 1e-5:
        first = first[::-1]
    for other in others:
        first += other if math.dist(other[0], first[-1]) < 1e-5 else other[::-1]
    return first


def chords(entity):
    straight = entity.dxftype() == "LINE"
    points = (entity.dxf.start, entity.dxf.end) if straight else entity.flattening(1e-4)
    return [(point.x, point.y) for point in points]


@pytest.mark.parametrize("path", PATTERNS, ids=lambda path: path.stem)
def test_dxf_and_svg_of_a_load_agree_line_by_line(path, tmp_path):
    made = layout(path, angle=12.0)
    dxf = export(made, tmp_path / "dxf", kind="dxf").files[0]
    document = ezdxf.readfile(dxf)
    assert document.dxfversion == "AC1009" and dxf.read_bytes().isascii()
    assert made.mark in dxf.read_text().split("SECTION")[0]
    svg = read(export(made, tmp_path / "svg").files[0])
    entities = list(document.modelspace())
    assert [entity.dxf.layer for entity in entities] == [group for group, *_ in svg]
    assert {entity.dxftype() for entity in entities} <= {"CIRCLE", "LINE", "ARC", "POLYLINE"}
    for entity, (_, line, _) in zip(entities, svg):
        points = points_of(entity)
        assert LineString(points).length == pytest.approx(line.length, rel=1e-4, abs=5e-3)
        assert abs(Polygon(points).area - Polygon(line).area) < 0.005 * line.length if len(points) > 3 else True
        # by fine steps both ways
        for one, other in ((LineString(points), line), (line, LineString(points))):
            spots = shapely.points(shapely.get_coordinates(one))
            assert shapely.distance(other, spots).max() < 0.006


def test_a_dxf_has_layers_named_as_the_groups_and_lines_in_burning_order(tmp_path):
    made = layout(demo_folder() / "patterns" / "glasses-case.svg")
    result = export(made, tmp_path, kind="dxf", frame=True)
    assert [file.suffix for file in result.files] == [".dxf", ".dxf"] and [g.suffix for g in result.guides] == [".svg"]
    layers = [entity.dxf.layer for entity in ezdxf.readfile(result.files[0]).modelspace()]
    assert list(dict.fromkeys(layers)) == [name for name in OPERATIONS if name in layers]
    frame = ezdxf.read(io.StringIO(result.files[1].read_text()))
    assert {entity.dxf.layer for entity in frame.modelspace()} == {"outline"}
