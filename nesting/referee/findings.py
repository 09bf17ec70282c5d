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
from .limits import DEFAULT, RefereeLimits

Areas: TypeAlias = npt.NDArray[np.object_]
"""An array of areas."""


@dataclass(frozen=True)
class Finding:
    """One broken rule: its number (1 to 10), what it is about, who breaks it, the value found and the bound."""

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
    """Which areas of two arrays come nearer than a bound: position, distance in mm, and mm2 shared."""
    slack = limits.slack_mm
    shapely.prepare(first)
    for n in np.flatnonzero(shapely.dwithin(first, second, max(bound_mm - slack, 0.0))).tolist():
        distance = first[n].distance(second[n])
        common = shapely.intersection(first[n], second[n], grid_size=limits.grid_mm)
        # An overlap no deeper than the slack counts as a touch.
        shared = 0.0 if common.buffer(-slack / 2).is_empty else common.area
        if shared or distance < bound_mm - slack:
            yield n, distance, shared


def outside(area: Polygon, shapes: Areas, limits: RefereeLimits = DEFAULT) -> Iterator[tuple[int, float]]:
    """Which shapes reach more than the slack outside an area: position, and mm2 outside."""
    shapely.prepare(area)
    leaving = np.flatnonzero(~shapely.covers(area, shapes))
    if leaving.size:
        grown = area.buffer(limits.slack_mm)
        for n in leaving[~shapely.covers(grown, shapes[leaving])].tolist():
            yield n, shapes[n].difference(area).area
