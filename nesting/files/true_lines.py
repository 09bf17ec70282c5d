"""The exact lines of parts in a layout file: each drawing once, and the placements that are of it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import numpy as np
import shapely
from pydantic import Field
from shapely.geometry import LineString

from ..errors import FileError
from ..model import Curve, Curves, Placement
from .limits import DEFAULT
from .rings import Coordinate
from .schema import Table

_Node = Annotated[list[Coordinate], Field(min_length=2, max_length=3)]
_Around = Annotated[list[_Node], Field(min_length=2, max_length=DEFAULT.ring_points)]
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


def check_drawn(placement: Placement, file: str | Path, place: str) -> None:
    """Refuse a placement whose shapes are not those of its drawing.

    Raises
    ------
    FileError
    """
    curves = placement.curves
    for kind in _KINDS:
        shapes = getattr(placement, kind)
        lines: Sequence[Curve] = (curves.outline,) if kind == "outline" else getattr(curves, kind)
        shapes = (shapes,) if kind == "outline" else shapes
        if len(shapes) != len(lines):
            mend = f"its drawing has {len(lines)}: plan again"
            raise FileError(file, f"{place}.{kind}", f"{len(shapes)} lines", mend)
        rings = [shape if isinstance(shape, LineString) else shape.exterior for shape in shapes]
        drawn = [curve.flattened(DEFAULT.chord_mm) for curve in lines]
        strays = np.flatnonzero(~_alike(rings, drawn))
        if len(strays):
            number = "" if kind == "outline" else f"[{strays[0]}]"
            mend = f"it lies over {DEFAULT.drawn_mm:g} mm from the line of its drawing: plan again"
            raise FileError(file, f"{place}.{kind}{number}", "not as drawn", mend)


def _alike(rings: Sequence[LineString], drawn: Sequence[LineString]) -> np.ndarray:
    """Whether of each pair of lines neither strays from the other."""
    near = DEFAULT.drawn_mm
    alike = np.ones(len(rings), bool)
    for one, other in ((np.array(rings), np.array(drawn)), (np.array(drawn), np.array(rings))):
        alike &= shapely.covers(shapely.buffer(other, near, quad_segs=2), shapely.extract_unique_points(one))
    return alike


def _nodes(curve: Curve, repeated: bool) -> list[list[float]]:
    nodes = [[x, y, bulge] if bulge else [x, y] for x, y, bulge in curve.nodes]
    return [*nodes, nodes[0][:2]] if curve.closed and repeated else nodes


def _curve(nodes: Sequence[Sequence[float]], closed: bool) -> Curve:
    full = [(node[0], node[1], node[2] if len(node) > 2 else 0.0) for node in nodes]
    if closed and full[0][:2] == full[-1][:2]:
        full.pop()
    return Curve(tuple(full), closed)
