"""Find thin lines in the leather: one that goes on from a narrow bay, or from a narrow hole, is a slit; others may be only marks."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from .needles import BLUNTEST_DEG, FAR, NEAR, corners, unit

DEPTHS = (5.0, 9.0)
"""Pixels from the edge, deeper than its blur, at which lines are looked for, to learn where they lead."""
PLAIN = 0.7
"""Pixels by which the edge may be simplified before these depths are measured from it."""
HALF, BESIDE = 3.0, 7.0
"""Half the breadth in pixels of the window across a line, and how far to either side the same window shows the leather."""
LEAST, ABOVE, KEPT = 0.6, 5.0, 0.5
"""A line shows at least so many pixels of its width, and so many times what the leather's own roughness does along the edge; and
further in this share of that."""
LONGEST, SHORTEST, GAP, LONG = 400, 8, 4, 3.0
"""Pixels that a line is followed at most and at least, and over which it may fade; how many times as long as wide it is at least."""
INNER_LONG, BROADEST = 8.0, 20.0
"""How many times as long as broad a line wholly within the leather is at least, where blots are longish too; and how far to either side
it is looked at for that."""
ASLANT = 1.2
"""How much further along the edge than into the leather a line may lead between the depths."""
TURNING, BACK = 0.2, 6
"""How readily its direction follows its middle, seen over so many steps."""
STRONG, BLUR, NARROWEST = 0.68, 1.0, 0.7
"""A slit shows at least this share of what one as unlike leather as floor or deep shadow would, blurred by so many pixels, whose
width sums up to the same; and so many pixels of its width (measured: scars 0.5 to 0.63, slits 0.73 to 1.3)."""
WIDE, NARROW, NEAR_IT = 3.0, 10.0, 4.0
"""Pixels of leather that a slit takes; a hole nowhere wider than this may be the middle of one; and how near to a line, or to such a
hole, another belongs to it."""
ASIDE_DEG, AROUND = 45.0, 5
"""How far aside from where a bay points a line may go on from it; pixels along the outline within which its tip is sought."""


def find_slits(outline: Polygon, unlike) -> tuple[list[LineString], list[LineString]]:
    """The middles of slits, and of lines that may be slits, in pixels, each from near the edge inwards.

    Parameters
    ----------
    outline : Polygon
        In pixels (column, row).
    unlike : callable
        From (..., 2) places to (...) how far their colours are from that of leather, about 0 to 1.
    """
    # corners cut by less than a pixel and rough arcs, and the deeper ring drawn from the other: several times faster
    first = outline.simplify(PLAIN).buffer(-DEPTHS[0], quad_segs=4)
    rings = [_even(first), _even(first.buffer(DEPTHS[0] - DEPTHS[1], quad_segs=4))]
    if any(len(ring) < 80 for ring in rings):
        return [], []
    (near, least), (far, _) = (_peaks(ring, unlike) for ring in rings)
    tree = shapely.STRtree(shapely.points(far))
    sure, perhaps = [], []
    for start in near:
        reach = (DEPTHS[1] - DEPTHS[0]) * (1 + ASLANT)
        nexts = far[tree.query(shapely.Point(start), predicate="dwithin", distance=reach)]
        if not len(nexts):
            continue
        to = nexts[np.argmin(np.hypot(*(nexts - start).T))]
        line, strong = _line(*_run(start, unit(to - start), unlike, KEPT * least))
        if line is None:
            continue
        if _goes_on(outline, line):
            sure.append(line)
        elif strong:
            perhaps.append(line)
    return sure, perhaps


def _goes_on(outline: Polygon, line: LineString) -> bool:
    """Whether a line goes on from the tip of a narrow bay."""
    even, before, after, turn = corners(np.asarray(outline.exterior.coords), NEAR, FAR)
    start, end = (np.array(line.coords[at]) for at in (0, -1))
    near = (np.argmin(np.hypot(*(even - start).T)) + np.arange(-AROUND, AROUND + 1)) % len(even)
    tip = near[np.argmin(turn[near])]
    along = unit(end - start) @ unit(before[tip] + after[tip])
    return bool(turn[tip] < BLUNTEST_DEG and along > np.cos(np.radians(ASIDE_DEG)))


def find_inner(
    outline: Polygon, seeds: np.ndarray, unlike, known: list[LineString]
) -> tuple[list[LineString], list[LineString]]:
    """The same for slits, and lines that may be slits, wholly within the leather.

    Parameters
    ----------
    outline : Polygon
        In pixels (column, row).
    seeds : (n, 4) array
        Places in lines, and their directions, as far as they are known.
    unlike : callable
        As above.
    known : list of LineString
        Lines that were found from the edge.
    """
    ring = _even(outline.simplify(PLAIN).buffer(-DEPTHS[0], quad_segs=4))
    if len(ring) < 80:
        return [], []
    least = KEPT * _peaks(ring, unlike)[1]
    holes = [hole for hole in map(Polygon, outline.interiors) if hole.buffer(-NARROW / 2).is_empty]
    sure, perhaps = [], []
    for hole in holes:
        ends, long = _ends(hole)
        for tip in ends if long > LONG * hole.area / long else ():
            way = unit(tip - ends.mean(axis=0))
            line, _ = _line(*_run(tip - WIDE / 2 * way, way, unlike, least))
            sure += [] if line is None else [line]
    for seed in seeds[~shapely.dwithin(outline.boundary, shapely.points(seeds[:, :2]), NEAR_IT)]:
        if any(line.distance(Point(seed[:2])) < NEAR_IT for line in known + sure + perhaps):
            continue
        on, back = (_run(seed[:2], sign * seed[2:], unlike, least) for sign in (1, -1))
        line, strong = _line(*(ends[:0:-1] + starts for ends, starts in zip(back, on)))
        if line is None or line.length < INNER_LONG * _breadth(line, unlike):
            continue
        if any(line.distance(hole) < NEAR_IT for hole in holes):
            sure.append(line)
        elif strong:
            perhaps.append(line)
    return sure, perhaps


def without_slits(outline: Polygon, lines: list[LineString], first: Polygon | None = None) -> Polygon:
    """The outline with slits cut out along the lines, open at the edge where they begin there: at its own, or at that of the outline they
    were found in first."""
    cuts = []
    for line in lines:
        if begins_at_edge(line, first or outline):
            start = np.array(line.coords[0])
            mouth = np.array(shapely.shortest_line(outline.exterior, Point(start)).coords[0])
            line = LineString([mouth + 0.5 * (mouth - start), *line.coords])
        cuts.append(line.buffer(WIDE / 2, cap_style="flat", join_style="mitre"))
    return (
        max(shapely.get_parts(outline.difference(shapely.union_all(cuts))), key=lambda part: part.area)
        if cuts
        else outline
    )


def begins_at_edge(line: LineString, outline: Polygon) -> bool:
    """Whether a line, in pixels, begins at the outer edge, and is not wholly within the leather."""
    return outline.exterior.distance(Point(line.coords[0])) < DEPTHS[1]


def _even(shape) -> np.ndarray:
    """Points half a pixel apart along the largest part of a shape."""
    part = max(shapely.get_parts(shape), key=lambda one: one.area, default=None)
    if part is None or part.is_empty:
        return np.empty((0, 2))
    ring = np.asarray(part.exterior.coords)
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    return np.column_stack([np.interp(np.arange(0, along[-1], 0.5), along, axis) for axis in ring.T])


def _peaks(ring: np.ndarray, unlike) -> tuple[np.ndarray, float]:
    """Where lines cross a ring of points half a pixel apart, and how much of its width a line must show."""
    window = int(4 * HALF) + 1
    seen = unlike(ring)
    sums = np.convolve(np.concatenate([seen[-window:], seen, seen[:window]]), np.full(window, 0.5), "same")[
        window:-window
    ]
    sums = sums - np.maximum(*(np.roll(sums, int(sign * 2 * BESIDE)) for sign in (-1, 1)))
    least = max(LEAST, ABOVE * 1.4826 * float(np.median(np.abs(sums - np.median(sums)))))
    top = (sums > least) & (sums >= np.maximum.reduce([np.roll(sums, k) for k in range(-8, 9)]))
    reach = np.arange(-window, window + 1)
    near = (np.flatnonzero(top)[:, None] + reach) % len(ring)
    shown = np.maximum(seen[near] - np.median(seen[near], axis=1, keepdims=True), 0) * (np.abs(reach) <= 2 * HALF)
    return np.einsum("ij,ijk->ik", shown, ring[near]) / np.maximum(shown.sum(axis=1), 1e-6)[:, None], least


def _run(start: np.ndarray, way: np.ndarray, unlike, least: float) -> tuple[list, list, list]:
    """The middles of a line followed from a place in a direction, one for every pixel; how wide it shows and how much at each."""
    across = np.arange(-BESIDE - HALF, BESIDE + HALF + 0.1, 0.5)
    middle, left, right = (np.abs(across - centre) <= HALF for centre in (0.0, BESIDE, -BESIDE))
    middles, widths, tops, place, last = [start], [], [], start, 0
    for _ in range(LONGEST):
        side = np.array([-way[1], way[0]])
        seen = unlike(place + np.array([-1, 0, 1])[:, None, None] * way + across[:, None] * side).mean(axis=0)
        ground = max(seen[left].mean(), seen[right].mean())
        seen = np.maximum(seen - ground, 0)[middle]
        widths.append(0.5 * seen.sum()), tops.append(seen.max())
        if widths[-1] > least:
            last = len(middles)
        elif len(middles) - last == GAP:
            break
        off = (seen * across[middle]).sum() / max(seen.sum(), 0.1)
        place = place + np.clip(off, -0.7, 0.7) * side
        middles.append(place)
        way = unit((1 - TURNING) * way + TURNING * unit(place - middles[max(len(middles) - 1 - BACK, 0)]))
        place = place + way
    return middles[: last + 1], widths[:last], tops[:last]


def _ends(hole: Polygon) -> tuple[np.ndarray, float]:
    """The two corners of a hole that lie furthest apart, and how far."""
    corners = shapely.get_coordinates(hole)
    away = np.hypot(*(corners[:, None] - corners).T)
    return corners[[*np.unravel_index(np.argmax(away), away.shape)]], float(away.max())


def _breadth(line: LineString, unlike) -> float:
    """At how many pixels across a line it shows more than half as much as in its middle, all along taken together."""
    at = np.arange(1, line.length - 1)
    before, here, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(line, at + step)) for step in (-1, 0, 1)
    )
    side = (after - before) @ np.array([[0, 1], [-1, 0]]) / np.hypot(*(after - before).T)[:, None]
    across = np.arange(-BROADEST, BROADEST + 0.1, 0.5)
    seen = np.median(unlike(here[:, None] + across[:, None] * side[:, None]), axis=0)
    seen -= np.median(seen[np.abs(across) > BROADEST - BESIDE])
    return 0.5 * float((seen > seen[np.abs(across) < HALF].max() / 2).sum())


def _line(middles: list, widths: list, tops: list) -> tuple[LineString | None, bool]:
    """A line, unless it is too short; and whether it is dark or floor-like enough, as wide as it is, for a slit."""
    if len(widths) <= max(SHORTEST, LONG * float(np.mean(widths or 0))):
        return None, False
    width = float(np.median(widths))
    strong = width > NARROWEST and np.median(tops) > STRONG * math.erf(width / (2 * math.sqrt(2) * BLUR))
    return LineString(middles).simplify(0.5), strong
