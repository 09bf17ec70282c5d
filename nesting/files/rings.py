"""Closed rings of points between files and polygons."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import chain, pairwise
from pathlib import Path
from typing import Annotated

import numpy as np
import shapely
from pydantic import Field
from shapely.geometry import LineString, Polygon

from ..errors import FileError
from ..geometry import Floats
from .limits import DEFAULT
from .schema import Number, spot

Coordinate = Annotated[Number, Field(ge=-DEFAULT.farthest_mm, le=DEFAULT.farthest_mm)]
Point = Annotated[list[Coordinate], Field(min_length=2, max_length=2)]
Ring = Annotated[list[Point], Field(min_length=3, max_length=DEFAULT.ring_points)]
Line = Annotated[list[Point], Field(min_length=2, max_length=DEFAULT.ring_points)]


Corners = Sequence[Sequence[float]]


def polygon(
    file: str | Path, place: str, points: Corners, holes: Sequence[Corners] = (), holes_place: str = ""
) -> Polygon:
    """The polygon a file describes, as it is written again: what is read is what a layout made of it holds.

    Parameters
    ----------
    file, place : str
        Where the outer ring stands, for the error.
    points : sequence of [x, y]
        Outer ring in mm, its last point repeated or not.
    holes : sequence of rings
    holes_place : str
        Where the list of holes stands.

    Raises
    ------
    FileError
        When a ring crosses itself or encloses nothing, or a hole leaves the outline or meets another.
    """
    _enough(file, place, points)
    for index, hole in enumerate(holes):
        _enough(file, spot(file, holes_place, index), hole)
    shape = Polygon(points, holes)
    if not (shape.is_valid and shape.area > 0):
        raise _fault(file, place, points, holes, holes_place)
    return _rounded(shape)


def corners(shape: Polygon) -> tuple[list[list[float]], list[list[list[float]]]]:
    """The outer ring and the holes of a polygon for a file, rounded to 1e-4 mm, last point not repeated.

    A polygon so thin somewhere that rounding would make it cross itself is written in full.
    """
    shape = _rounded(shape)
    outer, *holes = ([*map(list, ring.coords[:-1])] for ring in (shape.exterior, *shape.interiors))
    return outer, holes


def points(lines: Sequence[LineString]) -> list[list[list[float]]]:
    """The points of each line for a file, rounded to 1e-4 mm."""
    found: list[list[float]] = _round(shapely.get_coordinates(lines)).tolist()
    ends = np.cumsum([0, *shapely.get_num_coordinates(lines)]).tolist()
    return [found[start:end] for start, end in pairwise(ends)]


def lines(rows: Sequence[Corners]) -> tuple[LineString, ...]:
    """The lines through rows of points, made all at once: one by one takes ten times as long."""
    if not rows:
        return ()
    found = np.array(list(chain.from_iterable(rows)), float)
    of = np.repeat(np.arange(len(rows)), list(map(len, rows)))
    made = np.asarray(shapely.linestrings(found, indices=of), object)
    return tuple(made.reshape(-1).tolist())


def rounded_mm(value: float, digits: int = DEFAULT.coordinate_digits) -> float:
    """A number for a file; never minus zero."""
    return round(float(value), digits) + 0.0


def pair(values: Sequence[float]) -> tuple[float, float]:
    """Two numbers of a file that belong together."""
    first, second = values
    return first, second


def crossing(shape: Polygon) -> tuple[float, float] | None:
    """Where a polygon that is not valid crosses or touches itself; None when nothing tells."""
    found = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(shape))
    return (float(found[1]), float(found[2])) if found else None


def _rounded(shape: Polygon) -> Polygon:
    rounded: Polygon = shapely.transform(shape, _round)
    return rounded if rounded.is_valid and rounded.area > 0 else shape


def _round(coordinates: Floats) -> Floats:
    return np.round(coordinates, DEFAULT.coordinate_digits) + 0.0


def _enough(file: str | Path, place: str, ring: Corners) -> None:
    if len({(x, y) for x, y in ring}) < 3:
        raise FileError(file, place, "fewer than three different points", "give the corners of an area")


def _fault(file: str | Path, place: str, points: Corners, holes: Sequence[Corners], holes_place: str) -> FileError:
    """Which ring is to blame for a polygon that is not valid."""
    rings = [(place, Polygon(points)), *((spot(file, holes_place, i), Polygon(hole)) for i, hole in enumerate(holes))]
    for where, ring in rings:
        if not ring.is_valid:
            return FileError(file, where, _reason(ring), "redraw it so that it does not cross or touch itself")
        if not ring.area > 0:
            return FileError(file, where, "encloses no area", "give the corners of an area")
    outer = rings[0][1]
    for where, ring in rings[1:]:
        if not outer.covers(ring):
            x, y = ring.exterior.coords[0]
            return FileError(
                file,
                where,
                f"the hole at ({x:g}, {y:g}) leaves the outline",
                "move it inside, or draw the outline around it",
            )
    return FileError(
        file, holes_place or place, _reason(Polygon(points, holes)), "draw holes that meet or touch the edge as one"
    )


def _reason(shape: Polygon) -> str:
    reason, point = shapely.is_valid_reason(shape), crossing(shape)
    near = f" near ({point[0]:.4g}, {point[1]:.4g})" if point else ""
    return ("crosses or touches itself" if "elf-intersection" in reason else reason.split("[")[0].lower()) + near
