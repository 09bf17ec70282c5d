"""Rows of equal items: the densest rows that a shape and its half-turned twin make, and laying them into a container.

Two rows, the second half-turned, repeated for ever make a double lattice; for convex shapes no known packing of
equal copies is denser (G. Kuperberg and W. Kuperberg, Discrete and Computational Geometry 5, 1990).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import shapely
from shapely.geometry import Polygon

from .compiled import compiled, kernel_loop
from .construct import is_free
from .contact import no_fit_polygon
from .kernels import allowed_angle, farthest

DIRECTIONS, SHIFTS = 120, 160
"""Directions of rows and shifts of a row along the next that are looked at."""
APART_MM = 2e-3
"""Copies are kept this far apart, so that rounding never makes them touch."""
RANDOM_ORDERS, THRIFT = 2, 8.0
"""Orders of the shapes drawn at random; how much more the density of their rows counts than their area."""
LEAST_PATCH = 3
"""Rows of fewer items than this are the last of their shape."""
LEAST_COPIES = 4
"""Copies without a place for which rows are worth while."""
CLEAR_MM = 0.01
"""Between rows and the walls that they are laid against."""
TRIES = 200
"""Angles and shifts of the rows that are tried."""


class Rows(NamedTuple):
    """Places of copies of one shape: at all sums of ``along`` and ``across``, and half-turned at ``twin`` from
    there."""

    along: np.ndarray
    across: np.ndarray
    twin: np.ndarray
    paired: bool
    cell_mm2: float


class RowStarts:
    """Layouts that begin with rows of equal items, shape after shape in one of several orders.

    Parameters
    ----------
    world : World
    outlines : list of Polygon
        Outline of each shape about its centre.
    ranks : (items,) int array
    random : numpy.random.Generator
        Draws the later orders of the shapes.
    which : slice
        Which of the orders are used.
    """

    def __init__(self, world, outlines: list[Polygon], ranks: np.ndarray, random: np.random.Generator, which: slice):
        self.world, self.outlines, self.ranks, self.which = world, outlines, ranks, which
        self.seed = int(random.integers(2**31))
        self.orders: list | None = None
        self.laying: Iterator[int] | None = None

    def next(self, containers: np.ndarray, random: np.random.Generator, over: Callable[[], bool]) -> np.ndarray | None:
        """The next layout, (items, 5), with containers filled in the order given; None when there are no more.

        It is None, too, as soon as ``over`` says that the search is to end; the next call goes on from there.
        """
        if self.orders is None:
            self._find_rows()
        if self.laying is None:
            if not self.orders:
                return None
            self.state = np.full((len(self.ranks), 5), -1.0)
            self.laying = self._lay(self.orders.pop(0), containers, int(random.integers(2**31)))
        for _ in self.laying:
            if over():
                return None
        self.laying = None
        return self.state

    def _lay(self, order: tuple[int, ...], containers: np.ndarray, seed: int) -> Iterator[int]:
        """Lay the shapes of ``order`` in rows, the most urgent items first; gives how many were laid after every
        patch."""
        state = self.state
        for rank in np.unique(self.ranks):
            for shape in order:
                items, rows = self.items[shape][self.ranks[self.items[shape]] == rank], self.rows[shape]
                for c in containers:
                    laid = len(items)
                    while laid >= LEAST_PATCH:
                        here = items[(state[items, 0] < 0) & self.world.item_open[items, c]]
                        if len(here) < LEAST_COPIES:
                            break
                        laid = lay_rows(
                            self.world, c, here, rows.along, rows.across, rows.twin, rows.paired, state, TRIES, seed
                        )
                        yield laid

    def _find_rows(self) -> None:
        """The densest rows of every shape asked for often enough, and the orders of those shapes."""
        world = self.world
        # one site holds any group, so groups only matter where there are several
        alone = world.item_group < 0 if len(np.unique(world.site)) > 1 else np.ones(len(self.ranks), bool)
        copies = {shape: np.nonzero((world.item_shape == shape) & alone)[0] for shape in range(len(self.outlines))}
        self.items = {shape: items for shape, items in copies.items() if len(items) >= LEAST_COPIES}
        self.rows = {shape: densest_rows(self.outlines[shape], _turns_half(world, shape)) for shape in self.items}
        shapes = np.array(list(self.items), int)
        area, count = world.area[shapes], np.array([len(items) for items in self.items.values()])
        thrift = np.array([world.area[shape] / self.rows[shape].cell_mm2 for shape in shapes])
        orders = [
            shapes[np.argsort(-key, kind="stable")] for key in (area * thrift**THRIFT, area, area * count, thrift)
        ]
        random = np.random.default_rng(self.seed)
        orders += [random.permutation(shapes) for _ in range(RANDOM_ORDERS)]
        self.orders = list(dict.fromkeys(tuple(order.tolist()) for order in orders if len(order)))[self.which]


def _turns_half(world, shape: int) -> bool:
    """Whether a shape has an allowed angle that it may also be turned half round from."""
    angles = world.angles[world.angle_off[shape] : world.angle_off[shape + 1]]
    return any(
        allowed_angle(world, 0, row, world.axis[0] + low + math.pi)
        for row, (low, _) in enumerate(angles, world.angle_off[shape])
    )


@lru_cache(maxsize=512)
def densest_rows(outline: Polygon, half_turn: bool = True) -> Rows:
    """The densest rows of a shape (angle 0) and, with ``half_turn``, of its half-turned twin.

    Parameters
    ----------
    outline : Polygon
        About its centre, mm.
    half_turn : bool
        Whether every second row may be half-turned.

    Returns
    -------
    Rows
        ``cell_mm2`` is what one copy takes of the plane. Kept, since short searches ask for the same shapes again and
        again.
    """
    same = _rings(_apart(no_fit_polygon(outline, outline)))
    turned = _rings(_apart(no_fit_polygon(outline, shapely.transform(outline, np.negative))))
    mirrored = np.column_stack([-turned[:, 2:], -turned[:, :2]])
    best = None
    for angle in np.arange(DIRECTIONS) * math.pi / DIRECTIONS:
        step = _reach(same, angle)
        here = _height(same, angle, step, SHIFTS)
        k = int(here.argmin())
        found = [(step * here[k], angle, step, k, here[k], 0, 0.0, False)]
        if half_turn:
            up, down = _height(turned, angle, step, SHIFTS), _height(mirrored, angle, step, SHIFTS)
            # row above row above row: the first and the third must clear each other too
            i = np.arange(SHIFTS)
            both = np.maximum(up[:, None] + down, here[(i[:, None] + i) % SHIFTS])
            a, b = np.unravel_index(both.argmin(), both.shape)
            found.append((step * both[a, b] / 2, angle, step, a + b, both[a, b], a, up[a], True))
        for one in found:
            if best is None or one[0] < best[0]:
                best = one
    _, angle, step, k, height, a, rise, paired = best
    ahead = np.array([math.cos(angle), math.sin(angle)])
    left = np.array([-ahead[1], ahead[0]])
    across = k * step / SHIFTS * ahead + height * left
    return Rows(
        step * ahead, across, a * step / SHIFTS * ahead + rise * left, paired, step * height / (2 if paired else 1)
    )


def _apart(places):
    """Places at which copies overlap, or come too near."""
    return places.buffer(APART_MM, join_style="mitre")


def _rings(geometry) -> np.ndarray:
    """Segments of the outer rings of a region, each from left to right: (n, 4)."""
    rows = [np.asarray(g.exterior.coords) for g in getattr(geometry, "geoms", [geometry])]
    return np.concatenate([np.hstack([xy[:-1], xy[1:]]) for xy in rows])


@compiled()
def _reach(edges, angle):
    """How far a region round the origin reaches in a direction."""
    c, s, far = math.cos(angle), math.sin(angle), 0.0
    for k in range(edges.shape[0]):
        ay, by = edges[k, 1] * c - edges[k, 0] * s, edges[k, 3] * c - edges[k, 2] * s
        if (ay <= 0.0) != (by <= 0.0):
            ax, bx = edges[k, 0] * c + edges[k, 1] * s, edges[k, 2] * c + edges[k, 3] * s
            far = max(far, ax + (bx - ax) * ay / (ay - by))
    return far


@compiled()
def _height(edges, angle, period, count):
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
