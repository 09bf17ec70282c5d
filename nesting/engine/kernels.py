"""Compiled geometry: how deep things overlap (fast, approximate) and whether they touch at all (exact)."""

from __future__ import annotations

import math

import numpy as np

from .compiled import kernel, kernel_from_python, kernel_loop
from .fields import look_up
from .limits import COMPILED

FEW_EDGES, FEW_PAIRS = COMPILED.few_edges, COMPILED.few_pairs


@kernel_loop()
def overlap_depth(world, a, ax, ay, ac, as_, b, bx, by, bc, bs, enough):
    """How deep shapes ``a`` and ``b`` (centre, cosine, sine) overlap, mm: the deepest probe of one in the other.

    Returns as soon as the depth passes ``enough``. A probe reaches no deeper than the clearance of the centre plus how
    far from the centre it reaches, and probes are ordered by that reach, so most are never looked up.
    """
    dx, dy = bx - ax, by - ay
    reach = world.radius[a] + world.radius[b]
    if dx * dx + dy * dy >= reach * reach or _parted(world, a, ac, as_, b, bc, bs, dx, dy):
        return 0.0
    depth = 0.0
    for turn in range(2):
        if turn == 0:
            s, sx, sy, sc, ss, t, tx, ty, tc, ts = a, ax, ay, ac, as_, b, bx, by, bc, bs
        else:
            s, sx, sy, sc, ss, t, tx, ty, tc, ts = b, bx, by, bc, bs, a, ax, ay, ac, as_
        # probe p of s, seen from t: R(-t) (R(s) p + s - t)
        cos, sin = sc * tc + ss * ts, ss * tc - sc * ts
        ox, oy = (sx - tx) * tc + (sy - ty) * ts, (sy - ty) * tc - (sx - tx) * ts
        middle = look_up(world.values, world.shape_meta[t], world.shape_grid[t], ox, oy)
        for k in range(world.probe_off[s], world.probe_off[s + 1]):
            if world.probes[k, 3] + middle <= depth:
                break
            px, py = world.probes[k, 0], world.probes[k, 1]
            d = world.probes[k, 2] + look_up(
                world.values,
                world.shape_meta[t],
                world.shape_grid[t],
                cos * px - sin * py + ox,
                sin * px + cos * py + oy,
            )
            if d > depth:
                depth = d
                if depth > enough:
                    return depth
    return depth


@kernel()
def _parted(world, a, ac, as_, b, bc, bs, dx, dy):
    """Whether the line through both centres shows that two shapes do not meet: their widths along it fall short."""
    step = world.support.shape[1] / (2.0 * math.pi)
    i = int((math.atan2(dy * ac - dx * as_, dx * ac + dy * as_) + math.pi) * step)
    j = int((math.atan2(dx * bs - dy * bc, -dx * bc - dy * bs) + math.pi) * step)
    last = world.support.shape[1] - 1
    width = world.support[a, min(i, last)] + world.support[b, min(j, last)]
    return width * width <= dx * dx + dy * dy


@kernel_loop()
def wall_depth(world, c, t, x, y, cos, sin, enough):
    """How far shape ``t`` sticks out of what container ``c`` allows it, mm."""
    depth = 0.0
    for part in range(world.part_off[t], world.part_off[t + 1]):
        mask = world.part_mask[part]
        middle = look_up(world.values, world.wall_meta[c, mask], world.wall_grid[c, mask], x, y)
        if middle >= world.radius[t]:
            continue
        first, last = world.wall_plane_off[c, mask]
        if last > first and part == world.part_off[t]:  # the first area is the whole outline
            for n in range(first, last):
                nx, ny = world.wall_planes[n, 0], world.wall_planes[n, 1]
                base = nx * x + ny * y - world.wall_planes[n, 2]
                if base + world.radius[t] <= depth:
                    continue
                vx, vy = nx * cos + ny * sin, ny * cos - nx * sin
                for k in range(world.hull_off[t], world.hull_off[t + 1]):
                    depth = max(depth, base + world.hull[k, 0] * vx + world.hull[k, 1] * vy)
            if depth > enough:
                return depth
            continue
        for k in range(world.part_probe_off[part], world.part_probe_off[part + 1]):
            if world.part_probes[k, 3] - middle <= depth:
                break
            px, py = world.part_probes[k, 0], world.part_probes[k, 1]
            d = world.part_probes[k, 2] - look_up(
                world.values,
                world.wall_meta[c, mask],
                world.wall_grid[c, mask],
                cos * px - sin * py + x,
                sin * px + cos * py + y,
            )
            if d > depth:
                depth = d
                if depth > enough:
                    return depth
    return depth


