"""Moving one item where all keep to fixed angles and the container is convex.

How two such items lie to each other is then linear in the place of the moved one, so what it overlaps is looked up in
the tables of contact.py without computing an angle, and the whole container can be surveyed at every move.
"""

from __future__ import annotations

import math

import numpy as np

from .compiled import kernel, kernel_loop
from .contact import depth_at
from .limits import COMPILED
from .survey import DIP_BAR, DIPS, MOST_PLANES, TRIED, VIEWS, find_dips, keep, lay_grid

SKIN_MM, TOUCH_MM = COMPILED.skin_mm, COMPILED.touch_mm
COARSE, FINE, FINEST = COMPILED.coarse_step, COMPILED.fine_step, COMPILED.finest_step
LONGER, SHORTER, NEAR = COMPILED.longer_step, COMPILED.shorter_step, COMPILED.descent_room


@kernel()
def is_tabled(world, state, i):
    """Whether item ``i`` and all others in its container keep to fixed angles, and that container is convex and
    plain."""
    t, c = world.item_shape[i], int(state[i, 0])
    part, first = world.part_off[t], world.angle_off[t]
    planes = world.wall_plane_off[c, world.part_mask[part], 1] - world.wall_plane_off[c, world.part_mask[part], 0]
    if world.part_off[t + 1] != part + 1 or planes <= 0 or planes > MOST_PLANES:
        return False
    for j in range(state.shape[0]):
        other = int(state[j, 4])
        if j != i and state[j, 0] == c and world.table[first, other] < 0 and world.table[other, first] < 0:
            return False
    return True


@kernel_loop()
def list_view(world, state, trig, weights, i, row, view, scratch):
    """List what item ``i`` meets in its container when turned as ``row`` of the angle list says; the number of
    others."""
    t, c = world.item_shape[i], int(state[i, 0])
    angle = world.axis[c] + world.angles[row, 0]
    cos, sin = math.cos(angle), math.sin(angle)
    ux, uy = world.away[c, 0], world.away[c, 1]
    first, last = world.wall_plane_off[c, world.part_mask[world.part_off[t]]]
    scratch.rows[view] = row
    scratch.reaches[view] = -np.inf
    for k in range(world.hull_off[t], world.hull_off[t + 1]):
        hx, hy = world.hull[k, 0] * cos - world.hull[k, 1] * sin, world.hull[k, 0] * sin + world.hull[k, 1] * cos
        scratch.reaches[view, 0] = max(scratch.reaches[view, 0], hx * ux + hy * uy)
        for n in range(first, last):
            reach = world.wall_planes[n, 0] * hx + world.wall_planes[n, 1] * hy
            scratch.reaches[view, 1 + n - first] = max(scratch.reaches[view, 1 + n - first], reach)
    count = 0
    for j in range(state.shape[0]):
        if j == i or state[j, 0] != c:
            continue
        other = int(state[j, 4])
        k, sign, fc, fs = world.table[row, other], -1.0, cos, sin
        if k < 0:
            k, sign, fc, fs = world.table[other, row], 1.0, trig[j, 0], trig[j, 1]
        scale, x, y = world.table_grid[k, 2], state[j, 1], state[j, 2]
        entry = scratch.maps[view, count]
        entry[0] = (-sign * (x * fc + y * fs) - world.table_grid[k, 0]) * scale
        entry[1], entry[2] = sign * fc * scale, sign * fs * scale
        entry[3] = (-sign * (y * fc - x * fs) - world.table_grid[k, 1]) * scale
        entry[4], entry[5] = -sign * fs * scale, sign * fc * scale
        scratch.tables[view, count] = k
        scratch.factors[count] = weights[i, j] * math.sqrt(world.weight[t] * world.weight[world.item_shape[j]])
        count += 1
    return count


@kernel()
def _list_near(world, scratch, view, count, x, y, margin):
    """List the entries of a view that the item may overlap within ``margin`` of a place; their number is given back."""
    listed = 0
    for n in range(count):
        entry, k = scratch.maps[view, n], scratch.tables[view, n]
        fx, fy = entry[0] + entry[1] * x + entry[2] * y, entry[3] + entry[4] * x + entry[5] * y
        room = margin * world.table_grid[k, 2]
        if fx > -room and fy > -room and fx < world.table_meta[k, 1] + room and fy < world.table_meta[k, 2] + room:
            scratch.near[listed] = n
            listed += 1
    return listed


