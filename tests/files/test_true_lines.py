"""The exact lines of parts in a layout file."""

import json
from dataclasses import replace

import pytest
from laser_samples import layout_of, placement

from nesting.app.demo import demo_folder
from nesting.errors import FileError
from nesting.files.layout import layout_from_dict, layout_to_dict
from nesting.files.patterns import read_pattern


@pytest.fixture(scope="module")
def layout():
    (part,) = read_pattern(demo_folder() / "patterns" / "key-fob.svg")
    shapes = {name: getattr(part, name) for name in ("outline", "cutouts", "stitch", "engrave")}
    parts = [placement(n, x=100 / 3 * n, y=60.0, angle=12.3 * n, drawn=part.curves, **shapes) for n in (1, 2)]
    mirrored = replace(part.mirrored, name="twin")
    shapes = {name: getattr(mirrored, name) for name in ("outline", "cutouts", "stitch", "engrave")}
    return layout_of([*parts, placement(3, x=300, drawn=mirrored.curves, mirrored=True, **shapes)])


def data_of(layout):
    return json.loads(json.dumps(layout_to_dict(layout), default=str))


def test_a_drawing_stands_once_in_the_file_and_comes_back_as_it_was(layout):
    data = data_of(layout)
    assert len(data["drawings"]) == 2 and [row["drawing"] for row in data["placements"]] == [0, 0, 1]
    back = layout_from_dict(data, "layout.json")
    assert [part.drawn for part in back.placements] == [part.drawn for part in layout.placements]
    assert back.mark == layout.mark


def test_a_file_without_drawings_has_the_corners_of_its_shapes_for_lines(layout):
    data = data_of(layout)
    del data["drawings"]
    for row, laid in zip(data["placements"], layout.placements):
        del row["drawing"]
        row["stitch"] = [list(map(list, line.coords)) for line in laid.stitch]
    back = layout_from_dict(data, "layout.json")
    part = back.placements[0]
    assert part.drawn is None and part.curves.outline.flattened(0.1).equals(part.outline.exterior)
    assert part.curves.counts == (1, len(part.stitch), len(part.engrave)) and back.mark != layout.mark


def test_stitch_holes_stand_once_where_their_drawing_gives_them_back(layout):
    # as a plan lays parts, to the digits of a file
    (part,) = read_pattern(demo_folder() / "patterns" / "key-fob.svg")
    x, y, angle = 33.3333, 60.0, 12.3456789
    shapes = {name: getattr(part, name) for name in ("outline", "cutouts", "engrave")}
    shapes["stitch"] = [curve.flattened(0.05) for curve in part.curves.stitch]
    laid = placement(1, x=x, y=y, angle=angle, drawn=part.curves, **shapes)
    once = layout_of([laid])
    data = data_of(once)
    assert part.stitch and "stitch" not in data["placements"][0]
    back = layout_from_dict(data, "layout.json")
    assert back.mark == once.mark
    for one, other in zip(back.placements[0].stitch, laid.stitch, strict=True):
        assert one.equals_exact(other, 1e-4)
    # a file that has neither is refused
    del data["placements"][0]["drawing"]
    with pytest.raises(FileError, match=r"placements\[0\].stitch: missing"):
        layout_from_dict(data, "layout.json")


@pytest.mark.parametrize(
    "damage, place",
    [
        (lambda data: data["drawings"][0]["stitch"][3][0].__setitem__(0, 9.0), r"placements\[0\].stitch\[3\]: not as"),
        (lambda data: data["drawings"][0]["outline"][5].__setitem__(1, 40.0), r"placements\[0\].outline: not as drawn"),
        (
            lambda data: data["drawings"][0]["cutouts"][0][0].__setitem__(2, 0.2),
            r"placements\[0\].cutouts\[0\]: not as",
        ),
        (lambda data: data["drawings"][0]["stitch"].pop(), r"placements\[0\].stitch: 55 lines: its drawing has 54"),
        (lambda data: data["placements"][1].__setitem__("drawing", 7), r"placements\[1\].drawing: 7: drawings are num"),
        (lambda data: data["placements"][1].__setitem__("drawing", 1), r"placements\[1\]"),
        (lambda data: data["drawings"][0]["outline"][0].append(1.0), r"drawings\[0\].outline\[0\]"),
    ],
)
def test_lines_that_are_not_those_of_the_shapes_are_refused(layout, damage, place):
    data = data_of(layout)
    damage(data)
    with pytest.raises(FileError, match=place):
        layout_from_dict(data, "layout.json")
