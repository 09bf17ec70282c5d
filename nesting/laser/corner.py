"""Where the parts of a hide that is cut by knife lie: the hide pushed into a corner of two straight battens, and each
template's points a and b measured from these."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LinearRing, Point, Polygon

from ..geometry import Shape, place
from ..model import Hide, Placement
from .guide import middle_ends

Spot = tuple[float, float]
ALIKE_MM = 1.0
"""Sides of a hide that differ by less are as long as each other."""


@dataclass(frozen=True)
class Lying:
    """A part where it is cut: ``a`` and ``b`` are the points of its template, mm on along the long batten and off it.

    ``edge_mm`` are their distances from the nearest edge of the hide. ``number`` is that of its template, a dot, and
    which of the copies it is.
    """

    number: str
    placement: Placement
    outline: Polygon
    a: Spot
    b: Spot
    edge_mm: tuple[float, float]


@dataclass(frozen=True)
class Corner:
    """A hide in the corner of two battens, from which x and y count.

    It touches the long one below at two ``touches`` and the short one at its left at ``side``. ``backbone`` is turned
    with it, None where it has none.
    """

    outline: Polygon
    touches: tuple[Spot, Spot]
    side: Spot
    backbone: tuple[Spot, Spot] | None
    parts: tuple[Lying, ...]

    @property
    def held_mm(self) -> float:
        """How far apart it touches the long batten."""
        return self.touches[1][0] - self.touches[0][0]


def in_corner(hide: Hide, templates: Sequence[Sequence[Placement]]) -> Corner:
    """A hide pushed with its straightest side against a batten, and with its left against another square to it.

    The side is the longest that a straight batten touches the hide with at both ends: nothing tells better how it lies.

    Parameters
    ----------
    hide : Hide
    templates : sequence of sequences of Placement
        What is cut from it by each template.

    Returns
    -------
    Corner
        Lengths in mm, grain side up.
    """
    hull = shapely.get_coordinates(hide.outline.convex_hull)
    hull = hull if LinearRing(hull).is_ccw else hull[::-1]
    sides = np.diff(hull, axis=0)
    lengths = np.hypot(*sides.T)
    # of several as long, the one for which the hide is turned least
    longest = int(np.argmax(np.where(lengths > lengths.max() - ALIKE_MM, sides[:, 0] / lengths, -math.inf)))
    angle = -math.degrees(math.atan2(sides[longest][1], sides[longest][0]))
    turned = affinity.rotate(hide.outline, angle, origin=(0, 0))
    x0, y0, _, _ = turned.bounds

    def lay(shape: Shape) -> Shape:
        return place(shape, -x0, -y0, angle)

    def at(x: float, y: float) -> Spot:
        spot = lay(Point(x, y))
        return spot.x, spot.y

    outline = lay(hide.outline)
    border = hide.outline.boundary
    corners = shapely.get_coordinates(outline.exterior)
    x, y = corners[np.argmin(corners[:, 0])].tolist()
    parts = []
    for number, copies in enumerate(templates, 1):
        ends = drawn_ends(copies[0])
        for copy, placement in enumerate(copies, 1):
            spots = [place(Point(end), placement.x, placement.y, placement.angle) for end in ends]
            a, b = (at(spot.x, spot.y) for spot in spots)
            edges = border.distance(spots[0]), border.distance(spots[1])
            parts.append(Lying(f"{number}.{copy}", placement, lay(placement.outline), a, b, edges))
    spine = None if hide.backbone is None else (at(*hide.backbone[0]), at(*hide.backbone[1]))
    return Corner(outline, (at(*hull[longest]), at(*hull[longest + 1])), (x, y), spine, tuple(parts))


def drawn_ends(placement: Placement) -> tuple[Spot, Spot]:
    """The points a and b of a part's template, in its drawing as it is laid: where its middle line meets its edge."""
    return middle_ends(place(place(placement.outline, -placement.x, -placement.y, 0.0), 0.0, 0.0, -placement.angle))