@kernel()
def _cost(world, limits, c, mask, wall, scratch, view, listed, x, y, exact, bound):
    """Weighted overlap at a place with wall and listed neighbours; more than ``bound`` as soon as it passes it."""
    over = scratch.reaches[view, 0] + world.away[c, 0] * x + world.away[c, 1] * y - limits[c]
    outside = -np.inf
    first, last = world.wall_plane_off[c, mask]
    for n in range(first, last):
        planes = world.wall_planes
        outside = max(
            outside, planes[n, 0] * x + planes[n, 1] * y - planes[n, 2] + scratch.reaches[view, 1 + n - first]
        )
    depth = max(over, 0.0) + max(outside, 0.0)
    if depth <= SKIN_MM:
        depth = 2.0 * SKIN_MM if exact and (over > 0.0 or outside > -TOUCH_MM) else 0.0
    total = wall * depth
    if total > bound:
        return total
    for m in range(listed):
        n = scratch.near[m]
        entry = scratch.maps[view, n]
        fx, fy = entry[0] + entry[1] * x + entry[2] * y, entry[3] + entry[4] * x + entry[5] * y
        total += scratch.factors[n] * depth_at(world, scratch.tables[view, n], fx, fy)
        if total > bound:
            return total
    return total


@kernel_loop()
def _descend(world, limits, c, mask, radius, wall, scratch, view, count, pose, exact, step, least):
    """Coordinate descent of a pose (cost, x, y, angle, row), in place, with steps from ``step`` down to ``least``
    radii."""
    step, least, margin = step * radius, least * radius, NEAR * radius
    x0, y0 = pose[1], pose[2]
    listed = _list_near(world, scratch, view, count, x0, y0, margin)
    while step > least and pose[0] > 0.0:
        way = np.random.randint(0, 4)
        better = False
        for sign in (1.0, -1.0):
            x, y = pose[1], pose[2]
            if way != 1:
                x += sign * step
            if way == 1 or way == 2:
                y += sign * step
            elif way == 3:
                y -= sign * step
            if abs(x - x0) + abs(y - y0) > margin:
                x0, y0 = x, y
                listed = _list_near(world, scratch, view, count, x0, y0, margin)
            cost = _cost(world, limits, c, mask, wall, scratch, view, listed, x, y, exact, pose[0])
            if cost < pose[0]:
                pose[0], pose[1], pose[2] = cost, x, y
                better = True
                break
        step *= LONGER if better else SHORTER


@kernel_loop()
def tabled_overlaps(world, c, scratch, view, count, a0, b0, da, db, rows, columns):
    """Sum the tabled overlap with all that a view lists over a grid of places, to about a cell of the tables, in
    ``field``.

    Node (p, q), number p * columns + q, lies a0 + p * da along the container's axis and b0 + q * db to its left.
    """
    ux, uy, field, values = world.away[c, 0], world.away[c, 1], scratch.field, world.table_values
    field[: rows * columns] = 0.0
    x0, y0 = a0 * ux - b0 * uy, a0 * uy + b0 * ux
    for n in range(count):
        entry, k, factor = scratch.maps[view, n], scratch.tables[view, n], scratch.factors[n]
        offset, nx, ny = world.table_meta[k, 0], world.table_meta[k, 1], world.table_meta[k, 2]
        # node (p, q) is nearest cell (ox + p ax + q bx, oy + p ay + q by) of the table
        ox, oy = entry[0] + entry[1] * x0 + entry[2] * y0 + 0.5, entry[3] + entry[4] * x0 + entry[5] * y0 + 0.5
        ax, ay = da * (entry[1] * ux + entry[2] * uy), da * (entry[4] * ux + entry[5] * uy)
        bx, by = db * (entry[2] * ux - entry[1] * uy), db * (entry[5] * ux - entry[4] * uy)
        # the table's middle and half its breadth, in nodes
        det = ax * by - ay * bx
        mx, my = 0.5 * nx - ox, 0.5 * ny - oy
        p0, q0 = (mx * by - my * bx) / det, (my * ax - mx * ay) / det
        wide, high = 0.5 * (abs(by) * nx + abs(bx) * ny) / abs(det), 0.5 * (abs(ay) * nx + abs(ax) * ny) / abs(det)
        start, end = int(max(q0 - high + 1.0, 0.0)), int(min(q0 + high, columns - 1.0))
        for p in range(int(max(p0 - wide + 1.0, 0.0)), int(min(p0 + wide, rows - 1.0)) + 1):
            px, py = ox + p * ax, oy + p * ay
            for q in range(start, end + 1):
                fx, fy = px + q * bx, py + q * by
                if fx >= 0.0 and fy >= 0.0 and fx < nx and fy < ny:
                    value = values[offset + int(fy) * nx + int(fx)]
                    if value > 0.0:
                        field[p * columns + q] += factor * value


