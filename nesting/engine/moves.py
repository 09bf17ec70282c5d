"""Moving one item to where it overlaps least: what overlap costs, and coordinate descent from the best of many
poses."""

from __future__ import annotations

import math

import numpy as np

from .compiled import kernel, kernel_loop
from .contact import table_depth
from .fixed import COARSE, FINE, FINEST, LONGER, NEAR, SHORTER, SKIN_MM
from .kernels import allowed_angle, crosses_wall, farthest, overlap_depth, shapes_touch, wall_depth
from .limits import COMPILED
from .survey import DIP_BAR, DIPS, LEAST_NODES, TRIED, find_dips, keep, lay_grid

LESS_TURN, MOST_TURN, CLOSE_TURN = COMPILED.less_turn, COMPILED.most_turn, COMPILED.close_turn
TURN_ARM = COMPILED.turn_arm


@kernel()
def pair_cost(world, a, ka, ax, ay, ac, as_, b, kb, bx, by, bc, bs, exact, enough):
    """Overlap depth of two shapes, mm; with ``exact`` at least the skin when they touch at all.

    ``ka`` and ``kb`` are the rows of their angles; shapes that keep to fixed angles have a table of exact depths.
    """
    k, dx, dy, cos, sin = np.int64(world.table[ka, kb]), bx - ax, by - ay, ac, as_
    if k < 0:
        k, dx, dy, cos, sin = np.int64(world.table[kb, ka]), -dx, -dy, bc, bs
    if k >= 0:
        return table_depth(world, k, dx * cos + dy * sin, dy * cos - dx * sin)
    depth = overlap_depth(world, a, ax, ay, ac, as_, b, bx, by, bc, bs, enough)
    if depth > SKIN_MM:
        return depth
    if exact and shapes_touch(world, a, ax, ay, ac, as_, b, bx, by, bc, bs):
        return 2.0 * SKIN_MM
    return 0.0


@kernel()
def border_cost(world, limits, c, t, x, y, cos, sin, exact, enough):
    """How far a shape leaves its container or passes the limit drawn across it, mm."""
    over = farthest(world, c, t, x, y, cos, sin) - limits[c] if limits[c] < np.inf else 0.0
    depth = max(0.0, over)
    if depth > enough:
        return depth
    depth += wall_depth(world, c, t, x, y, cos, sin, enough)
    if depth > SKIN_MM:
        return depth
    if exact and (over > 0.0 or crosses_wall(world, c, t, x, y, cos, sin)):
        return 2.0 * SKIN_MM
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


@kernel_loop()
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
            world,
            t,
            row,
            x,
            y,
            cos,
            sin,
            world.item_shape[j],
            int(state[j, 4]),
            state[j, 1],
            state[j, 2],
            trig[j, 0],
            trig[j, 1],
            exact,
            (bound - total) / factors[n],
        )
        if total > bound:
            return total
    return total


@kernel_loop()
def _descend(world, limits, state, trig, weights, wall, near, factors, i, c, pose, exact, step, least):
    """Coordinate descent of a pose (cost, x, y, angle, row), in place, with steps from ``step`` down to ``least``
    radii."""
    t, row = world.item_shape[i], int(pose[4])
    lean = world.angles[row, 1] - world.angles[row, 0]
    turn = min(step / TURN_ARM, 0.5 * lean)
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
            cost = pose_cost(
                world, limits, state, trig, wall, near, factors, count, i, c, x, y, angle, row, exact, pose[0]
            )
            if cost < pose[0]:
                pose[0], pose[1], pose[2], pose[3] = cost, x, y, angle
                better = True
                break
        step *= LONGER if better else SHORTER
        if turn > 0.0:
            turn = min(MOST_TURN, turn * (LONGER if better else LESS_TURN))


@kernel_loop()
def rough_overlaps(
    world, state, trig, wall, near, factors, count, t, c, angle, a0, b0, da, db, rows, columns, bar, field
):
    """Sum the overlap of a turned shape with wall and neighbours over a grid of places (see ``lay_grid``), roughly.

    Its biggest inscribed circles stand for it, and clearance is that of the nearest node of a neighbour's field. Nodes
    where the wall alone costs more than ``bar`` get infinity.
    """
    cos, sin = math.cos(angle), math.sin(angle)
    ux, uy = world.away[c, 0], world.away[c, 1]
    x0, y0 = a0 * ux - b0 * uy, a0 * uy + b0 * ux
    factor = wall * world.weight[t]
    for p in range(rows):
        for q in range(columns):
            x, y = x0 + p * da * ux - q * db * uy, y0 + p * da * uy + q * db * ux
            value = factor * wall_depth(world, c, t, x, y, cos, sin, bar / factor)
            field[p * columns + q] = value if value <= bar else np.inf
    first, last = world.circle_off[t], world.circle_off[t + 1]
    for n in range(count):
        j = near[n]
        u, jc, js = world.item_shape[j], trig[j, 0], trig[j, 1]
        offset, nx, ny = world.shape_meta[u]
        scale, reach = world.shape_grid[u, 2], world.radius[t] + trig[j, 2]
        # node (p, q) lies nearest cell (ox + p ax + q bx, oy + p ay + q by) of the neighbour's field
        dx, dy = x0 - state[j, 1], y0 - state[j, 2]
        ox = (dx * jc + dy * js - world.shape_grid[u, 0]) * scale + 0.5
        oy = (dy * jc - dx * js - world.shape_grid[u, 1]) * scale + 0.5
        ax, ay = da * scale * (ux * jc + uy * js), da * scale * (uy * jc - ux * js)
        bx, by = db * scale * (ux * js - uy * jc), db * scale * (ux * jc + uy * js)
        rc, rs = (cos * jc + sin * js) * scale, (sin * jc - cos * js) * scale
        along, side = -(dx * ux + dy * uy), dx * uy - dy * ux
        start, end = int(max((along - reach) / da + 1.0, 0.0)), int(min((along + reach) / da, rows - 1.0))
        right, left = int(max((side - reach) / db + 1.0, 0.0)), int(min((side + reach) / db, columns - 1.0))
        for p in range(start, end + 1):
            for q in range(right, left + 1):
                node = p * columns + q
                if field[node] > bar:
                    continue
                fx, fy = ox + p * ax + q * bx, oy + p * ay + q * by
                if _clearance(world.values, offset, nx, ny, scale, fx, fy) + world.radius[t] <= 0.0:
                    continue
                depth = 0.0
                for k in range(first, last):
                    cx, cy = world.circles[k, 0], world.circles[k, 1]
                    d = world.circles[k, 2] + _clearance(
                        world.values, offset, nx, ny, scale, fx + rc * cx - rs * cy, fy + rs * cx + rc * cy
                    )
                    depth = max(depth, d)
                field[node] += factors[n] * depth


