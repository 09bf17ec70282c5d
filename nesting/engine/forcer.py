"""Forcing: an item without a place is put where it overlaps least, and the others make room for it."""

from __future__ import annotations

import math

import numpy as np

from .arrays import Ints, State
from .placer import Placer


class Forcer:
    """Forces items into a layout, with more patience the oftener it fails.

    Attributes
    ----------
    failures : int
        How often in a row no item could be forced into the best layout.
    """

    def __init__(self, placer: Placer) -> None:
        self.placer, self.given, self.random = placer, placer.given, placer.random
        self.limits = placer.given.limits
        self.patience, self.failures = float(self.limits.least_patience), 0

    @property
    def stalled(self) -> bool:
        """Whether it is time to try trades."""
        return self.failures >= self.limits.stalled_failures

    def force(self, out: Ints, present: State, avoid: int = -1) -> State | None:
        """The present layout with one item of ``out`` more, not in container ``avoid``, or in place of a smaller or
        less urgent one; None when the others would not make room."""
        given, random, limits = self.given, self.random, self.limits
        urgent = out[given.ranks[out] == given.ranks[out].min()] if random.random() < limits.urgent_odds else out
        shapes = given.world.item_shape[urgent]
        options = [urgent[shapes == shape][0] for shape in random.permutation(np.unique(shapes))[: limits.most_shapes]]
        best = None
        for item in options:
            c = self._home(item, present, avoid)
            if c < 0:
                continue
            here = np.nonzero(present[:, 0] == c)[0]
            if avoid < 0 and random.random() < limits.displace_odds:
                here = here[here != self._smaller(here, item)]
            here, trial, overlap = self._added(present, here, item, c)
            cost = overlap / given.sizes[item] * math.exp(limits.choice_blur * random.standard_normal())
            if best is None or cost < best[0]:
                best = cost, trial, here, c
        return self._room_made(present, *best[1:]) if best else None

    def trade(self, out: Ints, present: State) -> State | None:
        """The present layout with an item of ``out`` where about as much of other shapes lay, which makes voids of
        another size: several small items for a big one, or the other way round; None when that cannot be."""
        given, item = self.given, int(self.random.choice(out))
        c = self._home(item, present)
        if c < 0:
            return None
        here = np.nonzero(present[:, 0] == c)[0]
        others = given.world.item_shape[here] != given.world.item_shape[item]
        weaker = here[others & ~given.pinned[here] & (given.ranks[here] >= given.ranks[item])]
        if len(weaker) == 0:
            return None
        near = weaker[np.argsort(np.hypot(*(present[weaker, 1:3] - present[self.random.choice(weaker), 1:3]).T))]
        gone = near[: np.searchsorted(np.cumsum(given.sizes[near]), given.sizes[item]) + 1]
        here, trial, _ = self._added(present, np.setdiff1d(here, gone), item, c)
        return self._room_made(present, trial, here, c)

    def _home(self, item: int, present: State, avoid: int = -1) -> int:
        """A random container that an item may join, those with more room more often; -1 when there is none but
        ``avoid``."""
        world = self.given.world
        joined = self.given.same_site(item, present)
        homes = np.nonzero(world.item_open[item] & joined & (world.room > self.given.sizes[item]))[0]
        homes = homes[homes != avoid]
        room = world.room[homes]
        return int(self.random.choice(homes, p=room / room.sum())) if len(homes) else -1

    def _smaller(self, here: Ints, item: int) -> int:
        """One of the placed items that may make way for a bigger or more urgent one; -1 when there is none."""
        ranks, sizes = self.given.ranks, self.given.sizes
        weaker = (ranks[here] > ranks[item]) | ((ranks[here] == ranks[item]) & (sizes[here] < sizes[item]))
        weaker &= ~self.given.pinned[here]
        return int(self.random.choice(here[weaker])) if weaker.any() else -1

    def _added(self, present: State, here: Ints, item: int, c: int) -> tuple[Ints, State, float]:
        """Put an item to those of a container, where it overlaps least: all of them, their poses, that overlap."""
        here, world = np.append(here, item), self.given.world
        trial = present[here]
        row = world.angle_off[world.item_shape[item]]
        middle = self.given.problem.containers[c].region.representative_point()
        trial[-1] = c, middle.x, middle.y, world.axis[c] + world.angles[row, 0], row
        return here, trial, self.placer.drop(trial, here, c)

    def _room_made(self, present: State, trial: State, here: Ints, c: int) -> State | None:
        """The layout with these items alone in a container, when they can be parted there."""
        limits = self.limits
        if self.placer.part(trial, here, c, np.inf, int(self.patience)) > 0.0:
            self.patience = min(limits.more_patience * self.patience, limits.most_patience)
            return None
        self.patience = max(limits.less_patience * self.patience, limits.least_patience)
        state = present.copy()
        state[state[:, 0] == c] = -1.0
        state[here] = trial
        return state
