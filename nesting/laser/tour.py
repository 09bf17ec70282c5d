"""A short way for the head over lines that may be burnt in any order."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import numpy.typing as npt
import shapely
from shapely.geometry import LineString

from ..geometry import Floats
from .entry import begun_at, entries, rings_among
from .limits import DEFAULT, LaserLimits

_ROWS = 48
"""Places looked at together: what is laid out for them then stays in a core's own memory."""


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
    """Lines in an order, each with the ends at which the head comes and goes; a closed one has the same for both.

    Both ways to shorten it take the first change that pays, from the front on. Which one that is, is found for many
    places at once: most of a search is for changes that are not there.
    """

    def __init__(
        self, lines: Sequence[LineString], head: Floats, limits: LaserLimits = DEFAULT, fixed: Collection[int] = ()
    ) -> None:
        self.given, self.limits = lines, limits
        self.ring, kept = rings_among(lines), frozenset(fixed)
        ends = shapely.get_coordinates(shapely.get_point(np.repeat(np.array(lines, object), 2), [0, -1] * len(lines)))
        self.doors = [
            entries(line, limits) if ring and number not in kept else ends[2 * number : 2 * number + 2 - ring]
            for number, (line, ring) in enumerate(zip(lines, self.ring.tolist()))
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

    def _before(self) -> Floats:
        """Where the head is before each line."""
        return np.vstack([self.head, self.go[:-1]])

    def _two_opt(self) -> bool:
        """Turn stretches of the tour round, lines and all, while that shortens it."""
        better, improved = False, True
        while improved and self.budget > 0:
            improved, first = False, 0
            while first < len(self.order) and self.budget > 0:
                rows = min(_ROWS, max(1, self.budget // self.limits.longest_turned))
                end = min(first + rows, len(self.order))
                turned = self._turn(first, end)
                if turned is not None:
                    improved = better = True
                first = end if turned is None else turned + 1
        return better

    def _turn(self, first: int, end: int) -> int | None:
        """Turn what saves most of the stretches that begin at the first of these places where one does; that place.

        Turning first..last replaces the move to the first of them and the move away from the last. That is shorter only
        where one of the new moves is shorter than the one it replaces, which few are.
        """
        reach = min(end - 1 + self.limits.longest_turned, len(self.order))
        before, come = self._before()[first:end], self.come[first:end]
        go, after = self.go[first:reach], self.come[first + 1 : reach + 1]
        to, away = apart(come, before), np.zeros(len(go))
        away[: len(after)] = apart(after, go[: len(after)])
        shorter = _nearer(before, go, to[:, None])
        shorter[:, : len(after)] |= _nearer(come, after, away[: len(after)])
        many = np.arange(len(go)) - np.arange(len(come))[:, None]
        possible = (many >= 0) & (many < self.limits.longest_turned)
        row, last = np.nonzero(shorter & possible)
        self.budget -= int(possible.sum())
        saved = to[row] - apart(go[last], before[row])
        inner = last < len(after)
        saved[inner] += away[last[inner]] - apart(after[last[inner]], come[row[inner]])
        pays = np.flatnonzero(saved > self.limits.better_mm)
        if not pays.size:
            return None
        one = pays[row[pays] == row[pays[0]]]
        best = one[np.argmax(saved[one])]
        turned = slice(first + row[best], first + last[best] + 1)
        self.order[turned] = self.order[turned][::-1].copy()
        self.come[turned], self.go[turned] = self.go[turned][::-1].copy(), self.come[turned][::-1].copy()
        return int(first + row[best])

    def _or_opt(self) -> bool:
        """Move stretches of up to three lines to where they cost less, turned round or not, while that shortens it."""
        better, improved = False, True
        while improved and self.budget > 0:
            improved = False
            for length in range(1, min(self.limits.longest_moved, len(self.order) - 1) + 1):
                first: int | None = 0
                while first is not None:
                    if self.budget <= 0:
                        return better or improved
                    first = self._move_one(first, length)
                    improved |= first is not None
            better |= improved
        return better

    def _move_one(self, first: int, length: int) -> int | None:
        """Move the first stretch from a place on for which that pays; the place after it."""
        count, before = len(self.order), self._before()
        places = np.arange(first, count - length + 1)
        saved = self._saved(places, length, before)
        worth = saved > self.limits.worth_mm
        places, saved = places[worth], saved[worth]
        for start in range(0, len(places), _ROWS):
            some = slice(start, start + _ROWS)
            for place in places[some][self._finds_place(places[some], saved[some], length, before)].tolist():
                if self._move(place, length):
                    return int(place) + 1
        return None

    def _saved(self, places: npt.NDArray[np.int64], length: int, before: Floats) -> Floats:
        """What the tour is shorter without the stretches that begin at these places."""
        saved = apart(self.come[places], before[places])
        inner = places[places + length < len(self.order)]
        after = self.come[inner + length]
        saved[: len(inner)] += apart(self.go[inner + length - 1], after) - apart(after, before[inner])
        return saved

    def _finds_place(
        self, places: npt.NDArray[np.int64], saved: Floats, length: int, before: Floats
    ) -> npt.NDArray[np.bool_]:
        """Which of some stretches, as given, may cost less elsewhere than is ``saved`` by taking them away.

        A stretch that goes in behind a line has to begin nearer to it than the saving and the gap there together.
        """
        count = len(self.order)
        behind, ahead = np.vstack([self.head, self.go]), self.come
        gap = np.zeros(count + 1)
        gap[:-1] = apart(behind[:-1], ahead)
        begins, ends = self.come[places], self.go[places + length - 1]
        ahead_by = np.arange(count + 1) - places[:, None]
        itself = (ahead_by >= 0) & (ahead_by <= length)
        self.budget -= 2 * itself.size
        found = np.zeros(len(places), bool)
        for begin, end in ((begins, ends), (ends, begins)):
            row, place = np.nonzero(_nearer(begin, behind, saved[:, None] + gap) & ~itself)
            cost = apart(behind[place], begin[row])
            within = place < count
            cost[within] += apart(ahead[place[within]], end[row[within]]) - gap[place[within]]
            found[row[cost < saved[row]]] = True
        # or turned round where it is
        here = apart(ends, before[places])
        inner = np.flatnonzero(places + length < count)
        after = ahead[places[inner] + length]
        here[inner] += apart(after, begins[inner]) - apart(after, before[places[inner]])
        return found | (here < saved)

    def _move(self, first: int, length: int) -> bool:
        """Move one stretch to where it costs least, where that is less than now."""
        end, count = first + length, len(self.order)
        come, go = self.come[first], self.go[end - 1]
        saved = self._saved(np.array([first]), length, self._before())[0]
        # What stays, with the head's own place in front: the stretch may go in behind any of it.
        stay = np.r_[0:first, end:count]
        behind = np.vstack([self.head, self.go[stay]])
        ahead = self.come[stay]
        gap = apart(behind[:-1], ahead)
        straight, turned = apart(behind, come), apart(behind, go)
        straight[:-1] += apart(ahead, go) - gap
        turned[:-1] += apart(ahead, come) - gap
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
        places = np.flatnonzero(self.ring[self.order])
        if not places.size:
            return False
        doors = [self.doors[line] for line in self.order[places]]
        starts = np.cumsum([0, *(len(each) for each in doors)])
        at = np.repeat(places, np.diff(starts))
        before, after = self._before(), np.vstack([self.come[1:], self.come[-1:]])
        points = np.vstack(doors)
        more = at + 1 < len(self.order)
        detour = apart(points, before[at])
        detour[more] += apart(points[more], after[at[more]])
        now = apart(self.come, before)
        now[:-1] += apart(self.come[:-1], after[:-1])
        look = np.zeros(len(self.order) + 1, bool)
        look[places] = np.minimum.reduceat(detour, starts[:-1]) < now[places] - self.limits.better_mm
        better = False
        for place in range(len(self.order)):
            if look[place] and self._enter_at(place):
                # the line after it may now be entered better elsewhere
                better = True
                look[place + 1] = place + 1 < len(self.order) and self.ring[self.order[place + 1]]
        return better

    def _enter_at(self, place: int) -> bool:
        doors, before = self.doors[self.order[place]], self.go[place - 1] if place else self.head
        detour = apart(doors, before)
        now = apart(self.come[place], before)
        if place + 1 < len(self.order):
            detour = detour + apart(doors, self.come[place + 1])
            now = now + apart(self.come[place], self.come[place + 1])
        if detour.min() >= now - self.limits.better_mm:
            return False
        self.come[place] = self.go[place] = doors[int(np.argmin(detour))]
        return True

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


def _nearer(a: Floats, b: Floats, than: Floats) -> npt.NDArray[np.bool_]:
    """Whether each of b is nearer to each of a than so many mm: a row for each of a."""
    x, y = b[:, 0] - a[:, 0, None], b[:, 1] - a[:, 1, None]
    x *= x
    y *= y
    x += y
    nearer: npt.NDArray[np.bool_] = x < than * than
    return nearer
