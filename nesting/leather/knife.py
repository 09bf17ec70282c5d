"""Knife lines and the bed: which pieces fit, what a straight line across a piece leaves, the ways to cut a hide up."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, Polygon

from ..geometry import polygons
from ..model import Cut, Hide

SLACK_MM = 1e-6
KNIFE_MM = 1.0
"""Strips are cut this much narrower than the bed: a knife along a straightedge is no truer."""
SLIVER = 0.01
"""Panels smaller than this share of the bed's shorter side squared are not counted."""
CRUMB_MM2 = 1e-3
"""What a line leaves of less area is rounding, not leather."""


class Way(NamedTuple):
    """How a hide is cut up: strips no wider than ``wide_mm``, each cut across into panels no longer than ``long_mm``.

    Strips are taken off in direction ``off_deg``, panels off a strip in direction ``along_deg``.
    """

    along_deg: float
    off_deg: float
    long_mm: float
    wide_mm: float


def bed_angle(polygon: Polygon, bed_width_mm: float, bed_height_mm: float) -> float | None:
    """The least angle to turn a piece by so that it fits the bed.

    Parameters
    ----------
    polygon : Polygon
    bed_width_mm, bed_height_mm : float
        Extent of the usable bed along x and y; infinite where leather is fed through.

    Returns
    -------
    float or None
        Degrees in (-90, 90], as it lies and a quarter turn before any other; None when it fits at no angle tried: those
        with an edge of its hull along a side of the bed, and every half degree.
    """
    hull = np.asarray(polygon.convex_hull.exterior.coords)
    edges = np.degrees(np.arctan2(*np.diff(hull, axis=0).T[::-1]))
    angles = np.concatenate([[0.0, 90.0], -edges, 90.0 - edges, np.arange(0.0, 180.0, 0.5)])
    angles = 90.0 - (90.0 - angles) % 180.0
    turns = np.radians(angles)
    wide = np.ptp(np.outer(np.cos(turns), hull[:, 0]) - np.outer(np.sin(turns), hull[:, 1]), axis=1)
    high = np.ptp(np.outer(np.sin(turns), hull[:, 0]) + np.outer(np.cos(turns), hull[:, 1]), axis=1)
    fits = angles[(wide <= bed_width_mm + SLACK_MM) & (high <= bed_height_mm + SLACK_MM)]
    if not fits.size:
        return None
    return float(next((angle for angle in (0.0, 90.0) if angle in fits), fits[np.argmin(np.abs(fits))])) + 0.0


def ways(hide: Hide, bed: tuple[float, float]) -> list[Way]:
    """Ways to cut a hide up for a bed (usable width and height, mm), those that make the fewest panels first.

    Strips lie along the sides of the hide's smallest rectangle, along or across its backbone, or along the axes; they
    are as wide as the bed or all equally wide, and taken off from either side.
    """
    found = {}
    for equal in (False, True):
        for angle in _directions(hide):
            for long, wide in dict.fromkeys((bed, bed[::-1])):
                for turn in (0.0, 180.0):
                    way = _way(hide, angle + turn, long, wide, equal)
                    found.setdefault(tuple(round(value, 3) for value in way), way)
    return sorted(found.values(), key=lambda way: _count(hide.outline, way, bed))


def _way(hide: Hide, along_deg: float, long: float, wide: float, equal: bool) -> Way:
    spans = [_span(hide.outline, angle) for angle in (along_deg, along_deg + 90.0)]
    long, wide = (
        side - min(KNIFE_MM, 0.01 * side) if math.isfinite(side) else span + KNIFE_MM
        for side, span in zip((long, wide), spans)
    )
    if equal:
        wide = spans[1] / math.ceil(spans[1] / wide) + SLACK_MM
    return Way(along_deg, along_deg + 90.0, long, wide)


def _count(piece: Polygon, way: Way, bed, across: bool = False) -> int:
    """Panels that a way makes when each is as big as can be; slivers do not count."""
    if bed_angle(piece, *bed) is not None:
        return int(piece.area > SLIVER * min(bed) ** 2)
    towards, most = (way.along_deg, way.long_mm) if across else (way.off_deg, way.wide_mm)
    low, high = reach(piece, towards)
    if high - low <= most + SLACK_MM:
        return 1 if across else _count(piece, way, bed, True)
    before, beyond = part(piece, towards, low + most)
    return sum(_count(bit, way, bed, True) for bit in before) + sum(_count(bit, way, bed, across) for bit in beyond)


