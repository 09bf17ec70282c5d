"""Rows of equal small holes, as stitch holes are."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from .arrays import Floats
from .limits import METHOD
from .pieces import fit_circle

ROWS = METHOD.rows


@dataclass(frozen=True)
class Row:
    """Holes a stitch apart: their places in mm, their common diameter and the distance from each to the next; how many
    of them were put on lines and arcs at one pitch, and by how much at most."""

    places: tuple[tuple[float, float], ...]
    diameter_mm: float
    pitch_mm: float
    lined: int = 0
    moved_mm: float = 0.0


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


def lined_up(row: Row, most_mm: float) -> Row:
    """A row whose holes lie on straight lines and arcs at one pitch each, as far as they are so within what may be off.

    Parameters
    ----------
    row : Row
    most_mm : float
        By which the place of a hole may be off: none is moved farther, and where one would have to be, none of its
        stretch is.

    Returns
    -------
    Row
    """
    most = min(most_mm, ROWS.most_moved_mm)
    seen = np.array(row.places)
    places, lined, start = seen.copy(), 0, 0
    while start + ROWS.fewest_lined <= len(seen):
        best: tuple[int, Floats] | None = None
        for stop in range(start + ROWS.fewest_lined, len(seen) + 1):
            fitted = next((one for one in _fits(seen[start:stop]) if _farthest(one, seen[start:stop]) <= most), None)
            if fitted is not None:
                best = stop, fitted
        if best is None:
            start += 1
            continue
        places[start : best[0]] = best[1]
        lined += best[0] - start
        start = best[0]
    moved = tuple((float(x), float(y)) for x, y in places)
    return replace(row, places=moved, lined=lined, moved_mm=_farthest(places, seen))


def _farthest(places: Floats, others: Floats) -> float:
    return float(np.hypot(*(places - others).T).max())


def _fits(seen: Floats) -> Iterator[Floats]:
    """Holes in turn, (n, 2), at one pitch on a straight line, and on an arc, by least squares; a gap where one was
    missed is as many pitches long."""
    steps = np.hypot(*np.diff(seen, axis=0).T)
    number = np.concatenate([[0], np.cumsum(np.maximum(np.round(steps / np.median(steps)), 1))])
    even = np.column_stack([np.ones(len(seen)), number])
    yield even @ np.linalg.lstsq(even, seen, rcond=None)[0]
    circle = fit_circle(seen) if len(seen) >= ROWS.fewest_on_arc else None
    if circle is not None and circle[2] < ROWS.widest_arc_mm:
        x, y, radius, _ = circle
        turn = np.unwrap(np.arctan2(seen[:, 1] - y, seen[:, 0] - x))
        angle = even @ np.linalg.lstsq(even, turn, rcond=None)[0]
        yield np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])
