"""The lines to burn: moved by half the kerf so that finished parts are true to size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
import shapely
import shapely.ops
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import TRUE_ARC_MM, Area, farthest_two, polygons, rings, true_offset
from ..model import Circle, Curve, Curves, Placement, ranges
from .limits import DEFAULT, LaserLimits
from .offset import moved, strays_mm


@dataclass(frozen=True)
class BurnPaths:
    """What to burn for one part, as lines in mm by operation; ``warnings`` lists what does not come out as drawn."""

    engrave: tuple[Curve, ...]
    stitch: tuple[Curve, ...]
    cutout: tuple[Curve, ...]
    outline: tuple[Curve, ...]
    warnings: tuple[str, ...]

    def placed(self, x: float, y: float, angle: float) -> BurnPaths:
        """Turned by ``angle`` degrees about the origin, then moved by (x, y)."""
        engrave, stitch, cutout, outline = (
            tuple(curve.placed(x, y, angle) for curve in kind)
            for kind in (self.engrave, self.stitch, self.cutout, self.outline)
        )
        return BurnPaths(engrave, stitch, cutout, outline, self.warnings)


@dataclass
class _Faults:
    """Numbers of the holes of one kind that do not come out as drawn, by what is wrong."""

    name: str
    kerf_mm: float
    dots: list[int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    narrow: list[int] = field(default_factory=list)
    branched: list[int] = field(default_factory=list)
    split: dict[int, list[int]] = field(default_factory=dict)
    crossed: list[int] = field(default_factory=list)

    def texts(self) -> list[str]:
        narrower = f"narrower than the kerf of {self.kerf_mm:g} mm"
        faults = [
            (self.dots, f"no wider than the kerf of {self.kerf_mm:g} mm: burnt as a dot"),
            (self.lines, f"{narrower}: burnt as one line along the middle, so wider than drawn"),
            *((numbers, f"{narrower} in places: kept as {n} pieces") for n, numbers in sorted(self.split.items())),
            (self.narrow, f"{narrower} in places: burnt there along the middle, so wider than drawn"),
            (
                self.branched,
                f"{narrower} and branched in places: burnt there along the drawn edge, so wider than drawn",
            ),
            (self.crossed, "crosses itself: burnt as drawn, not moved by half the kerf"),
        ]
        return [f"{self.name} {ranges(numbers)}: {text}" for numbers, text in faults if numbers]


def burn_paths(placement: Placement, kerf_mm: float, limits: LaserLimits = DEFAULT) -> BurnPaths:
    """Lines that leave the part true to size: outline out by half the kerf, cutouts and closed stitch holes in by half.

    Parameters
    ----------
    placement : Placement
    kerf_mm : float
        Width of leather the beam removes.
    limits : LaserLimits, optional

    Returns
    -------
    BurnPaths
        Arcs stay arcs and circles circles; a line is off the true one by 0.005 mm at most. No feature is merged or
        dropped silently. A hole no wider and no longer than the kerf becomes a dot in its middle; a longer slot
        narrower than the kerf, also where it is only a stretch of a hole or of the outline, one line along its middle,
        or its drawn edge when it branches; a hole that falls apart is kept as its pieces. Each is listed in the
        warnings, unless it is shorter than twice the kerf. Open slits and engraving stay as drawn.

    Raises
    ------
    ValueError
        When the kerf is negative or not finite.
    """
    if not (math.isfinite(kerf_mm) and kerf_mm >= 0):
        raise ValueError(f"kerf of {kerf_mm} mm: give 0 or more")
    if placement.drawn is None:
        paths = _paths(placement.curves, placement.outline, placement.cutouts, kerf_mm, limits)
    else:
        paths = _as_drawn(placement.drawn, kerf_mm, limits).placed(placement.x, placement.y, placement.angle)
    return replace(paths, warnings=tuple(f"{placement.label}: {text}" for text in paths.warnings))


@lru_cache(maxsize=512)
def _as_drawn(drawn: Curves, kerf_mm: float, limits: LaserLimits) -> BurnPaths:
    """The lines of a part before it is turned and moved, the same for all its copies."""
    cutouts = tuple(_area(curve, limits) for curve in drawn.cutouts)
    return _paths(drawn, _area(drawn.outline, limits), cutouts, kerf_mm, limits)


def _paths(
    curves: Curves, outline: Polygon, cutouts: Sequence[Polygon], kerf_mm: float, limits: LaserLimits
) -> BurnPaths:
    """Lines and warnings for a part with these areas; what has no drawing may have islands in its cutouts."""
    wide = _Faults("cutout", kerf_mm)
    cutout: list[Curve] = []
    for number, (area, curve) in enumerate(zip(cutouts, curves.cutouts), 1):
        cutout += _inside(curve, kerf_mm / 2, limits) or _hole(area, curve, number, wide, limits)
    holes = _Faults("stitch hole", kerf_mm)
    stitch: list[Curve] = []
    for number, curve in enumerate(curves.stitch, 1):
        if not curve.closed:
            stitch.append(curve)
        elif inside := _inside(curve, kerf_mm / 2, limits):
            stitch += inside
        elif curve.circle is None and not _area(curve, limits).is_valid:
            holes.crossed.append(number)
            stitch.append(curve)
        else:
            stitch += _hole(_area(curve, limits), curve, number, holes, limits)
    around, slots = _outline(outline, curves.outline, kerf_mm, limits)
    return BurnPaths(
        curves.engrave, tuple(stitch), tuple(cutout), tuple(around), (*wide.texts(), *holes.texts(), *slots)
    )


def _area(curve: Curve, limits: LaserLimits) -> Polygon:
    return Polygon(curve.flattened(limits.flat_mm))


def _inside(curve: Curve, half: float, limits: LaserLimits) -> list[Curve]:
    """The circle burnt for a round hole; none for another hole, or one no wider than the beam."""
    circle = curve.circle
    return [_round(circle, circle.radius - half)] if circle and circle.radius >= half + limits.least_circle_mm else []


def _hole(hole: Polygon, curve: Curve, number: int, faults: _Faults, limits: LaserLimits) -> list[Curve]:
    half = faults.kerf_mm / 2
    left = true_offset(hole, -half)
    if left.is_empty:
        slot, branched = _slot(hole, half, limits)
        (faults.branched if branched else faults.lines if slot else faults.dots).append(number)
        return [Curve.of(line) for line in slot or [_dot(hole, limits.dot_mm)]]
    lines = _rings(left)
    slots: list[LineString] = []
    if len(left.geoms) > 1:
        faults.split.setdefault(len(left.geoms), []).append(number)
    if half and (len(lines) != 1 + len(hole.interiors) or _strays(hole, lines, half, limits)):
        reached = _wider(true_offset(left, half))
        slots, branched = _slots(hole.difference(reached), half, reached, limits)
        if slots:
            (faults.branched if branched else faults.narrow).append(number)
    return [*map(Curve.of, slots), *_true(lines, curve, -half, limits)]


def _outline(outline: Polygon, curve: Curve, kerf_mm: float, limits: LaserLimits) -> tuple[list[Curve], list[str]]:
    half = kerf_mm / 2
    if circle := curve.circle:
        return [_round(circle, circle.radius + half)], []
    around = true_offset(outline, half)
    lines = _rings(around)
    burnt = _true(lines, curve, half, limits)
    if not half or not (len(lines) > 1 or _strays(outline, lines, half, limits)):
        return burnt, []
    # What growing and shrinking again fills are the slots that the beam is too wide to follow.
    closed = true_offset(around, -half).buffer(0)
    slots, branched = _slots(closed.difference(_wider(MultiPolygon([outline]))), half, closed.boundary, limits)
    where = "the drawn edge, as it branches" if branched else "the middle"
    text = f"outline: a slot narrower than the kerf of {kerf_mm:g} mm: burnt along {where}, so wider than drawn"
    return [*map(Curve.of, slots), *burnt], [text] if slots else []


def _round(circle: Circle, radius: float) -> Curve:
    """A circle of another radius."""
    bulge = 1.0 if circle.left else -1.0
    return Curve(((circle.x + radius, circle.y, bulge), (circle.x - radius, circle.y, bulge)), True)


def _true(lines: Sequence[LineString], curve: Curve, outwards_mm: float, limits: LaserLimits) -> list[Curve]:
    """What an offset of chords has found, in stretches and arcs where moving the drawn line gives the same."""
    if not outwards_mm and len(lines) == 1:
        return [curve]
    if len(lines) == 1:
        exact = moved(curve, outwards_mm, limits)
        if exact is not None and strays_mm(exact.flattened(limits.flat_mm), lines[0]) <= limits.gone_wrong_mm:
            return [exact]
    return [Curve.of(LineString(line.simplify(TRUE_ARC_MM).coords)) for line in lines]


def _strays(area: Polygon, lines: Sequence[LineString], half: float, limits: LaserLimits) -> bool:
    """Whether some corner of an edge lies so far from the lines burnt that more than a sharp corner is lost."""
    corners, burnt = shapely.points(shapely.get_coordinates(area)), shapely.MultiLineString(list(lines))
    shapely.prepare(burnt)
    return not bool(shapely.dwithin(burnt, corners, 2 * limits.stray_kerfs * half).all())


def _wider(area: MultiPolygon) -> BaseGeometry:
    return area.buffer(4 * TRUE_ARC_MM)


def _slots(
    lost: BaseGeometry, half: float, reached: BaseGeometry, limits: LaserLimits
) -> tuple[list[LineString], bool]:
    """Lines for each stretch, unless it is short, that is too narrow for the beam, and whether one branches.

    They run right up to what the beam has ``reached`` otherwise, so that no thread of leather is left between.
    """
    shortest = 2 * limits.shortest_slot_kerfs * half
    found = [_slot(bit, half, limits, reached) for bit in polygons(lost)]
    kept = [(lines, branched) for lines, branched in found if sum(line.length for line in lines) > shortest]
    return [line for lines, _ in kept for line in lines], any(branched for _, branched in kept)


def _slot(
    slot: Polygon, half: float, limits: LaserLimits, reached: BaseGeometry | None = None
) -> tuple[list[LineString], bool]:
    """One line along the middle of a narrow slot; its edge and True when that line would miss some of it."""
    line = _middle(slot, half, reached, limits)
    if line is None:
        return [], False
    misses = shapely.distance(line, shapely.points(shapely.get_coordinates(slot))) > 2 * limits.miss_kerfs * half
    strays = shapely.distance(slot, shapely.points(shapely.get_coordinates(line))) > half
    if misses.any() or strays.any() or slot.interiors:
        return _rings(MultiPolygon([slot])), True
    return [line], False


def _middle(slot: Polygon, half: float, reached: BaseGeometry | None, limits: LaserLimits) -> LineString | None:
    """The line half way between the sides of a narrow slot, half a kerf short of blind ends; None when nothing is left.

    The sides run between the two corners farthest apart and are paired at equal shares of their lengths.
    """
    ring = np.asarray(slot.exterior.coords)[:-1]
    # Fewer corners first: every pair of them is looked at.
    far = shapely.get_coordinates(slot.convex_hull.simplify(TRUE_ARC_MM))
    first, last = sorted(int(np.argmin(np.hypot(*(ring - far[end]).T))) for end in farthest_two(far))
    sides = LineString(ring[first : last + 1]), LineString(np.vstack([ring[last:], ring[: first + 1]])[::-1])
    shares = np.linspace(0, 1, limits.slot_places)
    left, right = (shapely.get_coordinates(side.interpolate(shares, normalized=True)) for side in sides)
    middle = shapely.get_coordinates(LineString((left + right) / 2).simplify(TRUE_ARC_MM))
    line = LineString(middle)
    if line.length <= 2 * half + limits.dot_mm:
        return None
    blind = [reached is None or reached.distance(shapely.Point(line.coords[end])) > half / 2 for end in (0, -1)]
    trimmed = shapely.ops.substring(line, half * blind[0], line.length - half * blind[1])
    return LineString(trimmed.coords)


def _dot(hole: Polygon, dot_mm: float) -> LineString:
    x, y = hole.centroid.coords[0] if hole.covers(hole.centroid) else hole.representative_point().coords[0]
    return LineString([(x - dot_mm / 2, y), (x + dot_mm / 2, y)])


def _rings(area: Area) -> list[LineString]:
    return [LineString(ring.coords) for ring in rings(area)]