@kernel()
def _segments_meet(ax, ay, bx, by, cx, cy, dx, dy):
    if max(ax, bx) < min(cx, dx) or max(cx, dx) < min(ax, bx) or max(ay, by) < min(cy, dy) or max(cy, dy) < min(ay, by):
        return False
    rx, ry, sx, sy = bx - ax, by - ay, dx - cx, dy - cy
    d1 = rx * (cy - ay) - ry * (cx - ax)
    d2 = rx * (dy - ay) - ry * (dx - ax)
    d3 = sx * (ay - cy) - sy * (ax - cx)
    d4 = sx * (by - cy) - sy * (bx - cx)
    return not ((d1 > 0 and d2 > 0) or (d1 < 0 and d2 < 0) or (d3 > 0 and d4 > 0) or (d3 < 0 and d4 < 0))


@kernel()
def _inside(edges, first, last, x, y):
    odd = False
    for k in range(first, last):
        ax, ay, bx, by = edges[k, 0], edges[k, 1], edges[k, 2], edges[k, 3]
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            odd = not odd
    return odd


@kernel_loop()
def shapes_touch(world, a, ax, ay, ac, as_, b, bx, by, bc, bs):
    """Whether two shapes share any point (exact on their conservative outlines)."""
    dx, dy = bx - ax, by - ay
    reach = world.radius[a] + world.radius[b]
    if dx * dx + dy * dy > reach * reach:
        return False
    fine = (world.edge_off[a + 1] - world.edge_off[a]) * (world.edge_off[b + 1] - world.edge_off[b]) > FEW_PAIRS
    if fine and _parted(world, a, ac, as_, b, bc, bs, dx, dy):
        return False
    # one of them is turned, then shifted, into the frame of the other, which is the one with more edges
    if world.edge_off[a + 1] - world.edge_off[a] >= world.edge_off[b + 1] - world.edge_off[b]:
        cos, sin = bc * ac + bs * as_, bs * ac - bc * as_
        ox, oy = dx * ac + dy * as_, dy * ac - dx * as_
    else:
        a, b = b, a
        cos, sin = bc * ac + bs * as_, bc * as_ - bs * ac
        ox, oy = -dx * bc - dy * bs, dx * bs - dy * bc
    return _edges_touch(world, a, b, cos, sin, ox, oy, fine)


