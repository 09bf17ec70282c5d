"""Closed lines of straight stretches and arcs moved sideways: arcs of other radii, corners rounded or cut short."""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry import LineString

from ..model import Curve
from ..model.curves import arc
from .limits import DEFAULT, LaserLimits


@dataclass
class _Stretch:
    """A moved stretch, and the directions in which the one it came from begins and ends."""

    start: complex
    end: complex
    bulge: float
    leaves: complex
    arrives: complex


def moved(curve: Curve, outwards_mm: float, limits: LaserLimits = DEFAULT) -> Curve | None:
    """A closed line moved outwards, or inwards where that is negative, with round corners.

    A straight stretch stays one, an arc gets another radius; where they part a corner is rounded, where they cross they
    are cut short.

    Parameters
    ----------
    curve : Curve
        Closed; it does not cross itself.
    outwards_mm : float
    limits : LaserLimits, optional

    Returns
    -------
    Curve or None
        None where stretches that are not neighbours come into each other's way, so that this is not all there is to it;
        whoever calls compares the result with what it should be.
    """
    ring = curve.flattened(limits.flat_mm)
    right = outwards_mm if shapely.is_ccw(ring) else -outwards_mm
    made = [found for stretch in curve.stretches() if (found := _sideways(*stretch, right)) is not None]
    if len(made) < 2:
        return None
    joined: list[_Stretch] = []
    for place, one in enumerate(made):
        joined.append(one)
        other = made[(place + 1) % len(made)]
        turn = cmath.phase(other.leaves / one.arrives)
        gap = abs(other.start - one.end)
        if gap <= limits.snap_mm:
            one.end = other.start = (one.end + other.start) / 2
        elif abs(right) * (1 / math.cos(turn / 2) - 1) <= limits.mitre_mm and not one.bulge and not other.bulge:
            met = _cross(one, other)
            if met is None:
                return None
            one.end = other.start = met
        elif turn * right > 0:
            joined.append(_Stretch(one.end, other.start, math.tan(turn / 4), one.arrives, other.leaves))
        else:
            met = _cross(one, other)
            if met is None:
                return None
            _end_at(one, met)
            _begin_at(other, met)
    nodes = [(one.start.real, one.start.imag, one.bulge) for one in joined if abs(one.end - one.start) > limits.same_mm]
    return Curve(tuple(nodes), True) if len(nodes) > 1 else None


def strays_mm(one: LineString, other: LineString) -> float:
    """How far the corners of two lines at most lie from the other line, mm."""
    worst = 0.0
    for points, line in ((one, other), (other, one)):
        corners = shapely.get_coordinates(line)
        chords = np.array(shapely.linestrings(np.stack([corners[:-1], corners[1:]], axis=1)), object)
        stretches = shapely.STRtree(list(chords))
        spots = shapely.points(shapely.get_coordinates(points))
        worst = max(worst, float(stretches.query_nearest(spots, return_distance=True, all_matches=False)[1].max()))
    return worst


def _sideways(start: complex, end: complex, bulge: float, right: float) -> _Stretch | None:
    """A stretch moved to its right; None for an arc that vanishes on the way."""
    if start == end:
        return None
    if not bulge:
        way = (end - start) / abs(end - start)
        return _Stretch(start - 1j * way * right, end - 1j * way * right, 0.0, way, way)
    found = arc(start, end, bulge)
    turned = 1 if bulge > 0 else -1
    share = (found.radius + turned * right) / found.radius
    if share <= 1e-9:
        return None
    leaves, arrives = (1j * turned * (point - found.centre) / found.radius for point in (start, end))
    start, end = (found.centre + (point - found.centre) * share for point in (start, end))
    return _Stretch(start, end, bulge, leaves, arrives)


def _cross(one: _Stretch, other: _Stretch) -> complex | None:
    """Where two neighbours, each drawn on in its own way, meet nearest to their ends; None where they do not."""
    middle = (one.end + other.start) / 2
    found = [met for met in _meets(one, other) if _within(one, met, True) and _within(other, met, False)]
    return min(found, key=lambda met: abs(met - middle), default=None)


def _meets(one: _Stretch, other: _Stretch) -> list[complex]:
    """Where the lines or circles of two stretches cross."""
    if not one.bulge and not other.bulge:
        a, b = one.end - one.start, other.end - other.start
        across = (a.conjugate() * b).imag
        if abs(across) <= 1e-12 * abs(a) * abs(b):
            return []
        return [one.start + a * ((other.start - one.start).conjugate() * b).imag / across]
    if not one.bulge or not other.bulge:
        straight, round_ = (one, other) if not one.bulge else (other, one)
        found = arc(round_.start, round_.end, round_.bulge)
        way = (straight.end - straight.start) / abs(straight.end - straight.start)
        foot = straight.start + way * ((found.centre - straight.start) / way).real
        off = abs(found.centre - foot)
        if off > found.radius:
            return []
        half = math.sqrt(found.radius**2 - off**2)
        return [foot - half * way, foot + half * way]
    first, second = (arc(each.start, each.end, each.bulge) for each in (one, other))
    apart = abs(second.centre - first.centre)
    if apart <= 1e-12 or apart > first.radius + second.radius or apart < abs(first.radius - second.radius):
        return []
    along = (apart**2 + first.radius**2 - second.radius**2) / (2 * apart)
    way = (second.centre - first.centre) / apart
    half = math.sqrt(max(first.radius**2 - along**2, 0.0))
    return [first.centre + way * complex(along, side * half) for side in (-1, 1)]


def _within(stretch: _Stretch, point: complex, at_end: bool) -> bool:
    """Whether cutting a stretch short at a point, or a straight one drawn on to it, leaves something of it."""
    if not stretch.bulge:
        share = ((point - stretch.start) / (stretch.end - stretch.start)).real
        return share > 0 if at_end else share < 1
    found = arc(stretch.start, stretch.end, stretch.bulge)
    turned = cmath.phase((point - found.centre) / (stretch.start - found.centre)) * math.copysign(1, found.sweep)
    return 0 <= turned % (2 * math.pi) <= abs(found.sweep)


def _end_at(stretch: _Stretch, point: complex) -> None:
    if stretch.bulge:
        stretch.bulge = _shortened(stretch, stretch.start, point)
    stretch.end = point


def _begin_at(stretch: _Stretch, point: complex) -> None:
    if stretch.bulge:
        stretch.bulge = _shortened(stretch, point, stretch.end)
    stretch.start = point


def _shortened(stretch: _Stretch, start: complex, end: complex) -> float:
    """The bulge of a stretch of an arc."""
    found = arc(stretch.start, stretch.end, stretch.bulge)
    side = math.copysign(1, found.sweep)
    turned = (cmath.phase((end - found.centre) / (start - found.centre)) * side) % (2 * math.pi)
    return side * math.tan(turned / 4)
