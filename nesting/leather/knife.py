"""Knife lines and the bed: which leather fits it, what a straight line across leaves, the ways to cut a hide up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import Area, Floats, polygons
from ..model import Cut, Hide, Point
from .limits import DEFAULT, LeatherLimits


class Way(NamedTuple):
    """How a hide is cut up: strips no wider than ``wide_mm``, each cut across into panels no longer than ``long_mm``.

    Strips are taken off in direction ``off_deg``, panels off a strip in direction ``along_deg``, by lines of up to so
    many ``strokes``; or (``inner``) panels of whole leather are cut out first, as big as can be, and then the rest.
    """

    along_deg: float
    off_deg: float
    long_mm: float
    wide_mm: float
    strokes: int = 1
    inner: bool = False


def bed_angle(
    polygon: Polygon, bed_width_mm: float, bed_height_mm: float, limits: LeatherLimits = DEFAULT
) -> float | None:
    """The least angle to turn leather by so that it fits the bed.

    Parameters
    ----------
    polygon : Polygon
    bed_width_mm, bed_height_mm : float
        Extent of the usable bed along x and y; infinite where leather is fed through.
    limits : LeatherLimits, optional

    Returns
    -------
    float or None
        Degrees in (-90, 90], as it lies and a quarter turn before any other; None when it fits at no angle tried: those
        with an edge of its hull (the longest of very many) along a side of the bed, and every half degree.
    """
    hull = shapely.get_coordinates(polygon.convex_hull)
    sides = np.diff(hull, axis=0)
    if len(sides) > limits.most_sides:
        # a rounding of a thousand chords has no side to lie along
        sides = sides[np.sort(np.argsort(-np.hypot(*sides.T), kind="stable")[: limits.most_sides])]
    edges = np.degrees(np.arctan2(*sides.T[::-1]))
    angles = np.concatenate([[0.0, 90.0], -edges, 90.0 - edges, np.arange(0.0, 180.0, limits.bed_turn_deg)])
    angles = 90.0 - (90.0 - angles) % 180.0
    turns = np.radians(angles)
    wide = np.ptp(np.outer(np.cos(turns), hull[:, 0]) - np.outer(np.sin(turns), hull[:, 1]), axis=1)
    high = np.ptp(np.outer(np.sin(turns), hull[:, 0]) + np.outer(np.cos(turns), hull[:, 1]), axis=1)
    slack = limits.rounding_mm
    fits = angles[(wide <= bed_width_mm + slack) & (high <= bed_height_mm + slack)]
    if not fits.size:
        return None
    return float(next((angle for angle in (0.0, 90.0) if angle in fits), fits[np.argmin(np.abs(fits))])) + 0.0


def ways(hide: Hide, bed: tuple[float, float], limits: LeatherLimits = DEFAULT) -> list[Way]:
    """Ways to cut a hide up for a bed (usable width and height, mm), those that make the fewest panels first.

    Strips lie along the sides of the hide's smallest rectangle, along or across its backbone, or along the axes; they
    are as wide as the bed or all equally wide, and taken off from either side.
    """
    found: dict[tuple[float, ...], Way] = {}
    for equal in (False, True):
        for angle in _directions(hide):
            for long, wide in dict.fromkeys((bed, bed[::-1])):
                for turn in (0.0, 180.0):
                    way = _way(hide, angle + turn, long, wide, equal, limits)
                    found.setdefault(tuple(round(value, 3) for value in way), way)
    return sorted(found.values(), key=lambda way: _count(hide.outline, way, bed, limits))


def _way(hide: Hide, along_deg: float, long: float, wide: float, equal: bool, limits: LeatherLimits) -> Way:
    spans = [_span(hide.outline, angle) for angle in (along_deg, along_deg + 90.0)]
    long, wide = (
        side - min(limits.knife_mm, limits.knife_share * side) if math.isfinite(side) else span + limits.knife_mm
        for side, span in zip((long, wide), spans)
    )
    if equal:
        wide = spans[1] / math.ceil(spans[1] / wide) + limits.rounding_mm
    return Way(along_deg, along_deg + 90.0, long, wide)


def _count(polygon: Polygon, way: Way, bed: tuple[float, float], limits: LeatherLimits, across: bool = False) -> int:
    """Panels that a way makes when each is as big as can be; slivers do not count."""
    if bed_angle(polygon, *bed, limits) is not None:
        return int(polygon.area > limits.sliver_share * min(bed) ** 2)
    towards, most = (way.along_deg, way.long_mm) if across else (way.off_deg, way.wide_mm)
    low, high = reach(polygon, towards)
    if high - low <= most + limits.rounding_mm:
        return 1 if across else _count(polygon, way, bed, limits, True)
    before, beyond = divide(polygon, towards, low + most, limits)
    return sum(_count(bit, way, bed, limits, True) for bit in before) + sum(
        _count(bit, way, bed, limits, across) for bit in beyond
    )


def reach(shape: BaseGeometry, towards_deg: float) -> tuple[float, float]:
    """Least and greatest distance of a shape along a direction, mm from the origin."""
    along = shapely.get_coordinates(shape) @ _unit(towards_deg)
    return float(along.min()), float(along.max())


def divide(
    polygon: Polygon, towards_deg: float, place_mm: float, limits: LeatherLimits = DEFAULT
) -> tuple[list[Polygon], list[Polygon]]:
    """Cut leather by the line square to a direction at a distance from the origin: the bits before it, and beyond."""
    low, high = reach(polygon, towards_deg)
    if place_mm >= high:
        return [polygon], []
    if place_mm <= low:
        return [], [polygon]
    return divide_along(polygon, straight_line(polygon, towards_deg, place_mm), towards_deg, limits)


def divide_along(
    polygon: Polygon, line: LineString, towards_deg: float, limits: LeatherLimits = DEFAULT
) -> tuple[list[Polygon], list[Polygon]]:
    """Cut leather by a line that goes on to its left, seen along a direction: the bits before it, and beyond."""
    far = reach(polygon, towards_deg)[1] + 1.0
    bits = _halves(polygon, line, limits)
    ends = np.array(line.coords)[[-1, 0]]
    beyond = Polygon([*line.coords, *(end + (far - end @ _unit(towards_deg)) * _unit(towards_deg) for end in ends)])
    past = [beyond.intersects(bit.representative_point()) for bit in bits]
    return [bit for bit, far in zip(bits, past) if not far], [bit for bit, far in zip(bits, past) if far]


def cut_across(hide_id: str, polygon: Polygon, towards_deg: float, place_mm: float) -> Cut:
    """The knife line that `divide` cuts along."""
    return cut_along(hide_id, polygon, straight_line(polygon, towards_deg, place_mm))


def cut_along(hide_id: str, polygon: Polygon, line: LineString) -> Cut:
    """The knife line that `divide_along` cuts along, from the first to the last point where it meets the edge."""
    met = [line.project(shapely.Point(point)) for point in shapely.get_coordinates(polygon.intersection(line))]
    points = shapely.get_coordinates(shapely.ops.substring(line, min(met), max(met)))
    start, *via, end = ((float(x), float(y)) for x, y in points)
    return Cut(hide_id, start, end, tuple(via))


def goes_across(polygon: Polygon, cut: Cut, limits: LeatherLimits = DEFAULT) -> bool:
    """Whether there is no leather ahead of a knife line's first and last stroke, beyond its ends."""
    far = ((cut.start, cut.points[1]), (cut.end, cut.points[-2]))
    ahead = [LineString([end, _past(end, other, 2 * polygon.length)]) for end, other in far]
    return all(polygon.intersection(line).length < limits.line_end_mm for line in ahead)


