"""Moving one item to where it overlaps least: what overlap costs, coordinate descent, and a survey of a whole container."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from .compiled import compiled, kernel, kernel_loop
from .contact import table_depth
from .kernels import allowed_angle, crosses_wall, farthest, overlap_depth, shapes_touch, wall_depth

SKIN = 0.02
"""Depth (mm) up to which an overlap counts as none until the exact test is asked."""
TRIED = 3
"""Poses of a moved item that are improved by descent."""
CELL, LEAST_NODES, NODES, SURVEYED = 0.6, 300, 1200, 2
"""Cell of a survey in radii of the item, its least and greatest number of nodes, and angles surveyed at a move."""
COARSE, FINE, FINEST = 0.06, 8e-3, 2e-5
"""Steps of a descent, in radii of the item: first, last for each pose tried, and last for the best of them."""
NEAR = 0.3
"""How far a descent goes before it lists its neighbours again, in radii of the item."""


class Scratch(NamedTuple):
    """Room for the moves of one item."""

    best: np.ndarray  # (TRIED, 5) cost, x, y, angle, row
    field: np.ndarray  # (NODES,)
    near: np.ndarray  # (items,)
    factors: np.ndarray  # (items,)


@compiled()
def scratch_room(count):
    """Scratch for so many items."""
    return Scratch(np.empty((TRIED, 5)), np.empty(NODES), np.empty(count, np.int64), np.empty(count))



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
def _neighbours(world, state, trig, weights, i, c, x, y, margin, near, factors):
    """List the items whose bounding circles come within ``margin`` of that of item ``i`` at a place.

    What a millimetre of overlap with each costs goes to ``factors``; their number is given back.
    """
    t, count = world.item_shape[i], 0
    for j in range(state.shape[0]):
        dx, dy, reach = state[j, 1] - x, state[j, 2] - y, world.radius[t] + trig[j, 2] + margin
        if j != i and state[j, 0] == c and dx * dx + dy * dy < reach * reach:
            near[count] = j
            factors[count] = weights[i, j] * math.sqrt(world.weight[t] * world.weight[world.item_shape[j]])
            count += 1
    return count


@kernel()
def pose_cost(world, limits, state, trig, wall, near, factors, count, i, c, x, y, angle, row, exact, bound):
    """Weighted overlap of item ``i`` at a pose with wall and neighbours; more than ``bound`` as soon as it passes it.

    ``trig`` holds cosine, sine and bounding circle's radius of every item, ``wall`` the wall's weight, ``near`` and
    ``factors`` the first ``count`` neighbours.
    """
    t = world.item_shape[i]
    cos, sin = math.cos(angle), math.sin(angle)
    factor = wall * world.weight[t]
    total = factor * border_cost(world, limits, c, t, x, y, cos, sin, exact, bound / factor)
    if total > bound:
        return total
    for n in range(count):
        j = near[n]
        dx, reach = state[j, 1] - x, world.radius[t] + trig[j, 2]
        if dx >= reach or dx <= -reach:
            continue
        dy = state[j, 2] - y
        if dx * dx + dy * dy >= reach * reach:
            continue
        total += factors[n] * pair_cost(
            world, t, row, x, y, cos, sin, world.item_shape[j], int(state[j, 4]), state[j, 1], state[j, 2],
            trig[j, 0], trig[j, 1], exact, (bound - total) / factors[n],
        )
        if total > bound:
            return total
    return total


@kernel_loop()
def _descend(world, limits, state, trig, weights, wall, near, factors, i, c, pose, exact, step, least):
    """Coordinate descent of a pose (cost, x, y, angle, row), in place, with steps from ``step`` down to ``least`` radii."""
    t, row = world.item_shape[i], int(pose[4])
    lean = world.angles[row, 1] - world.angles[row, 0]
    turn = min(step / 0.6, 0.5 * lean)
    step, least = step * world.radius[t], least * world.radius[t]
    margin = NEAR * world.radius[t]
    x0, y0 = pose[1], pose[2]
    count = _neighbours(world, state, trig, weights, i, c, x0, y0, margin, near, factors)
    while step > least and pose[0] > 0.0:
        way = np.random.randint(0, 5 if turn > 0.0 else 4)
        better = False
        for sign in (1.0, -1.0):
            x, y, angle = pose[1], pose[2], pose[3]
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
            if abs(x - x0) + abs(y - y0) > margin:
                x0, y0 = x, y
                count = _neighbours(world, state, trig, weights, i, c, x0, y0, margin, near, factors)
            cost = pose_cost(world, limits, state, trig, wall, near, factors, count, i, c, x, y, angle, row, exact, pose[0])
            if cost < pose[0]:
                pose[0], pose[1], pose[2], pose[3] = cost, x, y, angle
                better = True
                break
        step *= 1.1 if better else 0.6
        if turn > 0.0:
            turn = min(0.3, turn * (1.1 if better else 0.75))


@kernel()
def _keep(best, cost, x, y, angle, row):
    """Put a pose among the best ones, kept in order of cost."""
    place = TRIED - 1
    while place > 0 and best[place - 1, 0] > cost:
        for k in range(5):
            best[place, k] = best[place - 1, k]
        place -= 1
    best[place, 0], best[place, 1], best[place, 2], best[place, 3], best[place, 4] = cost, x, y, angle, row


@kernel_loop()
def overlap_grid(world, state, trig, near, factors, count, i, c, row, a0, b0, da, db, rows, columns, field):
    """Sum the tabled overlap of item ``i`` with its neighbours over a grid of places, to about a cell of the tables.

    Node (p, q), number p * columns + q of ``field``, lies a0 + p * da along the container's axis and b0 + q * db to its left.
    """
    t = world.item_shape[i]
    angle = world.axis[c] + world.angles[row, 0]
    cos, sin = math.cos(angle), math.sin(angle)
    ux, uy = world.away[c, 0], world.away[c, 1]
    field[: rows * columns] = 0.0
    x0, y0 = a0 * ux - b0 * uy, a0 * uy + b0 * ux
    for n in range(count):
        j = near[n]
        other = int(state[j, 4])
        k, sign, fc, fs = world.table[row, other], -1.0, cos, sin
        if k < 0:
            k, sign, fc, fs = world.table[other, row], 1.0, trig[j, 0], trig[j, 1]
        offset, nx, ny = world.table_meta[k, 0], world.table_meta[k, 1], world.table_meta[k, 2]
        scale = world.table_grid[k, 2]
        # the node (p, q) is at (ox, oy) + p (ax, ay) + q (bx, by) in the table's own cells
        dx, dy = sign * (x0 - state[j, 1]), sign * (y0 - state[j, 2])
        ox = (dx * fc + dy * fs - world.table_grid[k, 0]) * scale + 0.5
        oy = (dy * fc - dx * fs - world.table_grid[k, 1]) * scale + 0.5
        ax, ay = sign * da * scale * (ux * fc + uy * fs), sign * da * scale * (uy * fc - ux * fs)
        bx, by = sign * db * scale * (ux * fs - uy * fc), sign * db * scale * (ux * fc + uy * fs)
        reach = world.radius[t] + trig[j, 2]
        along, side = state[j, 1] * ux + state[j, 2] * uy - a0, state[j, 2] * ux - state[j, 1] * uy - b0
        first, last = int(max((along - reach) / da, 0.0)), int(min((along + reach) / da, rows - 1.0))
        start, end = int(max((side - reach) / db, 0.0)), int(min((side + reach) / db, columns - 1.0))
        for p in range(first, last + 1):
            for q in range(start, end + 1):
                fx, fy = ox + p * ax + q * bx, oy + p * ay + q * by
                if fx >= 0.0 and fy >= 0.0 and fx < nx and fy < ny:
                    value = world.table_values[offset + int(fy) * nx + int(fx)]
                    if value > 0.0:
                        field[p * columns + q] += factors[n] * value


@kernel_loop()
def _survey(world, limits, state, trig, wall, near, factors, count, i, c, row, exact, field, best):
    """Keep the best of the dips that tabled overlap with all neighbours has over a coarse grid of the places of item ``i``.

    The grid spans the places where the item lies within its container's bounds; ``field`` is room for its nodes.
    """
    t = world.item_shape[i]
    angle = world.axis[c] + world.angles[row, 0]
    cos, sin = math.cos(angle), math.sin(angle)
    ux, uy = world.away[c, 0], world.away[c, 1]
    low, high, right, left = np.inf, -np.inf, np.inf, -np.inf
    for k in range(world.hull_off[t], world.hull_off[t + 1]):
        hx, hy = world.hull[k, 0] * cos - world.hull[k, 1] * sin, world.hull[k, 0] * sin + world.hull[k, 1] * cos
        along, side = hx * ux + hy * uy, hy * ux - hx * uy
        low, high, right, left = min(low, along), max(high, along), min(right, side), max(left, side)
    a0, b0 = world.span[c, 0] - low, world.span[c, 2] - right
    length, width = min(limits[c], world.span[c, 1]) - high - a0, world.span[c, 3] - left - b0
    if length < 0.0 or width < 0.0:
        return
    nodes = min(max(length * width / (CELL * world.radius[t]) ** 2, LEAST_NODES), field.shape[0])
    cell = max(math.sqrt(length * width / nodes), length / 100, width / 100, 1e-9)
    rows, columns = int(length / cell) + 1, int(width / cell) + 1
    while rows * columns > field.shape[0]:
        cell *= 1.03
        rows, columns = int(length / cell) + 1, int(width / cell) + 1
    da, db = max(length / max(rows - 1, 1), 1e-9), max(width / max(columns - 1, 1), 1e-9)
    if rows > 1 and columns > 1 and np.random.random() < 0.5:
        # not always the same places
        a0 += da * np.random.random()
        b0 += db * np.random.random()
        rows, columns = rows - 1, columns - 1
    overlap_grid(world, state, trig, near, factors, count, i, c, row, a0, b0, da, db, rows, columns, field)
    for p in range(rows):
        for q in range(columns):
            node = p * columns + q
            value = field[node]
            if (
                value < 2.0 * best[TRIED - 1, 0]
                and not (p > 0 and field[node - columns] < value)
                and not (p < rows - 1 and field[node + columns] < value)
                and not (q > 0 and field[node - 1] < value)
                and not (q < columns - 1 and field[node + 1] < value)
            ):
                a, b = a0 + p * da, b0 + q * db
                x, y = a * ux - b * uy, a * uy + b * ux
                cost = pose_cost(
                    world, limits, state, trig, wall, near, factors, count, i, c, x, y, angle, row, exact, best[TRIED - 1, 0]
                )
                if cost < best[TRIED - 1, 0]:
                    _keep(best, cost, x, y, angle, row)


@kernel_loop()
def relocate(world, limits, state, trig, weights, wall, i, wide, close, exact, scratch):
    """Move item ``i`` within its container to the best of many tried poses and give its cost back; its present pose stays
    when none is better.

    ``wide`` poses are drawn over the whole container, ``close`` ones around where it is. Where overlaps are tabled and the
    container is convex, the whole container is surveyed instead of the wide ones.
    """
    t, c = world.item_shape[i], int(state[i, 0])
    first, last = world.angle_off[t], world.angle_off[t + 1]
    near, factors, best = scratch.near, scratch.factors, scratch.best
    count = _neighbours(world, state, trig, weights, i, c, 0.0, 0.0, np.inf, near, factors)
    best[:] = np.inf
    current = pose_cost(
        world, limits, state, trig, wall, near, factors, count, i, c,
        state[i, 1], state[i, 2], state[i, 3], int(state[i, 4]), exact, np.inf,
    )
    best[0, 0], best[0, 1], best[0, 2], best[0, 3], best[0, 4] = current, state[i, 1], state[i, 2], state[i, 3], state[i, 4]
    surveyed = wide > 0 and world.table[first, first] >= 0 and world.wall_plane_off[c, 0, 1] > world.wall_plane_off[c, 0, 0]
    for n in range(count):
        other = int(state[near[n], 4])
        surveyed = surveyed and max(world.table[first, other], world.table[other, first]) >= 0
    # the close ones first: they are the best mostly, and spare the far ones most of their sum
    for n in range(close // 2 if surveyed else close + wide):
        if n >= close:
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
            turned = state[i, 3] + 0.4 * (np.random.random() - 0.5)
            if allowed_angle(world, c, row, turned):
                angle = turned
        cost = pose_cost(
            world, limits, state, trig, wall, near, factors, count, i, c, x, y, angle, row, exact, best[TRIED - 1, 0]
        )
        if cost < best[TRIED - 1, 0]:
            _keep(best, cost, x, y, angle, row)
    if surveyed:
        skipped = last - first - SURVEYED
        row = first + (np.random.randint(0, last - first) if skipped > 0 else 0)
        for _ in range(min(last - first, SURVEYED)):
            _survey(world, limits, state, trig, wall, near, factors, count, i, c, row, exact, scratch.field, best)
            row = row + 1 if row + 1 < last else first
    top = 0
    for n in range(TRIED):
        if best[n, 0] < np.inf:
            _descend(world, limits, state, trig, weights, wall, near, factors, i, c, best[n], exact, COARSE, FINE)
            if best[n, 0] < best[top, 0]:
                top = n
            if best[n, 0] == 0.0:
                break
    _descend(world, limits, state, trig, weights, wall, near, factors, i, c, best[top], exact, FINE, FINEST)
    if best[top, 0] < current:
        for k in range(1, 5):
            state[i, k] = best[top, k]
        trig[i, 0], trig[i, 1] = math.cos(state[i, 3]), math.sin(state[i, 3])
    return min(current, best[top, 0])
