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
from shapely.geometry.base import BaseGeometry

from .arrays import Floats, Ints, State
from .contact import no_fit_polygon
from .given import Given
from .kernels import allowed_angle
from .laying import height, lay_rows, reach
from .limits import LIMITS, SearchLimits
from .plain import coarser
from .world import World

SORTED_ORDERS = 4
"""Orders of the shapes by size and density."""


class Rows(NamedTuple):
    """Places of copies of one shape: at all sums of ``along`` and ``across``, and half-turned at ``twin`` from
    there."""

    along: Floats
    across: Floats
    twin: Floats
    paired: bool
    cell_mm2: float


class RowStarts:
    """Layouts that begin with rows of equal items, shape after shape in one of several orders.

    Parameters
    ----------
    given : Given
    random : numpy.random.Generator
        Draws the later orders of the shapes.
    which : slice
        Which of the orders are used.

    Attributes
    ----------
    first : bool
        Whether the first of them is.
    """

    def __init__(self, given: Given, random: np.random.Generator, which: slice) -> None:
        self.given, self.which, limits = given, which, given.limits
        self.first = len(range(1)[which]) > 0
        self.seed = int(random.integers(2**31))
        self.orders: list[tuple[int, ...]] | None = None
        self.items: dict[int, Ints] = {}
        self.rows: dict[int, Rows] = {}
        self.finding = self._find_rows() if len(range(SORTED_ORDERS + limits.random_orders)[which]) else iter(())
        self.laying: tuple[State, Iterator[int]] | None = None

    def next(self, containers: Ints, random: np.random.Generator, over: Callable[[], bool]) -> State | None:
        """The next layout, (items, 5), with containers filled in the order given; None when there are no more.

        It is None, too, as soon as ``over`` says that the search is to end; the next call goes on from there.
        """
        if self.orders is None:
            for _ in self.finding:
                if over():
                    return None
            self.orders = self._found_orders()
        if self.laying is None:
            if not self.orders:
                return None
            empty: State = np.full((len(self.given.ranks), 5), -1.0)
            self.laying = empty, self._lay(empty, self.orders.pop(0), containers, int(random.integers(2**31)))
        state, patches = self.laying
        for _ in patches:
            if over():
                return None
        self.laying = None
        return state

    def _lay(self, state: State, order: tuple[int, ...], containers: Ints, seed: int) -> Iterator[int]:
        """Lay the shapes of ``order`` in rows, the most urgent items first; gives how many were laid after every
        patch."""
        world, ranks, limits = self.given.world, self.given.ranks, self.given.limits
        for rank in np.unique(ranks):
            for shape in order:
                items, rows = self.items[shape][ranks[self.items[shape]] == rank], self.rows[shape]
                for c in containers:
                    laid = len(items)
                    while laid >= limits.least_patch:
                        here = items[(state[items, 0] < 0) & world.item_open[items, c]]
                        if len(here) < limits.least_copies:
                            break
                        laid = lay_rows(
                            world,
                            c,
                            here,
                            rows.along,
                            rows.across,
                            rows.twin,
                            rows.paired,
                            state,
                            limits.row_tries,
                            seed,
                        )
                        yield laid

    def _find_rows(self) -> Iterator[int]:
        """Find the densest rows of every shape asked for often enough, what takes most of the area first; gives each
        shape before that is done."""
        world, limits, outlines = self.given.world, self.given.limits, self.given.outlines
        # one site holds any group, so groups only matter where there are several
        alone = world.item_group < 0 if len(np.unique(world.site)) > 1 else np.ones(len(world.item_group), bool)
        copies = {shape: np.nonzero((world.item_shape == shape) & alone)[0] for shape in range(len(outlines))}
        often = [shape for shape, here in copies.items() if len(here) >= limits.least_copies]
        for shape in sorted(often, key=lambda shape: -world.area[shape] * len(copies[shape])):
            yield shape
            stand_in = coarser(outlines[shape], limits.row_points, limits)
            if stand_in is not None:
                self.items[shape] = copies[shape]
                self.rows[shape] = densest_rows(stand_in, _turns_half(world, shape), limits)

    def _found_orders(self) -> list[tuple[int, ...]]:
        """The orders in which shapes that have rows are laid."""
        world, limits = self.given.world, self.given.limits
        shapes = np.array(sorted(self.rows), int)
        area, count = world.area[shapes], np.array([len(self.items[shape]) for shape in shapes])
        thrift = np.array([world.area[shape] / self.rows[shape].cell_mm2 for shape in shapes])
        keys = (area * thrift**limits.row_thrift, area, area * count, thrift)
        orders = [shapes[np.argsort(-key, kind="stable")] for key in keys]
        random = np.random.default_rng(self.seed)
        orders += [random.permutation(shapes) for _ in range(limits.random_orders)]
        return list(dict.fromkeys(tuple(order.tolist()) for order in orders if len(order)))[self.which]