def cut_up(
    hide: Hide, cuts: tuple[Cut, ...], limits: LeatherLimits = DEFAULT, out: Sequence[Polygon] = ()
) -> list[Polygon]:
    """The bits of a hide after its knife lines, in the order they are made; lines of other hides are passed over.

    What is ``out`` was cut out of the hide before.
    """
    return _cut_up(hide, cuts, limits, out)[0]


def freed_by(
    hide: Hide, cuts: tuple[Cut, ...], limits: LeatherLimits = DEFAULT, out: Sequence[Polygon] = ()
) -> list[tuple[Polygon, tuple[int, ...]]]:
    """The same bits, each with the lines that have to be cut before it is free, by their number among those of the
    hide, from 1."""
    bits, _, freed = _cut_up(hide, cuts, limits, out)
    return list(zip(bits, freed))


def _cut_up(
    hide: Hide, cuts: tuple[Cut, ...], limits: LeatherLimits, out: Sequence[Polygon]
) -> tuple[list[Polygon], bool, list[tuple[int, ...]]]:
    """The bits, whether every line goes from edge to edge of what it cuts, and the numbers of the lines that free each
    bit."""
    bits = polygons(hide.outline.difference(shapely.union_all(out)), limits.crumb_mm2) if out else [hide.outline]
    across, number = True, 0
    freed: list[tuple[int, ...]] = [()] * len(bits)
    for cut in cuts:
        if cut.hide == hide.id:
            bit = _under(bits, cut, limits)
            across &= bool(
                shapely.dwithin(bit.exterior, shapely.points([cut.start, cut.end]), limits.line_end_mm).all()
            )
            start, *via, end = cut.points
            first, last, near = (start, cut.points[1]), (end, cut.points[-2]), limits.line_end_mm
            halves = _halves(bit, LineString([_past(*first, near), *via, _past(*last, near)]), limits)
            number += 1
            at = bits.index(bit)
            del bits[at]
            before = freed.pop(at)
            bits += halves
            freed += [(*before, number)] * len(halves)
    return bits, across, freed


