"""What touches what, decided in whole numbers and fractions: no rounding, and nothing of the library that planned it.

Shapes lie on a grid of a tenth of a micrometre, on which the coordinates of a layout's file are whole, so that a layout
and its file are judged alike. Whether edges come nearer than a bound follows from products that fit 64 bits as long as
all lies within 20 m of the origin; squared distances from lines, which do not, are compared in floating point where
that is beyond doubt and with Python's integers where it is not. How deep shapes reach into each other is told by the
stretches of their edges that are farther than the slack from every edge of the other, found with fractions; there
"farther" is measured along the axes, so that a reach of up to 1.42 times the slack may pass.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..errors import ModelError

Whole = npt.NDArray[np.int64]
Truths = npt.NDArray[np.bool_]

PER_MM = 10_000
"""Steps of the grid in a mm: as many as the decimals of a layout's file tell apart."""
FARTHEST = 40_000 * PER_MM
"""Differences between coordinates nearer to the origin than this have products, and sums of two, within 64 bits."""
_AT_ONCE = 200_000
"""Pairs of edges looked at in one go, for memory's sake."""
_RUN = 64
"""Edges in a row that are first looked at as one."""
_WELL_INSIDE_MM = 0.01
"""Ten times the slack, to either side."""
_SURE = 1e-12
"""Floating point is believed where two lengths differ by a larger share: its own error is ten thousand times less."""


@dataclass(frozen=True)
class Edges:
    """The edges of an area on the grid, ring by ring: where each starts and ends, (n, 2), and where rings begin."""

    shape: BaseGeometry
    starts: Whole
    ends: Whole
    firsts: Whole

    @cached_property
    def lows(self) -> Whole:
        """Lower left corners of the boxes around the edges."""
        return np.minimum(self.starts, self.ends)

    @cached_property
    def highs(self) -> Whole:
        """Upper right corners of them."""
        return np.maximum(self.starts, self.ends)

    @cached_property
    def box(self) -> tuple[Whole, Whole]:
        """Lower left and upper right corner of the box around them all."""
        return self.lows.min(axis=0), self.highs.max(axis=0)

    @cached_property
    def middles(self) -> Whole:
        """A point well inside each polygon, where it is wide enough to have one, (n, 2)."""
        polygons = [bit for bit in shapely.get_parts(self.shape) if isinstance(bit, Polygon) and bit.area > 0]
        found = [one for one in map(_middle, polygons) if one is not None]
        return _whole(np.array(found).reshape(-1, 2))


def on_grid(area: BaseGeometry) -> Edges:
    """The edges of a polygon or several.

    Raises
    ------
    ModelError
        When it lies farther than 40 m from the origin.
    """
    rings = shapely.get_rings(shapely.get_parts(area))
    points, owner = shapely.get_coordinates(rings, return_index=True)
    if len(points) and not np.abs(points).max() * PER_MM < FARTHEST:
        raise ModelError("coordinate", f"{np.abs(points).max():g} mm", "give mm within 40 m of the origin")
    whole = _whole(points)
    within = np.flatnonzero((owner[1:] == owner[:-1]) & (whole[1:] != whole[:-1]).any(axis=1))
    starts, ends, of = whole[within], whole[within + 1], owner[within]
    firsts = np.flatnonzero(np.diff(of, prepend=-1))
    return Edges(area, starts, ends, firsts)


def steps(mm: float) -> int:
    """A length in steps of the grid."""
    return round(mm * PER_MM)


def closer(one: Edges, other: Edges, bound: int) -> bool:
    """Whether some edges of two areas are nearer to each other than a bound of 1 step or more, or cross."""
    for i, j in _pairs(one, other, bound):
        if _less_apart(one.starts[i], one.ends[i], other.starts[j], other.ends[j], bound).any():
            return True
    return False


def apart(one: Edges, other: Edges, bound: int) -> bool:
    """Whether two areas keep a distance of a bound of 1 step or more."""
    if closer(one, other, bound):
        return False
    # No edges meet, so a ring lies in the other area whole or not at all.
    return not any((_sides(mine.starts[mine.firsts], its) >= 0).any() for mine, its in ((one, other), (other, one)))


def overlap(one: Edges, other: Edges, slack: int) -> bool:
    """Whether two areas share more than a seam of rounding, ``slack`` steps deep."""
    if _strays(one, other, slack, 1) or _strays(other, one, slack, 1):
        return True
    # Where edges only run along each other the areas are the same or side by side.
    both = ((one, other), (other, one)) if _touch(one, other, slack) else ()
    return any((_sides(mine.middles, its) > 0).any() for mine, its in both)