def _turns_half(world: World, shape: int) -> bool:
    """Whether a shape has an allowed angle that it may also be turned half round from."""
    angles = world.angles[world.angle_off[shape] : world.angle_off[shape + 1]]
    return any(
        allowed_angle(world, 0, row, world.axis[0] + low + math.pi)
        for row, (low, _) in enumerate(angles, world.angle_off[shape])
    )


@lru_cache(maxsize=512)
def densest_rows(outline: Polygon, half_turn: bool = True, limits: SearchLimits = LIMITS) -> Rows:
    """The densest rows of a shape (angle 0) and, with ``half_turn``, of its half-turned twin.

    Parameters
    ----------
    outline : Polygon
        About its centre, mm.
    half_turn : bool
        Whether every second row may be half-turned.
    limits : SearchLimits

    Returns
    -------
    Rows
        ``cell_mm2`` is what one copy takes of the plane. Kept, since short searches ask for the same shapes again and
        again.
    """
    shifts, apart_mm = limits.row_shifts, limits.rows_apart_mm
    same = _rings(_apart(no_fit_polygon(outline, outline), apart_mm))
    turned = _rings(_apart(no_fit_polygon(outline, shapely.transform(outline, np.negative)), apart_mm))
    mirrored = np.column_stack([-turned[:, 2:], -turned[:, :2]])
    every = []
    for angle in np.arange(limits.row_directions) * math.pi / limits.row_directions:
        step = reach(same, angle)
        here = height(same, angle, step, shifts)
        k = int(here.argmin())
        every.append((step * here[k], angle, step, k, here[k], 0, 0.0, False))
        if half_turn:
            up, down = height(turned, angle, step, shifts), height(mirrored, angle, step, shifts)
            # row above row above row: the first and the third must clear each other too
            i = np.arange(shifts)
            both = np.maximum(up[:, None] + down, here[(i[:, None] + i) % shifts])
            a, b = map(int, np.unravel_index(both.argmin(), both.shape))
            every.append((step * both[a, b] / 2, angle, step, a + b, both[a, b], a, up[a], True))
    _, angle, step, k, high, a, rise, paired = min(every, key=lambda rows: rows[0])
    ahead = np.array([math.cos(angle), math.sin(angle)])
    left = np.array([-ahead[1], ahead[0]])
    across = k * step / shifts * ahead + high * left
    twin = a * step / shifts * ahead + rise * left
    return Rows(step * ahead, across, twin, paired, float(step * high / (2 if paired else 1)))


def _apart(places: BaseGeometry, apart_mm: float) -> BaseGeometry:
    """Places at which copies overlap, or come too near."""
    return places.buffer(apart_mm, join_style="mitre")


def _rings(geometry: BaseGeometry) -> Floats:
    """Segments of the outer rings of a region, each from left to right: (n, 4)."""
    rows = [np.asarray(g.exterior.coords) for g in getattr(geometry, "geoms", [geometry])]
    return np.concatenate([np.hstack([xy[:-1], xy[1:]]) for xy in rows])
