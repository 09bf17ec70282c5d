"""What the referee finds, and the measuring that its rules share."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeAlias, TypeGuard

import numpy as np
import numpy.typing as npt
import shapely
from rtree import index
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from ..model import counted
from .exact import Edges, apart, closer, leaves, on_grid, overlap, steps
from .limits import DEFAULT, RefereeLimits

Areas: TypeAlias = npt.NDArray[np.object_]
"""An array of areas."""


@dataclass(frozen=True)
class Finding:
    """One broken rule: its number (1 to 13), what it is about, who breaks it, the value found and the bound."""

    rule: int
    what: str
    who: str
    value: str
    bound: str

    def __str__(self) -> str:
        line = f"rule {self.rule}, {self.what}: {self.who}: {self.value}, must be {self.bound}"
        return " ".join(line.split())


class Findings(list[Finding]):
    """What the referee finds, by rule: a list that prints as one finding a line, and how many there are."""

    def __repr__(self) -> str:
        if not self:
            return "every rule holds"
        return "\n".join([*map(str, self), counted(len(self), "finding")])


def is_area(shape: BaseGeometry) -> TypeGuard[Polygon]:
    return isinstance(shape, Polygon) and is_finite(shape) and shape.is_valid and shape.area > 0


def is_finite(shapes: BaseGeometry | Sequence[BaseGeometry]) -> bool:
    return bool(np.isfinite(shapely.get_coordinates(shapes)).all())


def near(first: Areas | Sequence[Polygon], second: Areas | Sequence[Polygon], reach_mm: float) -> npt.NDArray[np.int64]:
    """Index pairs, (2, n), of shapes whose boxes come within a reach of each other."""
    # An index of another make than shapely's, with which the engine proves its own answers.
    tree = index.Index()
    for number, shape in enumerate(second):
        tree.insert(number, shape.bounds)
    boxes = shapely.bounds(np.array(first, object)).reshape(-1, 4) + np.array([-1, -1, 1, 1]) * reach_mm
    pairs = [(i, j) for i, box in enumerate(boxes) for j in sorted(tree.intersection(box))]
    return np.array(pairs, int).reshape(-1, 2).T


def too_near(
    first: Areas, second: Areas, bound_mm: float, limits: RefereeLimits = DEFAULT
) -> Iterator[tuple[int, float, float]]:
    """Which areas of two arrays come nearer than a bound: position, distance in mm, and mm2 shared.

    An overlap no deeper than the slack counts as a touch.
    """
    bound, slack = steps(bound_mm) - steps(limits.slack_mm), steps(limits.slack_mm)
    laid: dict[int, Edges] = {}
    for n, pair in enumerate(zip(first, second)):
        one, other = (laid.get(id(area)) or laid.setdefault(id(area), on_grid(area)) for area in pair)
        if not overlap(one, other, slack) if bound <= 0 else apart(one, other, bound):
            continue
        shared = 0.0
        if bound <= 0 or overlap(one, other, slack):
            shared = shapely.intersection(*pair, grid_size=limits.grid_mm).area
        yield n, pair[0].distance(pair[1]), shared


def outside(area: Polygon, shapes: Areas, limits: RefereeLimits = DEFAULT) -> Iterator[tuple[int, float]]:
    """Which shapes reach more than the slack outside an area: position, and mm2 outside."""
    around, slack = on_grid(area), steps(limits.slack_mm)
    for n, shape in enumerate(shapes):
        if leaves(on_grid(shape), around, slack):
            yield n, shape.difference(area).area


def near_edge(area: Polygon, shapes: Areas, bound_mm: float, limits: RefereeLimits = DEFAULT) -> Iterator[int]:
    """Which shapes have an edge nearer than a bound to one of an area."""
    around, bound = on_grid(area), steps(bound_mm) - steps(limits.slack_mm)
    if bound > 0:
        yield from (n for n, shape in enumerate(shapes) if closer(on_grid(shape), around, bound))