@kernel_loop()
def _survey(world, limits, c, mask, t, wall, scratch, view, count, exact):
    """Keep the best of the dips that tabled overlap with all others has over a coarse grid of the places of an item."""
    row, best, dips = scratch.rows[view], scratch.best, scratch.dips
    angle = world.axis[c] + world.angles[row, 0]
    a0, b0, da, db, rows, columns = lay_grid(world, limits, c, t, math.cos(angle), math.sin(angle))
    tabled_overlaps(world, c, scratch, view, count, a0, b0, da, db, rows, columns)
    bar = DIP_BAR * best[TRIED - 1, 0]
    find_dips(world, c, scratch, a0, b0, da, db, rows, columns, bar)
    for n in range(DIPS):
        if not dips[n, 0] < bar:
            break
        x, y = dips[n, 1], dips[n, 2]
        listed = _list_near(world, scratch, view, count, x, y, 0.0)
        cost = _cost(world, limits, c, mask, wall, scratch, view, listed, x, y, exact, best[TRIED - 1, 0])
        if cost < best[TRIED - 1, 0]:
            keep(best, cost, x, y, angle, row)


@kernel_loop()
def relocate_fixed(world, limits, state, trig, weights, wall, i, close, exact, scratch):
    """Move item ``i``, where ``is_tabled``, to the best place that a survey of its container and ``close`` poses around
    its own show, and give its cost back; its present pose stays when none is better.

    It is looked at as it is turned and at one other of its angles, drawn at random.
    """
    t, c = world.item_shape[i], int(state[i, 0])
    first, present = world.angle_off[t], int(state[i, 4])
    angles = world.angle_off[t + 1] - first
    mask, radius, best, current = world.part_mask[world.part_off[t]], world.radius[t], scratch.best, np.inf
    views, count = min(angles, VIEWS), 0
    wall *= world.weight[t]
    best[:] = np.inf
    for view in range(views):
        row = present
        if view > 0:
            row = first + (present - first + np.random.randint(1, angles)) % angles
        angle = world.axis[c] + world.angles[row, 0]
        count = list_view(world, state, trig, weights, i, row, view, scratch)
        listed = _list_near(world, scratch, view, count, state[i, 1], state[i, 2], 0.5 * radius)
        # the close ones first: they are the best mostly, and spare the far ones most of their sum
        for n in range(close // views + 1):
            x, y = state[i, 1], state[i, 2]
            if n > 0:
                x, y = x + radius * (np.random.random() - 0.5), y + radius * (np.random.random() - 0.5)
            bound = best[TRIED - 1, 0]
            cost = _cost(world, limits, c, mask, wall, scratch, view, listed, x, y, exact, bound)
            if view == 0 and n == 0:
                current = cost
            if cost < bound:
                keep(best, cost, x, y, angle, row)
        _survey(world, limits, c, mask, t, wall, scratch, view, count, exact)
    top = 0
    for n in range(TRIED):
        if best[n, 0] < np.inf:
            view = 0 if best[n, 4] == present else 1
            _descend(world, limits, c, mask, radius, wall, scratch, view, count, best[n], exact, COARSE, FINE)
            if best[n, 0] < best[top, 0]:
                top = n
            if best[n, 0] == 0.0:
                break
    view = 0 if best[top, 4] == present else 1
    _descend(world, limits, c, mask, radius, wall, scratch, view, count, best[top], exact, FINE, FINEST)
    if best[top, 0] < current:
        for k in range(1, 5):
            state[i, k] = best[top, k]
        trig[i, 0], trig[i, 1] = math.cos(state[i, 3]), math.sin(state[i, 3])
    return min(current, best[top, 0])