def leaves(shape: Edges, area: Edges, slack: int) -> bool:
    """Whether a shape reaches farther out of an area than ``slack`` steps, be it into a hole of it."""
    if _strays(shape, area, slack, -1) or _strays(area, shape, slack, 1):
        return True
    return _touch(shape, area, slack) and bool((_sides(shape.middles, area) < 0).any())


def _middle(polygon: Polygon) -> tuple[float, float] | None:
    """A point of a polygon well away from its edges; None where it is too narrow to have one."""
    point = polygon.point_on_surface()
    if point.distance(polygon.boundary) < _WELL_INSIDE_MM:
        circle = shapely.maximum_inscribed_circle(polygon, _WELL_INSIDE_MM / 4)
        point = shapely.get_point(circle, 0)
        if circle.length < _WELL_INSIDE_MM:
            return None
    return float(point.x), float(point.y)


def _whole(points: npt.NDArray[np.float64]) -> Whole:
    return np.rint(points * PER_MM).astype(np.int64)


def _touch(one: Edges, other: Edges, slack: int) -> bool:
    """Whether boxes around edges of two areas come within the slack of each other."""
    return next(_pairs(one, other, slack), None) is not None


def _pairs(one: Edges, other: Edges, reach: int) -> Iterator[tuple[Whole, Whole]]:
    """Indices of edges of two areas whose boxes come within a reach of each other, in portions."""
    if not len(one.starts) or not len(other.starts):
        return
    here, there = _meeting(one, *other.box, reach), _meeting(other, *one.box, reach)
    run = len(here) if len(here) * len(there) <= _AT_ONCE else _RUN
    for first in range(0, len(here), max(run, 1)):
        some = here[first : first + run]
        near = there
        if run == _RUN:
            low, high = one.lows[some].min(axis=0), one.highs[some].max(axis=0)
            near = there[_meeting(other, low, high, reach, there)]
        meet = np.ones((len(some), len(near)), bool)
        for axis in (0, 1):
            meet &= one.lows[some, axis, None] <= other.highs[near, axis] + reach
            meet &= other.lows[near, axis] <= one.highs[some, axis, None] + reach
        i, j = np.nonzero(meet)
        if len(i):
            yield some[i], near[j]


def _meeting(edges: Edges, low: Whole, high: Whole, reach: int, among: Whole | None = None) -> Whole:
    """Which edges, of all or of some, have boxes that come within a reach of a box."""
    lows, highs = (edges.lows, edges.highs) if among is None else (edges.lows[among], edges.highs[among])
    return np.flatnonzero((lows <= high + reach).all(axis=1) & (highs >= low - reach).all(axis=1))


def _cross(a: Whole, b: Whole) -> Whole:
    found: Whole = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return found


def _dot(a: Whole, b: Whole) -> Whole:
    found: Whole = (a * b).sum(axis=-1)
    return found


def _less_apart(a: Whole, b: Whole, c: Whole, d: Whole, bound: int) -> Truths:
    """Whether segments ab and cd, (n, 2) each, come nearer to each other than a bound, or meet."""
    ab, cd = b - a, d - c
    of_c, of_d, of_a, of_b = _cross(ab, c - a), _cross(ab, d - a), _cross(cd, a - c), _cross(cd, b - c)
    meet = (np.sign(of_c) * np.sign(of_d) < 0) & (np.sign(of_a) * np.sign(of_b) < 0)
    found = meet
    for point, start, way, cross in ((c, a, ab, of_c), (d, a, ab, of_d), (a, c, cd, of_a), (b, c, cd, of_b)):
        found = found | _point_nearer(point - start, way, cross, bound)
    return found


def _point_nearer(off: Whole, way: Whole, cross: Whole, bound: int) -> Truths:
    """Whether points, given from the starts of segments, are nearer to these than a bound."""
    along, square = _dot(off, way), _dot(way, way)
    rest = off - way
    ends = np.where(along <= 0, _dot(off, off), _dot(rest, rest)) < bound * bound
    beside = (along > 0) & (along < square)
    # beside a segment its line is as near: cross^2 / square against bound^2
    height, reach = np.abs(cross).astype(float), bound * np.sqrt(square.astype(float))
    found = np.where(beside, height < reach, ends)
    for n in np.flatnonzero(beside & (np.abs(height - reach) <= _SURE * reach)).tolist():
        found[n] = int(cross[n]) ** 2 < bound**2 * int(square[n])
    return found