@kernel()
def _clearance(values, offset, nx, ny, scale, fx, fy):
    """Clearance at the node nearest to a place in cells (half a cell added), mm; beyond the grid the distance to it is
    subtracted."""
    x, y = min(max(fx, 0.0), nx - 0.5), min(max(fy, 0.0), ny - 0.5)
    return values[offset + int(y) * nx + int(x)] - math.hypot(fx - x, fy - y) / scale


@kernel_loop()
def _survey(world, limits, state, trig, wall, near, factors, count, i, c, angle, row, exact, scratch):
    """Keep the best of the dips that overlap shows over a coarse grid of the places of item ``i``, turned by ``angle``.

    The number of its nodes is given back, no less than a grid has at least.
    """
    t, best, dips = world.item_shape[i], scratch.best, scratch.dips
    a0, b0, da, db, rows, columns = lay_grid(world, limits, c, t, math.cos(angle), math.sin(angle))
    bar = DIP_BAR * best[TRIED - 1, 0]
    rough_overlaps(
        world, state, trig, wall, near, factors, count, t, c, angle, a0, b0, da, db, rows, columns, bar, scratch.field
    )
    find_dips(world, c, scratch, a0, b0, da, db, rows, columns, bar)
    for n in range(DIPS):
        if not dips[n, 0] < bar:
            break
        x, y = dips[n, 1], dips[n, 2]
        cost = pose_cost(
            world, limits, state, trig, wall, near, factors, count, i, c, x, y, angle, row, exact, best[TRIED - 1, 0]
        )
        if cost < best[TRIED - 1, 0]:
            keep(best, cost, x, y, angle, row)
    return max(rows * columns, LEAST_NODES)


@kernel_loop()
def relocate_turned(world, limits, state, trig, weights, wall, i, nodes, close, exact, scratch):
    """Move item ``i`` within its container to the best of many tried poses and give its cost back; its present pose
    stays when none is better.

    ``close`` poses are drawn around where it is. Then the whole container is surveyed, at one angle near the present
    one, and at others until so many nodes have been looked at.
    """
    t, c = world.item_shape[i], int(state[i, 0])
    first, last = world.angle_off[t], world.angle_off[t + 1]
    near, factors, best = scratch.near, scratch.factors, scratch.best
    count = _neighbours(world, state, trig, weights, i, c, 0.0, 0.0, np.inf, near, factors)
    best[:] = np.inf
    current = pose_cost(
        world,
        limits,
        state,
        trig,
        wall,
        near,
        factors,
        count,
        i,
        c,
        state[i, 1],
        state[i, 2],
        state[i, 3],
        int(state[i, 4]),
        exact,
        np.inf,
    )
    best[0, 0], best[0, 1], best[0, 2], best[0, 3], best[0, 4] = (
        current,
        state[i, 1],
        state[i, 2],
        state[i, 3],
        state[i, 4],
    )
    # the close ones first: they are the best mostly, and spare the far ones most of their sum
    n = 0
    while n < close or nodes > 0:
        row = np.random.randint(first, last)
        low, high = world.angles[row, 0], world.angles[row, 1]
        angle = world.axis[c] + low + (high - low) * np.random.random()
        if n <= close and high > low:
            turned = state[i, 3] + CLOSE_TURN * (np.random.random() - 0.5)
            if allowed_angle(world, c, row, turned):
                angle = turned
        n += 1
        if n > close:
            nodes -= _survey(world, limits, state, trig, wall, near, factors, count, i, c, angle, row, exact, scratch)
            continue
        x = state[i, 1] + world.radius[t] * (np.random.random() - 0.5)
        y = state[i, 2] + world.radius[t] * (np.random.random() - 0.5)
        cost = pose_cost(
            world, limits, state, trig, wall, near, factors, count, i, c, x, y, angle, row, exact, best[TRIED - 1, 0]
        )
        if cost < best[TRIED - 1, 0]:
            keep(best, cost, x, y, angle, row)
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
