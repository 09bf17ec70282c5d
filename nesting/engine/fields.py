"""Clearance fields: on a grid, how deep inside a shape each node lies (negative outside), for look-ups in a few ns."""

from __future__ import annotations

import math

import numpy as np

from .arrays import Fields, Floats
from .compiled import compiled, kernel


@kernel()
def _squared_distance(px, py, ax, ay, bx, by):
    """Squared distance from a point to a segment."""
    dx, dy = bx - ax, by - ay
    length2 = dx * dx + dy * dy
    along = 0.0
    if length2 > 0.0:
        along = min(1.0, max(0.0, ((px - ax) * dx + (py - ay) * dy) / length2))
    x, y = px - ax - along * dx, py - ay - along * dy
    return x * x + y * y


@compiled()
def clearance_field(edges, x0, y0, cell, nx, ny):
    """Signed distance to a border on a grid: positive inside, negative outside (even-odd rule).

    Nearest edges are seeded along the border and carried over the grid by two pairs of sweeps, so nodes near the
    border are exact and far ones very nearly so.

    Parameters
    ----------
    edges : (n, 4) array
        Segments x1, y1, x2, y2 of all rings, mm.
    x0, y0, cell : float
        Lower-left node and node spacing, mm.
    nx, ny : int
        Nodes along x and y.

    Returns
    -------
    (ny, nx) float32 array
        Clearance, mm.
    (ny, nx) int32 array
        The nearest edge of each node.
    """
    near = np.full((ny, nx), -1, np.int32)
    distance = np.full((ny, nx), np.inf)
    flips = np.zeros((ny, nx + 1), np.uint8)
    for e in range(edges.shape[0]):
        ax, ay, bx, by = edges[e]
        steps = int(math.hypot(bx - ax, by - ay) / cell) + 1
        for s in range(steps + 1):
            i0 = math.floor((ax + (bx - ax) * s / steps - x0) / cell)
            j0 = math.floor((ay + (by - ay) * s / steps - y0) / cell)
            for j in range(max(0, j0 - 1), min(ny, j0 + 3)):
                for i in range(max(0, i0 - 1), min(nx, i0 + 3)):
                    d = _squared_distance(x0 + i * cell, y0 + j * cell, ax, ay, bx, by)
                    if d < distance[j, i]:
                        distance[j, i] = d
                        near[j, i] = e
        low, high = min(ay, by), max(ay, by)
        if high > low:
            for j in range(max(0, math.ceil((low - y0) / cell)), ny):
                y = y0 + j * cell
                if y >= high:
                    break
                if y < low:
                    continue
                crossing = ax + (y - ay) * (bx - ax) / (by - ay)
                flips[j, max(0, min(nx, math.ceil((crossing - x0) / cell)))] ^= 1
    for _ in range(2):
        for forward in (True, False):
            for row in range(ny):
                j = row if forward else ny - 1 - row
                for column in range(nx):
                    i = column if forward else nx - 1 - column
                    for dj in range(-1, 2):
                        for di in range(-1, 2):
                            jj, ii = j + dj, i + di
                            if 0 <= jj < ny and 0 <= ii < nx:
                                e = near[jj, ii]
                                if e >= 0 and e != near[j, i]:
                                    d = _squared_distance(
                                        x0 + i * cell, y0 + j * cell, edges[e, 0], edges[e, 1], edges[e, 2], edges[e, 3]
                                    )
                                    if d < distance[j, i]:
                                        distance[j, i] = d
                                        near[j, i] = e
    field = np.empty((ny, nx), np.float32)
    for j in range(ny):
        inside = 0
        for i in range(nx):
            inside ^= flips[j, i]
            away = math.sqrt(distance[j, i])
            field[j, i] = away if inside else -away
    return field, near


@kernel()
def look_up(values, meta, grid, x, y):
    """Clearance at a point by bilinear interpolation; beyond the grid the distance to it is subtracted.

    ``meta[k]`` holds offset, nx, ny of grid k in ``values``; ``grid[k]`` its x0, y0, 1/cell.
    """
    offset, nx, ny = meta[0], meta[1], meta[2]
    fx = (x - grid[0]) * grid[2]
    fy = (y - grid[1]) * grid[2]
    beyond = 0.0
    if fx < 0.0:
        beyond -= fx
        fx = 0.0
    elif fx > nx - 1.000001:
        beyond += fx - nx + 1.000001
        fx = nx - 1.000001
    if fy < 0.0:
        beyond -= fy
        fy = 0.0
    elif fy > ny - 1.000001:
        beyond += fy - ny + 1.000001
        fy = ny - 1.000001
    i, j = int(fx), int(fy)
    fx -= i
    fy -= j
    k = offset + j * nx + i
    value = (values[k] * (1 - fx) + values[k + 1] * fx) * (1 - fy) + (
        values[k + nx] * (1 - fx) + values[k + nx + 1] * fx
    ) * fy
    return value - beyond / grid[2]


def inscribed_circles(field: Fields, x0: float, y0: float, cell: float, most: int, least_radius: float) -> Floats:
    """Circles that fill a shape, biggest first: centres and radii from its clearance field.

    Each new centre is the deepest node not within 0.8 radii of an earlier centre.

    Returns
    -------
    (n, 3) array of x, y, radius
    """
    ny, nx = field.shape
    depth = field.astype(float).copy()
    ys, xs = np.mgrid[0:ny, 0:nx]
    circles = []
    while len(circles) < most:
        j, i = np.unravel_index(np.argmax(depth), depth.shape)
        radius = depth[j, i]
        if radius < least_radius and circles:
            break
        circles.append((x0 + i * cell, y0 + j * cell, max(radius, 0.0)))
        if radius <= 0:
            break
        depth[(xs - i) ** 2 + (ys - j) ** 2 <= (0.8 * radius / cell) ** 2] = -1.0
    return np.array(circles)
