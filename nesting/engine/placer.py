"""Items placed and parted: the steps that all of a search is made of."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .arrays import Bools, Ints, State
from .construct import construct
from .given import Given
from .separate import begin, drop, separate
from .survey import scratch_room


class Placer:
    """Places items and parts them, with the random numbers of its search.

    Parameters
    ----------
    given : Given
    random : numpy.random.Generator
    order : (containers,) int array
        Containers in the order in which they are filled.

    Attributes
    ----------
    over : callable
        Says that the search is to end, which breaks off what takes long.
    halt : (1,) bool array
        Tells the kernels the same.
    """

    def __init__(self, given: Given, random: np.random.Generator, order: Ints) -> None:
        self.given, self.random, self.order = given, random, order
        self.over: Callable[[], bool] = lambda: False
        self.halt: Bools = np.zeros(1, np.bool_)

    def fill(self, state: State, blur: float, after: int | None = None, order: Ints | None = None) -> None:
        """Place what has no place, biggest of the most urgent first.

        Parameters
        ----------
        state : (items, 5) array
            Changed in place.
        blur : float
            How much chance goes into the order: standard deviation of the logarithm of the sizes.
        after : int, optional
            The items of the last used container beyond this one may come forward.
        order : (containers,) int array, optional
            Containers to fill, instead of all in the usual order.
        """
        given = self.given
        if after is not None:
            last = self.later(state, after)
            if len(last):
                state[(state[:, 0] == last[-1]) & ~given.pinned] = -1.0
        if (state[:, 0] >= 0).all():
            return
        keys = given.sizes * np.exp(blur * self.random.standard_normal(len(given.sizes)))
        items = np.lexsort((-keys, given.ranks))
        seed = int(self.random.integers(2**31))
        order = self.order if order is None else order
        construct(given.world, items, order, state, given.limits.first_poses, seed, self.halt)

    def later(self, state: State, c: int) -> Ints:
        """Used containers that come after ``c`` in the order of filling."""
        after = self.order[int(np.nonzero(self.order == c)[0][0]) + 1 :]
        return after[np.isin(after, state[:, 0])]

    def part(self, trial: State, here: Ints, c: int, limit: float, patience: int) -> float:
        """Part the items ``here`` of one container within a limit; ``trial`` ends as the least overlapping poses seen.

        Their overlap is given back; it counts for nothing when the search was to end before they were parted.
        """
        given, limits = self.given, self.given.limits
        reach, world, course = np.full(len(given.problem.containers), limit), given.alone(here, c), begin(trial)
        scratch = scratch_room(len(here))
        seeds = self.random.integers(2**31, size=-(-limits.most_passes // limits.passes_a_go))
        for seed in seeds:
            separate(
                world, reach, trial, given.pinned[here], course, scratch, limits.passes_a_go, patience,
                limits.moved_nodes, limits.close_poses, int(seed), self.halt,
            )  # fmt: skip
            if course.ended[0] or self.over():
                break
        trial[:] = course.best
        return float(course.count[0])

    def drop(self, trial: State, here: Ints, c: int) -> float:
        """Move the last item of ``trial`` to where it overlaps least; give that overlap back."""
        reach = np.full(len(self.given.problem.containers), np.inf)
        world, nodes = self.given.alone(here, c), self.given.limits.forced_nodes
        return float(drop(world, reach, trial, nodes, int(self.random.integers(2**31))))
