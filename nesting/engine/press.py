"""Pressing a layout together by linear programming: exact contacts, and the shortest packing of an arrangement.

Items keep their angles and move a little. Shapes are cut into convex parts; two parts stay on their sides of the edge
line that parts them best, which makes one linear inequality of their moves (compaction as published by Li and
Milenkovic, European Journal of Operational Research 84, 1995).
"""

from __future__ import annotations

import numpy as np
import shapely
from scipy.optimize import linprog
from scipy.sparse import coo_array
from shapely.geometry import Polygon

from .compiled import compiled
from .problem import Problem
from .world import is_convex

REACH = 0.08
"""How far an item may move in one program, as a share of the smallest bounding circle's radius."""
ROUNDS = 12
LEAST_GAIN = 1e-7
TRUE_MM = 1e-7
"""Overlap that counts as none: what is left of it by rounding."""


def can_be_pressed(problem: Problem) -> bool:
    """Whether every item keeps to fixed angles, every container is convex and nothing else limits where items lie."""
    fixed = all(low == high for shape in problem.shapes for low, high in shape.angles)
    return (
        fixed
        and not any(shape.areas for shape in problem.shapes)
        and all(is_convex(c.region) for c in problem.containers)
    )


def convex_parts(polygon: Polygon) -> list[np.ndarray]:
    """Cut a polygon without holes into convex parts: corners of each, counter-clockwise, (k, 2).

    Triangles of a constrained Delaunay triangulation, joined while the union is convex.
    """
    parts = list(shapely.constrained_delaunay_triangles(polygon).geoms)
    n = 0
    while n < len(parts):
        for m in range(n + 1, len(parts)):
            both = shapely.union(parts[n], parts[m])
            if both.geom_type == "Polygon" and both.convex_hull.area - both.area <= 1e-12 * polygon.area:
                parts[n] = both.convex_hull
                del parts[m]
                break
        else:
            n += 1
    return [np.asarray(shapely.geometry.polygon.orient(part).exterior.coords)[:-1] for part in parts]


def press(
    world, parts: list[list[np.ndarray]], state: np.ndarray, here: np.ndarray, c: int, pinned: np.ndarray
) -> np.ndarray | None:
    """Move the items of a container with straight convex walls until none overlap and they reach least far.

    Parameters
    ----------
    world : World
    parts : list of list of (k, 2) arrays
        Convex parts of each shape.
    state : (items, 5) array
        A layout whose overlaps are small.
    here : (n,) int array
        The items in container ``c``.
    c : int
    pinned : (items,) bool array
        Items that stay.

    Returns
    -------
    (items, 5) array or None
        The pressed layout; None when the overlaps cannot be pressed away.
    """
    state, shapes = state.copy(), world.item_shape[here]
    first, last = world.wall_plane_off[c, 0]
    planes, away = world.wall_planes[first:last], world.away[c]
    reach = REACH * float(world.radius[shapes].min())
    corners, offsets, owners = [], [0], []
    hulls = []
    for n, item in enumerate(here):
        cos, sin = np.cos(state[item, 3]), np.sin(state[item, 3])
        turn = np.array([[cos, sin], [-sin, cos]])
        for part in parts[shapes[n]]:
            corners.append(part @ turn)
            offsets.append(offsets[-1] + len(part))
            owners.append(n)
        hulls.append(np.concatenate(corners[-len(parts[shapes[n]]) :]))
    corners, offsets, owners = np.concatenate(corners), np.array(offsets), np.array(owners)
    supports = np.array([[(hull @ plane[:2]).max() for plane in planes] for hull in hulls])
    ahead = np.array([(hull @ away).max() for hull in hulls])
    front, count = np.inf, len(here)
    for _ in range(ROUNDS):
        xy = state[here, 1:3]
        rows = _partings(corners, offsets, owners, xy, world.radius[shapes], 3.0 * reach)
        moved = _program(rows, planes, supports, ahead + xy @ away, away, xy, reach, pinned[here])
        if moved is None:
            return None
        state[here, 1:3] = xy + moved
        length = float((ahead + state[here, 1:3] @ away).max())
        if front - length <= LEAST_GAIN * (length - world.span[c, 0]):
            break
        front = length
    rows = _partings(corners, offsets, owners, state[here, 1:3], world.radius[shapes], reach)
    outside = (state[here, 1:3] @ planes[:, :2].T + supports - planes[:, 2]).max(initial=-np.inf) if count else 0.0
    return None if rows[:, 4].min(initial=0.0) < -TRUE_MM or outside > TRUE_MM else state


