"""Where on this hide this part may lie, and why not elsewhere."""

from __future__ import annotations

import math
from functools import cache, partial

import numpy as np
import shapely
from shapely.geometry import MultiPolygon, Polygon

from ..geometry import ARC_MM, ROUNDING_MM, TOLERANCE_MM, areal, chorded_offset, offset
from ..model import GRADES, Hide, Margins, Part

TOO_BIG = "too big for any hide"
NO_GRADE = "no region of its grade"
THICKNESS = "thickness"
NO_ROOM = "no room left"


def leather(hide: Hide, edge_mm: float) -> Polygon | MultiPolygon:
    """The hide inside its edge margin; holes are kept clear of by the same distance (mm)."""
    return offset(hide.outline, -edge_mm)


def flaws(hide: Hide, flaw_mm: float, grade: str) -> Polygon | MultiPolygon:
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


def usable(
    hide: Hide, margins: Margins, lowest_grade: str, cuttable: Polygon | MultiPolygon | None = None
) -> Polygon | MultiPolygon:
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
    region = areal(leather(hide, margins.edge_mm).difference(flaws(hide, margins.flaw_mm, lowest_grade)))
    return region if cuttable is None else areal(region.intersection(cuttable))


def why_not(part: Part, hide: Hide, margins: Margins, cuttable: Polygon | MultiPolygon | None = None) -> str:
    """Why a part finds no place on a hide, were the hide empty.

    Limits are added one by one: the hide's size, its flaws, its thickness. The first with which the part is proved to
    fit nowhere is the reason. Nothing is guessed: without a proof the answer is ``NO_ROOM``.

    Parameters
    ----------
    part : Part
        Its own zones count.
    hide : Hide
    margins : Margins
    cuttable : Polygon or MultiPolygon, optional
        Region of good thickness for this part.

    Returns
    -------
    str
        ``TOO_BIG``, ``NO_GRADE``, ``THICKNESS`` or ``NO_ROOM``.
    """
    intervals = part.direction.intervals(hide.backbone_deg)
    areas = graded(part)
    tolerant = max([part.grade, *(grade for grade, _ in areas)])
    needs = [(tolerant, part.outline), *((grade, area) for grade, area in areas if grade != tolerant)]

    @cache
    def inside_edge(depth: float):
        return _roomier(_plainer(hide.outline, 0.005 * depth), -margins.edge_mm - depth)

    @cache
    def clear_of_flaws(depth: float, grade: str):
        return areal(inside_edge(depth).difference(_roomier(_worse(hide, grade), margins.flaw_mm + depth)))

    @cache
    def thick_enough(depth: float, grade: str):
        return areal(clear_of_flaws(depth, grade).intersection(_roomier(areal(cuttable), -depth)))

    if _cannot_lie(part.outline, inside_edge, intervals):
        return TOO_BIG
    if any(_cannot_lie(area, partial(clear_of_flaws, grade=grade), intervals) for grade, area in needs):
        return NO_GRADE
    if cuttable is not None and any(
        _cannot_lie(area, partial(thick_enough, grade=grade), intervals) for grade, area in needs
    ):
        return THICKNESS
    return NO_ROOM


def graded(part: Part) -> list[tuple[str, Polygon | MultiPolygon]]:
    """Lowest grade accepted and area, for each zone of a part (the most tolerant where they overlap) and the rest."""
    rest, areas = part.outline, []
    for zone in sorted(part.zones, key=lambda zone: zone.grade, reverse=True):
        areas.append((zone.grade, areal(rest.intersection(zone.polygon))))
        rest = areal(rest.difference(zone.polygon))
    return [(grade, area) for grade, area in [*areas, (part.grade, rest)] if not area.is_empty]


def _worse(hide: Hide, grade: str):
    allowed = GRADES.index(grade)
    return shapely.union_all([zone.polygon for zone in hide.zones if GRADES.index(zone.grade) > allowed])


def _roomier(geometry, distance_mm: float):
    """An offset for proofs: the edge moves no further than asked, and long arcs have few chords, to be quick."""
    size = max(abs(distance_mm) - ROUNDING_MM, 0.0)
    return chorded_offset(geometry, math.copysign(size, distance_mm), max(ARC_MM, 0.001 * size))


def _plainer(geometry, slack_mm: float):
    """An area with fewer corners that contains the given one; slits narrower than twice the slack are filled."""
    if slack_mm < TOLERANCE_MM:
        return geometry
    # Chords take at most 0.45 of the slack and the simplified line another half, so that the old edge is not crossed.
    return areal(chorded_offset(geometry, slack_mm, 0.2 * slack_mm).simplify(0.5 * slack_mm))


def _cannot_lie(shape, region, intervals) -> bool:
    """Whether a shape is proved to lie nowhere at any allowed angle in a region, ``region(depth)`` shrunk.

    If a shape lies in a region, so it does after both shrink by the same distance, and each connected piece of it then
    lies in one connected piece of the region, which is neither smaller in area nor narrower in any direction. Shrinking
    by the radius of the shape's inscribed circle tells whether the region has room for that circle at all; half of it
    cuts the region at its necks.
    """
    for piece in shapely.get_parts(shape):
        radius = shapely.length(shapely.maximum_inscribed_circle(piece, tolerance=0.01))
        for share in (0.0, 1.0, 0.5):
            depth = max(float(share * radius) - 0.02, 0.0)
            rooms = shapely.get_parts(region(depth))
            for core in shapely.get_parts(offset(piece, -depth)):
                if all(_too_large(core, room) or _too_wide(core, room, intervals) for room in rooms):
                    return True
    return False


def _too_large(shape: Polygon, room: Polygon) -> bool:
    return shape.area > room.area + ROUNDING_MM * room.length


def _too_wide(shape: Polygon, room: Polygon, intervals) -> bool:
    """Whether at every allowed angle the shape is wider than the room in some direction.

    Between the angles tried, a width changes by at most the shape's diameter times the angle in radians.
    """
    corners, walls = (np.asarray(shapely.get_coordinates(g.convex_hull)) for g in (shape, room))
    middle = np.array(shape.convex_hull.centroid.coords[0])
    diameter = 2 * np.linalg.norm(corners - middle, axis=1).max()
    across = np.arange(0.0, 180.0, 1.5)
    limit = _widths(walls, across)
    for low, high in intervals:
        # A width is the same seen from behind, so half a turn tells all.
        high = min(high, low + 180.0)
        count = max(1, math.ceil((high - low) / 0.5))
        step = (high - low) / count
        angles = low + step * (np.arange(count) + 0.5)
        # A few angles first: mostly one of them already shows that the shape is narrow enough.
        for some in (angles[::24], angles):
            excess = (_widths(corners, across[None, :] - some[:, None]) - limit).max(axis=1)
            if not (excess > diameter * math.radians(step / 2) + ROUNDING_MM).all():
                return False
    return True


def _widths(points: np.ndarray, degrees: np.ndarray) -> np.ndarray:
    """Width of a point set seen along each direction, same shape as ``degrees``."""
    turns = np.radians(degrees)
    along = np.cos(turns)[..., None] * points[:, 0] + np.sin(turns)[..., None] * points[:, 1]
    return along.max(axis=-1) - along.min(axis=-1)