@kernel()
def _edges_touch(world, a, b, cos, sin, ox, oy, fine):
    """Whether shape ``b``, turned and then shifted, meets shape ``a``, or one holds the other.

    Where they are ``fine``, an edge is looked at closely only if the field of ``a`` does not tell that its border is
    farther away: at the nearest node it is true, and no place is farther from that than a cell.
    """
    still, s0, s1 = world.edges, world.edge_off[a], world.edge_off[a + 1]
    moved, m0, m1 = world.edges, world.edge_off[b], world.edge_off[b + 1]
    offset, nx, ny = world.shape_meta[a, 0], world.shape_meta[a, 1], world.shape_meta[a, 2]
    left, low, scale = world.shape_grid[a, 0], world.shape_grid[a, 1], world.shape_grid[a, 2]
    right, high, near = left + (nx - 1) / scale, low + (ny - 1) / scale, 2.0 / scale
    if fine and left <= ox <= right and low <= oy <= high:
        depth = world.values[offset + int((oy - low) * scale + 0.5) * nx + int((ox - left) * scale + 0.5)]
        if depth < -world.radius[b] - near:
            return False
    for k in range(m0, m1):
        px, py = cos * moved[k, 0] - sin * moved[k, 1] + ox, sin * moved[k, 0] + cos * moved[k, 1] + oy
        qx, qy = cos * moved[k, 2] - sin * moved[k, 3] + ox, sin * moved[k, 2] + cos * moved[k, 3] + oy
        if max(px, qx) < left or min(px, qx) > right or max(py, qy) < low or min(py, qy) > high:
            continue
        x, y = 0.5 * (px + qx), 0.5 * (py + qy)
        if fine and left <= x <= right and low <= y <= high:
            depth = world.values[offset + int((y - low) * scale + 0.5) * nx + int((x - left) * scale + 0.5)]
            reach = 0.5 * math.hypot(qx - px, qy - py) + near
            if depth > reach:
                return True
            if depth < -reach:
                continue
        for e in range(s0, s1):
            if _segments_meet(px, py, qx, qy, still[e, 0], still[e, 1], still[e, 2], still[e, 3]):
                return True
    x, y = cos * moved[m0, 0] - sin * moved[m0, 1] + ox, sin * moved[m0, 0] + cos * moved[m0, 1] + oy
    if _inside(still, s0, s1, x, y):
        return True
    dx, dy = still[s0, 0] - ox, still[s0, 1] - oy
    return _inside(moved, m0, m1, cos * dx + sin * dy, cos * dy - sin * dx)


@kernel_loop()
def crosses_wall(world, c, t, x, y, cos, sin):
    """Whether shape ``t`` touches or leaves the border of what container ``c`` allows it (exact)."""
    reach = world.radius[t]
    for part in range(world.part_off[t], world.part_off[t + 1]):
        mask = world.part_mask[part]
        m0, m1 = world.part_edge_off[part], world.part_edge_off[part + 1]
        w0, w1 = world.wall_edge_off[c, mask, 0], world.wall_edge_off[c, mask, 1]
        if w1 - w0 > FEW_EDGES:
            grid = world.wall_grid[c, mask]
            if look_up(world.values, world.wall_meta[c, mask], grid, x, y) > reach + 2.0 / grid[2]:
                continue
        for e in range(w0, w1):
            ax, ay, bx, by = world.wall_edges[e]
            if max(ax, bx) < x - reach or min(ax, bx) > x + reach or max(ay, by) < y - reach or min(ay, by) > y + reach:
                continue
            px, py = cos * (ax - x) + sin * (ay - y), cos * (ay - y) - sin * (ax - x)
            qx, qy = cos * (bx - x) + sin * (by - y), cos * (by - y) - sin * (bx - x)
            if _inside(world.part_edges, m0, m1, px, py):
                return True
            for k in range(m0, m1):
                edge = world.part_edges[k]
                if _segments_meet(px, py, qx, qy, edge[0], edge[1], edge[2], edge[3]):
                    return True
        k = m0
        px, py = world.part_edges[k, 0], world.part_edges[k, 1]
        if not _inside(world.wall_edges, w0, w1, cos * px - sin * py + x, sin * px + cos * py + y):
            return True
    return False


@kernel_from_python()
def farthest(world, c, t, x, y, cos, sin):
    """How far shape ``t`` reaches from the packed end of container ``c``, mm along its axis."""
    ux, uy = world.away[c, 0], world.away[c, 1]
    vx, vy = ux * cos + uy * sin, uy * cos - ux * sin
    reach = -np.inf
    for k in range(world.hull_off[t], world.hull_off[t + 1]):
        reach = max(reach, world.hull[k, 0] * vx + world.hull[k, 1] * vy)
    return reach + ux * x + uy * y


@kernel_from_python()
def allowed_angle(world, c, row, angle):
    """Whether a shape may be turned by ``angle`` (radians) in container ``c`` within a row of its angles."""
    return (angle - world.axis[c] - world.angles[row, 0]) % (2.0 * math.pi) <= world.angles[row, 1] - world.angles[
        row, 0
    ]
