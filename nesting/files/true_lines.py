"""The exact lines of parts in a layout file: each drawing once, and the placements that are of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import numpy as np
import numpy.typing as npt
import shapely
from pydantic import Field
from shapely.geometry import LineString, Polygon

from ..errors import FileError
from ..model import Curve, Curves, Placement
from .limits import DEFAULT
from .rings import Coordinate
from .schema import Table

_Node = Annotated[list[Coordinate], Field(min_length=2, max_length=3)]
_Around = Annotated[list[_Node], Field(min_length=2, max_length=DEFAULT.ring_points)]
_SMALL = 1000
"""Points of a line."""
_KINDS = ("outline", "cutouts", "stitch", "engrave")


class DrawingTable(Table):
    """Lines by their nodes (see `model.Curve`), [x, y] where the line goes straight on and [x, y, bulge] where not.

    Outline and cutouts close by themselves; of stitch and engrave a closed one ends where it begins.
    """

    outline: _Around
    cutouts: list[_Around]
    stitch: list[_Around]
    engrave: list[_Around]


def drawing_to_dict(drawn: Curves) -> dict[str, object]:
    """The keys of a drawing, in full precision."""
    return {
        "outline": _nodes(drawn.outline, False),
        "cutouts": [_nodes(curve, False) for curve in drawn.cutouts],
        "stitch": [_nodes(curve, True) for curve in drawn.stitch],
        "engrave": [_nodes(curve, True) for curve in drawn.engrave],
    }


def drawing_from_table(table: DrawingTable) -> Curves:
    """The lines that are in the keys of a drawing."""
    return Curves(
        _curve(table.outline, True),
        tuple(_curve(nodes, True) for nodes in table.cutouts),
        *(
            tuple(_curve(nodes, nodes[0][:2] == nodes[-1][:2]) for nodes in more)
            for more in (table.stitch, table.engrave)
        ),
    )


Chords = dict[str, list[LineString]]
"""Of a drawing, chords that stand for its lines by kind."""


def chords_of(drawn: Curves) -> Chords:
    """Chords for the lines of a drawing, where they are drawn."""
    lines = {kind: getattr(drawn, kind) for kind in _KINDS} | {"outline": (drawn.outline,)}
    return {kind: [curve.flattened(DEFAULT.chord_mm) for curve in more] for kind, more in lines.items()}


def laid(chords: Sequence[LineString], x: float, y: float, angle_deg: float) -> tuple[LineString, ...]:
    """Chords of a drawing where a placement lays them, as a file has them."""
    turn = math.radians(angle_deg)
    there = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])

    def move(points: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
        moved: npt.NDArray[np.float64] = np.round(points @ there + (x, y), DEFAULT.coordinate_digits) + 0.0
        return moved

    return tuple(shapely.transform(np.array(chords, object), move)) if chords else ()


def same_points(laid_down: Sequence[LineString], lines: Sequence[LineString]) -> bool:
    """Whether lines have the very points of others, once they are rounded as in a file."""
    some, others = np.array(laid_down, object), np.array(lines, object)
    if not np.array_equal(shapely.get_num_coordinates(some), shapely.get_num_coordinates(others)):
        return False
    rounded = np.round(shapely.get_coordinates(others), DEFAULT.coordinate_digits) + 0.0
    return bool((rounded == shapely.get_coordinates(some)).all())


def check_drawn(placement: Placement, chords: Chords, file: str | Path, place: str) -> None:
    """Refuse a placement whose shapes are not those of its drawing.

    Parameters
    ----------
    placement : Placement
    chords : dict
        What `chords_of` gives for its drawing.
    file, place : str
        Where it stands, for the error.

    Raises
    ------
    FileError
    """
    for kind in _KINDS:
        shapes = (placement.outline,) if kind == "outline" else getattr(placement, kind)
        lines = chords[kind]
        if len(shapes) != len(lines):
            mend = f"its drawing has {len(lines)}: plan again"
            raise FileError(file, f"{place}.{kind}", f"{len(shapes)} lines", mend)
        strays = np.flatnonzero(~_alike(shapes, placement, lines))
        if len(strays):
            number = "" if kind == "outline" else f"[{strays[0]}]"
            mend = f"it lies over {DEFAULT.drawn_mm:g} mm from the line of its drawing: plan again"
            raise FileError(file, f"{place}.{kind}{number}", "not as drawn", mend)


def _alike(
    shapes: Sequence[LineString | Polygon], placement: Placement, drawn: Sequence[LineString]
) -> npt.NDArray[np.bool_]:
    """Whether of each shape, put back to where it was drawn, and its line neither strays from the other."""
    turn = math.radians(placement.angle)
    back = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
    laid = [shape if isinstance(shape, LineString) else shape.exterior for shape in shapes]
    points, of = shapely.get_coordinates(laid, return_index=True)
    moved = (points - (placement.x, placement.y)) @ back
    one, other = np.array(shapely.linestrings(moved, indices=of), object), np.array(drawn, object)
    small = np.maximum(shapely.get_num_coordinates(one), shapely.get_num_coordinates(other)) <= _SMALL
    alike = np.ones(len(laid), bool)
    alike[small] = shapely.hausdorff_distance(one[small], other[small]) <= DEFAULT.drawn_mm
    for number in np.flatnonzero(~small):
        # the distance above takes time with the square of the points
        pairs = ((one[number], other[number]), (other[number], one[number]))
        near = (shapely.buffer(line, DEFAULT.drawn_mm, quad_segs=2) for _, line in pairs)
        alike[number] = all(shapely.covers(area, line) for area, (line, _) in zip(near, pairs))
    return alike


def _nodes(curve: Curve, repeated: bool) -> list[list[float]]:
    nodes = [[x, y, bulge] if bulge else [x, y] for x, y, bulge in curve.nodes]
    return [*nodes, nodes[0][:2]] if curve.closed and repeated else nodes


def _curve(nodes: Sequence[Sequence[float]], closed: bool) -> Curve:
    full = [(node[0], node[1], node[2] if len(node) > 2 else 0.0) for node in nodes]
    if closed and full[0][:2] == full[-1][:2]:
        full.pop()
    return Curve(tuple(full), closed)
