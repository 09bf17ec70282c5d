"""One item more among others that lie still: a container is looked through at every angle, place by place."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry

from .arrays import Fields, Floats, Grid, Ints, State
from .given import Given
from .limits import LIMITS, SearchLimits
from .openings import nearest_fits, settle
from .problem import Pose, Problem, Solution
from .world import field_of, masks_of


def insert(problem: Problem, solution: Solution, item: int, limits: SearchLimits = LIMITS) -> Pose | None:
    """Where an item would go if all that a solution has placed lay still.

    Parameters
    ----------
    problem : Problem
    solution : Solution
        A sound layout; the item has no place in it.
    item : int
    limits : SearchLimits

    Returns
    -------
    Pose or None
        None when it was found to fit nowhere, to about ``limits.insert_step`` and to what the rough
        search before the exact test passes over.
    """
    return Insertion(problem, solution, limits).insert(item)


class _Put(NamedTuple):
    """An item put into a container, and what was known of that before."""

    item: int
    container: int
    fields: dict[tuple[int, frozenset[int]], tuple[Fields, Grid] | None]
    lying: BaseGeometry | None
    hopeless: set[tuple[int, int]]


class Insertion:
    """A layout into which items are put one after another, all others lying still.

    Each container is looked through on a grid, at angles a degree or a little more apart, in a clearance field of what
    the others leave of it; the poses that come nearest to fitting are worked in there, then shifted about until the
    exact test finds them free.
    There is no clock in it: the same layout and items give the same poses.

    Parameters
    ----------
    problem : Problem
    solution : Solution
    limits : SearchLimits
    """

    def __init__(self, problem: Problem, solution: Solution, limits: SearchLimits = LIMITS) -> None:
        self.problem, self.limits = problem, limits
        # nothing is pressed afterwards, so shapes may not overlap at all
        self.given = Given(problem, limits=replace(limits, slack=0.0))
        self.state: State = self.given.state_of(solution)
        self.poses: list[Pose | None] = list(solution.poses)
        self._fields: dict[tuple[int, frozenset[int]], tuple[Fields, Grid] | None] = {}
        self._lying: dict[int, BaseGeometry] = {}
        self._masks = list(masks_of(problem))
        self._hopeless: set[tuple[int, int]] = set()
        self._puts: deque[_Put] = deque(maxlen=limits.puts_remembered)

    def insert(self, item: int, order: Iterable[int] | None = None) -> Pose | None:
        """Put an item, without a place so far, into the first container that has room; None when none has."""
        given, world = self.given, self.given.world
        shape = int(world.item_shape[item])
        allowed = world.item_open[item] & given.same_site(item, self.state)
        for c in range(len(allowed)) if order is None else order:
            if not allowed[c] or (shape, c) in self._hopeless or world.room[c] < world.area[shape]:
                continue
            found = self._found(item, shape, c)
            if found is None:
                self._hopeless.add((shape, c))
                continue
            self._puts.append(self._put(item, c))
            self.state[item] = found
            pose = given.solution(self.state).poses[item]
            self.poses[item] = pose
            self._forget(c)
            return pose
        return None

    def place(self, item: int, pose: Pose) -> None:
        """Put an item where it is known to fit."""
        self._puts.clear()
        self.poses[item] = pose
        self.state[item] = self.given.state_of(Solution(tuple(self.poses), (), 0.0))[item]
        self._forget(pose.container)

    def remove(self, item: int) -> None:
        """Take an item's place away."""
        self._puts.clear()
        c = int(self.state[item, 0])
        if c >= 0:
            self.state[item], self.poses[item] = -1.0, None
            self._forget(c)
            self._hopeless = {(shape, other) for shape, other in self._hopeless if other != c}

    def take_back(self, item: int) -> None:
        """Take away the place of the item put last; what was found out of its container before holds again."""
        if not self._puts or self._puts[-1].item != item:
            return self.remove(item)
        last = self._puts.pop()
        self.state[item], self.poses[item] = -1.0, None
        self._forget(last.container)
        self._fields |= last.fields
        if last.lying is not None:
            self._lying[last.container] = last.lying
        self._hopeless = {pair for pair in self._hopeless if pair[1] != last.container} | last.hopeless
        return None

    def _put(self, item: int, c: int) -> _Put:
        return _Put(
            item,
            c,
            {key: field for key, field in self._fields.items() if key[0] == c},
            self._lying.get(c),
            {pair for pair in self._hopeless if pair[1] == c},
        )

    def _forget(self, c: int) -> None:
        self._fields = {key: field for key, field in self._fields.items() if key[0] != c}
        self._lying.pop(c, None)

    def _found(self, item: int, shape: int, c: int) -> Floats | None:
        world, limits = self.given.world, self.limits
        masks = world.part_mask[world.part_off[shape] : world.part_off[shape + 1]]
        known = [field for mask in masks if (field := self._field(c, self._masks[mask])) is not None]
        if len(known) < len(masks):
            return None
        # where the largest circle in an area has no room, none of it has
        circles = world.part_probes[world.part_probe_off[world.part_off[shape] : world.part_off[shape + 1]], 2]
        if any(values.max() + 1.0 / place[2] < circle for (values, place), circle in zip(known, circles)):
            return None
        radius = float(world.radius[shape])
        step = max(limits.insert_step_mm, limits.insert_step * radius)
        turn = max(math.radians(limits.insert_turn_deg), step / radius)
        angles = _angles(world.angles, world.angle_off[shape : shape + 2], float(world.axis[c]), turn)
        sizes = [values.size for values, _ in known]
        ends = zip(np.cumsum(sizes), sizes, known)
        meta = np.array([(end - size, *values.shape[::-1]) for end, size, (values, _) in ends], np.int64)
        values, grid = np.concatenate([values.ravel() for values, _ in known]), np.array([place for _, place in known])
        # how much a pose that fits sticks out at the nearest place and angle that is looked at
        most = 0.75 * step + 0.5 * turn * radius
        best = nearest_fits(world, c, shape, values, meta, grid, angles, step, most, limits.insert_poses)
        here, order = np.nonzero(self.state[:, 0] == c)[0], np.argsort(best[:, 0], kind="stable")
        for pose in best[order[: limits.insert_poses]]:
            if not np.isfinite(pose[0]):
                break
            start = np.array([c, *pose[1:]])
            if settle(world, c, shape, start, self.state, here, 0.5 / known[0][1][2], limits.insert_tries, True):
                return start
        return None

    def _field(self, c: int, kinds: frozenset[int]) -> tuple[Fields, Grid] | None:
        """How clear each place is of the walls and of all that lies, for what avoids some kinds; None: no room."""
        if (c, kinds) not in self._fields:
            container = self.problem.containers[c]
            if c not in self._lying:
                lying = [
                    self._laid(item, pose)
                    for item, pose in enumerate(self.poses)
                    if pose is not None and pose.container == c
                ]
                self._lying[c] = shapely.union_all(lying)
            obstacles = [o.polygon for o in container.obstacles if o.kind in kinds]
            free = container.region.difference(shapely.union_all([*obstacles, self._lying[c]]))
            bounds = container.region.bounds
            cell = max(math.sqrt(container.region.envelope.area / self.limits.insert_nodes), 1e-3 * max(bounds[2:]))
            self._fields[c, kinds] = None if free.area < 1e-9 else field_of(free, cell)
        return self._fields[c, kinds]

    def _laid(self, item: int, pose: Pose) -> Polygon:
        angle = math.radians(pose.angle_deg)
        turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
        outer = Polygon(self.problem.shapes[self.problem.items[item].shape].polygon.exterior)
        return shapely.transform(outer, lambda xy: xy @ turn + (pose.x, pose.y))


def _angles(rows: Floats, ends: Ints, axis: float, turn: float) -> Floats:
    """Angles to try, with the row of the angle list of each: (n, 2)."""
    tried = []
    for row in range(int(ends[0]), int(ends[1])):
        low, high = rows[row]
        count = math.ceil((high - low) / turn - 1e-9) + 1
        tried += [(axis + angle, row) for angle in np.linspace(low, high, count)]
    return np.array(tried)
