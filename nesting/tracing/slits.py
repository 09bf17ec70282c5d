"""Find thin lines in the leather: one that goes on from a narrow bay, or from a narrow hole, is a slit; others may be
only marks."""

from __future__ import annotations

import math
from typing import TypeAlias, cast

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from ..geometry import largest_polygon
from .arrays import Floats, Unlike
from .curve import CURVE, lengths_along, places_along, sharpness, unit
from .limits import METHOD

SLITS = METHOD.slits
Lines: TypeAlias = list[LineString]


def find_slits(outline: Polygon, unlike: Unlike) -> tuple[Lines, Lines]:
    """The middles of slits, and of lines that may be slits, in pixels, each from near the edge inwards.

    Parameters
    ----------
    outline : Polygon
        In pixels (column, row).
    unlike : callable
        From (..., 2) places to (...) how far their colours are from that of leather, about 0 to 1.
    """
    # corners cut by less than a pixel and rough arcs, and the deeper ring drawn from the other: several times faster
    first = outline.simplify(SLITS.plain_pixels).buffer(-SLITS.shallow_pixels, quad_segs=4)
    rings = [_even(first), _even(first.buffer(SLITS.shallow_pixels - SLITS.deep_pixels, quad_segs=4))]
    if any(len(ring) < SLITS.fewest_points for ring in rings):
        return [], []
    (near, least), (far, _) = (_peaks(ring, unlike) for ring in rings)
    tree = shapely.STRtree(np.asarray(shapely.points(far)))
    sure: Lines = []
    perhaps: Lines = []
    for start in near:
        reach = (SLITS.deep_pixels - SLITS.shallow_pixels) * (1 + SLITS.aslant_times)
        nexts = far[tree.query(shapely.Point(start), predicate="dwithin", distance=reach)]
        if not len(nexts):
            continue
        to = nexts[np.argmin(np.hypot(*(nexts - start).T))]
        line, strong = _line(*_run(start, unit(to - start), unlike, SLITS.kept_share * least))
        if line is None:
            continue
        if _goes_on(outline, line):
            sure.append(line)
        elif strong:
            perhaps.append(line)
    return sure, perhaps


def _goes_on(outline: Polygon, line: LineString) -> bool:
    """Whether a line goes on from the tip of a narrow bay."""
    ring = np.asarray(outline.exterior.coords)
    even, before, after, turn = sharpness(ring, CURVE.near_pixels, CURVE.far_pixels)
    start, end = (np.array(line.coords[at]) for at in (0, -1))
    around = np.arange(-SLITS.around_pixels, SLITS.around_pixels + 1)
    near = (np.argmin(np.hypot(*(even - start).T)) + around) % len(even)
    tip = near[np.argmin(turn[near])]
    along = unit(end - start) @ unit(before[tip] + after[tip])
    return bool(turn[tip] < SLITS.bluntest_deg and along > np.cos(np.radians(SLITS.aside_deg)))


def find_inner(outline: Polygon, seeds: Floats, unlike: Unlike, known: Lines) -> tuple[Lines, Lines]:
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
    ring = _even(outline.simplify(SLITS.plain_pixels).buffer(-SLITS.shallow_pixels, quad_segs=4))
    if len(ring) < SLITS.fewest_points:
        return [], []
    least = SLITS.kept_share * _peaks(ring, unlike)[1]
    holes = [hole for hole in map(Polygon, outline.interiors) if hole.buffer(-SLITS.narrow_pixels / 2).is_empty]
    sure: Lines = []
    perhaps: Lines = []
    for hole in holes:
        ends, long = _ends(hole)
        for tip in ends if long > SLITS.long_times * hole.area / long else ():
            way = unit(tip - ends.mean(axis=0))
            line, _ = _line(*_run(tip - SLITS.wide_pixels / 2 * way, way, unlike, least))
            sure += [] if line is None else [line]
    for seed in seeds[~shapely.dwithin(outline.boundary, shapely.points(seeds[:, :2]), SLITS.near_pixels)]:
        if any(line.distance(Point(seed[:2])) < SLITS.near_pixels for line in known + sure + perhaps):
            continue
        on, back = (_run(seed[:2], sign * seed[2:], unlike, least) for sign in (1, -1))
        line, strong = _line(back[0][:0:-1] + on[0], back[1][:0:-1] + on[1], back[2][:0:-1] + on[2])
        if line is None or line.length < SLITS.inner_long_times * _breadth(line, unlike):
            continue
        if any(line.distance(hole) < SLITS.near_pixels for hole in holes):
            sure.append(line)
        elif strong:
            perhaps.append(line)
    return sure, perhaps


def without_slits(outline: Polygon, lines: Lines | tuple[LineString, ...], first: Polygon | None = None) -> Polygon:
    """The outline with slits cut out along the lines, open at the edge where they begin there: at its own, or at that
    of the outline they were found in first."""
    cuts = []
    for line in lines:
        if begins_at_edge(line, first or outline):
            start = np.array(line.coords[0])
            mouth = np.array(shapely.shortest_line(outline.exterior, Point(start)).coords[0])
            line = LineString([mouth + 0.5 * (mouth - start), *line.coords])
        cuts.append(line.buffer(SLITS.wide_pixels / 2, cap_style="flat", join_style="mitre"))
    if not cuts:
        return outline
    return largest_polygon(outline.difference(shapely.union_all(cuts))) or outline


