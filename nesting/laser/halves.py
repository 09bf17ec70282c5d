"""A line cut in two where leather is moved on between two loads."""

from __future__ import annotations

import cmath
import math
from itertools import pairwise

from ..model import Curve
from ..model.curves import arc

Piece = tuple[complex, complex, float]
"""Start, end and bulge of a stretch."""


def half_of(curve: Curve, way: complex, most_mm: float) -> list[Curve]:
    """What of a line lies no further along a way than a place.

    Parameters
    ----------
    curve : Curve
    way : complex
        Of length 1, such as 1j for y.
    most_mm : float
        Distance from the origin along the way.

    Returns
    -------
    list of Curve
        The line itself where all of it does; else its open pieces, exactly on it.
    """
    pieces = [piece for stretch in curve.stretches() for piece in _parted(stretch, way, most_mm)]
    near = [_along(_point(piece, 0.5), way) <= most_mm for piece in pieces]
    if all(near):
        return [curve]
    if curve.closed:
        # begun where the line is beyond, so that no piece runs over its first corner
        first = near.index(False)
        pieces, near = pieces[first:] + pieces[:first], near[first:] + near[:first]
    found: list[list[Piece]] = []
    for number, (piece, here) in enumerate(zip(pieces, near)):
        if here and number and near[number - 1]:
            found[-1].append(piece)
        elif here:
            found.append([piece])
    return [_joined(run) for run in found]


def _joined(run: list[Piece]) -> Curve:
    nodes = [(start.real, start.imag, bulge) for start, _, bulge in run]
    end = run[-1][1]
    return Curve((*nodes, (end.real, end.imag, 0.0)))


def _along(point: complex, way: complex) -> float:
    return (point * way.conjugate()).real


def _parted(stretch: Piece, way: complex, most_mm: float) -> list[Piece]:
    """A stretch parted where it crosses the line square to a way."""
    start, end, bulge = stretch
    shares = sorted({0.0, *(share for share in _crossings(stretch, way, most_mm) if 1e-9 < share < 1 - 1e-9), 1.0})
    if len(shares) == 2:
        return [stretch]
    points = [start, *(_point(stretch, share) for share in shares[1:-1]), end]
    bulges = [math.tan((after - before) * math.atan(bulge)) for before, after in pairwise(shares)]
    return list(zip(points, points[1:], bulges))


def _crossings(stretch: Piece, way: complex, most_mm: float) -> list[float]:
    """Shares of a stretch at which it crosses."""
    start, end, bulge = stretch
    if not bulge:
        rise = _along(end - start, way)
        return [(most_mm - _along(start, way)) / rise] if rise else []
    found = arc(start, end, bulge)
    cosine = (most_mm - _along(found.centre, way)) / found.radius
    if abs(cosine) >= 1:
        return []
    turns = (cmath.phase(way) + sign * math.acos(cosine) - found.start for sign in (1, -1))
    full = math.copysign(2 * math.pi, found.sweep)
    return [(turn % full) / found.sweep for turn in turns]


def _point(stretch: Piece, share: float) -> complex:
    start, end, bulge = stretch
    if not bulge:
        return start + share * (end - start)
    found = arc(start, end, bulge)
    return found.centre + (start - found.centre) * cmath.exp(1j * share * found.sweep)