def reach(shape, towards_deg: float) -> tuple[float, float]:
    """Least and greatest distance of a shape along a direction, mm from the origin."""
    along = shapely.get_coordinates(shape) @ _unit(towards_deg)
    return float(along.min()), float(along.max())


def part(piece: Polygon, towards_deg: float, place: float) -> tuple[list[Polygon], list[Polygon]]:
    """Cut a piece by the line square to a direction at a distance (mm from the origin): pieces before it, and beyond."""
    low, high = reach(piece, towards_deg)
    if place >= high:
        return [piece], []
    if place <= low:
        return [], [piece]
    bits = halves(piece, _line(piece, towards_deg, place))
    beyond = [float(np.mean(reach(bit, towards_deg))) > place for bit in bits]
    return [bit for bit, far in zip(bits, beyond) if not far], [bit for bit, far in zip(bits, beyond) if far]


def cut_across(hide_id: str, piece: Polygon, towards_deg: float, place: float) -> Cut:
    """The knife line that ``part`` cuts along, from the first to the last point where it meets the piece's edge."""
    met = shapely.get_coordinates(piece.intersection(_line(piece, towards_deg, place)))
    along = met @ _unit(towards_deg + 90.0)
    start, end = met[np.argmin(along)], met[np.argmax(along)]
    return Cut(hide_id, (float(start[0]), float(start[1])), (float(end[0]), float(end[1])))


def halves(piece: Polygon, knife: LineString) -> list[Polygon]:
    """The connected pieces that a line leaves."""
    if not piece.intersects(knife):
        return [piece]
    return polygons(shapely.ops.split(piece, knife), CRUMB_MM2)


def cut_up(hide: Hide, cuts: tuple[Cut, ...]) -> list[Polygon]:
    """The pieces of a hide after its knife lines, in the order they are made; lines of other hides are passed over."""
    pieces = [hide.outline]
    for cut in cuts:
        if cut.hide == hide.id:
            piece = cut_piece(pieces, cut)
            (x0, y0), (x1, y1) = cut.start, cut.end
            past = 0.01 / max(math.hypot(x1 - x0, y1 - y0), 0.01)
            dx, dy = past * (x1 - x0), past * (y1 - y0)
            pieces.remove(piece)
            pieces += halves(piece, LineString([(x0 - dx, y0 - dy), (x1 + dx, y1 + dy)]))
    return pieces


def cut_piece(pieces: list[Polygon], cut: Cut) -> Polygon:
    """The piece that a knife line goes across: its ends lie on that piece's edge, and most of it inside."""
    line = LineString([cut.start, cut.end])
    ends = shapely.points([cut.start, cut.end])

    def fit(piece: Polygon) -> tuple[bool, float]:
        return bool(shapely.dwithin(piece, ends, 0.01).all()), piece.intersection(line).length

    return max(pieces, key=fit)


def needed(hide: Hide, cuts: tuple[Cut, ...], panels: list[Polygon]) -> tuple[Cut, ...]:
    """The knife lines of a hide without those that no panel in use needs, the last made looked at first."""
    for cut in cuts[::-1]:
        fewer = tuple(other for other in cuts if other is not cut)
        pieces = cut_up(hide, fewer)
        if all(any(same_piece(panel, piece) for piece in pieces) for panel in panels):
            cuts = fewer
    return cuts


def same_piece(one: Polygon, other: Polygon) -> bool:
    """Whether two pieces differ by no more than rounding."""
    return abs(one.area - other.area) < 1.0 and one.symmetric_difference(other).area < 1.0


def _unit(angle_deg: float) -> np.ndarray:
    return np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])


def _span(shape, towards_deg: float) -> float:
    low, high = reach(shape, towards_deg)
    return high - low


def _line(piece: Polygon, towards_deg: float, place: float) -> LineString:
    low, high = reach(piece, towards_deg + 90.0)
    side = np.array([low - 1.0, high + 1.0])
    return LineString(place * _unit(towards_deg) + side[:, None] * _unit(towards_deg + 90.0))


def _directions(hide: Hide) -> list[float]:
    corners = np.asarray(hide.outline.minimum_rotated_rectangle.exterior.coords)
    tilt = math.degrees(math.atan2(*(corners[1] - corners[0])[::-1]))
    first = tilt if hide.backbone is None else hide.backbone_deg
    angles = (0.0, 90.0, first, first + 90.0, tilt, tilt + 90.0)
    return list(dict.fromkeys(round(angle % 180.0, 9) for angle in angles))