def begins_at_edge(line: LineString, outline: Polygon) -> bool:
    """Whether a line, in pixels, begins at the outer edge, and is not wholly within the leather."""
    return bool(outline.exterior.distance(Point(line.coords[0])) < SLITS.deep_pixels)


def _even(shape: BaseGeometry) -> Floats:
    """Points half a pixel apart along the largest area of a shape."""
    largest = largest_polygon(shape)
    if largest is None:
        return np.empty((0, 2))
    ring = np.asarray(largest.exterior.coords)
    lengths = lengths_along(ring)
    return places_along(ring, lengths, np.arange(0, lengths[-1], 0.5))


def _peaks(ring: Floats, unlike: Unlike) -> tuple[Floats, float]:
    """Where lines cross a ring of points half a pixel apart, and how much of its width a line must show."""
    window = int(4 * SLITS.half_pixels) + 1
    seen = unlike(ring)
    sums = np.convolve(np.concatenate([seen[-window:], seen, seen[:window]]), np.full(window, 0.5), "same")[
        window:-window
    ]
    sums = sums - np.maximum(*(np.roll(sums, int(sign * 2 * SLITS.beside_pixels)) for sign in (-1, 1)))
    least = max(SLITS.least_pixels, SLITS.above_times * 1.4826 * float(np.median(np.abs(sums - np.median(sums)))))
    top = (sums > least) & (sums >= np.maximum.reduce([np.roll(sums, k) for k in range(-8, 9)]))
    reach = np.arange(-window, window + 1)
    near = (np.flatnonzero(top)[:, None] + reach) % len(ring)
    shown = np.maximum(seen[near] - np.median(seen[near], axis=1, keepdims=True), 0) * (
        np.abs(reach) <= 2 * SLITS.half_pixels
    )
    return np.einsum("ij,ijk->ik", shown, ring[near]) / np.maximum(shown.sum(axis=1), 1e-6)[:, None], least


def _run(start: Floats, way: Floats, unlike: Unlike, least: float) -> tuple[list[Floats], list[float], list[float]]:
    """The middles of a line followed from a place in a direction, one for every pixel; how wide it shows and how much
    at each."""
    across = np.arange(-SLITS.beside_pixels - SLITS.half_pixels, SLITS.beside_pixels + SLITS.half_pixels + 0.1, 0.5)
    middle, left, right = (
        np.abs(across - centre) <= SLITS.half_pixels for centre in (0.0, SLITS.beside_pixels, -SLITS.beside_pixels)
    )
    middles, place, last = [start], start, 0
    widths: list[float] = []
    tops: list[float] = []
    for _ in range(SLITS.longest_pixels):
        side = np.array([-way[1], way[0]])
        seen = unlike(place + np.array([-1, 0, 1])[:, None, None] * way + across[:, None] * side).mean(axis=0)
        ground = max(seen[left].mean(), seen[right].mean())
        seen = np.maximum(seen - ground, 0)[middle]
        widths.append(0.5 * seen.sum())
        tops.append(seen.max())
        if widths[-1] > least:
            last = len(middles)
        elif len(middles) - last == SLITS.gap_pixels:
            break
        off = (seen * across[middle]).sum() / max(seen.sum(), 0.1)
        place = place + np.clip(off, -SLITS.most_off_pixels, SLITS.most_off_pixels) * side
        middles.append(place)
        way = unit(
            (1 - SLITS.turning) * way
            + SLITS.turning * unit(place - middles[max(len(middles) - 1 - SLITS.back_pixels, 0)])
        )
        place = place + way
    return middles[: last + 1], widths[:last], tops[:last]


def _ends(hole: Polygon) -> tuple[Floats, float]:
    """The two corners of a hole that lie furthest apart, and how far."""
    ring = shapely.get_coordinates(hole)
    away = np.hypot(*(ring[:, None] - ring).T)
    return ring[[*np.unravel_index(np.argmax(away), away.shape)]], float(away.max())


def _breadth(line: LineString, unlike: Unlike) -> float:
    """At how many pixels across a line it shows more than half as much as in its middle, all along taken together."""
    at = np.arange(1, line.length - 1)
    before, here, after = (
        shapely.get_coordinates(shapely.line_interpolate_point(line, at + step)) for step in (-1, 0, 1)
    )
    side = (after - before) @ np.array([[0, 1], [-1, 0]]) / np.hypot(*(after - before).T)[:, None]
    across = np.arange(-SLITS.broadest_pixels, SLITS.broadest_pixels + 0.1, 0.5)
    seen = np.median(unlike(here[:, None] + across[:, None] * side[:, None]), axis=0)
    seen -= np.median(seen[np.abs(across) > SLITS.broadest_pixels - SLITS.beside_pixels])
    return 0.5 * float((seen > seen[np.abs(across) < SLITS.half_pixels].max() / 2).sum())


def _line(middles: list[Floats], widths: list[float], tops: list[float]) -> tuple[LineString | None, bool]:
    """A line, unless it is too short; and whether it is dark or floor-like enough, as wide as it is, for a slit."""
    if len(widths) <= max(SLITS.shortest_pixels, SLITS.long_times * float(np.mean(widths or 0))):
        return None, False
    width = float(np.median(widths))
    strong = width > SLITS.narrowest_pixels and np.median(tops) > SLITS.strong_share * math.erf(
        width / (2 * math.sqrt(2) * SLITS.blur_pixels)
    )
    return cast(LineString, LineString(middles).simplify(SLITS.line_tolerance_pixels)), bool(strong)
