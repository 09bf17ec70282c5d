"""Laying rows of equal items into a container, and how near rows may lie to each other."""

from __future__ import annotations

import math

import numpy as np

from .compiled import compiled, kernel_loop
from .construct import is_free
from .kernels import allowed_angle, farthest
from .limits import COMPILED

CLEAR_MM = COMPILED.wall_clearance_mm


@compiled()
def reach(edges, angle):
    """How far a region round the origin reaches in a direction."""
    c, s, far = math.cos(angle), math.sin(angle), 0.0
    for k in range(edges.shape[0]):
        ay, by = edges[k, 1] * c - edges[k, 0] * s, edges[k, 3] * c - edges[k, 2] * s
        if (ay <= 0.0) != (by <= 0.0):
            ax, bx = edges[k, 0] * c + edges[k, 1] * s, edges[k, 2] * c + edges[k, 3] * s
            far = max(far, ax + (bx - ax) * ay / (ay - by))
    return far


@compiled()
def height(edges, angle, period, count):
    """How high a region stands over each of ``count`` shifts along a direction, when it is repeated with a period."""
    c, s, top, step = math.cos(angle), math.sin(angle), np.full(count, -np.inf), period / count
    for k in range(edges.shape[0]):
        ax, ay = edges[k, 0] * c + edges[k, 1] * s, edges[k, 1] * c - edges[k, 0] * s
        bx, by = edges[k, 2] * c + edges[k, 3] * s, edges[k, 3] * c - edges[k, 2] * s
        if ax > bx:
            ax, ay, bx, by = bx, by, ax, ay
        for n in range(math.ceil(ax / step - 1e-9), math.floor(bx / step + 1e-9) + 1):
            share = (n * step - ax) / (bx - ax) if bx > ax else 0.0
            top[n % count] = max(top[n % count], ay + (by - ay) * min(max(share, 0.0), 1.0))
    return top


@compiled()
def lay_rows(world, c, items, along, across, twin, paired, state, tries, seed):
    """Lay as many of some equal items in rows as fit into a container, the nearest to its packed end.

    Parameters
    ----------
    world : World
    c : int
    items : (k,) int array
        Equal items without a place.
    along, across, twin : (2,) arrays
    paired : bool
        See ``Rows``.
    state : (items, 5) array
        Changed in place.
    tries : int
        Angles and shifts of the rows that are tried.
    seed : int

    Returns
    -------
    int
        Items laid.
    """
    np.random.seed(seed)
    t, need = world.item_shape[items[0]], len(items)
    neighbours = np.nonzero(state[:, 0] == c)[0]
    first, last = world.angle_off[t], world.angle_off[t + 1]
    w0, w1 = world.wall_edge_off[c, 0, 0], world.wall_edge_off[c, 0, 1]
    most = int(2.0 * world.room[c] / world.area[t]) + 8
    poses, best, best_count, best_reach = np.empty((most, 5)), np.empty((need, 5)), 0, np.inf
    x0, y0, x1, y1 = _bounds(world, c)
    direction = math.atan2(along[1], along[0])
    for n in range(tries):
        row = np.random.randint(first, last)
        low, high = world.axis[c] + world.angles[row, 0], world.axis[c] + world.angles[row, 1]
        angle = low + (high - low) * np.random.random()
        edge, second = world.wall_edges[np.random.randint(w0, w1)], world.wall_edges[np.random.randint(w0, w1)]
        if n % 2 == 1 and high > low:
            flush = math.atan2(edge[3] - edge[1], edge[2] - edge[0]) - direction
            flush = low + (flush - low) % (2.0 * math.pi)
            if flush <= high:
                angle = flush
        other = row
        if paired:
            other = first
            while other < last and not allowed_angle(world, c, other, angle + math.pi):
                other += 1
            if other == last:
                continue
        cos, sin = math.cos(angle), math.sin(angle)
        ux, uy = cos * along[0] - sin * along[1], sin * along[0] + cos * along[1]
        vx, vy = cos * across[0] - sin * across[1], sin * across[0] + cos * across[1]
        wx, wy = cos * twin[0] - sin * twin[1], sin * twin[0] + cos * twin[1]
        p, q = np.random.random(), np.random.random()
        ox, oy = p * ux + q * vx, p * uy + q * vy
        if n % 4 > 1:
            found_corner, x, y = _corner(world, t, cos, sin, edge, second)
            if found_corner:
                ox, oy = x, y
        det = ux * vy - uy * vx
        i0, i1, j0, j1 = np.inf, -np.inf, np.inf, -np.inf
        for corner in range(4):
            dx, dy = (x0 if corner % 2 else x1) - ox, (y0 if corner > 1 else y1) - oy
            i, j = (dx * vy - dy * vx) / det, (ux * dy - uy * dx) / det
            i0, i1, j0, j1 = min(i0, i), max(i1, i), min(j0, j), max(j1, j)
        found = 0
        for i in range(int(i0) - 1, int(i1) + 2):
            for j in range(int(j0) - 1, int(j1) + 2):
                for half in range(2 if paired else 1):
                    x, y = ox + i * ux + j * vx + half * wx, oy + i * uy + j * vy + half * wy
                    if x < x0 or x > x1 or y < y0 or y > y1 or found == most:
                        continue
                    sign = 1.0 - 2.0 * half
                    if is_free(world, c, t, x, y, sign * cos, sign * sin, state, neighbours):
                        poses[found, 0] = farthest(world, c, t, x, y, sign * cos, sign * sin)
                        poses[found, 1], poses[found, 2], poses[found, 3] = x, y, angle + half * math.pi
                        poses[found, 4] = other if half else row
                        found += 1
        count = min(found, need)
        if count == 0 or count < best_count:
            continue
        order = np.argsort(poses[:found, 0])[:count]
        reach = poses[order[-1], 0]
        if count > best_count or reach < best_reach:
            best_count, best_reach = count, reach
            for k in range(count):
                for m in range(5):
                    best[k, m] = poses[order[k], m]
    laid = 0
    for k in range(best_count):
        x, y, angle = best[k, 1], best[k, 2], best[k, 3]
        if is_free(world, c, t, x, y, math.cos(angle), math.sin(angle), state, neighbours):
            item = items[laid]
            state[item, 0], state[item, 1], state[item, 2], state[item, 3], state[item, 4] = c, x, y, angle, best[k, 4]
            neighbours = np.append(neighbours, item)
            laid += 1
    return laid