def _program(rows, planes, supports, ahead, away, xy, reach, pinned) -> np.ndarray | None:
    """Least farthest reach over moves (n, 2) of at most ``reach``; None when there is no such move."""
    n, pairs = len(xy), len(rows)
    i, j, k = rows[:, 0].astype(int), rows[:, 1].astype(int), np.arange(pairs)
    walls = supports + xy @ planes[:, :2].T - planes[:, 2]
    w, p = np.nonzero(walls > -2 * reach)
    m = pairs + np.arange(len(w))
    f = pairs + len(w) + np.arange(n)
    data = np.concatenate([
        rows[:, 2], rows[:, 3], -rows[:, 2], -rows[:, 3], planes[p, 0], planes[p, 1],
        np.full(n, away[0]), np.full(n, away[1]), np.full(n, -1.0),
    ])  # fmt: skip
    row = np.concatenate([k, k, k, k, m, m, f, f, f])
    column = np.concatenate(
        [
            2 * i,
            2 * i + 1,
            2 * j,
            2 * j + 1,
            2 * w,
            2 * w + 1,
            2 * np.arange(n),
            2 * np.arange(n) + 1,
            np.full(n, 2 * n),
        ]
    )
    limit = np.concatenate([rows[:, 4], -walls[w, p], -ahead])
    cost = np.zeros(2 * n + 1)
    cost[-1] = 1.0
    room = np.repeat(np.where(pinned, 0.0, reach), 2)
    bounds = np.column_stack([np.append(-room, -np.inf), np.append(room, np.inf)])
    answer = linprog(
        cost,
        coo_array((data, (row, column)), shape=(len(limit), 2 * n + 1)).tocsr(),
        limit,
        bounds=bounds,
        method="highs-ds",
        options={"primal_feasibility_tolerance": 1e-10},
    )
    return answer.x[:-1].reshape(n, 2) if answer.status == 0 else None


@compiled()
def _partings(corners, offsets, owners, xy, radius, near):
    """For every two convex parts of different items closer than ``near``: items i and j, the unit normal from i to j
    of the edge line that parts them best, and how far they are apart along it, (rows, 5)."""
    count = owners.shape[0]
    rows, used = np.empty((256, 5)), 0
    for a in range(count):
        i = owners[a]
        for b in range(a + 1, count):
            j = owners[b]
            dx, dy = xy[j, 0] - xy[i, 0], xy[j, 1] - xy[i, 1]
            apart = radius[i] + radius[j] + near
            if i == j or dx * dx + dy * dy > apart * apart:
                continue
            best, nx, ny = -np.inf, 0.0, 0.0
            for turn in range(2):
                p, q, sign = (a, b, 1.0) if turn == 0 else (b, a, -1.0)
                start, end = offsets[p], offsets[p + 1]
                for k in range(start, end):
                    after = k + 1 if k + 1 < end else start
                    ex, ey = corners[after, 0] - corners[k, 0], corners[after, 1] - corners[k, 1]
                    length = np.hypot(ex, ey)
                    if length < 1e-9:
                        continue
                    ux, uy = ey / length, -ex / length
                    gap = np.inf
                    for v in range(offsets[q], offsets[q + 1]):
                        gap = min(
                            gap,
                            ux * (corners[v, 0] + sign * dx - corners[k, 0])
                            + uy * (corners[v, 1] + sign * dy - corners[k, 1]),
                        )
                    if gap > best:
                        best, nx, ny = gap, sign * ux, sign * uy
            if best > near:
                continue
            if used == rows.shape[0]:
                longer = np.empty((2 * used, 5))
                for n in range(used):
                    for k in range(5):
                        longer[n, k] = rows[n, k]
                rows = longer
            rows[used, 0], rows[used, 1], rows[used, 2], rows[used, 3], rows[used, 4] = i, j, nx, ny, best
            used += 1
    return rows[:used]