def _sides(points: Whole, area: Edges) -> Whole:
    """Where points, (n, 2), lie: 1 inside an area, 0 on an edge, -1 outside; by the even-odd rule."""
    found = np.full(len(points), -1, np.int64)
    step = max(1, _AT_ONCE // max(len(area.starts), 1))
    way = area.ends - area.starts
    rises = way[:, 1] > 0
    for first in range(0, len(points), step):
        some = points[first : first + step, None]
        cross = _cross(way, some - area.starts)
        spans = (area.starts[:, 1] > some[..., 1]) != (area.ends[:, 1] > some[..., 1])
        right = spans & (cross != 0) & ((cross > 0) == rises)
        on = (cross == 0) & (area.lows <= some).all(axis=2) & (some <= area.highs).all(axis=2)
        inside = right.sum(axis=1) % 2 == 1
        found[first : first + step] = np.where(on.any(axis=1), 0, np.where(inside, 1, -1))
    return found


def _strays(one: Edges, other: Edges, slack: int, side: int) -> bool:
    """Whether some stretch of an edge of one area lies inside (side 1) or outside (-1) of another, farther than the
    slack from all edges of that."""
    found = list(_pairs(one, other, slack))
    i = np.concatenate([pair[0] for pair in found]) if found else np.zeros(0, int)
    j = np.concatenate([pair[1] for pair in found]) if found else np.zeros(0, int)
    free = np.ones(len(one.starts), bool)
    free[i] = False
    # Edges in a row with nothing near them lie on one side all together.
    begins = free & ~np.roll(free, 1)
    begins[one.firsts] = free[one.firsts]
    looked = [(one.starts[begins] + one.ends[begins]) // 2]
    along = np.zeros(len(one.starts), bool)
    along[i[_covered(one.starts[i], one.ends[i], other.starts[j], other.ends[j], slack)]] = True
    partly = ~along[i]
    looked.append(_uncovered(one, other, i[partly], j[partly], slack))
    return bool((_sides(np.concatenate(looked), other) == side).any())


def _covered(p: Whole, q: Whole, c: Whole, d: Whole, slack: int) -> Truths:
    """Whether segments pq lie within the slack of segments cd all along."""
    way = d - c
    wide = slack * np.abs(way).sum(axis=-1)
    low, high = np.minimum(c, d) - slack, np.maximum(c, d) + slack
    found = np.ones(len(p), bool)
    for point in (p, q):
        found &= (low <= point).all(axis=1) & (point <= high).all(axis=1) & (np.abs(_cross(way, point - c)) <= wide)
    return found


def _uncovered(one: Edges, other: Edges, i: Whole, j: Whole, slack: int) -> Whole:
    """A point in every stretch of edges i of one area that is farther than the slack from the edges j beside each."""
    found: list[tuple[int, int]] = []
    near: dict[int, list[int]] = {}
    for mine, its in zip(i.tolist(), j.tolist()):
        near.setdefault(mine, []).append(its)
    for mine, those in near.items():
        (px, py), (qx, qy) = one.starts[mine].tolist(), one.ends[mine].tolist()
        spans = [
            _span((px, py), (qx, qy), other.starts[its].tolist(), other.ends[its].tolist(), slack) for its in those
        ]
        reached = Fraction(0)
        for low, high in sorted(span for span in spans if span is not None):
            if low > reached:
                found.append(_between(px, py, qx, qy, (low + reached) / 2))
            reached = max(reached, high)
        if reached < 1:
            found.append(_between(px, py, qx, qy, (reached + 1) / 2))
    return np.array(found, np.int64).reshape(-1, 2)


def _between(px: int, py: int, qx: int, qy: int, share: Fraction) -> tuple[int, int]:
    """The step of the grid nearest to a place along a segment: the slack is more than it moves."""
    return round(px + (qx - px) * share), round(py + (qy - py) * share)


def _span(
    p: tuple[int, int], q: tuple[int, int], c: Sequence[int], d: Sequence[int], slack: int
) -> tuple[Fraction, Fraction] | None:
    """From which share of a segment pq to which it lies within the slack of a segment cd; None when nowhere."""
    wx, wy = d[0] - c[0], d[1] - c[1]
    wide = slack * (abs(wx) + abs(wy))
    begins = wx * (p[1] - c[1]) - wy * (p[0] - c[0])
    rows = [
        (min(c[axis], d[axis]) - slack - p[axis], q[axis] - p[axis], max(c[axis], d[axis]) + slack - p[axis])
        for axis in (0, 1)
    ]
    rows.append((-wide - begins, wx * (q[1] - p[1]) - wy * (q[0] - p[0]), wide - begins))
    low, high = Fraction(0), Fraction(1)
    for least, rate, most in rows:
        if rate == 0:
            if not least <= 0 <= most:
                return None
            continue
        ends = sorted((Fraction(least, rate), Fraction(most, rate)))
        low, high = max(low, ends[0]), min(high, ends[1])
    return (low, high) if low <= high else None
