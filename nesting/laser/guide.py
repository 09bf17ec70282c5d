"""Knife lines by measured distances: where each end lies along the hide's edge and from its backbone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from ..geometry import place
from ..model import Cut, Hide, Layout, Panel, Placement, units
from .limits import DEFAULT, LaserLimits

UPRIGHT_MM = 0.5
"""Ends of a middle line less far apart than this from left to right lie above each other."""


@dataclass(frozen=True)
class End:
    """One end of a knife line. ``name``: 1a, 1b, 2a, ...

    ``along_mm`` is measured along the hide's edge from the mark, the shorter way round, ``clockwise`` or not; or, where
    the end lies on an earlier line, along that from its end a (``line`` is then its number); None where it lies on the
    edge of a hole. ``spine_mm`` is measured along the backbone from the mark's foot on it (on towards its second end),
    ``off_mm`` square to it (left positive); None without a backbone. ``straight_mm`` is the straight distance from the
    mark.
    """

    name: str
    x: float
    y: float
    along_mm: float | None
    clockwise: bool
    line: int | None
    spine_mm: float | None
    off_mm: float | None
    straight_mm: float
    beside: str = ""


@dataclass(frozen=True)
class Bend:
    """Where two strokes of a knife line meet. ``name``: 1c, 1d, 2c, ...

    ``from_mm`` are its straight distances from the line's ends a and b; ``left`` says on which side of the straight way
    from a to b it lies. ``spine_mm`` and ``off_mm`` are as of an ``End``.
    """

    name: str
    x: float
    y: float
    from_mm: tuple[float, float]
    left: bool
    spine_mm: float | None
    off_mm: float | None
    straight_mm: float


@dataclass(frozen=True)
class Flaw:
    """A zone that a knife line crosses: its kind, and from where to where, mm along the line from its end a."""

    kind: str
    from_mm: float
    to_mm: float


@dataclass(frozen=True)
class Line:
    """A knife line: its number in the order of cutting, its ends, where its strokes meet in between, its length, and
    the flaws it crosses."""

    number: int
    ends: tuple[End, End]
    bends: tuple[Bend, ...]
    length_mm: float
    flaws: tuple[Flaw, ...] = ()

    @property
    def points(self) -> list[tuple[float, float]]:
        """Ends of its strokes, in order."""
        first, last = ((end.x, end.y) for end in self.ends)
        return [first, *((bend.x, bend.y) for bend in self.bends), last]


@dataclass(frozen=True)
class CutFirst:
    """A part longer than the bed, which is cut out of a hide before its knife lines.

    ``ends`` are where the middle line of its panel meets the panel's edge, a and b; a is the end nearer to the left of
    its drawing. ``second_mm`` are their distances from the second mark, ``edge_mm`` from the nearest edge of the hide.
    """

    panel: Panel
    placement: Placement
    ends: tuple[End, End]
    second_mm: tuple[float, float]
    edge_mm: tuple[float, float]


def cut_first(layout: Layout, hide_id: str, limits: LaserLimits = DEFAULT) -> tuple[CutFirst, ...]:
    """The parts that are cut out of a hide first, measured."""
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    far, border, found = second_mark(hide), hide.outline.boundary, []
    for placement in layout.on(hide_id):
        panel = layout.long_panels.get((hide_id, placement.panel))
        if panel is None:
            continue
        drawn = place(place(panel.polygon, -placement.x, -placement.y, 0.0), 0.0, 0.0, -placement.angle)
        spots = [place(Point(end), placement.x, placement.y, placement.angle) for end in middle_ends(drawn)]
        points = [(spot.x, spot.y) for spot in spots]
        first, last = (_end(hide, (), f"{panel.id}{c}", point, limits.near_mm) for c, point in zip("ab", points))
        away = (math.dist(points[0], far), math.dist(points[1], far))
        edges = (border.distance(spots[0]), border.distance(spots[1]))
        found.append(CutFirst(panel, placement, (first, last), away, edges))
    return tuple(found)


def middle_ends(outline: Polygon) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where the middle line of a long shape meets its edge: first the end farther to the left, or below."""
    corners = shapely.get_coordinates(outline.minimum_rotated_rectangle)[:4]
    sides = np.diff(corners, axis=0)
    if np.hypot(*sides[0]) < np.hypot(*sides[1]):
        corners = np.roll(corners, -1, axis=0)
    ends = (corners[0] + corners[3]) / 2, (corners[1] + corners[2]) / 2
    on = LineString([2 * ends[0] - ends[1], 2 * ends[1] - ends[0]]).intersection(outline.exterior)
    met = shapely.get_coordinates(on)
    along = met @ (ends[1] - ends[0])
    pair = [tuple(np.round(met[number], 6).tolist()) for number in (np.argmin(along), np.argmax(along))]
    # of a shape drawn upright the two are as far to the left, but for rounding
    upright = abs(pair[0][0] - pair[1][0]) < UPRIGHT_MM
    (x0, y0), (x1, y1) = sorted(pair, key=lambda end: end[1] if upright else end[0])
    return (x0, y0), (x1, y1)


