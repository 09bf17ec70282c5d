"""Feasibility by separation: items may overlap, and are moved one at a time until nothing does.

Guided local search as published for nesting (Egeblad, Nielsen and Odgaard, European Journal of Operational Research
183, 2007): every pair and every wall has a weight that grows while it collides, so that the search leaves local minima.
"""

from __future__ import annotations

import math

import numpy as np

from .compiled import compiled, kernel, kernel_loop
from .contact import table_depth
from .kernels import allowed_angle, crosses_wall, farthest, overlap_depth, shapes_touch, wall_depth

SKIN = 0.02
"""Depth (mm) up to which an overlap counts as none until the exact test is asked."""
TRIED = 3


@kernel()
def pair_cost(world, a, ka, ax, ay, ac, as_, b, kb, bx, by, bc, bs, exact, enough):
    """Overlap depth of two shapes, mm; with ``exact`` at least the skin when they touch at all.

    ``ka`` and ``kb`` are the rows of their angles; shapes that keep to fixed angles have a table of exact depths.
    """
    k, dx, dy, cos, sin = world.table[ka, kb], bx - ax, by - ay, ac, as_
    if k < 0:
        k, dx, dy, cos, sin = world.table[kb, ka], -dx, -dy, bc, bs
    if k >= 0:
        return table_depth(world, k, dx * cos + dy * sin, dy * cos - dx * sin)
    depth = overlap_depth(world, a, ax, ay, ac, as_, b, bx, by, bc, bs, enough)
    if depth > SKIN:
        return depth
    if exact and shapes_touch(world, a, ax, ay, ac, as_, b, bx, by, bc, bs):
        return 2.0 * SKIN
    return 0.0


@kernel()
def border_cost(world, limits, c, t, x, y, cos, sin, exact, enough):
    """How far a shape leaves its container or passes the limit drawn across it, mm."""
    over = farthest(world, c, t, x, y, cos, sin) - limits[c] if limits[c] < np.inf else 0.0
    depth = max(0.0, over)
    if depth > enough:
        return depth
    depth += wall_depth(world, c, t, x, y, cos, sin, enough)
    if depth > SKIN:
        return depth
    if exact and (over > 0.0 or crosses_wall(world, c, t, x, y, cos, sin)):
        return 2.0 * SKIN
    return 0.0


@kernel()
def pose_cost(world, limits, state, trig, weights, walls, i, c, x, y, angle, row, exact, bound):
    """Weighted overlap of item ``i`` at a pose with everything else; more than ``bound`` as soon as it passes it.

    ``trig`` holds cosine, sine and bounding circle's radius of every item.
    """
    t = world.item_shape[i]
    cos, sin = math.cos(angle), math.sin(angle)
    factor = walls[i] * world.weight[t]
    total = factor * border_cost(world, limits, c, t, x, y, cos, sin, exact, bound / factor)
    if total > bound:
        return total
    reach = world.radius[t]
    for j in range(state.shape[0]):
        dx, near = state[j, 1] - x, reach + trig[j, 2]
        if dx >= near or dx <= -near:
            continue
        dy = state[j, 2] - y
        if dx * dx + dy * dy >= near * near or j == i or state[j, 0] != c:
            continue
        u = world.item_shape[j]
        factor = weights[i, j] * math.sqrt(world.weight[t] * world.weight[u])
        total += factor * pair_cost(
            world, t, row, x, y, cos, sin, u, int(state[j, 4]), state[j, 1], state[j, 2], trig[j, 0], trig[j, 1],
            exact, (bound - total) / factor,
        )
        if total > bound:
            return total
    return total


@kernel_loop()
def _descend(world, limits, state, trig, weights, walls, i, pose, exact, step, least):
    """Coordinate descent of a pose (cost, container, x, y, angle, row), in place, with steps from ``step`` down to ``least`` mm."""
    t, c, row = world.item_shape[i], int(pose[1]), int(pose[5])
    lean = world.angles[row, 1] - world.angles[row, 0]
    turn = min(0.1 * step / (0.06 * world.radius[t]), 0.5 * lean)
    while step > least and pose[0] > 0.0:
        way = np.random.randint(0, 5 if turn > 0.0 else 4)
        better = False
        for sign in (1.0, -1.0):
            x, y, angle = pose[2], pose[3], pose[4]
            if way == 0 or way >= 2:
                x += sign * step if way < 4 else 0.0
            if way == 1 or way == 2:
                y += sign * step
            elif way == 3:
                y -= sign * step
            elif way == 4:
                angle += sign * turn
                if not allowed_angle(world, c, row, angle):
                    continue
            cost = pose_cost(world, limits, state, trig, weights, walls, i, c, x, y, angle, row, exact, pose[0])
            if cost < pose[0]:
                pose[0], pose[2], pose[3], pose[4] = cost, x, y, angle
                better = True
                break
        step *= 1.1 if better else 0.6
        if turn > 0.0:
            turn = min(0.3, turn * (1.1 if better else 0.75))


