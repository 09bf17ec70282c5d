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
from shapely.geometry.polygon import orient

from .arrays import Bools, Floats, Ints, State
from .limits import LIMITS, TRUE_MM, SearchLimits
from .partings import partings
from .problem import Problem
from .world import World, is_convex


def can_be_pressed(problem: Problem) -> bool:
    """Whether every item keeps to fixed angles, every container is convex and nothing else limits where items lie."""
    fixed = all(low == high for shape in problem.shapes for low, high in shape.angles)
    return (
        fixed
        and not any(shape.areas for shape in problem.shapes)
        and all(is_convex(c.region) for c in problem.containers)
    )


def convex_parts(polygon: Polygon) -> list[Floats]:
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
    return [np.asarray(orient(part).exterior.coords)[:-1] for part in parts if isinstance(part, Polygon)]


def press(
    world: World,
    parts: list[list[Floats]],
    state: State,
    here: Ints,
    c: int,
    pinned: Bools,
    limits: SearchLimits = LIMITS,
) -> State | None:
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
    limits : SearchLimits

    Returns
    -------
    (items, 5) array or None
        The pressed layout; None when the overlaps cannot be pressed away.
    """
    state, shapes = state.copy(), world.item_shape[here]
    first, last = world.wall_plane_off[c, 0]
    planes, away = world.wall_planes[first:last], world.away[c]
    reach = limits.press_reach * float(world.radius[shapes].min())
    turned: list[Floats] = []
    hulls, ends, whose = [], [0], []
    for n, item in enumerate(here):
        cos, sin = np.cos(state[item, 3]), np.sin(state[item, 3])
        turn = np.array([[cos, sin], [-sin, cos]])
        for part in parts[shapes[n]]:
            turned.append(part @ turn)
            ends.append(ends[-1] + len(part))
            whose.append(n)
        hulls.append(np.concatenate(turned[-len(parts[shapes[n]]) :]))
    corners, offsets, owners = np.concatenate(turned), np.array(ends), np.array(whose)
    supports = np.array([[(hull @ plane[:2]).max() for plane in planes] for hull in hulls])
    ahead = np.array([(hull @ away).max() for hull in hulls])
    front, count = np.inf, len(here)
    for _ in range(limits.press_rounds):
        xy = state[here, 1:3]
        rows = partings(corners, offsets, owners, xy, world.radius[shapes], limits.press_sight * reach)
        moved = _program(
            rows, planes, supports, ahead + xy @ away, away, xy, reach, pinned[here], limits.press_tolerance
        )
        if moved is None:
            return None
        state[here, 1:3] = xy + moved
        length = float((ahead + state[here, 1:3] @ away).max())
        if front - length <= limits.press_gain * (length - world.span[c, 0]):
            break
        front = length
    rows = partings(corners, offsets, owners, state[here, 1:3], world.radius[shapes], reach)
    outside = (state[here, 1:3] @ planes[:, :2].T + supports - planes[:, 2]).max(initial=-np.inf) if count else 0.0
    return None if rows[:, 4].min(initial=0.0) < -TRUE_MM or outside > TRUE_MM else state


def _program(
    rows: Floats,
    planes: Floats,
    supports: Floats,
    ahead: Floats,
    away: Floats,
    xy: Floats,
    reach: float,
    pinned: Bools,
    tolerance: float,
) -> Floats | None:
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
    answer = linprog(  # type: ignore[call-overload]  # its stubs know neither sparse matrices nor bounds in an array
        cost,
        coo_array((data, (row, column)), shape=(len(limit), 2 * n + 1)).tocsr(),
        limit,
        bounds=bounds,
        method="highs-ds",
        options={"primal_feasibility_tolerance": tolerance},
    )
    if answer.status != 0:
        return None
    moves: Floats = answer.x[:-1].reshape(n, 2)
    return moves