def second_mark(hide: Hide) -> tuple[float, float]:
    """The corner of a hide's edge farthest from its mark."""
    corners = shapely.get_coordinates(hide.outline.exterior)
    x, y = corners[np.argmax(np.hypot(*(corners - mark(hide)).T))].tolist()
    return x, y


def mark(hide: Hide) -> tuple[float, float]:
    """Where measuring along the edge starts: where the backbone's first end, drawn on, meets the edge.

    Without a backbone it is the leftmost point of the hide (the lowest of several).
    """
    ring = hide.outline.exterior
    if hide.backbone is None:
        corners = shapely.get_coordinates(ring)
        x, y = corners[np.lexsort((corners[:, 1], corners[:, 0]))[0]].tolist()
        return x, y
    first, second = np.array(hide.backbone)
    unit = (first - second) / np.linalg.norm(first - second)
    met = shapely.get_coordinates(LineString([second, second + unit * 2 * ring.length]).intersection(ring))
    if not len(met):
        point = ring.interpolate(ring.project(Point(first)))
        return point.x, point.y
    x, y = met[np.argmax((met - second) @ unit)].tolist()
    return x, y


def knife_lines(layout: Layout, hide_id: str, limits: LaserLimits = DEFAULT) -> tuple[Line, ...]:
    """The knife lines of a hide in the order of cutting, measured.

    Parameters
    ----------
    layout : Layout
    hide_id : str
    limits : LaserLimits, optional

    Returns
    -------
    tuple of Line
        Lengths in mm. Distances along the edge follow the outline as it was traced.
    """
    hide = next(hide for hide in layout.hides if hide.id == hide_id)
    cuts = [cut for cut in layout.cuts if cut.hide == hide_id]
    out = [panel for panel in layout.long_panels.values() if panel.hide == hide_id]
    lines = []
    for number, cut in enumerate(cuts, 1):
        before = cuts[: number - 1]
        ends = ((f"{number}a", cut.start), (f"{number}b", cut.end))
        first, last = (_end(hide, before, name, point, limits.near_mm, out) for name, point in ends)
        bends = tuple(_bend(hide, cut, f"{number}{letter}", point) for letter, point in zip("cd", cut.via))
        way = LineString(cut.points)
        lines.append(Line(number, (first, last), bends, way.length, _flaws(hide, way, limits)))
    return tuple(lines)


def sentence(end: End, first: str = "mm") -> str:
    """How to find an end with a tape; ``first`` are the units shown first."""
    if end.along_mm is None:
        return f"at the edge of {end.beside or 'the hole'}"
    far = units.tape_words(end.along_mm, first)
    if end.line is not None:
        return f"on line {end.line}, {far} from {end.line}a"
    return f"{far} along the edge from M, {'clockwise' if end.clockwise else 'anticlockwise'}"


def bend_sentence(bend: Bend, first: str = "mm") -> str:
    """How to find where two strokes of a line meet, once its ends are marked."""
    line = bend.name[:-1]
    one, other = (f"{units.tape_words(far, first)} from {line}{end}" for far, end in zip(bend.from_mm, "ab"))
    return f"{one}, {other}, {'left' if bend.left else 'right'} of a to b"


