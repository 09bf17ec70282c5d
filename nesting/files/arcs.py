"""Smooth curves as circular arcs: of one arc or two that meet in one direction, as long as they stay true enough.

Two arcs join any two points with any directions there (biarcs: Bolton 1975); from the start on, each pair is made as
long as the tolerance allows.
"""

from __future__ import annotations

import cmath
import math
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from ..model.curves import Node, arc
from .limits import DEFAULT

Complexes = npt.NDArray[np.complex128]
Follow = Callable[[Complexes], tuple[Complexes, Complexes]]
"""Points of a curve and its directions there, for places on it from 0 to 1, as complex numbers."""

_PROBES = np.arange(1, 16) / 16
"""Places on a stretch at which its distance from the curve is measured."""


def fitted(follow: Follow, tolerance_mm: float) -> list[Node]:
    """Nodes (x, y, bulge) of lines and arcs that stand for a smooth curve, all but its end.

    Parameters
    ----------
    follow : callable
        From places on the curve, 0 to 1, to its points in mm and its directions (of any length) there.
    tolerance_mm : float
        Greatest distance between the arcs and the curve.

    Returns
    -------
    list of (x, y, bulge)
        As in `model.curves.Curve`. The arcs begin and end on the curve, in its direction.
    """
    nodes: list[Node] = []
    at, step = 0.0, 1.0
    while at < 1.0:
        reach, fails = min(1.0, at + step), 1.0
        made = _stretch(follow, at, reach, tolerance_mm)
        while made is None and reach - at > DEFAULT.shortest_fit:
            fails = reach
            reach = (at + reach) / 2
            made = _stretch(follow, at, reach, tolerance_mm)
        if made is None:
            start, _ = follow(np.array([at, reach]))
            made = [(start[0], 0.0)]
        elif reach < 1.0:
            for _ in range(DEFAULT.fit_halvings):
                further = (reach + fails) / 2
                more = _stretch(follow, at, further, tolerance_mm)
                reach, fails, made = (further, fails, more) if more else (reach, further, made)
        nodes += [(float(point.real), float(point.imag), bulge) for point, bulge in made]
        at, step = reach, 1.5 * (reach - at)
    return nodes


def _stretch(follow: Follow, low: float, high: float, tolerance: float) -> list[tuple[complex, float]] | None:
    """One arc or two for a stretch of a curve, each by its start and bulge; None when they stray too far."""
    points, ways = follow(np.concatenate([[low], low + (high - low) * _PROBES, [high]]))
    start, end = complex(points[0]), complex(points[-1])
    first, last = complex(ways[0]), complex(ways[-1])
    chord = end - start
    if not chord or not first or not last:
        return None
    first, last = first / abs(first), last / abs(last)
    out, into = cmath.phase(chord / first), cmath.phase(last / chord)
    if abs(out - into) < DEFAULT.one_arc_rad:
        bulge = math.tan((out + into) / 4)
        if abs(bulge) * abs(chord) / 2 < DEFAULT.flat_mm and abs(bulge) < DEFAULT.flat_bulge:
            bulge = 0.0
        if _off(points, start, end, bulge).max() <= tolerance:
            return [(start, bulge)]
    joint = _joint(start, first, end, last)
    if joint is None:
        return None
    made = []
    for begin, way, to, turn in ((start, first, joint, 1), (end, -last, joint, -1)):
        angle = cmath.phase((to - begin) / way)
        if abs(angle) > math.pi / 2:
            return None
        made.append((begin if turn > 0 else to, turn * math.tan(angle / 2)))
    apart = np.minimum(_off(points, start, joint, made[0][1]), _off(points, joint, end, made[1][1]))
    return made if apart.max() <= tolerance else None


def _joint(start: complex, first: complex, end: complex, last: complex) -> complex | None:
    """Where two arcs meet that leave their ends by tangents of equal length; None when they are degenerate."""
    chord, ways = end - start, first + last
    along = (chord * ways.conjugate()).real
    spread = 2 * (1 - (first * last.conjugate()).real)
    square = abs(chord) ** 2
    if spread > 1e-12:
        length = (math.sqrt(along * along + spread * square) - along) / spread
    else:
        ahead = (chord * last.conjugate()).real
        if abs(ahead) <= 1e-12 * abs(chord):
            return None
        length = square / (4 * ahead)
    joint = (start + end + length * (first - last)) / 2
    return joint if length > 0 and joint not in (start, end) else None


def _off(points: Complexes, start: complex, end: complex, bulge: float) -> npt.NDArray[np.float64]:
    """Distances of points from an arc or a straight stretch; infinite where they do not lie beside it."""
    chord = end - start
    beside = (points - start) / chord
    if abs(bulge) < 1e-9:
        inside = (beside.real >= -1e-6) & (beside.real <= 1 + 1e-6)
        return np.where(inside, np.abs(beside.imag) * abs(chord), np.inf)
    found = arc(start, end, bulge)
    turned = np.angle((points - found.centre) / (start - found.centre)) * (1 if found.sweep > 0 else -1)
    inside = (turned >= -1e-6) & (turned <= abs(found.sweep) + 1e-6)
    return np.where(inside, np.abs(np.abs(points - found.centre) - found.radius), np.inf)
