"""Where panels as big as the bed lie on a hide so that they are of whole leather, its ragged rim left aside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon

from ..leather.knife import Way, cut_across, divide, reach
from ..model import Cut
from .limits import DEFAULT, PlanLimits

Corner = tuple[float, float]
"""Where a panel begins, along its strip and in the direction that strips are taken off, mm from the origin."""
_Slice = tuple[Polygon, float | None]


class Grid(NamedTuple):
    """Strips by where they begin in the direction that strips are taken off, each with where its panels begin along it;
    what the panels are worth, one that is all leather 1."""

    strips: tuple[tuple[float, tuple[float, ...]], ...]
    worth: float


class Sliced(NamedTuple):
    """Leather cut into the panels of a grid, each with its corner, and the rest, by these knife lines."""

    panels: list[tuple[Polygon, Corner]]
    rest: list[Polygon]
    cuts: list[Cut]


def cut_out(hide_id: str, leather: Polygon, way: Way, limits: PlanLimits = DEFAULT) -> Sliced:
    """Cut leather into the panels that are worth most together and what lies around them, strip by strip."""
    found = Sliced([], [], [])

    def slices(bits: list[Polygon], towards_deg: float, size: float, lows: Sequence[float]) -> list[_Slice]:
        """Leather cut where each of some stretches begins and ends, with where the one begins that each bit lies in."""
        for place in (at for low in lows for at in (low, low + size)):
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
            (bit, next((low for low in lows if low < middle < low + size), None)) for bit, middle in zip(bits, middles)
        ]

    strips = dict(grid(leather, way, limits).strips)
    for strip, off in slices([leather], way.off_deg, way.wide_mm, list(strips)):
        if off is None:
            found.rest.append(strip)
            continue
        for piece, along in slices([strip], way.along_deg, way.long_mm, strips[off]):
            if along is None:
                found.rest.append(piece)
            else:
                found.panels.append((piece, (along, off)))
    return found


def grid(leather: Polygon, way: Way, limits: PlanLimits = DEFAULT) -> Grid:
    """The panels of full length and width, in straight strips, that are worth most together.

    Parameters
    ----------
    leather : Polygon
    way : Way
        Gives the directions and the size of the panels.
    limits : PlanLimits, optional

    Returns
    -------
    Grid

    Notes
    -----
    Panels and strips begin at the crossings of a fine grid. Of these the best are found by dynamic programming, along
    each strip and then over the strips; how much of a panel is leather is read off a summed-area table (Crow 1984).
    """
    across, along = round(way.wide_mm / limits.grid_mm) or 1, round(way.long_mm / limits.grid_mm) or 1
    steps = np.array([way.long_mm / along, way.wide_mm / across])
    turn = math.radians(way.along_deg)
    axes = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    corners = shapely.get_coordinates(leather) @ axes.T
    low = corners.min(axis=0)
    columns, rows = (math.ceil(count) for count in np.ptp(corners, axis=0) / steps)
    if columns < along or rows < across:
        return Grid((), 0.0)
    middles = np.moveaxis(np.indices((rows, columns)), 0, -1)[..., ::-1] + 0.5
    points = (low + middles * steps) @ axes
    there = np.zeros((rows + 1, columns + 1))
    there[1:, 1:] = shapely.contains_xy(leather, points[..., 0], points[..., 1]).cumsum(axis=0).cumsum(axis=1)
    inside = there[across:, along:] - there[across:, :-along] - there[:-across, along:] + there[:-across, :-along]
    values = np.maximum(1.0 - limits.grid_whole * (1.0 - inside / (across * along)), 0.0)
    best = np.zeros((rows - across + 1, columns + 1))
    for column in range(columns - along, -1, -1):
        best[:, column] = np.maximum(best[:, column + 1], values[:, column] + best[:, column + along])
    total = np.zeros(rows + 1)
    for row in range(rows - across, -1, -1):
        total[row] = max(total[row + 1], best[row, 0] + total[row + across])
    strips, row = [], 0
    while row <= rows - across:
        if total[row] > total[row + 1]:
            panels, column = [], 0
            while column <= columns - along:
                taken = best[row, column] > best[row, column + 1]
                panels += [float(low[0] + column * steps[0])] if taken else []
                column += along if taken else 1
            strips.append((float(low[1] + row * steps[1]), tuple(panels)))
            row += across
        else:
            row += 1
    return Grid(tuple(strips), float(total[0]))