@kernel_loop()
def _corner(world, t, cos, sin, edge, other):
    """Where a shape touches the lines of two edges, on sides drawn at random; false when they are about parallel."""
    ax, ay, bx, by = edge[2] - edge[0], edge[3] - edge[1], other[2] - other[0], other[3] - other[1]
    long, wide = math.hypot(ax, ay), math.hypot(bx, by)
    det = ax * by - ay * bx
    if abs(det) < 0.1 * long * wide:
        return False, 0.0, 0.0
    side, turn = long * (1.0 - 2.0 * np.random.randint(0, 2)), wide * (1.0 - 2.0 * np.random.randint(0, 2))
    nx, ny, mx, my = ay / side, -ax / side, by / turn, -bx / turn
    n_reach, m_reach = -np.inf, -np.inf
    for k in range(world.hull_off[t], world.hull_off[t + 1]):
        hx, hy = cos * world.hull[k, 0] - sin * world.hull[k, 1], sin * world.hull[k, 0] + cos * world.hull[k, 1]
        n_reach, m_reach = max(n_reach, nx * hx + ny * hy), max(m_reach, mx * hx + my * hy)
    d = nx * edge[0] + ny * edge[1] - n_reach - CLEAR_MM
    e = mx * other[0] + my * other[1] - m_reach - CLEAR_MM
    det = nx * my - ny * mx
    return True, (d * my - e * ny) / det, (nx * e - mx * d) / det


@kernel_loop()
def _bounds(world, c):
    """Bounding box of a container."""
    x0, y0, x1, y1 = np.inf, np.inf, -np.inf, -np.inf
    for e in range(world.wall_edge_off[c, 0, 0], world.wall_edge_off[c, 0, 1]):
        x0, x1 = min(x0, world.wall_edges[e, 0]), max(x1, world.wall_edges[e, 0])
        y0, y1 = min(y0, world.wall_edges[e, 1]), max(y1, world.wall_edges[e, 1])
    return x0, y0, x1, y1
