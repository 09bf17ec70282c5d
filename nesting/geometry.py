"""Polygon tools: areas only, offsets that err to the safe side, pieces wide enough, and putting a shape in its place."""

from __future__ import annotations

import math

import numpy as np
import pyclipper
import shapely
from shapely.geometry import MultiPolygon, Polygon
from shapely.geometry.polygon import orient

TOLERANCE_MM = 0.01
"""How far an offset may err, always to the asked side."""
_SCALE = 10_000
ROUNDING_MM = 0.001
ARC_MM = 0.003
_SAFE_MM = 2.25 * ARC_MM + ROUNDING_MM
"""Added to an offset so that chords clear the true arc. The clipper rounds the number of chords, so a chord may span
one and a half times the angle asked for, and the sagitta grows with its square. A micron covers rounding."""


def offset(geometry, distance_mm: float, outward_safe: bool = True) -> Polygon | MultiPolygon:
    """Grow (positive distance) or shrink (negative) an area with round corners.

    Parameters
    ----------
    geometry : Polygon, MultiPolygon or collection of them
    distance_mm : float
    outward_safe : bool
        True: a grown area contains the true one and a shrunk one lies within the true one, so that parts kept clear of
        it or in it are safe. False errs the other way. Either way by at most 0.01 mm.

    Returns
    -------
    Polygon or MultiPolygon
        Valid; empty when nothing is left.
    """
    if not math.isfinite(distance_mm):
        raise ValueError(f"offset distance {distance_mm} is not finite")
    geometry = areal(geometry)
    size = abs(distance_mm) + (_SAFE_MM if outward_safe else -ROUNDING_MM)
    if distance_mm == 0 or size <= 0:
        return geometry
    return chorded_offset(geometry, math.copysign(size, distance_mm), ARC_MM)


def areal(geometry) -> Polygon | MultiPolygon:
    """Only the area of a geometry, made valid: lines, points and what has no extent are left out."""
    if not geometry.is_valid:
        geometry = shapely.make_valid(geometry)
    if geometry.geom_type == "GeometryCollection":
        geometry = shapely.union_all([part for part in shapely.get_parts(geometry) if part.area > 0])
    kept = [part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon" and part.area > 1e-9]
    return kept[0] if len(kept) == 1 else MultiPolygon(kept) if kept else Polygon()


def chorded_offset(geometry, distance_mm: float, arc_mm: float):
    """Offset with arcs drawn as chords, so that it never moves the edge further than asked."""
    paths = [
        np.rint(np.asarray(ring.coords)[:-1, :2] * _SCALE).astype(np.int64).tolist()
        for polygon in map(orient, shapely.get_parts(geometry))
        for ring in (polygon.exterior, *polygon.interiors)
    ]
    if not paths:
        return Polygon()
    clipper = pyclipper.PyclipperOffset(arc_tolerance=arc_mm * _SCALE)
    clipper.AddPaths(
        pyclipper.SimplifyPolygons(paths, pyclipper.PFT_NONZERO), pyclipper.JT_ROUND, pyclipper.ET_CLOSEDPOLYGON
    )
    return areal(MultiPolygon(list(_polygons(clipper.Execute2(distance_mm * _SCALE)))))


def _polygons(tree):
    """Outer rings of a clipper tree, each with its holes; islands in holes are outer rings again."""
    for outer in tree.Childs:
        holes = [np.asarray(hole.Contour) / _SCALE for hole in outer.Childs]
        yield Polygon(np.asarray(outer.Contour) / _SCALE, holes)
        for hole in outer.Childs:
            yield from _polygons(hole)


def place(shape, x: float, y: float, angle: float):
    """Turn any shapely geometry by ``angle`` degrees about the origin, then move it by (x, y)."""
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    return shapely.transform(shape, lambda p: p @ np.array([[cos, sin], [-sin, cos]]) + (x, y))


def wide_enough(left, smallest_mm: float) -> list[Polygon]:
    """The pieces of an area that a disc of so many mm can reach."""
    left, radius = areal(left), smallest_mm / 2
    opened = areal(left.buffer(-radius).buffer(radius).intersection(left))
    # Discs are drawn with chords, so that a crumb beyond a narrow slit may seem within reach.
    return [piece for piece in shapely.get_parts(opened) if not piece.buffer(-0.99 * radius).is_empty]


def largest_polygon(shape) -> Polygon | None:
    """The largest simple polygon of a shape that may cross itself."""
    parts = shapely.get_parts(
        shapely.get_parts(shape if shape.is_valid else shapely.make_valid(shape, method="structure"))
    )
    return max((part for part in parts if isinstance(part, Polygon)), key=lambda part: part.area, default=None)
