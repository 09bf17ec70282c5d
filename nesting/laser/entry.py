"""Where the beam may enter a closed line: away from the corners that show."""

from __future__ import annotations

import cmath
import math
from collections.abc import Sequence
from typing import TypeVar

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString

from ..geometry import Floats
from ..model import Curve
from ..model.curves import arc
from .limits import DEFAULT, LaserLimits

Number = TypeVar("Number", bound=np.generic)


def is_ring(line: LineString) -> bool:
    """Whether a line is closed and encloses something."""
    return line.is_closed and len(line.coords) > 3


def rings_among(lines: Sequence[LineString]) -> npt.NDArray[np.bool_]:
    """Which of some lines are rings, as `is_ring` tells of one."""
    them = np.array(lines, object)
    rings: npt.NDArray[np.bool_] = shapely.is_closed(them) & (shapely.get_num_coordinates(them) > 3)
    return rings


def entries(ring: LineString, limits: LaserLimits = DEFAULT) -> Floats:
    """Points at which a closed line may be begun.

    Parameters
    ----------
    ring : LineString
        Closed, mm.
    limits : LaserLimits, optional

    Returns
    -------
    (n, 2) array
        On a line with corners all are at least 5 mm from the nearest along the line, or as far as its
        sides allow.
    """
    points = np.asarray(ring.coords)[:, :2]
    most = limits.most_entries
    if ring.length <= limits.small_mm:
        return _some(points[:-1], most)
    along = _lengths(points)
    places = np.linspace(0, along[-1], max(limits.fewest_places, int(along[-1] / limits.step_mm)), endpoint=False)
    corners = places[_turning(points, along, places, limits.look_mm) > limits.corner_deg]
    if not corners.size:
        return _some(points[:-1], most)
    clear = _clear(places, corners, along[-1])
    free = clear >= min(limits.clear_mm, limits.clear_share * clear.max())
    # The ends of each free stretch are nearest to what lies beyond the corners: they are all kept.
    ends = free & ~(np.roll(free, 1) & np.roll(free, -1))
    found = np.r_[np.flatnonzero(ends), _some(np.flatnonzero(free & ~ends), most)]
    return _at(points, along, places[np.sort(found)])


def begun_at(ring: LineString, point: Floats) -> LineString:
    """A closed line begun, and so ended, at a point on it; its sense stays."""
    points = np.asarray(ring.coords)[:, :2]
    same = np.flatnonzero((points[:-1] == point).all(axis=1))
    if same.size:
        first = int(same[0])
        return LineString(np.vstack([points[first:-1], points[: first + 1]]))
    starts, sides = points[:-1], np.diff(points, axis=0)
    lengths = np.maximum((sides**2).sum(axis=1), 1e-30)
    share = np.clip(((point - starts) * sides).sum(axis=1) / lengths, 0, 1)
    side = int(np.argmin(((starts + share[:, None] * sides - point) ** 2).sum(axis=1)))
    return LineString(np.vstack([point, points[side + 1 : -1], points[: side + 1], point]))


def begun_near(curve: Curve, point: Floats, limits: LaserLimits = DEFAULT) -> Curve:
    """A closed line of stretches and arcs begun, and so ended, at its place nearest to a point; its sense stays."""
    spot = complex(*point)
    found = [_nearest(*stretch, spot) for stretch in curve.stretches()]
    number = min(range(len(found)), key=lambda n: abs(found[n][0] - spot))
    place, share = found[number]
    start, end, bulge = list(curve.stretches())[number]
    nodes = [*curve.nodes[number + 1 :], *curve.nodes[: number + 1]]
    if abs(place - end) <= limits.same_mm:
        return Curve(tuple(nodes), True)
    if abs(place - start) <= limits.same_mm:
        return Curve((*nodes[-1:], *nodes[:-1]), True)
    before, after = (math.tan(part * math.atan(bulge)) for part in (share, 1 - share))
    nodes[-1] = (start.real, start.imag, before)
    return Curve(((place.real, place.imag, after), *nodes), True)


def _nearest(start: complex, end: complex, bulge: float, spot: complex) -> tuple[complex, float]:
    """The place of a stretch nearest to a point, and its share of the way."""
    if not bulge:
        share = min(max(((spot - start) / (end - start)).real, 0.0), 1.0)
        return start + share * (end - start), share
    found = arc(start, end, bulge)
    turned = cmath.phase((spot - found.centre) / (start - found.centre)) / found.sweep
    turned += 2 * math.pi / abs(found.sweep) if turned < 0 else 0.0
    if turned > 1:
        # beyond the arc: the nearer of its ends
        return (start, 0.0) if abs(spot - start) < abs(spot - end) else (end, 1.0)
    return found.centre + (start - found.centre) * cmath.exp(1j * turned * found.sweep), turned


def _some(points: npt.NDArray[Number], most: int) -> npt.NDArray[Number]:
    """At most so many of them, evenly."""
    if len(points) <= most:
        return points
    some: npt.NDArray[Number] = points[np.linspace(0, len(points), most, endpoint=False).astype(int)]
    return some


def _lengths(points: Floats) -> Floats:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _at(points: Floats, along: Floats, places: Floats) -> Floats:
    return np.column_stack([np.interp(places, along, axis) for axis in points.T])


def _turning(points: Floats, along: Floats, places: Floats, look_mm: float) -> Floats:
    """By how many degrees the line turns about each place."""
    heading = np.degrees(np.arctan2(*np.diff(points, axis=0).T[::-1]))

    def ahead(at: Floats) -> Floats:
        side = np.clip(np.searchsorted(along, at % along[-1], side="right") - 1, 0, len(heading) - 1)
        found: Floats = heading[side]
        return found

    turn = ahead(places + look_mm) - ahead(places - look_mm)
    turned: Floats = np.abs((turn + 180.0) % 360.0 - 180.0)
    return turned


def _clear(places: Floats, corners: Floats, length: float) -> Floats:
    """Distance along the line from each place to the nearest corner."""
    round_about = np.concatenate([corners - length, corners, corners + length])
    after = np.searchsorted(round_about, places)
    before = round_about[np.clip(after - 1, 0, None)]
    nearest: Floats = np.minimum(places - before, round_about[np.clip(after, None, len(round_about) - 1)] - places)
    return nearest
