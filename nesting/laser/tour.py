"""A short way for the head over lines that may be burnt in any order."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt
from shapely.geometry import LineString

from ..geometry import Floats
from .entry import begun_at, entries, is_ring
from .limits import DEFAULT, LaserLimits


def short_tour(
    lines: Sequence[LineString],
    head: tuple[float, float],
    limits: LaserLimits = DEFAULT,
    fixed: Collection[int] = (),
) -> list[tuple[int, LineString]]:
    """Order lines so that the head travels little: nearest neighbour, then 2-opt (Croes 1958) and Or-opt (Or 1976).

    Parameters
    ----------
    lines : sequence of LineString
        An open one may be burnt backwards, a closed one begun at any of its entries (see `entry.entries`).
    head : (x, y)
        Where the head waits, mm.
    limits : LaserLimits, optional
    fixed : collection of int
        Closed lines that are begun where they are given.

    Returns
    -------
    list of (int, LineString)
        Index of each line among those given, and the line as it is burnt.
    """
    return _Tour(lines, np.asarray(head, float), limits, fixed).lines() if lines else []


class _Tour:
    """Lines in an order, each with the ends at which the head comes and goes; a closed one has the same for both."""

    def __init__(
        self, lines: Sequence[LineString], head: Floats, limits: LaserLimits = DEFAULT, fixed: Collection[int] = ()
    ) -> None:
        self.given, self.limits = lines, limits
        self.ring = np.array([is_ring(line) for line in lines])
        self.doors = [
            entries(line, limits)
            if ring and number not in fixed
            else np.asarray(line.coords)[[0] if ring else [0, -1], :2]
            for number, (line, ring) in enumerate(zip(lines, self.ring))
        ]
        self.head = head
        self.order = np.empty(len(lines), int)
        self.come = np.empty((len(lines), 2))
        self.go = np.empty((len(lines), 2))
        self.budget = limits.tour_changes

    def lines(self) -> list[tuple[int, LineString]]:
        self._nearest()
        for _ in range(self.limits.tour_rounds):
            better = self._two_opt()
            better |= self._or_opt()
            if not self._enter() and not better:
                break
        return [(int(line), self._burnt(line, place)) for place, line in enumerate(self.order)]

    def _nearest(self) -> None:
        """Always the line with the nearest entry next."""
        points, owner = np.vstack(self.doors), np.repeat(np.arange(len(self.doors)), [len(door) for door in self.doors])
        left, head = np.ones(len(self.doors), bool), self.head
        search = _Search(points, owner, left)
        for place in range(len(self.doors)):
            pick = search.nearest(head)
            line = owner[pick]
            left[line] = False
            ends = self.doors[line]
            self.order[place] = line
            self.come[place] = points[pick]
            self.go[place] = points[pick] if self.ring[line] else ends[int((ends[0] == points[pick]).all())]
            head = self.go[place]

    def _before(self, place: int) -> Floats:
        return self.head if place == 0 else self.go[place - 1]

    def _two_opt(self) -> bool:
        """Turn stretches of the tour round, lines and all, while that shortens it."""
        better, improved = False, True
        count = len(self.order)
        while improved and self.budget > 0:
            improved = False
            for first in range(count):
                # Turning first..last replaces the move to the first of them and the move away from the last.
                end = min(first + self.limits.longest_turned, count)
                come, go, after = self.come[first:end], self.go[first:end], self.come[first + 1 : end + 1]
                saved = apart(come[0], self._before(first)) - apart(go, self._before(first))
                saved[: len(after)] += apart(after, go[: len(after)]) - apart(after, come[0])
                last = first + int(np.argmax(saved))
                self.budget -= len(saved)
                if saved[last - first] > self.limits.better_mm:
                    turned = slice(first, last + 1)
                    self.order[turned] = self.order[turned][::-1].copy()
                    self.come[turned], self.go[turned] = self.go[turned][::-1].copy(), self.come[turned][::-1].copy()
                    improved = better = True
                if self.budget <= 0:
                    break
        return better

    def _or_opt(self) -> bool:
        """Move stretches of up to three lines to where they cost less, turned round or not, while that shortens it."""
        better, improved = False, True
        while improved and self.budget > 0:
            improved = False
            for length in range(1, min(self.limits.longest_moved, len(self.order) - 1) + 1):
                for first in range(len(self.order) - length + 1):
                    improved |= self._move(first, length)
                    if self.budget <= 0:
                        return better or improved
            better |= improved
        return better

    def _move(self, first: int, length: int) -> bool:
        end, count = first + length, len(self.order)
        come, go, before = self.come[first], self.go[end - 1], self._before(first)
        saved = apart(come, before)
        if end < count:
            saved += apart(go, self.come[end]) - apart(self.come[end], before)
        if saved <= self.limits.worth_mm:
            return False
        # What stays, with the head's own place in front: the stretch may go in behind any of it.
        stay = np.r_[0:first, end:count]
        behind = np.vstack([self.head, self.go[stay]])
        ahead = self.come[stay]
        gap = apart(behind[:-1], ahead)
        straight, turned = apart(behind, come), apart(behind, go)
        straight[:-1] += apart(ahead, go) - gap
        turned[:-1] += apart(ahead, come) - gap
        self.budget -= 2 * len(behind)
        places = straight, turned
        way = int(turned.min() < straight.min())
        place = int(np.argmin(places[way]))
        if saved - places[way][place] <= self.limits.better_mm:
            return False
        moved = np.arange(first, end)[:: -1 if way else 1]
        order = np.concatenate([stay[:place], moved, stay[place:]])
        come, go = self.come.copy(), self.go.copy()
        if way:
            come[moved], go[moved] = self.go[moved], self.come[moved]
        self.order, self.come, self.go = self.order[order], come[order], go[order]
        return True

    def _enter(self) -> bool:
        """Begin each closed line at the entry that suits the lines before and after it."""
        better = False
        for place, line in enumerate(self.order):
            if self.ring[line]:
                doors = self.doors[line]
                detour = apart(doors, self._before(place))
                now = apart(self.come[place], self._before(place))
                if place + 1 < len(self.order):
                    detour = detour + apart(doors, self.come[place + 1])
                    now = now + apart(self.come[place], self.come[place + 1])
                if detour.min() < now - self.limits.better_mm:
                    self.come[place] = self.go[place] = doors[int(np.argmin(detour))]
                    better = True
        return better

    def _burnt(self, line: int, place: int) -> LineString:
        given = self.given[line]
        if self.ring[line]:
            return begun_at(given, self.come[place])
        shape = np.asarray(given.coords)[:, :2]
        return LineString(shape if (shape[0] == self.come[place]).all() else shape[::-1])


class _Search:
    """The nearest point of those whose line is still ``left``."""

    def __init__(self, points: Floats, owner: npt.NDArray[np.int64], left: npt.NDArray[np.bool_]) -> None:
        self.points, self.owner, self.left = points, owner, left
        self._plant()

    def nearest(self, head: Floats) -> int:
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


def apart(a: Floats, b: Floats) -> Floats:
    """Distances between points, mm."""
    distances: Floats = np.hypot(a[..., 0] - b[..., 0], a[..., 1] - b[..., 1])
    return distances