@kernel_loop()
def relocate(world, limits, state, trig, weights, walls, i, wide, close, exact, best):
    """Move item ``i`` to the best of many tried poses and give its cost back; its present pose stays when none is better.

    ``wide`` poses are drawn over every container it may go to, ``close`` ones around where it is. ``best`` is room for
    (TRIED, 6) numbers.
    """
    t = world.item_shape[i]
    here = int(state[i, 0])
    best[:] = np.inf
    current = pose_cost(
        world, limits, state, trig, weights, walls, i, here, state[i, 1], state[i, 2], state[i, 3], int(state[i, 4]), exact, np.inf
    )
    best[0, 0] = current
    for k in range(5):
        best[0, k + 1] = state[i, k]
    first, last = world.angle_off[t], world.angle_off[t + 1]
    grouped = world.item_group[i] >= 0
    total = 0.0
    for c in range(world.room.shape[0]):
        if world.item_open[i, c] and not (grouped and world.site[c] != world.site[here]):
            total += world.room[c]
    # the close ones first: they are the best mostly, and spare the far ones most of their sum
    for n in range(close + wide):
        c = here
        if n >= close:
            pick = np.random.random() * total
            for k in range(world.room.shape[0]):
                if world.item_open[i, k] and not (grouped and world.site[k] != world.site[here]):
                    pick -= world.room[k]
                    if pick <= 0.0:
                        c = k
                        break
            top = min(limits[c], world.span[c, 1])
            along = world.span[c, 0] + (top - world.span[c, 0]) * np.random.random()
            left = world.span[c, 2] + (world.span[c, 3] - world.span[c, 2]) * np.random.random()
            ux, uy = world.away[c, 0], world.away[c, 1]
            x, y = along * ux - left * uy, along * uy + left * ux
        else:
            x = state[i, 1] + world.radius[t] * (np.random.random() - 0.5)
            y = state[i, 2] + world.radius[t] * (np.random.random() - 0.5)
        row = np.random.randint(first, last)
        low, high = world.angles[row, 0], world.angles[row, 1]
        angle = world.axis[c] + low + (high - low) * np.random.random()
        if n < close and high > low:
            near = state[i, 3] + 0.4 * (np.random.random() - 0.5)
            if allowed_angle(world, c, row, near):
                angle = near
        cost = pose_cost(world, limits, state, trig, weights, walls, i, c, x, y, angle, row, exact, best[TRIED - 1, 0])
        if cost < best[TRIED - 1, 0]:
            place = TRIED - 1
            while place > 0 and best[place - 1, 0] > cost:
                for k in range(6):
                    best[place, k] = best[place - 1, k]
                place -= 1
            best[place, 0], best[place, 1], best[place, 2], best[place, 3], best[place, 4], best[place, 5] = cost, c, x, y, angle, row
    top = 0
    for n in range(TRIED):
        if best[n, 0] < np.inf:
            _descend(world, limits, state, trig, weights, walls, i, best[n], exact, 0.06 * world.radius[t], 1e-3 * world.radius[t])
            if best[n, 0] < best[top, 0]:
                top = n
            if best[n, 0] == 0.0:
                break
    _descend(world, limits, state, trig, weights, walls, i, best[top], exact, 4e-3 * world.radius[t], 2e-5 * world.radius[t])
    if best[top, 0] < current:
        for k in range(5):
            state[i, k] = best[top, k + 1]
        trig[i, 0], trig[i, 1] = math.cos(state[i, 3]), math.sin(state[i, 3])
    return min(current, best[top, 0])


