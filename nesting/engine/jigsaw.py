"""A layout begun as a jigsaw is: where items, no two of them alike, would all but fill their containers, each is laid
where most of its border runs along the border of what is still free, the surest first.

Places are found by votes: an edge of an item that runs as an edge of the free region does, or, where items may be
turned, that is as long or begins at such a corner, says where the item would lie with their ends together; where many
say the same, it is tried.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from .arrays import Bools, Floats, State
from .kernels import allowed_angle
from .openings import settle
from .placer import Placer
from .world import polygon_edges


class _Border(NamedTuple):
    """Edges of an item, (n, 2, 2); points spread over them, the direction there and the length that each stands for."""

    edges: Floats
    points: Floats
    ways: Floats
    lengths: Floats


class _Fit(NamedTuple):
    """How well an item would lie at a pose of the state: the length of its border that runs along that of the free
    region, times its share."""

    worth: float
    item: int
    pose: Floats


class Jigsaw:
    """Begins layouts of items that would all but fill their containers.

    Parameters
    ----------
    placer : Placer
    """

    def __init__(self, placer: Placer) -> None:
        self.placer, self.given, self.limits = placer, placer.given, placer.given.limits
        world, limits = self.given.world, self.limits
        room, wanted, count = float(world.room.sum()), float(self.given.sizes.sum()), len(self.given.sizes)
        low, high = limits.jigsaw_shares
        unlike = len(np.unique(world.item_shape)) == count
        self.left = unlike and low * room <= wanted <= high * room and 1 < count <= limits.most_jigsaw_items
        self._borders: dict[int, _Border] = {}

    def layout(self, over: Callable[[], bool]) -> State | None:
        """A layout of what fits together, once; None when items are not such, or nothing fits.

        When ``over`` says that the search is to end, it is of what was laid by then.
        """
        if not self.left:
            return None
        self.left = False
        world = self.given.world
        state = np.full((len(self.given.sizes), 5), -1.0)
        for c in self.placer.order.tolist():
            laid = True
            while laid and not over():
                out = np.nonzero((state[:, 0] < 0) & world.item_open[:, c])[0]
                items = [item for item in out.tolist() if self.given.same_site(item, state)[c]]
                fits = self._fits(items, c, self._free(state, c), over)
                laid = any(self._lay(state, c, fit) for fit in fits[: self.limits.jigsaw_tries])
        return state if (state[:, 0] >= 0).any() else None

    def _lay(self, state: State, c: int, fit: _Fit) -> bool:
        """Lay an item, worked in or parted from what it overlaps a little; false when that moves anything far."""
        here, limits = np.nonzero(state[:, 0] == c)[0], self.limits
        world, pose = self.given.world, fit.pose.copy()
        if settle(world, c, world.item_shape[fit.item], pose, state, here, 0.5 * limits.jigsaw_mm, 200, False):
            state[fit.item] = pose
            return True
        here = np.append(here, fit.item)
        before = state[here]
        before[-1] = fit.pose
        trial = before.copy()
        if self.placer.part(trial, here, c, np.inf, limits.least_patience) > 0.0:
            return False
        if np.abs(trial - before)[:, 1:3].max() > 4.0 * limits.jigsaw_mm:
            return False
        state[here] = trial
        return True

    def _free(self, state: State, c: int) -> BaseGeometry:
        """What is left of a container, without slivers."""
        here = np.nonzero(state[:, 0] == c)[0]
        laid = [self._turned(int(self.given.world.item_shape[item]), state[item]) for item in here]
        left = self.given.problem.containers[c].region.difference(shapely.union_all(laid))
        sliver = 0.45 * self.limits.jigsaw_mm
        return left.buffer(-sliver, join_style="mitre").buffer(sliver, join_style="mitre")

    def _turned(self, shape: int, pose: Floats) -> Polygon:
        turn = _turning(pose[3])
        return shapely.transform(self.given.outlines[shape], lambda xy: xy @ turn + pose[1:3])

    def _fits(self, items: list[int], c: int, free: BaseGeometry, over: Callable[[], bool]) -> list[_Fit]:
        """The best place of each of some items, the worthiest first; of none when the search is to end."""
        edges = polygon_edges(shapely.orient_polygons(free)).reshape(-1, 2, 2)
        edges = edges[np.hypot(*(edges[:, 1] - edges[:, 0]).T) > 0]
        if len(edges) == 0:
            return []
        tree, fits = shapely.STRtree(shapely.linestrings(edges)), list[_Fit]()
        for item in items:
            if over():
                return []
            fits += self._fit(item, c, free, edges, tree)
        return sorted(fits, key=lambda fit: -fit.worth)

    def _fit(self, item: int, c: int, free: BaseGeometry, edges: Floats, tree: shapely.STRtree) -> list[_Fit]:
        """The best place of an item, if it has one."""
        world, limits, shape, best = self.given.world, self.limits, int(self.given.world.item_shape[item]), list[_Fit]()
        border = self._border(shape)
        whole = float(border.lengths.sum())
        for row in range(world.angle_off[shape], world.angle_off[shape + 1]):
            low, high = world.axis[c] + world.angles[row]
            turns = bool(high > low)
            for voted in _voted(border.edges, edges, low, turns, limits.jigsaw_mm, limits.jigsaw_places):
                place, along = self._fitted(voted, border, edges, tree, turns)
                length = float(border.lengths[along].sum())
                worth, pose = length * length / whole, np.array([c, *place, row])
                if length < limits.least_match * whole or (best and worth <= best[0].worth):
                    continue
                if turns and not allowed_angle(world, c, row, place[2]):
                    continue
                laid = self._turned(shape, pose).buffer(-0.5 * limits.jigsaw_mm)
                if laid.difference(free).area < limits.jigsaw_overlap * laid.area:
                    best = [_Fit(worth, item, pose)]
        return best

    def _border(self, shape: int) -> _Border:
        if shape not in self._borders:
            outline = self.given.outlines[shape]
            # the inside lies at their left
            edges = polygon_edges(shapely.orient_polygons(outline)).reshape(-1, 2, 2)
            steps = edges[:, 1] - edges[:, 0]
            lengths = np.hypot(*steps.T)
            count = np.ceil(lengths / (outline.length / self.limits.jigsaw_points)).astype(int)
            which = np.repeat(np.arange(len(edges)), count)
            share = (np.concatenate([np.arange(n) for n in count]) + 0.5) / count[which]
            points = edges[which, 0] + share[:, None] * steps[which]
            ways = steps[which] / lengths[which, None]
            self._borders[shape] = _Border(edges, points, ways, (lengths / count)[which])
        return self._borders[shape]

    def _fitted(
        self, place: Floats, border: _Border, edges: Floats, tree: shapely.STRtree, turns: bool
    ) -> tuple[Floats, Bools]:
        """A place (x, y, angle) moved so that the border lies best along that of the free region, by least squares; and
        which of its points lie along it."""
        near_mm = 2.0 * self.limits.jigsaw_mm
        along = np.zeros(len(border.points), np.bool_)
        for _ in range(self.limits.jigsaw_rounds):
            turn = _turning(place[2])
            points, ways = border.points @ turn + place[:2], border.ways @ turn
            nearest = edges[tree.nearest(shapely.points(points))]
            steps = nearest[:, 1] - nearest[:, 0]
            long = np.hypot(*steps.T)
            steps, away = steps / long[:, None], points - nearest[:, 0]
            ahead, inside = (away * steps).sum(axis=1), steps[:, 0] * away[:, 1] - steps[:, 1] * away[:, 0]
            beyond = np.maximum(-ahead, ahead - long)
            along = (np.abs(inside) < near_mm) & (beyond < near_mm) & ((ways * steps).sum(axis=1) > 0.97)
            if along.sum() < 3:
                break
            normal, arm = np.column_stack([-steps[along, 1], steps[along, 0]]), points[along] - place[:2]
            moves = np.column_stack([normal, normal[:, 1] * arm[:, 0] - normal[:, 0] * arm[:, 1]][: 2 if turns else 1])
            weighed = moves * border.lengths[along, None]
            wanted = 0.3 * self.limits.jigsaw_mm - inside[along]
            system = weighed.T @ moves + 1e-6 * border.lengths.sum() * np.eye(moves.shape[1])
            move = np.linalg.solve(system, weighed.T @ wanted)
            place = place + (move if turns else np.append(move, 0.0))
        return place, along


def _turning(angle: float) -> Floats:
    cos, sin = math.cos(angle), math.sin(angle)
    return np.array([[cos, sin], [-sin, cos]])


def _bends(edges: Floats) -> Floats:
    """How far the border turns left (radians) where each edge begins."""
    first = (edges[:, 0] != np.roll(edges[:, 1], 1, axis=0)).any(axis=1)
    starts = np.nonzero(first)[0] if first.any() else np.zeros(1, int)
    before = np.arange(-1, len(edges) - 1)
    before[starts] = np.append(starts[1:], len(edges)) - 1
    steps = edges[:, 1] - edges[:, 0]
    ways = np.arctan2(steps[:, 1], steps[:, 0])
    return (ways - ways[before] + math.pi) % (2 * math.pi) - math.pi


def _voted(item: Floats, free: Floats, angle: float, turns: bool, near_mm: float, most: int) -> list[Floats]:
    """The places (x, y, angle) of an item for which most length of its edges votes."""
    steps, runs = item[:, 1] - item[:, 0], free[:, 1] - free[:, 0]
    length, run = np.hypot(*steps.T), np.hypot(*runs.T)
    turn = np.arctan2(runs[:, 1], runs[:, 0]) - np.arctan2(steps[:, 1], steps[:, 0])[:, None]
    if turns:
        bend, corner = _bends(item), _bends(free)
        alike = (np.abs(bend[:, None] - corner) < 0.02) & (bend > 0.3)[:, None]
        i, j = np.nonzero(alike | (np.abs(length[:, None] - run) < near_mm))
        angles = turn[i, j]
    else:
        off = (turn - angle + math.pi) % (2 * math.pi) - math.pi
        i, j = np.nonzero(np.abs(off) < 0.03)
        angles = np.full(len(i), angle)
    if len(i) == 0:
        return []
    cos, sin = np.cos(angles), np.sin(angles)
    places = [
        free[j, end] - np.column_stack([cos * x - sin * y, sin * x + cos * y])
        for end in (0, 1)
        for x, y in [item[i, end].T]
    ]
    votes = np.column_stack([np.concatenate(places), np.tile(angles, 2)])
    weight = np.tile(np.minimum(length[i], run[j]), 2)
    boxes = np.round(np.column_stack([votes[:, :2] / (4 * near_mm), np.degrees(votes[:, 2] % (2 * math.pi)) / 2]))
    _, which = np.unique(boxes.astype(int), axis=0, return_inverse=True)
    which = which.ravel()
    found = []
    for box in np.argsort(-np.bincount(which, weight), kind="stable")[:most]:
        here = which == box
        share = weight[here] / weight[here].sum()
        about = votes[here][0, 2]
        lean = (votes[here][:, 2] - about + math.pi) % (2 * math.pi) - math.pi
        found.append(np.append(share @ votes[here][:, :2], about + share @ lean))
    return found