def needed(
    hide: Hide,
    cuts: tuple[Cut, ...],
    panels: list[Polygon],
    limits: LeatherLimits = DEFAULT,
    out: Sequence[Polygon] = (),
) -> tuple[Cut, ...]:
    """The knife lines of a hide without those that no panel in use needs, nor a line that ends on them; the last made
    is looked at first."""
    edges = shapely.union_all([panel.exterior for panel in panels])
    for cut in cuts[::-1]:
        # a line along a panel's edge is needed, and that is soon told
        if edges.intersection(LineString(cut.points).buffer(limits.line_end_mm)).length > limits.along_edge_mm:
            continue
        fewer = tuple(other for other in cuts if other is not cut)
        bits, across, _ = _cut_up(hide, fewer, limits, out)
        # thin tips are little leather and reach far
        near = limits.line_end_mm
        if across and all(
            any(
                same_leather(panel, bit, limits) and panel.buffer(near).covers(bit) and bit.buffer(near).covers(panel)
                for bit in bits
            )
            for panel in panels
        ):
            cuts = fewer
    return cuts


def same_leather(one: Area, other: Area, limits: LeatherLimits = DEFAULT) -> bool:
    """Whether two polygons differ by no more than rounding."""
    same = limits.same_mm2
    return abs(one.area - other.area) < same and one.symmetric_difference(other).area < same


def _under(bits: list[Polygon], cut: Cut, limits: LeatherLimits) -> Polygon:
    """The bit that a knife line goes across: its ends lie on that bit's edge, and most of it inside."""
    line = LineString(cut.points)
    ends = shapely.points([cut.start, cut.end])

    def fit(bit: Polygon) -> tuple[bool, float]:
        return bool(shapely.dwithin(bit, ends, limits.line_end_mm).all()), bit.intersection(line).length

    return max(bits, key=fit)


def _past(end: Point, other: Point, far_mm: float) -> Point:
    """So far beyond the end of a stroke."""
    past = far_mm / max(math.dist(end, other), DEFAULT.line_end_mm)
    return end[0] + past * (end[0] - other[0]), end[1] + past * (end[1] - other[1])


def _halves(polygon: Polygon, knife: LineString, limits: LeatherLimits) -> list[Polygon]:
    """The connected bits that a line leaves."""
    if not polygon.intersects(knife):
        return [polygon]
    return polygons(shapely.ops.split(polygon, knife), limits.crumb_mm2)


def _unit(angle_deg: float) -> Floats:
    return np.array([math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))])


def _span(shape: BaseGeometry, towards_deg: float) -> float:
    low, high = reach(shape, towards_deg)
    return high - low


def straight_line(polygon: Polygon, towards_deg: float, place_mm: float) -> LineString:
    low, high = reach(polygon, towards_deg + 90.0)
    side = np.array([low - 1.0, high + 1.0])
    return LineString(place_mm * _unit(towards_deg) + side[:, None] * _unit(towards_deg + 90.0))


def _directions(hide: Hide) -> list[float]:
    corners = shapely.get_coordinates(hide.outline.minimum_rotated_rectangle)
    tilt = math.degrees(math.atan2(*(corners[1] - corners[0])[::-1]))
    first = tilt if hide.backbone is None else hide.backbone_deg
    angles = (0.0, 90.0, first, first + 90.0, tilt, tilt + 90.0)
    return list(dict.fromkeys(round(angle % 180.0, 9) for angle in angles))
