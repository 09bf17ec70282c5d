"""Squeezing: what a container uses is shortened, its items are parted, and what was left out is placed again."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from .arrays import Ints, State
from .placer import Placer
from .states import front_of, pull_in


@dataclass
class Squeeze:
    """How far the squeezing of one container has come."""

    share: float
    exploring: bool = False
    fresh: bool = False
    failures: int = 0
    near_misses: list[tuple[float, State]] = field(default_factory=list)
    items: tuple[int, ...] = ()


class Squeezer:
    """Squeezes containers, each in turns: it explores at a somewhat shorter length from a store of near misses, and
    presses what it found in ever smaller steps."""

    def __init__(self, placer: Placer) -> None:
        self.placer, self.given, self.random = placer, placer.given, placer.random
        self.limits = placer.given.limits
        self.squeezes = [Squeeze(self.limits.first_squeeze) for _ in self.given.problem.containers]

    def found_better(self) -> None:
        """Whatever was explored, there is a better layout to press now."""
        for squeeze in self.squeezes:
            squeeze.fresh = True

    def squeeze(self, present: State, c: int) -> State | None:
        """The present layout with what container ``c`` uses shortened; None when that came to nothing."""
        given, limits = self.given, self.limits
        squeeze, here = self.squeezes[c], np.nonzero(present[:, 0] == c)[0]
        self._begin(squeeze, here)
        start = given.world.span[c, 0]
        front = front_of(given.world, present, c)
        limit = front - (limits.exploring_squeeze if squeeze.exploring else squeeze.share) * (front - start)
        trial = self._start(squeeze, present, here)
        pull_in(given.world, trial, here, c, limit, given.pinned)
        overlap = self.placer.part(trial, here, c, limit, limits.most_patience)
        state = present.copy()
        state[here] = trial
        if overlap > 0.0:
            self._failed(squeeze, overlap, trial)
            # a near miss may well be pressed into a layout that is shorter than the best, if not as short as asked for
            return state if given.pressed else None
        if squeeze.exploring:
            squeeze.near_misses, squeeze.failures, squeeze.fresh = [], 0, True
        else:
            squeeze.share = min(limits.squeeze_growth * squeeze.share, limits.most_squeeze)
        self.placer.fill(state, limits.refill_blur, c if given.several else None)
        return state

    def _begin(self, squeeze: Squeeze, here: Ints) -> None:
        """Forget what was tried with other items than these."""
        items = tuple(here.tolist())
        if squeeze.items != items:
            squeeze.items, squeeze.near_misses, squeeze.exploring = items, [], False
            squeeze.share = self.limits.first_squeeze

    def _start(self, squeeze: Squeeze, present: State, here: Ints) -> State:
        """Poses of the items to begin with."""
        if not squeeze.exploring:
            return present[here]
        trial, near_misses = present[here], squeeze.near_misses
        if near_misses:
            spread = self.limits.near_miss_spread * len(near_misses)
            trial = near_misses[min(int(abs(self.random.normal(0, spread))), len(near_misses) - 1)][1]
        return self._disturbed(trial, here)

    def _failed(self, squeeze: Squeeze, overlap: float, trial: State) -> None:
        limits = self.limits
        if squeeze.exploring:
            unlike = [miss for miss in squeeze.near_misses if abs(miss[0] - overlap) > limits.alike * overlap]
            squeeze.near_misses = sorted([*unlike, (overlap, trial)], key=lambda miss: miss[0])[
                : limits.most_near_misses
            ]
            squeeze.failures += 1
            if squeeze.fresh and squeeze.failures > limits.most_explorations:
                squeeze.exploring, squeeze.share, squeeze.fresh = False, limits.first_squeeze, False
        else:
            squeeze.share *= limits.squeeze_decline
            if squeeze.share < limits.least_squeeze:
                squeeze.exploring, squeeze.failures = True, 0

    def _disturbed(self, trial: State, here: Ints) -> State:
        """Some pairs of items of different shape have changed places."""
        trial = trial.copy()
        free = np.nonzero(~self.given.pinned[here])[0]
        if len(free) == 0:
            return trial
        for _ in range(1 + int(self.random.integers(self.limits.most_swaps))):
            a = self.random.choice(free)
            unlike = free[trial[free, 4] != trial[a, 4]]
            if len(unlike) == 0:
                break
            b = self.random.choice(unlike)
            trial[[a, b], 1:3] = trial[[b, a], 1:3]
        return trial
