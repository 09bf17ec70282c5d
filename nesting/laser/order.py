"""In which order lines are burnt: by operation, inner before outer, and within that with little travel."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry import LineString, Point, Polygon

from ..model import OPERATIONS

ROUNDS = 3
PAIRS = 20_000_000
"""Stretches looked at for one operation; a bound in work and not in seconds gives the same order on any machine."""
LONGEST = 1000
"""Lines in the longest stretch that is turned."""


def burning_order(
    lines: Mapping[str, Sequence[LineString]], start: tuple[float, float] = (0.0, 0.0)
) -> dict[str, list[tuple[int, LineString]]]:
    """Order the lines of each operation so that the head travels little.

    Engraving comes first, then stitch holes and cutouts, outlines last, because a freed piece lifts and curls (common
    practice, no published source). Within an operation what lies inside a closed line is burnt before it. Within that:
    nearest neighbour, then 2-opt (Croes 1958). An open line may be burnt backwards and a closed one begun at any of its
    corners.

    Parameters
    ----------
    lines : mapping of str to sequence of LineString
        Lines by operation, mm.
    start : (x, y)
        Where the head waits, mm.

    Returns
    -------
    dict of str to list of (int, LineString)
        For every operation, in burning order: each line's index among those given, and the line as it is burnt.
    """
    ordered: dict[str, list[tuple[int, LineString]]] = {}
    head = np.array(start, float)
    for operation in OPERATIONS:
        given = lines.get(operation, ())
        ordered[operation] = []
        for layer in _layers(given):
            burnt = _Tour([given[index] for index in layer], head).lines()
            ordered[operation] += [(layer[k], line) for k, line in burnt]
            head = np.array(burnt[-1][1].coords[-1][:2])
    return ordered


def travel_mm(lines: Iterable[LineString], start: tuple[float, float] = (0.0, 0.0)) -> list[float]:
    """Length of the move that leads to each line when they are burnt as given, from ``start``, mm."""
    ends = np.array([(line.coords[0][:2], line.coords[-1][:2]) for line in lines]).reshape(-1, 2, 2)
    stops = np.vstack([[start], ends[:-1, 1]])
    return _apart(ends[:, 0], stops[: len(ends)]).tolist()


def _layers(lines: Sequence[LineString]) -> list[list[int]]:
    """Indices of lines, those inside the most closed lines first."""
    closed = [index for index, line in enumerate(lines) if _is_ring(line)]
    areas = [Polygon(lines[index]) for index in closed]
    depth = np.zeros(len(lines), int)
    if closed:
        spots = [Point(line.coords[0]) for line in lines]
        found = shapely.STRtree(areas).query(spots, predicate="within")
        for inner, ring in found.T:
            if closed[ring] != inner and areas[ring].is_valid and areas[ring].covers(lines[inner]):
                depth[inner] += 1
    return [np.flatnonzero(depth == level).tolist() for level in sorted(set(depth.tolist()), reverse=True)]


def _is_ring(line: LineString) -> bool:
    return line.is_closed and len(line.coords) > 3


class _Tour:
    """Lines in an order, each with the ends at which the head comes and goes; a closed one has the same for both."""

    def __init__(self, lines: list[LineString], head: np.ndarray):
        self.shapes = [np.asarray(line.coords)[:, :2] for line in lines]
        self.ring = np.array([_is_ring(line) for line in lines])
        self.head = head
        self.order = np.empty(len(lines), int)
        self.come = np.empty((len(lines), 2))
        self.go = np.empty((len(lines), 2))

    def lines(self) -> list[tuple[int, LineString]]:
        """The lines in a short order, as they are burnt."""
        self._nearest()
        budget = PAIRS
        for _ in range(ROUNDS):
            budget, better = self._two_opt(budget)
            if not self._enter() and not better:
                break
        return [(int(k), self._burnt(k, place)) for place, k in enumerate(self.order)]

    def _nearest(self) -> None:
        """Always the line with the nearest corner (or end, when it is open) next."""
        spots = [shape[:-1] if ring else shape[[0, -1]] for shape, ring in zip(self.shapes, self.ring)]
        points, owner = np.vstack(spots), np.repeat(np.arange(len(spots)), [len(spot) for spot in spots])
        left, head = np.ones(len(spots), bool), self.head
        search = _Search(points, owner, left)
        for place in range(len(spots)):
            pick = search.nearest(head)
            line = owner[pick]
            left[line] = False
            ends = self.shapes[line][[0, -1]]
            self.order[place] = line
            self.come[place] = points[pick]
            self.go[place] = points[pick] if self.ring[line] else ends[int((ends[0] == points[pick]).all())]
            head = self.go[place]

    def _two_opt(self, budget: int) -> tuple[int, bool]:
        """Turn stretches of the tour round, lines and all, while that shortens it; what is left of the budget."""
        better, improved = False, True
        count = len(self.order)
        while improved and budget > 0:
            improved = False
            for first in range(count):
                before = self.head if first == 0 else self.go[first - 1]
                # Turning first..last replaces the move to the first of them and the move away from the last.
                end = min(first + LONGEST, count)
                come, go, after = self.come[first:end], self.go[first:end], self.come[first + 1 : end + 1]
                saved = _apart(come[0], before) - _apart(go, before)
                saved[: len(after)] += _apart(after, go[: len(after)]) - _apart(after, come[0])
                last = first + int(np.argmax(saved))
                budget -= len(saved)
                if saved[last - first] > 1e-9:
                    turned = slice(first, last + 1)
                    self.order[turned] = self.order[turned][::-1].copy()
                    self.come[turned], self.go[turned] = self.go[turned][::-1].copy(), self.come[turned][::-1].copy()
                    improved = better = True
                if budget <= 0:
                    break
        return budget, better

    def _enter(self) -> bool:
        """Begin each closed line at the corner that suits the lines before and after it."""
        better = False
        for place, line in enumerate(self.order):
            if self.ring[line]:
                corners = self.shapes[line][:-1]
                detour = _apart(corners, self.head if place == 0 else self.go[place - 1])
                now = _apart(self.come[place], self.head if place == 0 else self.go[place - 1])
                if place + 1 < len(self.order):
                    detour = detour + _apart(corners, self.come[place + 1])
                    now = now + _apart(self.come[place], self.come[place + 1])
                if detour.min() < now - 1e-9:
                    self.come[place] = self.go[place] = corners[int(np.argmin(detour))]
                    better = True
        return better

    def _burnt(self, line: int, place: int) -> LineString:
        shape = self.shapes[line]
        if self.ring[line]:
            corner = int(np.argmin(_apart(shape[:-1], self.come[place])))
            return LineString(np.vstack([shape[corner:-1], shape[: corner + 1]]))
        return LineString(shape if (shape[0] == self.come[place]).all() else shape[::-1])


class _Search:
    """The nearest point of those whose line is still ``left``."""

    def __init__(self, points: np.ndarray, owner: np.ndarray, left: np.ndarray):
        self.points, self.owner, self.left = points, owner, left
        self._plant()

    def nearest(self, head: np.ndarray) -> int:
        """Index of the point nearest to ``head``."""
        if self.calls >= self.lines / 2:
            self._plant()
        self.calls += 1
        count = 8
        while True:
            count = min(count, len(self.kept))
            near = self.kept[self.tree.query(head, k=np.arange(1, count + 1))[1]]
            near = near[self.left[self.owner[near]]]
            if near.size:
                return int(near[0])
            count *= 8

    def _plant(self) -> None:
        """A fresh tree once half of the lines are done, so that few of the points it finds are."""
        from scipy.spatial import cKDTree

        self.kept = np.flatnonzero(self.left[self.owner])
        self.tree = cKDTree(self.points[self.kept])
        self.lines, self.calls = int(self.left.sum()), 0


def _apart(a: np.ndarray, b: np.ndarray) -> np.ndarray:
    return np.hypot(a[..., 0] - b[..., 0], a[..., 1] - b[..., 1])
