"""The search: a first layout, then squeezing, refilling and rebuilding for as long as the stopping rule lets it."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np
import shapely

from .construct import construct
from .kernels import crosses_wall, farthest, shapes_touch
from .problem import Pose, Problem, Solution
from .separate import separate
from .stop import Stop
from .world import World, build_world

SAMPLES = 1500
PROFILE_STEPS = 400
EXPLORE, COMPRESS = 0.004, 0.001
"""Shares of a container's packed length by which it is squeezed: while looking for other arrangements, and while
pressing the present one."""
LEAST_SQUEEZE, MOST_SQUEEZE = 2e-5, 0.03
TRIES = 8
PATIENCE = 100
WIDE = 40
CLOSE = 30
"""Disturbed arrangements tried at one length before the present one is pressed instead."""


@dataclass
class Squeeze:
    """How far the squeezing of one container has come."""

    step: float = COMPRESS
    exploring: bool = False
    pool: list = field(default_factory=list)

    def turn(self, exploring: bool) -> None:
        """Begin to explore, or to compress."""
        self.exploring, self.pool = exploring, []
        self.step = EXPLORE if exploring else COMPRESS


class Search:
    """A search over layouts of one problem; ``run`` may be called again to go on from the best so far.

    Parameters
    ----------
    problem : Problem
    seed : int
        The same problem, seed and number of iterations give the same layout.
    start : Solution, optional
        A layout to go on from.
    pinned : iterable of int
        Items of ``start`` whose poses are kept.
    progress : callable, optional
        Called with every better Solution.
    """

    def __init__(self, problem: Problem, seed: int = 0, start: Solution | None = None, pinned=(), progress: Callable | None = None):
        self.problem, self.progress = problem, progress
        self.random = np.random.default_rng(seed)
        self.world, self.centres = build_world(problem)
        self.ranks = np.array([item.rank for item in problem.items], int)
        self.sizes = self.world.area[self.world.item_shape] if len(problem.items) else np.zeros(0)
        self.pinned = np.zeros(len(problem.items), bool)
        self.pinned[list(pinned)] = True
        self.profiles = [_profile(c.region, away) for c, away in zip(problem.containers, self.world.away)]
        self.squeezes = [Squeeze() for _ in problem.containers]
        self.iterations, self.seconds = 0, 0.0
        self.best_state = self._state_of(start) if start else None
        self.best = self._solution(self.best_state) if start else None

    def run(self, stop: Stop) -> Solution:
        """Search until ``stop`` says so and give the best layout found; Ctrl-C ends it the same way.

        Raises
        ------
        KeyboardInterrupt
            Only when interrupted before there is a first layout.
        """
        started = time.monotonic() - self.seconds
        try:
            while not (self.best and stop.reached(started, self.iterations, self.best)):
                state = self._step()
                self.iterations += 1
                self.seconds = time.monotonic() - started
                if state is None:
                    continue
                solution = self._solution(state)
                if self.best is None or solution.score < self.best.score:
                    self.best, self.best_state = solution, state
                    if self.progress:
                        self.progress(solution)
        except KeyboardInterrupt:
            if self.best is None:
                raise
        self.seconds = time.monotonic() - started
        return self._solution(self.best_state)

    def _step(self) -> np.ndarray | None:
        """One iteration: a layout to compare with the best, or None when it came to nothing."""
        if self.best_state is None:
            state = np.full((len(self.problem.items), 5), -1.0)
            self._insert(state, 0.0)
            return state
        used = np.unique(self.best_state[self.best_state[:, 0] >= 0, 0]).astype(int)
        if len(used) == 0:
            return None
        several = len(self.problem.containers) > 1
        if several and self.random.random() < 0.3:
            return self._rebuild()
        return self._squeeze(int(self.random.choice(used)), several)

    def _squeeze(self, c: int, several: bool) -> np.ndarray | None:
        """Shorten what container ``c`` uses, separate its items, and place again what was left out."""
        squeeze, here = self.squeezes[c], np.nonzero(self.best_state[:, 0] == c)[0]
        start = self.world.span[c, 0]
        front = self._front(self.best_state, c)
        limit = front - squeeze.step * (front - start)
        if squeeze.pool:
            trial = self._disturb(squeeze.pool[min(int(abs(self.random.normal(0, len(squeeze.pool) / 3))), len(squeeze.pool) - 1)][1])
        else:
            trial = self.best_state[here]
        self._pull_in(trial, here, c, limit)
        overlap = self._separate(trial, here, c, limit)
        if overlap > 0.0:
            if squeeze.exploring:
                squeeze.pool = sorted([*squeeze.pool, (overlap, trial)], key=lambda entry: entry[0])
                if len(squeeze.pool) > TRIES:
                    squeeze.turn(exploring=False)
            else:
                squeeze.step *= 0.5
                if squeeze.step < LEAST_SQUEEZE:
                    squeeze.turn(exploring=True)
            return None
        squeeze.pool = []
        if not squeeze.exploring:
            squeeze.step = min(1.5 * squeeze.step, MOST_SQUEEZE)
        state = self.best_state.copy()
        state[here] = trial
        self._insert(state, 0.2, several, c)
        return state

    def _insert(self, state: np.ndarray, blur: float, several: bool = False, c: int = 0) -> None:
        """Place what has no place, biggest of the most urgent first; items of the last used container may come forward."""
        if several:
            last = state[:, 0].max()
            if last > c:
                state[(state[:, 0] == last) & ~self.pinned] = -1.0
        if (state[:, 0] >= 0).all():
            return
        keys = self.sizes * np.exp(blur * self.random.standard_normal(len(self.sizes)))
        order = np.lexsort((-keys, self.ranks))
        construct(
            self.world, order, np.arange(len(self.problem.containers)), state, SAMPLES, int(self.random.integers(2**31))
        )

    def _separate(self, trial: np.ndarray, here: np.ndarray, c: int, limit: float) -> float:
        """Separate the items of one container within a limit; ``trial`` ends as the least overlapping poses seen."""
        only = np.zeros((len(here), len(self.problem.containers)), np.bool_)
        only[:, c] = True
        world = self.world._replace(
            item_shape=self.world.item_shape[here], item_group=np.full(len(here), -1), item_open=only
        )
        limits = np.full(len(self.problem.containers), limit)
        weights, walls = np.ones((len(here), len(here))), np.ones(len(here))
        return separate(world, limits, trial, self.pinned[here], weights, walls, 1000, PATIENCE, WIDE, CLOSE, int(self.random.integers(2**31)))

    def _pull_in(self, trial: np.ndarray, here: np.ndarray, c: int, limit: float) -> None:
        """Shift items that reach beyond the limit back to it."""
        for pose, item in zip(trial, here):
            over = self._reach(c, item, pose) - limit
            if over > 0 and not self.pinned[item]:
                pose[1:3] -= over * self.world.away[c]

    def _disturb(self, trial: np.ndarray) -> np.ndarray:
        """Let two items of different shape change places."""
        trial = trial.copy()
        free = np.arange(len(trial))
        a, b = self.random.choice(free, 2, replace=len(free) < 2)
        for _ in range(20):
            if trial[a, 4] != trial[b, 4]:
                break
            a, b = self.random.choice(free, 2, replace=len(free) < 2)
        trial[[a, b], 1:3] = trial[[b, a], 1:3]
        return trial

    def _rebuild(self) -> np.ndarray:
        """Take away what lies farthest from a packed end, or around a random item, with all later containers; place it anew."""
        state = self.best_state.copy()
        placed = np.nonzero((state[:, 0] >= 0) & ~self.pinned)[0]
        if len(placed) == 0:
            return state
        container = state[self.random.choice(placed), 0]
        here = placed[state[placed, 0] == container]
        if self.random.random() < 0.5:
            far = state[here, 1:3] @ self.world.away[int(container)]
            gone = here[far >= np.quantile(far, 1 - self.random.uniform(0.1, 0.6))]
        else:
            distance = np.hypot(*(state[here, 1:3] - state[self.random.choice(here), 1:3]).T)
            gone = here[distance <= np.quantile(distance, self.random.uniform(0.1, 0.5))]
        state[np.union1d(gone, placed[state[placed, 0] > container])] = -1.0
        self._insert(state, self.random.choice([0.05, 0.2, 0.5]))
        return state

    def _reach(self, c: int, item: int, pose) -> float:
        return farthest(self.world, c, self.world.item_shape[item], pose[1], pose[2], math.cos(pose[3]), math.sin(pose[3]))

    def _front(self, state: np.ndarray, c: int) -> float:
        """How far the items of a container reach from its packed end."""
        here = np.nonzero(state[:, 0] == c)[0]
        return max(self._reach(c, item, pose) for item, pose in zip(here, state[here]))

    def _consumed(self, state: np.ndarray) -> float:
        used = np.unique(state[state[:, 0] >= 0, 0]).astype(int)
        return float(sum(np.interp(self._front(state, c), *self.profiles[c]) for c in used))

    def _state_of(self, solution: Solution) -> np.ndarray:
        state = np.full((len(self.problem.items), 5), -1.0)
        for number, pose in enumerate(solution.poses):
            if pose is not None:
                angle = math.radians(pose.angle_deg)
                cx, cy = self.centres[self.problem.items[number].shape]
                cos, sin = math.cos(angle), math.sin(angle)
                state[number] = (
                    pose.container, pose.x + cos * cx - sin * cy, pose.y + sin * cx + cos * cy, angle, self._row(number, pose)
                )
        return state

    def _row(self, number: int, pose: Pose) -> int:
        """The row of the angle list that a pose keeps to."""
        world, shape = self.world, self.problem.items[number].shape
        turn = math.radians(pose.angle_deg) - world.axis[pose.container]
        rows = range(world.angle_off[shape], world.angle_off[shape + 1])
        return min(rows, key=lambda row: max(0.0, (turn - world.angles[row, 0] + 1e-9) % (2 * math.pi) - np.ptp(world.angles[row])))

    def _solution(self, state: np.ndarray) -> Solution:
        poses = []
        for number, (container, x, y, angle, _) in enumerate(state):
            if container < 0:
                poses.append(None)
                continue
            cx, cy = self.centres[self.problem.items[number].shape]
            cos, sin = math.cos(angle), math.sin(angle)
            poses.append(
                Pose(int(container), float(x - cos * cx + sin * cy), float(y - sin * cx - cos * cy), math.degrees(angle) % 360.0)
            )
        out = state[:, 0] < 0
        left = np.bincount(self.ranks[out], weights=self.sizes[out], minlength=self.ranks.max(initial=0) + 1)
        return Solution(tuple(poses), tuple(float(v) for v in left), self._consumed(state), self.iterations, self.seconds)


def solve(problem: Problem, stop: Stop, seed: int = 0, *, start=None, pinned=(), progress=None) -> Solution:
    """Pack a problem and give the best layout found when ``stop`` ends the search (see Search)."""
    return Search(problem, seed, start, pinned, progress).run(stop)


def touching(problem: Problem, solution: Solution) -> list[tuple[int, int]]:
    """Pairs of items that touch, and (item, -1) for items that touch or leave their container: exact, empty when sound."""
    search = Search(problem, start=solution)
    world: World = search.world
    state, faults = search.best_state, []
    for i, (c, x, y, a, _) in enumerate(state):
        if c < 0:
            continue
        t, cos, sin = world.item_shape[i], math.cos(a), math.sin(a)
        if crosses_wall(world, int(c), t, x, y, cos, sin):
            faults.append((i, -1))
        for j in np.nonzero(state[:i, 0] == c)[0]:
            _, bx, by, b, _ = state[j]
            if shapes_touch(world, t, x, y, cos, sin, world.item_shape[j], bx, by, math.cos(b), math.sin(b)):
                faults.append((i, int(j)))
    return faults


def _profile(region, away) -> tuple[np.ndarray, np.ndarray]:
    """Area of a region up to each of many distances along ``away``."""
    ux, uy = away
    turned = shapely.transform(region, lambda p: np.column_stack([p @ (ux, uy), p @ (-uy, ux)]))
    x0, y0, x1, y1 = turned.bounds
    cuts = np.linspace(x0, x1, PROFILE_STEPS + 1)
    strips = shapely.intersection(turned, shapely.box(cuts[:-1], y0, cuts[1:], y1))
    return cuts, np.concatenate([[0.0], np.cumsum(shapely.area(strips))])
