"""A first complete layout: items one after another, each as near to the packed end as many tried poses allow."""

from __future__ import annotations

import math

import numpy as np

from .compiled import compiled, kernel, kernel_loop
from .kernels import allowed_angle, crosses_wall, farthest, overlap_depth, shapes_touch, wall_depth
from .limits import COMPILED

KEPT, SLACK_MM = COMPILED.kept_poses, COMPILED.first_slack_mm
MIDDLE_PULL, SIDE_PULL = COMPILED.middle_pull, COMPILED.side_pull
PUSH_TURN, LEAST_PUSH_MM, LEAST_GAIN_MM = COMPILED.push_turn, COMPILED.least_push_mm, COMPILED.least_gain_mm


@compiled()
def construct(world, order, container_order, state, samples, seed, halt):
    """Place the items of ``order`` (those not yet placed), in turn.

    Parameters
    ----------
    world : World
    order : (k,) int array
        Items in order of insertion.
    container_order : (containers,) int array
        Containers in the order in which they are filled.
    state : (items, 5) array
        Container (or -1), x, y, angle (radians) and row of the angle list of every item; changed in place.
    samples : int
        Poses tried for an item in a container.
    seed : int
    halt : (1,) bool array
        Another thread sets it when the search is to end: what has no place by then gets none.
    """
    np.random.seed(seed)
    containers = world.away.shape[0]
    shapes = world.radius.shape[0]
    groups = -np.ones(world.item_group.shape[0] + 1, np.int64)
    hopeless = np.zeros((shapes, containers), np.bool_)
    room = world.room.copy()
    front = np.empty(containers)
    for c in range(containers):
        front[c] = world.span[c, 0]
    for item in range(state.shape[0]):
        c = int(state[item, 0])
        if c >= 0:
            t = world.item_shape[item]
            room[c] -= world.area[t]
            front[c] = max(
                front[c],
                farthest(
                    world, c, t, state[item, 1], state[item, 2], math.cos(state[item, 3]), math.sin(state[item, 3])
                ),
            )
            if world.item_group[item] >= 0:
                groups[world.item_group[item]] = world.site[c]
    kept, found = np.empty((KEPT, 5)), np.empty(4)
    for item in order:
        if halt[0]:
            break
        if state[item, 0] >= 0:
            continue
        t, group = world.item_shape[item], world.item_group[item]
        for c in container_order:
            if not world.item_open[item, c] or room[c] < world.area[t] or hopeless[t, c]:
                continue
            if group >= 0 and groups[group] >= 0 and groups[group] != world.site[c]:
                continue
            neighbours = np.nonzero(state[:, 0] == c)[0]
            if _best_pose(world, c, t, state, neighbours, front[c], samples, kept, found):
                state[item, 0] = c
                for k in range(4):
                    state[item, k + 1] = found[k]
                room[c] -= world.area[t]
                front[c] = max(
                    front[c], farthest(world, c, t, found[0], found[1], math.cos(found[2]), math.sin(found[2]))
                )
                if group >= 0:
                    groups[group] = world.site[c]
                break
            hopeless[t, c] = True


@kernel_loop()
def _best_pose(world, c, t, state, neighbours, front, samples, kept, found):
    """Nearest free pose to the packed end among random ones, each then pushed further; false when none is free."""
    first, last = world.angle_off[t], world.angle_off[t + 1]
    ux, uy = world.away[c, 0], world.away[c, 1]
    kept[:] = np.inf
    inner = world.inner[t, 2]
    for attempt in range(3):
        # nearest part of the container first, then all of it
        top = world.span[c, 1] if attempt else min(world.span[c, 1], front + 2.0 * world.radius[t])
        for _ in range(samples * (1 + 2 * attempt)):
            along = world.span[c, 0] + (top - world.span[c, 0]) * np.random.random()
            left = world.span[c, 2] + (world.span[c, 3] - world.span[c, 2]) * np.random.random()
            k = np.random.randint(first, last)
            angle = world.axis[c] + world.angles[k, 0] + (world.angles[k, 1] - world.angles[k, 0]) * np.random.random()
            if along - inner > kept[KEPT - 1, 0]:
                continue
            x, y = along * ux - left * uy, along * uy + left * ux
            cos, sin = math.cos(angle), math.sin(angle)
            cost = _cost(world, c, t, x, y, cos, sin)
            if cost < kept[KEPT - 1, 0] and is_free(world, c, t, x, y, cos, sin, state, neighbours):
                _keep(kept, cost, x, y, angle, k, 0.5 * world.radius[t])
        if kept[0, 0] < np.inf:
            break
    best = np.inf
    for n in range(KEPT):
        if kept[n, 0] < np.inf:
            cost = push(world, c, t, kept[n], state, neighbours)
            if cost < best:
                best = cost
                for k in range(4):
                    found[k] = kept[n, k + 1]
    return best < np.inf