def flaw_sentence(line: Line, flaw: Flaw, first: str = "mm") -> str:
    """Where a line crosses a flaw, and what to mind there."""
    near, far = (units.tape_words(mm, first) for mm in (flaw.from_mm, flaw.to_mm))
    return f"crosses {flaw.kind} {near} to {far} from {line.number}a: cut slowly, the rule may lift"


def _flaws(hide: Hide, way: LineString, limits: LaserLimits) -> tuple[Flaw, ...]:
    """The zones that a line crosses, in its order."""
    found = []
    for zone in hide.zones:
        along = [way.project(Point(end)) for end in shapely.get_coordinates(way.intersection(zone.polygon))]
        if along and max(along) - min(along) >= limits.near_mm:
            found.append(Flaw(zone.kind or f"a zone of grade {zone.grade}", min(along), max(along)))
    return tuple(sorted(found, key=lambda flaw: flaw.from_mm))[: limits.most_flaws]


def from_backbone(end: End | Bend, first: str = "mm") -> str:
    """Where a point of a line lies by the backbone; by the straight distance from the mark when there is none."""
    if end.off_mm is None or end.spine_mm is None:
        return f"{units.tape_words(end.straight_mm, first)} straight from M"
    ahead = f"{units.tape_words(abs(end.spine_mm), first)} {'on from' if end.spine_mm >= 0 else 'behind'} M"
    if abs(end.spine_mm) < 0.5:
        ahead = "level with M"
    if abs(end.off_mm) < 0.5:
        return f"on it, {ahead}"
    return f"{units.tape_words(abs(end.off_mm), first)} {'left' if end.off_mm > 0 else 'right'} of it, {ahead}"


def _end(
    hide: Hide,
    before: Sequence[Cut],
    name: str,
    point: tuple[float, float],
    near_mm: float,
    out: Sequence[Panel] = (),
) -> End:
    ring = _counter_clockwise(hide.outline)
    start, spot = np.array(mark(hide)), Point(point)
    along: float | None
    line = None
    if ring.distance(spot) <= near_mm:
        whole = ring.length
        round_mm = (ring.project(spot) - ring.project(Point(start))) % whole
        along, clockwise = min((round_mm, False), (whole - round_mm, True))
    else:
        distances = [LineString(cut.points).distance(spot) for cut in before] or [math.inf]
        along, clockwise = None, False
        if min(distances) <= near_mm:
            line = int(np.argmin(distances)) + 1
            along = LineString(before[line - 1].points).project(spot)
    spine, off = _by_backbone(hide, point)
    beside = next((panel.id for panel in out if panel.polygon.boundary.distance(spot) <= near_mm), "")
    return End(name, point[0], point[1], along, clockwise, line, spine, off, math.dist(point, start), beside)


def _bend(hide: Hide, cut: Cut, name: str, point: tuple[float, float]) -> Bend:
    ends = (math.dist(cut.start, point), math.dist(cut.end, point))
    (ax, ay), (bx, by), (x, y) = cut.start, cut.end, point
    left = (bx - ax) * (y - ay) - (by - ay) * (x - ax) > 0
    return Bend(name, x, y, ends, left, *_by_backbone(hide, point), math.dist(point, mark(hide)))


def _by_backbone(hide: Hide, point: tuple[float, float]) -> tuple[float | None, float | None]:
    """How far on from the mark along the backbone, and how far to the left of it; None without one."""
    if hide.backbone is None:
        return None, None
    first, second = np.array(hide.backbone)
    unit = (second - first) / np.linalg.norm(second - first)
    off = float((np.array(point) - first) @ np.array([-unit[1], unit[0]]))
    return float((np.array(point) - mark(hide)) @ unit), off


def _counter_clockwise(polygon: Polygon) -> LineString:
    ring = polygon.exterior
    return ring if ring.is_ccw else LineString(ring.coords[::-1])
