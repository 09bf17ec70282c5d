"""Polygon tools: what of a shape is area, offsets that err to a known side, and putting a shape in its place.

The engine and the referee have tools of their own: the one imports nothing of the trade, the other proves what is made
with these.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Iterable, Iterator
from typing import Any, TypeAlias, TypeVar

import numpy as np
import numpy.typing as npt
import pyclipper
import shapely
from shapely.geometry import LinearRing, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

Area: TypeAlias = Polygon | MultiPolygon
Floats: TypeAlias = npt.NDArray[np.float64]
Shape = TypeVar("Shape", bound=BaseGeometry)

TOLERANCE_MM = 0.01
"""How far an offset may err, always to the asked side (working assumption, far below any kerf)."""
ROUNDING_MM = 0.001
"""More than ten times what corners are rounded to on the grid of an offset."""
ARC_MM = 0.003
"""Chords leave the true arc by about this; `TOLERANCE_MM` holds with it (see `_SAFE_MM`)."""
TRUE_ARC_MM = 0.001
"""The same for lines that are burnt: the largest power of ten that keeps them true to 0.003 mm."""
_GRID = 10_000
_TRUE_GRID = 100_000
"""The clipper counts in whole numbers: so many to a mm."""
_SAFE_MM = 2.25 * ARC_MM + ROUNDING_MM
"""Added to an offset so that chords clear the true arc. The clipper rounds the number of chords, so a chord may span
one and a half times the angle asked for, and the sagitta grows with its square. A micron covers rounding."""
_PLAIN_POINTS = 2000
"""Areas of more corners are made plainer before they are offset."""
_PLAIN_MM = 0.001
"""By so much: with `_SAFE_MM` twice this stays within `TOLERANCE_MM`."""
_PLAIN_MOVES = 2.7
"""An edge moves by no more than so many times what leaving corners out moves it: that itself, as much again to the safe
side, and what sharp corners add."""
_USUAL_MM = 300.0
"""Up to this size an edge may be moved by `DETAIL_MM`, for larger areas in proportion."""
DETAIL_MM = 0.02
"""Detail smaller than this is no detail of leather: a tenth of a kerf."""
_CRUMB_MM2 = 1e-9
"""Less area than this is rounding of coordinates."""


def polygons(shape: BaseGeometry, above_mm2: float = 0.0) -> list[Polygon]:
    """The polygons of a shape that have more than so much area; lines and points are left out."""
    bits = shapely.get_parts(shapely.get_parts(shape))
    return [bit for bit in bits if isinstance(bit, Polygon) and bit.area > above_mm2]


def areal(shape: BaseGeometry) -> Area:
    """Only the area of a shape, made valid: what crosses itself counts by the even-odd rule."""
    if not shape.is_valid:
        shape = shapely.make_valid(shape)
    if shape.geom_type == "GeometryCollection":
        shape = shapely.union_all([bit for bit in shapely.get_parts(shape) if bit.area > 0])
    kept = polygons(shape, _CRUMB_MM2)
    return kept[0] if len(kept) == 1 else MultiPolygon(kept) if kept else Polygon()


def largest_polygon(shape: BaseGeometry) -> Polygon | None:
    """The largest polygon of a shape; one that crosses itself is first made valid with all it encloses filled."""
    sound = shape if shape.is_valid else shapely.make_valid(shape, method="structure")
    return max(polygons(sound), key=lambda polygon: polygon.area, default=None)


def wide_enough(shape: BaseGeometry, smallest_mm: float) -> list[Polygon]:
    """The bits of an area that a disc of so many mm can reach."""
    area, radius = areal(shape), smallest_mm / 2
    opened = areal(area.buffer(-radius).buffer(radius).intersection(area))
    # Discs are drawn with chords, so that a crumb beyond a narrow slit may seem within reach.
    return [bit for bit in polygons(opened) if not bit.buffer(-0.99 * radius).is_empty]


def rings(shape: BaseGeometry) -> list[LinearRing]:
    """The outer ring of every polygon of a shape, each followed by its holes."""
    bits = shapely.get_parts(shapely.get_parts(shape))
    whole = [bit for bit in bits if isinstance(bit, Polygon) and not bit.is_empty]
    return [ring for polygon in whole for ring in (polygon.exterior, *polygon.interiors)]


def farthest_two(points: Floats) -> tuple[int, int]:
    """Indices, ascending, of the two of some points, (n, 2), that lie farthest apart."""
    apart = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    first, second = sorted(divmod(int(np.argmax(apart)), len(points)))
    return first, second


def place(shape: Shape, x: float, y: float, angle: float) -> Shape:
    """Turn a shape by ``angle`` degrees about the origin, then move it by (x, y)."""
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return shapely.transform(shape, lambda points: points @ np.array([[cos, sin], [-sin, cos]]) + (x, y))


def offset(shape: BaseGeometry, distance_mm: float, outward_safe: bool = True) -> Area:
    """Grow (positive distance) or shrink (negative) an area with round corners.

    Parameters
    ----------
    shape : Polygon, MultiPolygon or collection of them
    distance_mm : float
    outward_safe : bool
        True: a grown area contains the true one and a shrunk one lies within the true one, so that parts kept clear of
        it or in it are safe. False errs the other way. Either way by at most 0.01 mm.

    Returns
    -------
    Polygon or MultiPolygon
        Valid; empty when nothing is left.

    Raises
    ------
    ValueError
        When the distance is not finite.
    """
    if not math.isfinite(distance_mm):
        raise ValueError(f"offset distance {distance_mm} is not finite")
    area = areal(shape)
    if distance_mm == 0:
        return area
    spare = 0.0
    if shapely.get_num_coordinates(area) > _PLAIN_POINTS:
        # the edge of the plainer area lies so near the old one that an offset by as much more holds that of the old
        area, spare = areal(shapely.simplify(area, _PLAIN_MM, preserve_topology=False)), _PLAIN_MM
    size = abs(distance_mm) + (_SAFE_MM + spare if outward_safe else -ROUNDING_MM - spare)
    if size <= 0:
        return area
    return chorded_offset(area, math.copysign(size, distance_mm), ARC_MM)


def detail_mm(area: BaseGeometry) -> float:
    """How far the edge of an area of its size may be moved so that it has fewer corners: `DETAIL_MM` up to 300 mm,
    in proportion beyond."""
    x0, y0, x1, y1 = area.bounds
    return DETAIL_MM * max(1.0, max(x1 - x0, y1 - y0) / _USUAL_MM)


def plainer(area: Polygon, within_mm: float, outward: bool) -> Polygon:
    """A polygon of fewer corners that contains the given one, or lies in it.

    Corners are left out (Douglas and Peucker 1973), which moves the edge either way, and then all of it is moved to the
    asked side by as much.

    Parameters
    ----------
    area : Polygon
    within_mm : float
        How far the edge may move, mm.
    outward : bool
        True: the answer contains the polygon, and its holes are smaller. False: it lies in it.

    Returns
    -------
    Polygon
        The same polygon where there is no plainer one so near.
    """
    slack = within_mm / _PLAIN_MOVES
    simple = shapely.simplify(area, slack, preserve_topology=False)
    # GEOS makes a line plainer by a hundredth of what it moves it
    moved = simple.buffer(1.05 * slack * (1 if outward else -1), join_style="mitre", mitre_limit=1.1)
    found = largest_polygon(moved)
    if found is None or shapely.get_num_coordinates(found) >= shapely.get_num_coordinates(area):
        return area
    return found if (found.covers(area) if outward else area.covers(found)) else area


def plain_corners(area: Polygon, within_mm: float) -> int:
    """About how many corners `plainer` would leave of a polygon."""
    return int(shapely.get_num_coordinates(shapely.simplify(area, within_mm / _PLAIN_MOVES, preserve_topology=False)))


def chorded_offset(shape: BaseGeometry, distance_mm: float, arc_mm: float) -> Area:
    """Offset with arcs drawn as chords that leave them by about ``arc_mm``; the edge moves no further than asked."""
    paths = list(_paths(shapely.get_parts(shape), _GRID))
    if not paths:
        return Polygon()
    clipper = pyclipper.PyclipperOffset(arc_tolerance=arc_mm * _GRID)
    clipper.AddPaths(
        pyclipper.SimplifyPolygons(paths, pyclipper.PFT_NONZERO), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON
    )
    return areal(MultiPolygon(list(_outlines(clipper.Execute2(distance_mm * _GRID), _GRID))))


def true_offset(area: Area, distance_mm: float) -> MultiPolygon:
    """Grow or shrink an area as true as can be, erring to either side, for lines that are burnt.

    Not `offset`, which errs to one side by three times as much and drops crumbs: of a drawing nothing may be lost.

    Parameters
    ----------
    area : Polygon or MultiPolygon
        Holes move the other way.
    distance_mm : float

    Returns
    -------
    MultiPolygon
        Its edge keeps the distance from the old edge to 0.003 mm; empty when nothing is left.
    """
    whole = [orient(polygon) for polygon in shapely.get_parts(area)]
    if distance_mm == 0:
        return MultiPolygon(whole)
    clipper = pyclipper.PyclipperOffset(arc_tolerance=TRUE_ARC_MM * _TRUE_GRID)
    for path in _paths(whole, _TRUE_GRID):
        # The clipper refuses a ring with no extent at all on its grid; nothing of it could be burnt.
        with contextlib.suppress(pyclipper.ClipperException):
            clipper.AddPath(path, pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON)
    return MultiPolygon(list(_outlines(clipper.Execute2(distance_mm * _TRUE_GRID), _TRUE_GRID)))


def _paths(areas: Iterable[Polygon], grid: int) -> Iterator[list[list[int]]]:
    """The rings of polygons in whole numbers, outer ones counter-clockwise and holes clockwise."""
    for polygon in map(orient, areas):
        for ring in (polygon.exterior, *polygon.interiors):
            yield np.rint(np.asarray(ring.coords)[:-1, :2] * grid).astype(np.int64).tolist()


def _outlines(tree: Any, grid: int) -> Iterator[Polygon]:
    """Outer rings of a clipper tree, each with its holes; islands in holes are outer rings again."""
    for outer in tree.Childs:
        if len(outer.Contour) >= 3:
            holes = [np.asarray(hole.Contour) / grid for hole in outer.Childs if len(hole.Contour) >= 3]
            yield Polygon(np.asarray(outer.Contour) / grid, holes)
        for hole in outer.Childs:
            yield from _outlines(hole, grid)
