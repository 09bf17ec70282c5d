"""Lines as they are drawn and burnt: straight stretches and circular arcs, exact where polygons have chords."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString, Polygon

Floats = npt.NDArray[np.float64]
Node = tuple[float, float, float]

MOST_TURN_DEG = 30.0
"""A chord never stands for more of an arc than this, so that small circles stay round."""
_STRAIGHT = 1e-9
"""A bulge smaller than this is rounding: over 1 m its arc rises by half a millionth of a mm."""


class Circle(NamedTuple):
    """A full circle: its centre and radius, mm, and whether it runs counter-clockwise."""

    x: float
    y: float
    radius: float
    left: bool


class Arc(NamedTuple):
    """A circular arc: centre, radius, angle of its start and how far it turns, radians, positive counter-clockwise."""

    centre: complex
    radius: float
    start: float
    sweep: float


@dataclass(frozen=True)
class Curve:
    """A line of straight stretches and circular arcs.

    Each of its ``nodes`` is (x, y, bulge): from there the line goes on to the next node, and of a ``closed`` one from
    the last to the first. The bulge is the tangent of a quarter of the angle by which it turns on the way, positive
    counter-clockwise, as in DXF: 0 is straight, 1 half a circle.
    """

    nodes: tuple[Node, ...]
    closed: bool = False

    def __post_init__(self) -> None:
        if any(0 < abs(bulge) <= _STRAIGHT for *_, bulge in self.nodes):
            straight = tuple((x, y, bulge if abs(bulge) > _STRAIGHT else 0.0) for x, y, bulge in self.nodes)
            object.__setattr__(self, "nodes", straight)

    @classmethod
    def of(cls, line: LineString | Polygon) -> Curve:
        """The straight stretches of a line, or of the outer edge of a polygon."""
        ring = line.exterior if isinstance(line, Polygon) else line
        points = shapely.get_coordinates(ring).tolist()
        closed = ring.is_closed and len(points) > 3
        return cls(tuple((x, y, 0.0) for x, y in (points[:-1] if closed else points)), closed)

    def stretches(self) -> Iterator[tuple[complex, complex, float]]:
        """Start, end and bulge of every stretch."""
        points = [complex(x, y) for x, y, _ in self.nodes]
        ends = points[1:] + points[:1] if self.closed else points[1:]
        for start, end, (_, _, bulge) in zip(points, ends, self.nodes):
            yield start, end, bulge

    def flattened(self, tolerance_mm: float) -> LineString:
        """Chords of the line, no farther from it than asked; corners and ends lie on it."""
        corners: list[complex] = []
        end = complex(*self.nodes[0][:2])
        for start, end, bulge in self.stretches():
            corners.append(start)
            if bulge:
                corners += _between(arc(start, end, bulge), tolerance_mm)
        points = np.array([*corners, end])
        return LineString(np.column_stack([points.real, points.imag]))

    @property
    def length(self) -> float:
        """In mm."""
        return sum(stretch_length(*stretch) for stretch in self.stretches())

    @cached_property
    def circle(self) -> Circle | None:
        """The circle that it is all round; None for every other line."""
        if not self.closed or not all(bulge for *_, bulge in self.nodes):
            return None
        arcs = [arc(*stretch) for stretch in self.stretches()]
        first = arcs[0]
        near = 1e-6 * max(1.0, first.radius)
        same = all(abs(a.centre - first.centre) <= near and abs(a.radius - first.radius) <= near for a in arcs)
        if not same or abs(abs(sum(a.sweep for a in arcs)) - 2 * math.pi) > 1e-6:
            return None
        return Circle(first.centre.real, first.centre.imag, first.radius, first.sweep > 0)

    def placed(self, x: float, y: float, angle: float) -> Curve:
        """Turned by ``angle`` degrees about the origin, then moved by (x, y)."""
        cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        nodes = tuple((cos * a - sin * b + x, sin * a + cos * b + y, bulge) for a, b, bulge in self.nodes)
        return Curve(nodes, self.closed)

    @property
    def mirrored(self) -> Curve:
        """Flipped left to right about the y axis."""
        return Curve(tuple((0.0 - x, y, 0.0 - bulge) for x, y, bulge in self.nodes), self.closed)

    @property
    def backwards(self) -> Curve:
        """Run through from its end; a closed one keeps its first node."""
        nodes, bulges = self.nodes[::-1], [0.0 - bulge for *_, bulge in self.nodes][::-1]
        if self.closed:
            nodes = (nodes[-1], *nodes[:-1])
            return Curve(tuple((x, y, bulge) for (x, y, _), bulge in zip(nodes, bulges)), True)
        return Curve(tuple((x, y, bulge) for (x, y, _), bulge in zip(nodes, [*bulges[1:], 0.0])))


@dataclass(frozen=True)
class Curves:
    """The lines of a part exactly as drawn, where its polygons have chords for arcs."""

    outline: Curve
    cutouts: tuple[Curve, ...] = ()
    stitch: tuple[Curve, ...] = ()
    engrave: tuple[Curve, ...] = ()

    @property
    def counts(self) -> tuple[int, ...]:
        """How many cutouts, stitch lines and lines of engraving there are."""
        return tuple(map(len, self._others))

    @property
    def mirrored(self) -> Curves:
        """Flipped left to right about the y axis."""
        return Curves(self.outline.mirrored, *(tuple(curve.mirrored for curve in more) for more in self._others))

    def placed(self, x: float, y: float, angle: float) -> Curves:
        """Turned by ``angle`` degrees about the origin, then moved by (x, y)."""
        others = (tuple(curve.placed(x, y, angle) for curve in more) for more in self._others)
        return Curves(self.outline.placed(x, y, angle), *others)

    @property
    def _others(self) -> tuple[tuple[Curve, ...], ...]:
        return self.cutouts, self.stitch, self.engrave


def arc(start: complex, end: complex, bulge: float) -> Arc:
    """The arc from one point to another with a bulge that is not 0."""
    chord = end - start
    centre = (start + end) / 2 + 1j * chord * (1 - bulge * bulge) / (4 * bulge)
    away = start - centre
    return Arc(centre, abs(away), math.atan2(away.imag, away.real), 4 * math.atan(bulge))


def stretch_length(start: complex, end: complex, bulge: float) -> float:
    """Length of a stretch, mm."""
    if not bulge:
        return abs(end - start)
    found = arc(start, end, bulge)
    return found.radius * abs(found.sweep)


def _between(found: Arc, tolerance_mm: float) -> list[complex]:
    """Points inside an arc such that no chord is off by more than the tolerance: r (1 - cos(step / 2))."""
    step = math.radians(MOST_TURN_DEG)
    if found.radius * (1 - math.cos(step / 2)) > tolerance_mm:
        step = 4 * math.asin(math.sqrt(tolerance_mm / (2 * found.radius)))
    count = max(1, math.ceil(abs(found.sweep) / step - 1e-9))
    angles = found.start + found.sweep * np.arange(1, count) / count
    points: list[complex] = (found.centre + found.radius * np.exp(1j * angles)).tolist()
    return points