@kernel_loop()
def collisions(world, limits, state, trig, exact, depths, walls_depth):
    """Fill the overlap depth of every pair and of every wall; the sum of all is given back."""
    count, total = state.shape[0], 0.0
    for i in range(count):
        c = int(state[i, 0])
        walls_depth[i] = 0.0
        if c < 0:
            continue
        t = world.item_shape[i]
        d = border_cost(world, limits, c, t, state[i, 1], state[i, 2], trig[i, 0], trig[i, 1], exact, np.inf)
        walls_depth[i] = d
        total += d * world.weight[t]
        for j in range(i):
            d = 0.0
            if state[j, 0] == c:
                u = world.item_shape[j]
                near = world.radius[t] + world.radius[u]
                dx, dy = state[j, 1] - state[i, 1], state[j, 2] - state[i, 2]
                if dx * dx + dy * dy < near * near:
                    d = pair_cost(
                        world, t, int(state[i, 4]), state[i, 1], state[i, 2], trig[i, 0], trig[i, 1],
                        u, int(state[j, 4]), state[j, 1], state[j, 2], trig[j, 0], trig[j, 1], exact, np.inf,
                    )
                    total += d * math.sqrt(world.weight[t] * world.weight[u])
            depths[i, j] = d
            depths[j, i] = d
    return total


@kernel_loop()
def _fill_trig(world, state, trig):
    for i in range(state.shape[0]):
        trig[i, 0], trig[i, 1] = math.cos(state[i, 3]), math.sin(state[i, 3])
        trig[i, 2] = world.radius[world.item_shape[i]]


@compiled()
def separate(world, limits, state, pinned, weights, walls, passes, patience, wide, close, seed):
    """Move colliding items until nothing overlaps, or until ``patience`` passes brought nothing.

    Parameters
    ----------
    world : World
    limits : (containers,) array
        Farthest that items may reach along each container's axis, mm.
    state : (items, 5) array
        Container (-1 for none), x, y, angle (radians) and row of the angle list; changed in place; the least overlapping ones seen are left in it.
    pinned : (items,) bool array
    weights, walls : (items, items) and (items,) arrays
        Weights of pairs and walls, changed in place.
    passes, patience : int
    wide, close : int
        Poses tried per move, see ``relocate``.
    seed : int

    Returns
    -------
    float
        Overlap left; 0 when the layout is feasible, which then holds exactly.
    """
    np.random.seed(seed)
    count = state.shape[0]
    trig = np.empty((count, 3))
    _fill_trig(world, state, trig)
    depths, walls_depth, scratch = np.zeros((count, count)), np.zeros(count), np.empty((TRIED, 6))
    best, best_state, idle, exact = np.inf, state.copy(), 0, False
    for _ in range(passes):
        total = collisions(world, limits, state, trig, exact, depths, walls_depth)
        if total == 0.0 and not exact:
            exact = True
            best = np.inf
            total = collisions(world, limits, state, trig, exact, depths, walls_depth)
        if total < best:
            if total < 0.98 * best:
                idle = 0
            best = total
            best_state[:] = state
        if total == 0.0:
            break
        idle += 1
        if idle > patience:
            break
        worst = 1e-12
        for i in range(count):
            worst = max(worst, walls_depth[i])
            for j in range(i):
                worst = max(worst, depths[i, j])
        moving = np.zeros(count, np.bool_)
        for i in range(count):
            if walls_depth[i] > 0.0:
                walls[i] *= 1.2 + 0.8 * walls_depth[i] / worst
                moving[i] = True
            else:
                walls[i] = max(1.0, walls[i] * 0.95)
            for j in range(i):
                if depths[i, j] > 0.0:
                    weights[i, j] *= 1.2 + 0.8 * depths[i, j] / worst
                    moving[i] = True
                    moving[j] = True
                elif weights[i, j] > 1.0:
                    weights[i, j] = max(1.0, weights[i, j] * 0.95)
                weights[j, i] = weights[i, j]
        for i in np.random.permutation(count):
            if moving[i] and not pinned[i] and state[i, 0] >= 0:
                relocate(world, limits, state, trig, weights, walls, i, wide, close, exact, scratch)
    state[:] = best_state
    return best


@compiled()
def drop(world, limits, state, tries, seed):
    """Move the last item of ``state`` to the least overlapping of ``tries`` poses; its overlap is given back."""
    np.random.seed(seed)
    count = state.shape[0]
    trig = np.empty((count, 3))
    _fill_trig(world, state, trig)
    weights, walls, last = np.ones((count, count)), np.ones(count), count - 1
    return relocate(world, limits, state, trig, weights, walls, last, tries, 0, False, np.empty((TRIED, 6)))
