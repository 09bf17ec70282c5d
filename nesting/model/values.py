"""Grades, units and the checks that the value objects share."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely.geometry import Polygon

from ..errors import ModelError

GRADES = ("A", "B", "C", "D", "E")
MM2_PER_DM2 = 10_000.0
MM2_PER_SQ_FT = 92_903.04
"""1 sq ft = 0.09290304 m2 exactly (international foot, 1959)."""
MM_PER_OZ = 25.4 / 64
"""1 oz of leather thickness = 1/64 in."""
THICKEST_MM = 20.0
"""No leather is thicker; guards against tenths of a mm, or ounces, given for mm."""
MOST_COPIES = 10_000
"""Of a part in a product, or of a product in an order line; guards against a slip of the keys."""
Point = tuple[float, float]


def counted(count: int, thing: str) -> str:
    """A count with its noun: ``1 hide``, ``3 hides``."""
    return f"{count} {thing}{'' if count == 1 else 's'}"


def agreed(count: int, one: str, more: str) -> str:
    """A count with what is said of one, or of more: ``1 line lies``, ``3 lines lie``."""
    return f"{count} {one if count == 1 else more}"


def ranges(numbers: Sequence[int]) -> str:
    """Numbers in a few words: 1, 3 to 5."""
    runs: list[list[int]] = []
    for number in sorted(numbers):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(str(run[0]) if len(run) == 1 else f"{run[0]} to {run[-1]}" for run in runs)


def positive(thing: str, value: float, *, zero: bool = False, top: float = 1e5) -> None:
    if not (math.isfinite(value) and (value > 0 or (zero and value == 0)) and value <= top):
        least = "0 or more" if zero else "more than 0"
        raise ModelError(thing, value, f"give a number {least} and at most {top:g}")


def graded(thing: str, value: str) -> None:
    if value not in GRADES:
        raise ModelError(thing, value, "give a grade from A (best) to E (worst)")


def simple(thing: str, polygon: Polygon) -> None:
    if polygon.is_empty or polygon.area <= 0:
        raise ModelError(thing, "empty", "give at least three corners that enclose an area")
    if not polygon.is_valid:
        raise ModelError(thing, shapely.is_valid_reason(polygon), "redraw it so that it does not cross or touch itself")
