"""Where rows of panels as wide as the bed are of whole leather on a hide, its ragged rim left aside."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..leather.knife import Way, cut_across, divide, reach
from ..model import Cut
from .limits import DEFAULT, PlanLimits

Corner = tuple[float, float]
"""Where a panel begins, along its strip and in the direction that strips are taken off, mm from the origin."""
Stretch = tuple[float, float]
"""Where something begins and ends in a direction, mm from the origin."""


class Grid(NamedTuple):
    """Strips by where they begin in the direction that strips are taken off, each with its stretches of whole leather
    along it; what they are worth, in panels that are all leather."""

    strips: tuple[tuple[float, tuple[Stretch, ...]], ...]
    worth: float


class Sliced(NamedTuple):
    """Leather cut into panels, each with its corner, and the rest, by these knife lines."""

    panels: list[tuple[Polygon, Corner]]
    rest: list[Polygon]
    cuts: list[Cut]


def cut_out(
    hide_id: str, leather: Polygon, way: Way, lengths_mm: Mapping[Corner, float], limits: PlanLimits = DEFAULT
) -> Sliced:
    """Cut panels of these lengths out of leather, strip by strip, and what lies around them."""
    found = Sliced([], [], [])

    def slices(
        bits: list[Polygon], towards_deg: float, stretches: Sequence[Stretch]
    ) -> list[tuple[Polygon, float | None]]:
        """Leather cut where each of some stretches begins and ends, with where the one begins that each bit lies in."""
        for place in dict.fromkeys(place for stretch in stretches for place in stretch):
            left: list[Polygon] = []
            for bit in bits:
                low, high = reach(bit, towards_deg)
                if low + limits.least_gain_mm < place < high - limits.least_gain_mm:
                    found.cuts.append(cut_across(hide_id, bit, towards_deg, place))
                    left += (piece for side in divide(bit, towards_deg, place) for piece in side)
                else:
                    left.append(bit)
            bits = left
        middles = [sum(reach(bit, towards_deg)) / 2 for bit in bits]
        return [
            (bit, next((low for low, high in stretches if low < middle < high), None))
            for bit, middle in zip(bits, middles)
        ]

    rows = dict[float, list[Stretch]]()
    for (low, at), length in sorted(lengths_mm.items()):
        rows.setdefault(at, []).append((low, low + length))
    for strip, off in slices([leather], way.off_deg, [(off, off + way.wide_mm) for off in sorted(rows)]):
        if off is None:
            found.rest.append(strip)
            continue
        for piece, along in slices([strip], way.along_deg, rows[off]):
            if along is None:
                found.rest.append(piece)
            else:
                found.panels.append((piece, (along, off)))
    return found


def grid(leather: Polygon, way: Way, limits: PlanLimits = DEFAULT) -> Grid:
    """The stretches of whole leather, in straight strips as wide as a panel, that are worth most together.

    Parameters
    ----------
    leather : Polygon
    way : Way
        Gives the directions, the width of the strips and the length of a panel.
    limits : PlanLimits, optional

    Returns
    -------
    Grid

    Notes
    -----
    Strips and stretches begin at the crossings of a fine grid. Of these the best are found by dynamic programming,
    along each strip and then over the strips.
    """
    across, along = round(way.wide_mm / limits.grid_mm) or 1, round(way.long_mm / limits.grid_mm) or 1
    steps, least = np.array([way.long_mm / along, way.wide_mm / across]), math.ceil(limits.row_least * along)
    turn = math.radians(way.along_deg)
    axes = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    corners = shapely.get_coordinates(leather) @ axes.T
    low = corners.min(axis=0)
    columns, rows = (math.ceil(count) for count in np.ptp(corners, axis=0) / steps)
    if columns < least or rows < across:
        return Grid((), 0.0)
    middles = np.moveaxis(np.indices((rows, columns)), 0, -1)[..., ::-1] + 0.5
    points = (low + middles * steps) @ axes
    there = np.zeros((rows + 1, columns))
    there[1:] = shapely.contains_xy(leather, points[..., 0], points[..., 1]).cumsum(axis=0)
    # what the columns of each strip are worth, summed up to each of them
    sums = np.zeros((rows - across + 1, columns + 1))
    sums[:, 1:] = (1.0 - limits.grid_whole * (1.0 - (there[across:] - there[:-across]) / across)).cumsum(axis=1)
    best, ends = np.zeros_like(sums), np.full(len(sums), -math.inf)
    for column in range(columns - least, -1, -1):
        ends = np.maximum(ends, sums[:, column + least] + best[:, column + least])
        best[:, column] = np.maximum(best[:, column + 1], ends - sums[:, column])
    total = np.zeros(rows + 1)
    for row in range(rows - across, -1, -1):
        total[row] = max(total[row + 1], best[row, 0] + total[row + across])
    strips, row = [], 0
    while row <= rows - across:
        if total[row] > total[row + 1]:
            stretches, column = list[Stretch](), 0
            while column <= columns - least:
                if best[row, column] > best[row, column + 1]:
                    # of those that are worth as much the longest
                    worth = (sums[row] + best[row])[: column + least - 1 : -1]
                    end = columns - int(worth.argmax())
                    stretches.append((float(low[0] + column * steps[0]), float(low[0] + end * steps[0])))
                    column = end
                else:
                    column += 1
            strips.append((float(low[1] + row * steps[1]), tuple(stretches)))
            row += across
        else:
            row += 1
    return Grid(tuple(strips), float(total[0]) / along)
