"""Surveying a container: overlap summed over a coarse grid of the places an item may take, and the dips that show in
it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .compiled import kernel, kernel_loop
from .handed import Handed
from .limits import COMPILED

TRIED, VIEWS, DIPS, DIP_BAR = COMPILED.descended_poses, COMPILED.views, COMPILED.dips, COMPILED.dip_bar
CELL, LEAST_NODES, NODES = COMPILED.survey_cell, COMPILED.least_survey_nodes, COMPILED.most_survey_nodes
MOST_PLANES = COMPILED.most_planes


@dataclass(frozen=True, eq=False)
class Scratch(Handed):
    """Room for the moves of one item. A view is what the item meets when it is turned one way."""

    best: np.ndarray  # (TRIED, 5) cost, x, y, angle, row
    near: np.ndarray  # (items,) the items, or the entries of a view, that count
    factors: np.ndarray  # (items,) what a millimetre of overlap with each costs
    rows: np.ndarray  # (views,) row of the angle list
    maps: np.ndarray  # (views, items, 6) place in the table's cells: [0] + [1] x + [2] y and [3] + [4] x + [5] y
    tables: np.ndarray  # (views, items)
    reaches: np.ndarray  # (views, 1 + MOST_PLANES) reach along the container's axis and towards each wall
    field: np.ndarray  # (NODES,)
    dips: np.ndarray  # (DIPS, 3) overlap, x, y


def scratch_room(count: int) -> Scratch:
    """Scratch for so many items."""
    best, field, dips = np.empty((TRIED, 5)), np.empty(NODES), np.empty((DIPS, 3))
    near, factors = np.empty(count, np.int64), np.empty(count)
    rows, maps, tables = np.empty(VIEWS, np.int64), np.empty((VIEWS, count, 6)), np.empty((VIEWS, count), np.int64)
    return Scratch(best, near, factors, rows, maps, tables, np.empty((VIEWS, 1 + MOST_PLANES)), field, dips)


@kernel()
def keep(best, cost, x, y, angle, row):
    """Put a pose among the best ones, kept in order of cost."""
    place = TRIED - 1
    while place > 0 and best[place - 1, 0] > cost:
        for k in range(5):
            best[place, k] = best[place - 1, k]
        place -= 1
    best[place, 0], best[place, 1], best[place, 2], best[place, 3], best[place, 4] = cost, x, y, angle, row


@kernel_loop()
def lay_grid(world, limits, c, t, cos, sin):
    """Lay a grid over the places where a turned shape lies within its container's bounds: a0, b0, da, db, rows,
    columns.

    Node (p, q) lies a0 + p * da along the container's axis and b0 + q * db to its left. There are no rows when the
    shape does not fit. Half of the time the grid is moved about by up to a cell.
    """
    ux, uy = world.away[c, 0], world.away[c, 1]
    low, high, right, left = np.inf, -np.inf, np.inf, -np.inf
    for k in range(world.hull_off[t], world.hull_off[t + 1]):
        hx, hy = world.hull[k, 0] * cos - world.hull[k, 1] * sin, world.hull[k, 0] * sin + world.hull[k, 1] * cos
        along, side = hx * ux + hy * uy, hy * ux - hx * uy
        low, high, right, left = min(low, along), max(high, along), min(right, side), max(left, side)
    a0, b0 = world.span[c, 0] - low, world.span[c, 2] - right
    length, width = min(limits[c], world.span[c, 1]) - high - a0, world.span[c, 3] - left - b0
    if length < 0.0 or width < 0.0:
        return a0, b0, 1.0, 1.0, 0, 0
    nodes = min(max(length * width / (CELL * world.radius[t]) ** 2, LEAST_NODES), NODES)
    cell = max(math.sqrt(length * width / nodes), length / 100, width / 100, 1e-9)
    rows, columns = int(length / cell) + 1, int(width / cell) + 1
    while rows * columns > NODES:
        cell *= 1.03
        rows, columns = int(length / cell) + 1, int(width / cell) + 1
    da, db = max(length / max(rows - 1, 1), 1e-9), max(width / max(columns - 1, 1), 1e-9)
    if rows > 1 and columns > 1 and np.random.random() < 0.5:
        a0 += da * np.random.random()
        b0 += db * np.random.random()
        rows, columns = rows - 1, columns - 1
    return a0, b0, da, db, rows, columns


@kernel_loop()
def find_dips(world, c, scratch, a0, b0, da, db, rows, columns, bar):
    """List the nodes of ``field`` lower than all next to them and than ``bar``, lowest first, in ``dips``; the others
    are ``bar``."""
    ux, uy, field, dips = world.away[c, 0], world.away[c, 1], scratch.field, scratch.dips
    dips[:, 0] = bar
    for p in range(rows):
        for q in range(columns):
            node = p * columns + q
            value = field[node]
            if (
                value < dips[DIPS - 1, 0]
                and not (p > 0 and field[node - columns] < value)
                and not (p < rows - 1 and field[node + columns] < value)
                and not (q > 0 and field[node - 1] < value)
                and not (q < columns - 1 and field[node + 1] < value)
            ):
                place = DIPS - 1
                while place > 0 and dips[place - 1, 0] > value:
                    dips[place, 0], dips[place, 1], dips[place, 2] = (
                        dips[place - 1, 0],
                        dips[place - 1, 1],
                        dips[place - 1, 2],
                    )
                    place -= 1
                a, b = a0 + p * da, b0 + q * db
                dips[place, 0], dips[place, 1], dips[place, 2] = value, a * ux - b * uy, a * uy + b * ux
