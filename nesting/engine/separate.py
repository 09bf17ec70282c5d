"""Feasibility by separation: items may overlap, and are moved one at a time until nothing does.

Guided local search as published for nesting (Egeblad, Nielsen and Odgaard, European Journal of Operational Research
183, 2007): every pair and every wall has a weight that grows while it collides, so that the search leaves local minima.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .compiled import compiled, kernel, kernel_loop
from .fixed import is_tabled, relocate_fixed
from .handed import Handed
from .kernels import shapes_touch
from .limits import COMPILED
from .moves import border_cost, pair_cost, relocate_turned
from .survey import scratch_room

GAIN, LEAST_GROWTH, MORE_GROWTH, DECAY = COMPILED.gain, COMPILED.least_growth, COMPILED.more_growth, COMPILED.decay


@kernel_loop()
def collisions(world, limits, state, trig, exact, changed, depths, walls_depth):
    """Fill the overlap depth of every pair and of every wall; the sum of all is given back.

    Only those of items that have ``changed`` are worked out anew.
    """
    count, total = state.shape[0], 0.0
    for i in range(count):
        c, t = int(state[i, 0]), world.item_shape[i]
        if c < 0:
            continue
        if changed[i]:
            walls_depth[i] = border_cost(
                world, limits, c, t, state[i, 1], state[i, 2], trig[i, 0], trig[i, 1], exact, np.inf
            )
        total += walls_depth[i] * world.weight[t]
        for j in range(i):
            u = world.item_shape[j]
            if changed[i] or changed[j]:
                depths[i, j] = 0.0
                if state[j, 0] != c:
                    continue
                near = world.radius[t] + world.radius[u]
                dx, dy = state[j, 1] - state[i, 1], state[j, 2] - state[i, 2]
                if dx * dx + dy * dy < near * near:
                    depths[i, j] = pair_cost(
                        world,
                        t,
                        int(state[i, 4]),
                        state[i, 1],
                        state[i, 2],
                        trig[i, 0],
                        trig[i, 1],
                        u,
                        int(state[j, 4]),
                        state[j, 1],
                        state[j, 2],
                        trig[j, 0],
                        trig[j, 1],
                        exact,
                        np.inf,
                    )
            if depths[i, j] > 0.0:
                total += depths[i, j] * math.sqrt(world.weight[t] * world.weight[u])
    return total


@compiled()
def is_clear(world, state, known):
    """Whether no two items that keep to fixed angles touch, asked of their outlines, since tables may miss a spike.

    Pairs that lie as in a layout ``known`` before are passed over.
    """
    for i in range(state.shape[0]):
        c, t = state[i, 0], world.item_shape[i]
        for j in range(i):
            if c < 0 or state[j, 0] != c:
                continue
            here, there = int(state[i, 4]), int(state[j, 4])
            if world.table[here, there] < 0 and world.table[there, here] < 0:
                continue
            if _alike(state, known, i) and _alike(state, known, j):
                continue
            if shapes_touch(
                world, t, state[i, 1], state[i, 2], math.cos(state[i, 3]), math.sin(state[i, 3]),
                world.item_shape[j], state[j, 1], state[j, 2], math.cos(state[j, 3]), math.sin(state[j, 3]),
            ):  # fmt: skip
                return False
    return True


@kernel()
def _alike(state, other, i):
    """Whether item ``i`` lies as in another state."""
    alike = True
    for k in range(5):
        alike &= state[i, k] == other[i, k]
    return alike


@kernel()
def _fill_trig(world, state, trig):
    for i in range(state.shape[0]):
        trig[i, 0], trig[i, 1] = math.cos(state[i, 3]), math.sin(state[i, 3])
        trig[i, 2] = world.radius[world.item_shape[i]]


@dataclass(frozen=True, eq=False)
class Course(Handed):
    """How far a separation has come; its arrays are changed in place."""

    weights: np.ndarray  # (items, items) what overlap of each pair costs
    walls: np.ndarray  # (items,) the same of each item with its container
    best: np.ndarray  # (items, 5) the least overlapping poses seen
    count: np.ndarray  # (3,) overlap of those, passes since it fell, and whether the exact test is asked
    ended: np.ndarray  # (1,) bool


def begin(state: np.ndarray) -> Course:
    """A separation that has not begun."""
    items = len(state)
    return Course(
        np.ones((items, items)), np.ones(items), state.copy(), np.array([np.inf, 0.0, 0.0]), np.zeros(1, np.bool_)
    )


@compiled()
def separate(world, limits, state, pinned, course, scratch, passes, patience, nodes, close, seed, halt):
    """Move colliding items for so many passes, or until nothing overlaps or ``patience`` passes brought nothing.

    Parameters
    ----------
    world : World
    limits : (containers,) array
        Farthest that items may reach along each container's axis, mm.
    state : (items, 5) array
        Container (-1 for none), x, y, angle (radians) and row of the angle list; changed in place.
    pinned : (items,) bool array
    course : Course
        Its best poses overlap by course.count[0]; where that is 0 they are feasible, which then holds exactly.
    scratch : Scratch
        Room for so many items.
    passes, patience : int
        No passes: the last item alone is moved, once, and its overlap given in course.count[0].
    nodes, close : int
        See ``relocate_turned``; where all angles are fixed half of the close poses will do.
    seed : int
    halt : (1,) bool array
        Another thread sets it when the search is to end.
    """
    np.random.seed(seed)
    count = state.shape[0]
    trig = np.empty((count, 3))
    _fill_trig(world, state, trig)
    depths, walls_depth = np.zeros((count, count)), np.zeros(count)
    weights, walls, changed = course.weights, course.walls, np.ones(count, np.bool_)
    exact = course.count[2] > 0.0
    if passes == 0:
        last = count - 1
        if is_tabled(world, state, last):
            cost = relocate_fixed(world, limits, state, trig, weights, 1.0, last, close // 2, exact, scratch)
        else:
            cost = relocate_turned(world, limits, state, trig, weights, 1.0, last, nodes, close, exact, scratch)
        course.count[0] = cost
    for _ in range(passes):
        exact = course.count[2] > 0.0
        total = collisions(world, limits, state, trig, exact, changed, depths, walls_depth)
        if total == 0.0 and not exact:
            course.count[0], course.count[2] = np.inf, 1.0
            changed[:] = True
            continue
        changed[:] = False
        if total < course.count[0]:
            if total < GAIN * course.count[0]:
                course.count[1] = 0.0
            course.count[0] = total
            for i in range(count):
                for k in range(5):
                    course.best[i, k] = state[i, k]
        course.count[1] += 1.0
        if total == 0.0 or course.count[1] > patience:
            course.ended[0] = True
            break
        worst = 1e-12
        for i in range(count):
            worst = max(worst, walls_depth[i])
            for j in range(i):
                worst = max(worst, depths[i, j])
        moving = np.zeros(count, np.bool_)
        for i in range(count):
            if walls_depth[i] > 0.0:
                walls[i] *= LEAST_GROWTH + MORE_GROWTH * walls_depth[i] / worst
                moving[i] = True
            else:
                walls[i] = max(1.0, walls[i] * DECAY)
            for j in range(i):
                if depths[i, j] > 0.0:
                    weights[i, j] *= LEAST_GROWTH + MORE_GROWTH * depths[i, j] / worst
                    moving[i] = True
                    moving[j] = True
                elif weights[i, j] > 1.0:
                    weights[i, j] = max(1.0, weights[i, j] * DECAY)
                weights[j, i] = weights[i, j]
        for i in np.random.permutation(count):
            if halt[0]:
                return
            if not moving[i] or pinned[i] or state[i, 0] < 0:
                continue
            changed[i] = True
            if is_tabled(world, state, i):
                relocate_fixed(world, limits, state, trig, weights, walls[i], i, close // 2, exact, scratch)
            else:
                relocate_turned(world, limits, state, trig, weights, walls[i], i, nodes, close, exact, scratch)


def drop(world, limits: np.ndarray, state: np.ndarray, nodes: int, seed: int) -> float:
    """Move the last item of ``state`` to where it overlaps least by surveys of so many nodes (see
    ``relocate_turned``); its overlap is given back."""
    count, course = len(state), begin(state)
    pinned, halt = np.zeros(count, np.bool_), np.zeros(1, np.bool_)
    separate(world, limits, state, pinned, course, scratch_room(count), 0, 0, nodes, 0, seed, halt)
    return float(course.count[0])
