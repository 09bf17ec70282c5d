"""Pressing a layout together by linear programming: exact contacts, and the shortest packing of an arrangement.

Items keep their angles and move a little. Shapes are cut into convex parts; two parts stay on their sides of the edge
line that parts them best, which makes one linear inequality of their moves (compaction as published by Li and
Milenkovic, European Journal of Operational Research 84, 1995).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

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


def can_be_pressed(problem: Problem, limits: SearchLimits = LIMITS) -> bool:
    """Whether every item keeps to fixed angles, every container is convex, nothing else limits where items lie, and
    they have few enough corners."""
    fixed = all(low == high for shape in problem.shapes for low, high in shape.angles)
    if not fixed or any(shape.areas for shape in problem.shapes):
        return False
    corners = [len(shape.polygon.exterior.coords) for shape in problem.shapes]
    few = sum(corners[item.shape] for item in problem.items) <= limits.most_pressed_corners
    return few and all(is_convex(c.region) for c in problem.containers)


@lru_cache(maxsize=512)
def convex_parts(polygon: Polygon) -> tuple[Floats, ...]:
    """Cut a polygon without holes into convex parts: corners of each, counter-clockwise, (k, 2).

    Triangles of a constrained Delaunay triangulation, from which one diagonal after another is left out while both its
    ends stay convex (S. Hertel and K. Mehlhorn, Fast triangulation of simple polygons, 1983), the longest first.
    """
    triangles = shapely.constrained_delaunay_triangles(polygon).geoms
    parts = {n: [*orient(t).exterior.coords][:-1] for n, t in enumerate(triangles) if isinstance(t, Polygon)}
    left_of = {(a, b): n for n, part in parts.items() for a, b in zip(part, part[1:] + part[:1])}
    diagonals = [(a, b) for a, b in left_of if a < b and (b, a) in left_of]
    home = {n: n for n in parts}
    for a, b in sorted(diagonals, key=lambda ends: -math.dist(*ends)):
        one, other = home[left_of[a, b]], home[left_of[b, a]]
        first, second = _begun(parts[one], b), _begun(parts[other], a)
        # both ways round from end to end: of the first from b to a, of the second from a to b
        joined = first + second[1:-1]
        turns = [_turn(joined[k - 1], joined[k], joined[(k + 1) % len(joined)]) for k in (0, len(first) - 1)]
        if min(turns) >= 0.0:
            parts[one] = joined
            del parts[other]
            home = {n: one if at == other else at for n, at in home.items()}
    return tuple(np.array(part) for part in parts.values())


def _begun(ring: list[tuple[float, ...]], corner: tuple[float, ...]) -> list[tuple[float, ...]]:
    """A ring that begins at a corner."""
    at = ring.index(corner)
    return ring[at:] + ring[:at]


def _turn(a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...]) -> float:
    """Positive where a line from a to b and on to c turns left."""
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def press(
    world: World,
    parts: Sequence[Sequence[Floats]],
    state: State,
    here: Ints,
    c: int,
    pinned: Bools,
    limits: SearchLimits = LIMITS,
    over: Callable[[], bool] = lambda: False,
) -> State | None:
    """Move the items of a container with straight convex walls until none overlap and they reach least far.

    Parameters
    ----------
    world : World
    parts : sequence of sequences of (k, 2) arrays
        Convex parts of each shape.
    state : (items, 5) array
        A layout whose overlaps are small.
    here : (n,) int array
        The items in container ``c``.
    c : int
    pinned : (items,) bool array
        Items that stay.
    limits : SearchLimits
    over : callable
        Says that the search is to end.

    Returns
    -------
    (items, 5) array or None
        The pressed layout; None when the overlaps cannot be pressed away, or the search is to end.
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
        if over():
            return None
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
