"""Where on this hide this part may lie, and why not elsewhere."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache, partial

import numpy as np
import shapely
from shapely.geometry import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import ARC_MM, ROUNDING_MM, TOLERANCE_MM, Area, Floats, areal, chorded_offset, offset, rings
from ..model import GRADES, Hide, Margins, Part
from ..model.left_out import IN_DOUBT, NO_GRADE, NO_ROOM, THICKNESS, TOO_BIG
from .limits import DEFAULT, LeatherLimits


def clear_of_edge(hide: Hide, edge_mm: float) -> Area:
    """The hide inside its edge margin and, where its outline may be off, so much further in, less what is in doubt;
    holes are kept clear of by the same distance (mm)."""
    inside = offset(hide.outline, -edge_mm)
    return inside if hide.error is None and not hide.doubts else areal(inside.difference(doubtful(hide, edge_mm)))


def doubtful(hide: Hide, edge_mm: float) -> Area:
    """What no part may lie on since the hide was traced: the strip along edge and holes that is as wide as the edge
    margin (mm) and the stated error there, and the doubts."""
    return areal(shapely.union_all([*_strips(hide, edge_mm), *(one.polygon for one in hide.doubts)]))


@dataclass(frozen=True)
class DoubtCost:
    """What the doubt of a trace takes of a hide, mm2: ``error_mm2`` by its stated error, ``doubts_mm2`` by each doubt
    besides, by number."""

    error_mm2: float
    doubts_mm2: dict[int, float]

    @property
    def total_mm2(self) -> float:
        return self.error_mm2 + sum(self.doubts_mm2.values())


def cost_of_doubt(hide: Hide, edge_mm: float) -> DoubtCost:
    """What of the leather inside the edge margin (mm) is kept out by the stated error, and by each doubt."""
    inside = offset(hide.outline, -edge_mm)
    left = areal(inside.difference(shapely.union_all([*_strips(hide, edge_mm)])))
    doubts: dict[int, float] = {}
    error_mm2 = inside.area - left.area
    for one in hide.doubts:
        rest = areal(left.difference(one.polygon))
        doubts[one.number] = doubts.get(one.number, 0.0) + left.area - rest.area
        left = rest
    return DoubtCost(error_mm2, doubts)


def gains(hide: Hide) -> dict[int, float]:
    """How much leather looking at each doubt may win, mm2, by number: what it covers of the hide, less what the stated
    error of the outer edge takes in any case. A hole in doubt may turn out to be leather."""
    outer = Hide(hide.id, Polygon(hide.outline.exterior), error=hide.error)
    sure = areal(outer.outline.difference(shapely.union_all([*_strips(outer, 0.0)])))
    return {one.number: float(one.polygon.intersection(sure).area) for one in hide.doubts}


def _strips(hide: Hide, edge_mm: float) -> Iterator[Polygon]:
    """Strips along edge and holes, each a run of pieces where the stated error is about the same, rounded up."""
    if hide.error is None:
        return
    for ring in rings(hide.outline):
        points = shapely.get_coordinates(shapely.segmentize(ring, DEFAULT.error_step_mm))
        error = hide.error.at(points)
        wide = edge_mm + np.ceil(np.maximum(error[:-1], error[1:]) / DEFAULT.error_round_mm) * DEFAULT.error_round_mm
        starts = np.flatnonzero(np.diff(wide, prepend=-1.0))
        for start, end in zip(starts, [*starts[1:], len(wide)]):
            # chords lie within the true arc by at most this, and GEOS makes a line plainer before it is grown
            short = math.cos(math.pi / (4 * DEFAULT.quarter_chords)) * (1 - DEFAULT.plainer_share)
            reach = (wide[start] + ROUNDING_MM) / short
            yield LineString(points[start : end + 1]).buffer(reach, quad_segs=DEFAULT.quarter_chords)


def flaws(hide: Hide, flaw_mm: float, grade: str) -> Area:
    """The area forbidden to a part of a grade: every zone of a worse grade, grown by the flaw margin.

    Parameters
    ----------
    hide : Hide
    flaw_mm : float
    grade : {"A", "B", "C", "D", "E"}
        Lowest grade the part accepts.

    Returns
    -------
    Polygon or MultiPolygon
        Empty when every zone is good enough.
    """
    return offset(_worse(hide, grade), flaw_mm)


def usable(hide: Hide, margins: Margins, lowest_grade: str, cuttable: Area | None = None) -> Area:
    """Where the most tolerant part may lie: inside the edge margin, clear of worse zones, and of good thickness.

    Parameters
    ----------
    hide : Hide
    margins : Margins
    lowest_grade : {"A", "B", "C", "D", "E"}
        Lowest grade any part accepts.
    cuttable : Polygon or MultiPolygon, optional
        Region of good thickness; without it thickness does not matter.

    Returns
    -------
    Polygon or MultiPolygon
        Its area is the usable area that a yield is taken over.
    """
    region = areal(clear_of_edge(hide, margins.edge_mm).difference(flaws(hide, margins.flaw_mm, lowest_grade)))
    return region if cuttable is None else areal(region.intersection(cuttable))


def why_not(
    part: Part, hide: Hide, margins: Margins, cuttable: Area | None = None, limits: LeatherLimits = DEFAULT
) -> str:
    """Why a part finds no place on a hide, were the hide empty.

    Limits are added one by one: the hide's size, what its trace leaves in doubt, its flaws, its thickness.
    The first with which the part is proved to fit nowhere is the reason. Nothing is guessed: without a proof the answer
    is ``NO_ROOM``.

    Parameters
    ----------
    part : Part
        Its own zones count.
    hide : Hide
    margins : Margins
    cuttable : Polygon or MultiPolygon, optional
        Region of good thickness for this part.
    limits : LeatherLimits, optional

    Returns
    -------
    str
        ``TOO_BIG``, ``IN_DOUBT``, ``NO_GRADE``, ``THICKNESS`` or ``NO_ROOM``.
    """
    intervals = part.direction.intervals(hide.backbone_deg)
    areas, thick = areas_by_grade(part), areal(cuttable or Polygon())
    tolerant = max([part.grade, *(grade for grade, _ in areas)])
    needs = [(tolerant, part.outline), *((grade, area) for grade, area in areas if grade != tolerant)]

    @cache
    def inside_edge(depth: float) -> Area:
        return _roomier(_plainer(hide.outline, limits.plain_share * depth), -margins.edge_mm - depth, limits)

    kept_out = areal(doubtful(hide, margins.edge_mm)) if hide.error or hide.doubts else None

    @cache
    def clear_of_doubt(depth: float) -> Area:
        room = inside_edge(depth)
        return room if kept_out is None else areal(room.difference(_roomier(kept_out, depth, limits)))

    @cache
    def clear_of_flaws(depth: float, grade: str) -> Area:
        return areal(clear_of_doubt(depth).difference(_roomier(_worse(hide, grade), margins.flaw_mm + depth, limits)))

    @cache
    def thick_enough(depth: float, grade: str) -> Area:
        return areal(clear_of_flaws(depth, grade).intersection(_roomier(thick, -depth, limits)))

    def cannot_lie(area: Area, region: Callable[[float], Area]) -> bool:
        return _cannot_lie(area, region, intervals, limits)

    if cannot_lie(part.outline, inside_edge):
        return TOO_BIG
    if kept_out is not None and cannot_lie(part.outline, clear_of_doubt):
        return IN_DOUBT
    if any(cannot_lie(area, partial(clear_of_flaws, grade=grade)) for grade, area in needs):
        return NO_GRADE
    if cuttable is not None and any(cannot_lie(area, partial(thick_enough, grade=grade)) for grade, area in needs):
        return THICKNESS
    return NO_ROOM


def areas_by_grade(part: Part) -> list[tuple[str, Area]]:
    """Lowest grade accepted and area, for each zone of a part (the stricter where they overlap) and the rest."""
    areas: list[tuple[str, Area]] = []
    rest: Area = part.outline
    for zone in sorted(part.zones, key=lambda zone: zone.grade):
        areas.append((zone.grade, areal(rest.intersection(zone.polygon))))
        rest = areal(rest.difference(zone.polygon))
    return [(grade, area) for grade, area in [*areas, (part.grade, rest)] if not area.is_empty]


def _worse(hide: Hide, grade: str) -> BaseGeometry:
    allowed = GRADES.index(grade)
    return shapely.union_all([zone.polygon for zone in hide.zones if GRADES.index(zone.grade) > allowed])


def _roomier(shape: BaseGeometry, distance_mm: float, limits: LeatherLimits) -> Area:
    """An offset for proofs: the edge moves no further than asked, and long arcs have few chords, to be quick."""
    size = max(abs(distance_mm) - ROUNDING_MM, 0.0)
    return chorded_offset(shape, math.copysign(size, distance_mm), max(ARC_MM, limits.chord_share * size))


def _plainer(area: Area, slack_mm: float) -> Area:
    """An area with fewer corners that contains the given one; slits narrower than twice the slack are filled."""
    if slack_mm < TOLERANCE_MM:
        return area
    # Chords take at most 0.45 of the slack and the simplified line another half, so that the old edge is not crossed.
    return areal(chorded_offset(area, slack_mm, 0.2 * slack_mm).simplify(0.5 * slack_mm))


def _cannot_lie(
    shape: Area,
    region: Callable[[float], Area],
    intervals: Sequence[tuple[float, float]],
    limits: LeatherLimits,
) -> bool:
    """Whether a shape is proved to lie nowhere at any allowed angle in a region, ``region(depth)`` shrunk.

    If a shape lies in a region, so it does after both shrink by the same distance, and each connected bit of it then
    lies in one connected bit of the region, which is neither smaller in area nor narrower in any direction. Shrinking
    by the radius of the shape's inscribed circle tells whether the region has room for that circle at all; half of it
    cuts the region at its necks.
    """
    for bit in shapely.get_parts(shape):
        radius = _inscribed_mm(bit, limits.circle_mm)
        for share in (0.0, 1.0, 0.5):
            depth = max(float(share * radius) - limits.shallower_mm, 0.0)
            rooms = shapely.get_parts(region(depth))
            for core in shapely.get_parts(offset(bit, -depth)):
                if all(_too_large(core, room) or _too_wide(core, room, intervals, limits) for room in rooms):
                    return True
    return False


@lru_cache(maxsize=1024)
def _inscribed_mm(shape: Polygon, tolerance_mm: float) -> float:
    """Radius of the largest circle in a shape; the same parts are asked about for one hide after another."""
    return float(shapely.length(shapely.maximum_inscribed_circle(shape, tolerance=tolerance_mm)))


def _too_large(shape: Polygon, room: Polygon) -> bool:
    return shape.area > room.area + ROUNDING_MM * room.length


def _too_wide(shape: Polygon, room: Polygon, intervals: Sequence[tuple[float, float]], limits: LeatherLimits) -> bool:
    """Whether at every allowed angle the shape is wider than the room in some direction.

    Between the angles tried, a width changes by at most the shape's diameter times the angle in radians.
    """
    corners, walls = (np.asarray(shapely.get_coordinates(g.convex_hull)) for g in (shape, room))
    middle = np.array(shape.convex_hull.centroid.coords[0])
    diameter = 2 * np.linalg.norm(corners - middle, axis=1).max()
    across = np.arange(0.0, 180.0, limits.across_deg)
    limit = _widths(walls, across)
    for low, high in intervals:
        # A width is the same seen from behind, so half a turn tells all.
        high = min(high, low + 180.0)
        count = max(1, math.ceil((high - low) / limits.part_turn_deg))
        step = (high - low) / count
        angles = low + step * (np.arange(count) + 0.5)
        # A few angles first: mostly one of them already shows that the shape is narrow enough.
        some = angles[:: limits.first_turns]
        for few in (some, *np.array_split(angles, math.ceil(count / limits.turns_at_once))):
            excess = (_widths(corners, across[None, :] - few[:, None]) - limit).max(axis=1)
            if not (excess > diameter * math.radians(step / 2) + ROUNDING_MM).all():
                return False
    return True


def _widths(points: Floats, degrees: Floats) -> Floats:
    """Width of a point set seen along each direction, same shape as ``degrees``."""
    turns = np.radians(degrees)
    along = np.cos(turns)[..., None] * points[:, 0] + np.sin(turns)[..., None] * points[:, 1]
    widths: Floats = along.max(axis=-1) - along.min(axis=-1)
    return widths
