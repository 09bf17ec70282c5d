"""What a search is given and never changes: the problem laid out for the kernels, and what follows from it alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from .arrays import Bools, Floats, Ints, State
from .limits import LIMITS, SearchLimits
from .press import can_be_pressed, convex_parts, press
from .problem import Problem, Solution
from .states import front_of, poses_of, state_of
from .world import World, build_world, profile


class Given:
    """A problem as a search sees it.

    Parameters
    ----------
    problem : Problem
    pinned : iterable of int
        Items that keep their place.
    limits : SearchLimits

    Attributes
    ----------
    world : World
        Where layouts are ``pressed`` at last, its shapes may overlap a little.
    centres : (shapes, 2) array
    outlines : list of Polygon
        Of each shape about its centre.
    pressed : bool
        Whether every layout is pressed.
    pinned : (items,) bool array
    ranks : (items,) int array
    sizes : (items,) array
        Area of each, mm2.
    """

    def __init__(self, problem: Problem, pinned: Iterable[int] = (), limits: SearchLimits = LIMITS) -> None:
        self.problem, self.limits = problem, limits
        self.pressed = can_be_pressed(problem, limits)
        slack = limits.slack if self.pressed else 0.0
        self.world, self.centres, self.outlines, self._tables = build_world(problem, slack, limits)
        self.pinned: Bools = np.zeros(len(problem.items), bool)
        self.pinned[list(pinned)] = True
        self.ranks: Ints = np.array([item.rank for item in problem.items], int)
        self.sizes: Floats = self.world.area[self.world.item_shape] if len(problem.items) else np.zeros(0)
        self._convex_parts = [convex_parts(outline) for outline in self.outlines] if self.pressed else []
        self._profiles = [
            profile(container.region, tuple(away), limits.profile_steps)
            for container, away in zip(problem.containers, self.world.away)
        ]

    @property
    def several(self) -> bool:
        """Whether there is more than one container."""
        return len(self.problem.containers) > 1

    @property
    def tabled(self) -> bool:
        """Whether the world has all the contact tables that it is to have."""
        return self._tables.done

    def make_tables(self, over: Callable[[], bool] = lambda: False) -> None:
        """Make some more contact tables, none when ``over`` says that the search is to end; what has none yet is looked
        up in fields."""
        self._tables.make(over)
        self.world = replace(self.world, **self._tables.arrays)

    def state_of(self, solution: Solution) -> State:
        """The state that kernels work on."""
        return state_of(self.problem, self.world, self.centres, solution)

    def solution(self, state: State) -> Solution:
        """The poses of a state, and how good it is."""
        out = state[:, 0] < 0
        left = np.bincount(self.ranks[out], weights=self.sizes[out], minlength=self.ranks.max(initial=0) + 1)
        used = np.unique(state[~out, 0]).astype(int)
        consumed = float(sum(np.interp(front_of(self.world, state, c), *self._profiles[c]) for c in used))
        return Solution(poses_of(self.problem, self.centres, state), tuple(float(v) for v in left), consumed)

    def press(self, state: State, over: Callable[[], bool] = lambda: False) -> State | None:
        """Take the small overlaps out that the search allows and press each container's items together; None when that
        fails, or ``over`` says that the search is to end."""
        for c in np.unique(state[state[:, 0] >= 0, 0]).astype(int):
            here = np.nonzero(state[:, 0] == c)[0]
            pressed = press(self.world, self._convex_parts, state, here, c, self.pinned, self.limits, over)
            if pressed is None:
                return None
            state = pressed
        return state

    def alone(self, here: Ints, c: int) -> World:
        """The world of some items that all stay in one container."""
        only = np.zeros((len(here), len(self.problem.containers)), np.bool_)
        only[:, c] = True
        return replace(
            self.world, item_shape=self.world.item_shape[here], item_group=np.full(len(here), -1), item_open=only
        )

    def same_site(self, item: int, state: State) -> Bools:
        """Containers in which an item may join what is placed of its group."""
        group = self.world.item_group[item]
        mates = (self.world.item_group == group) & (state[:, 0] >= 0)
        if group < 0 or not mates.any():
            return np.ones(len(self.problem.containers), bool)
        same: Bools = self.world.site == self.world.site[int(state[mates][0, 0])]
        return same
