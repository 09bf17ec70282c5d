"""Where the beam may enter a closed line: away from the corners that show."""

from __future__ import annotations

import numpy as np
from shapely.geometry import LineString

CLEAR_MM = 5.0
"""The beam dwells where it enters and leaves a mark; so far from a corner the edge dressing hides it (common practice,
no published source)."""
CORNER_DEG = 45.0
LOOK_MM = 1.0
"""A corner turns by more than that angle within this distance to either side, sharp or rounded."""
STEP_MM = 0.5
SMALL_MM = 20.0
"""A closed line no longer than this is a hole whose corners do not show: it may be entered anywhere."""
MOST = 64


def is_ring(line: LineString) -> bool:
    """Whether a line is closed and encloses something."""
    return line.is_closed and len(line.coords) > 3


def entries(ring: LineString) -> np.ndarray:
    """Points at which a closed line may be begun.

    Parameters
    ----------
    ring : LineString
        Closed, mm.

    Returns
    -------
    (n, 2) array
        On a line with corners all are at least 5 mm from the nearest along the line, or as far as its
        sides allow.
    """
    points = np.asarray(ring.coords)[:, :2]
    if ring.length <= SMALL_MM:
        return _some(points[:-1])
    along = _lengths(points)
    places = np.linspace(0, along[-1], max(16, int(along[-1] / STEP_MM)), endpoint=False)
    corners = places[_turning(points, along, places) > CORNER_DEG]
    if not corners.size:
        return _some(points[:-1])
    clear = _clear(places, corners, along[-1])
    free = clear >= min(CLEAR_MM, 0.9 * clear.max())
    # The ends of each free stretch are nearest to what lies beyond the corners: they are all kept.
    ends = free & ~(np.roll(free, 1) & np.roll(free, -1))
    found = np.r_[np.flatnonzero(ends), _some(np.flatnonzero(free & ~ends))]
    return _at(points, along, places[np.sort(found)])


def begun_at(ring: LineString, point: np.ndarray) -> LineString:
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


def _some(points: np.ndarray) -> np.ndarray:
    """At most 64 of them, evenly."""
    if len(points) <= MOST:
        return points
    return points[np.linspace(0, len(points), MOST, endpoint=False).astype(int)]


def _lengths(points: np.ndarray) -> np.ndarray:
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])


def _at(points: np.ndarray, along: np.ndarray, places: np.ndarray) -> np.ndarray:
    return np.column_stack([np.interp(places, along, axis) for axis in points.T])


def _turning(points: np.ndarray, along: np.ndarray, places: np.ndarray) -> np.ndarray:
    """By how many degrees the line turns about each place."""
    heading = np.degrees(np.arctan2(*np.diff(points, axis=0).T[::-1]))

    def ahead(at: np.ndarray) -> np.ndarray:
        return heading[np.clip(np.searchsorted(along, at % along[-1], side="right") - 1, 0, len(heading) - 1)]

    turn = ahead(places + LOOK_MM) - ahead(places - LOOK_MM)
    return np.abs((turn + 180.0) % 360.0 - 180.0)


def _clear(places: np.ndarray, corners: np.ndarray, length: float) -> np.ndarray:
    """Distance along the line from each place to the nearest corner."""
    round_about = np.concatenate([corners - length, corners, corners + length])
    after = np.searchsorted(round_about, places)
    before = round_about[np.clip(after - 1, 0, None)]
    return np.minimum(places - before, round_about[np.clip(after, None, len(round_about) - 1)] - places)
