"""Outlines of fewer points on the safe side: what is packed grows, what it is packed into shrinks."""

from __future__ import annotations

import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from .limits import LIMITS, SearchLimits


def tolerance_of(geometry: BaseGeometry, tolerance_mm: float, limits: SearchLimits = LIMITS) -> float:
    """How far the edge of a geometry may be moved (mm), by its size, where shapes of usual size allow
    ``tolerance_mm``."""
    x0, y0, x1, y1 = geometry.bounds
    size = max(x1 - x0, y1 - y0)
    return tolerance_mm * min(size / limits.small_mm, max(1.0, size / limits.usual_mm))


def plainer(geometry: BaseGeometry, within_mm: float, outward: bool, limits: SearchLimits = LIMITS) -> BaseGeometry:
    """An area of fewer corners that contains the given one, or lies in it.

    Corners are left out (Douglas and Peucker 1973), which moves the edge by some ``slack`` either way, and then all of
    it is moved by as much to the asked side. What has few corners, and what this would not make much plainer, stays as
    it is.

    Parameters
    ----------
    geometry : Polygon or MultiPolygon
    within_mm : float
        How far the edge may move, mm.
    outward : bool
        True: the answer contains the geometry. False: it lies in it.
    limits : SearchLimits

    Returns
    -------
    Polygon or MultiPolygon
    """
    count = shapely.get_num_coordinates(geometry)
    if within_mm <= 0 or count <= limits.plain_points:
        return geometry
    slack = within_mm / limits.plain_moves
    simple = shapely.simplify(geometry, slack, preserve_topology=False)
    if shapely.get_num_coordinates(simple) > limits.plainer_share * count:
        return geometry
    moved = simple.buffer(slack * limits.plain_margin * (1 if outward else -1), join_style="mitre", mitre_limit=1.1)
    sound = moved.covers(geometry) if outward else geometry.covers(moved)
    return moved if sound and not moved.is_empty else geometry


def outer(polygon: Polygon) -> Polygon:
    """A polygon without its holes."""
    return Polygon(polygon.exterior) if polygon.interiors else polygon


def coarser(polygon: Polygon, most_points: int, limits: SearchLimits = LIMITS) -> Polygon | None:
    """A stand-in for rough work that contains a polygon and has no more than so many corners; None when one would
    have to be much larger."""
    x0, y0, x1, y1 = polygon.bounds
    size = max(x1 - x0, y1 - y0)
    within, found = size * limits.first_coarse_share, polygon
    while len(found.exterior.coords) > most_points + 1:
        if within > limits.last_coarse_share * size:
            return None
        grown = plainer(polygon, within, True, limits)
        found, within = (grown if isinstance(grown, Polygon) else polygon), 2.0 * within
    return outer(found)