@kernel_loop()
def _keep(kept, cost, x, y, angle, row, apart):
    """Insert a pose among the best few; near copies of one replace each other, so that the few differ."""
    place = KEPT - 1
    for n in range(KEPT):
        if kept[n, 0] < np.inf and abs(kept[n, 1] - x) + abs(kept[n, 2] - y) < apart:
            if kept[n, 0] <= cost:
                return
            place = n
            break
    while place > 0 and kept[place - 1, 0] > cost:
        for k in range(5):
            kept[place, k] = kept[place - 1, k]
        place -= 1
    kept[place, 0], kept[place, 1], kept[place, 2], kept[place, 3], kept[place, 4] = cost, x, y, angle, row


@kernel()
def _cost(world, c, t, x, y, cos, sin):
    """Reach from the packed end, with a light pull of the middle and of the side so that corners fill first."""
    ux, uy = world.away[c, 0], world.away[c, 1]
    return farthest(world, c, t, x, y, cos, sin) + MIDDLE_PULL * (ux * x + uy * y) + SIDE_PULL * (ux * y - uy * x)


@kernel_loop()
def is_free(world, c, t, x, y, cos, sin, state, neighbours):
    if wall_depth(world, c, t, x, y, cos, sin, SLACK_MM) > SLACK_MM:
        return False
    for other in neighbours:
        u = world.item_shape[other]
        reach = world.radius[t] + world.radius[u]
        dx, dy = state[other, 1] - x, state[other, 2] - y
        if dx * dx + dy * dy >= reach * reach:
            continue
        ox, oy, oc, os = state[other, 1], state[other, 2], math.cos(state[other, 3]), math.sin(state[other, 3])
        if overlap_depth(world, t, x, y, cos, sin, u, ox, oy, oc, os, SLACK_MM) > SLACK_MM:
            return False
    for other in neighbours:
        u = world.item_shape[other]
        reach = world.radius[t] + world.radius[u]
        dx, dy = state[other, 1] - x, state[other, 2] - y
        if dx * dx + dy * dy > reach * reach:
            continue
        oc, os = math.cos(state[other, 3]), math.sin(state[other, 3])
        if shapes_touch(world, t, x, y, cos, sin, u, state[other, 1], state[other, 2], oc, os):
            return False
    return not crosses_wall(world, c, t, x, y, cos, sin)


@kernel_loop()
def push(world, c, t, pose, state, neighbours):
    """Coordinate descent of a free pose: towards the end, sideways and in angle, steps halving."""
    ux, uy = world.away[c, 0], world.away[c, 1]
    row = int(pose[4])
    lean = world.angles[row, 1] - world.angles[row, 0]
    step, turn = 0.5 * world.radius[t], min(PUSH_TURN, 0.5 * lean)
    while step > LEAST_PUSH_MM:
        moved = False
        for way in range(6):
            x, y, angle = pose[1], pose[2], pose[3]
            if way == 0:
                x, y = x - ux * step, y - uy * step
            elif way == 1:
                x, y = x - (ux - uy) * step * 0.7, y - (uy + ux) * step * 0.7
            elif way == 2:
                x, y = x - (ux + uy) * step * 0.7, y - (uy - ux) * step * 0.7
            elif way == 3:
                x, y = x + uy * step, y - ux * step
            elif turn > 0.0:
                angle += turn if way == 4 else -turn
                if not allowed_angle(world, c, row, angle):
                    continue
            else:
                continue
            cos, sin = math.cos(angle), math.sin(angle)
            cost = _cost(world, c, t, x, y, cos, sin)
            if cost < pose[0] - LEAST_GAIN_MM and is_free(world, c, t, x, y, cos, sin, state, neighbours):
                pose[0], pose[1], pose[2], pose[3] = cost, x, y, angle
                moved = True
        if not moved:
            step *= 0.5
            turn *= 0.5
    return pose[0]
