"""Rows of equal small holes, as stitch holes are."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .arrays import Floats
from .limits import METHOD

ROWS = METHOD.rows


@dataclass(frozen=True)
class Row:
    """Holes a stitch apart: their places in mm, their common diameter and the distance from each to the next."""

    places: tuple[tuple[float, float], ...]
    diameter_mm: float
    pitch_mm: float


def rows_of(holes: Floats) -> tuple[list[Row], list[tuple[float, float, float]]]:
    """Sort round holes into rows of stitch holes and others.

    Parameters
    ----------
    holes : (n, 3) array
        Middle and radius of each, mm.

    Returns
    -------
    rows : list of Row
        Of three holes or more, small, about as wide as each other and as far apart; those of one row share a diameter.
    others : list of (x, y, radius)
    """
    small = np.flatnonzero(2 * holes[:, 2] <= ROWS.widest_mm)
    apart = np.hypot(*np.moveaxis(holes[small, None, :2] - holes[None, small, :2], -1, 0))
    apart[np.diag_indices(len(small))] = np.inf
    next_to = apart.min(axis=1, initial=np.inf)
    wide = holes[small, 2]
    alike = np.abs(wide[:, None] - wide) <= ROWS.alike_mm + ROWS.alike_share * np.maximum(wide[:, None], wide)
    linked = (apart <= ROWS.linked_times * np.minimum(next_to[:, None], next_to)) & alike & (apart <= ROWS.longest_mm)
    rows: list[Row] = []
    taken = np.zeros(len(small), bool)
    for start in range(len(small)):
        if taken[start]:
            continue
        row, fresh = [start], [start]
        taken[start] = True
        while fresh:
            more = np.flatnonzero(linked[fresh].any(axis=0) & ~taken)
            taken[more] = True
            fresh = more.tolist()
            row += fresh
        many = holes[small[row]]
        near = next_to[row].min() < ROWS.nearest_times * 2 * float(np.median(many[:, 2]))
        if len(row) < ROWS.fewest or near:
            taken[row] = False
            taken[start] = True
            continue
        order = _in_turn(apart[np.ix_(row, row)])
        steps = np.hypot(*np.diff(many[order, :2], axis=0).T)
        # the errors of places between the ends cancel in the mean; a hole that was missed counts for nothing
        pitch = steps[steps <= ROWS.linked_times * np.median(steps)].mean()
        places = tuple((float(x), float(y)) for x, y in many[order, :2])
        rows.append(Row(places, float(2 * np.median(many[:, 2])), float(pitch)))
    in_rows = {place for row in rows for place in row.places}
    return rows, [(x, y, radius) for x, y, radius in holes.tolist() if (x, y) not in in_rows]


def _in_turn(apart: Floats) -> list[int]:
    """From one end of a row to the other, the nearest next: begun at the hole with fewest near it."""
    near = (apart <= ROWS.linked_times * apart.min()).sum(axis=1)
    order = [int(np.argmin(near))]
    while len(order) < len(apart):
        away = apart[order[-1]].copy()
        away[order] = np.inf
        order.append(int(np.argmin(away)))
    return order
