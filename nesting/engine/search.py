"""The search: a first layout, then squeezing, refilling and rebuilding for as long as the stopping rule lets it."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from .construct import construct
from .press import can_be_pressed, convex_parts, press
from .problem import Problem, Solution
from .progress import Progress, Teller
from .rows import RowStarts
from .separate import begin, drop, separate
from .states import front_of, poses_of, pull_in, state_of
from .stop import Stop
from .world import World, build_world, profile, site_orders

SAMPLES = 1500
"""Poses tried for an item of a first layout."""
DROP_NODES, MOVE_NODES, CLOSE = 18_000, 500, 30
"""Nodes of surveys of the container for an item that is forced in, and for one that is moved; poses tried around the
latter's place. Where items are small and a survey has many nodes, the time goes further when there are fewer of
them."""
EXPLORE, COMPRESS = 0.004, 0.001
"""Shares of a container's packed length by which it is squeezed: while looking for other arrangements, and at first
while pressing the present one."""
LEAST_SQUEEZE, MOST_SQUEEZE = 2e-5, 0.03
TRIES = 8
"""Failures after which a newly explored arrangement is pressed."""
POOL, POOL_SPREAD, ALIKE = 100, 0.33, 0.02
"""Near misses kept, how far down them the next start is drawn from, and overlaps (as a share) that count as the
same."""
SWAPS = 3
"""Pairs of items that change places, at most, before another go."""
SLACK = 2e-5
"""Overlap allowed while searching where layouts are pressed at last, as a share of the smallest shape's radius: without
it, shapes that fit together exactly never would."""
PASSES, PATIENCE, LEAST_PATIENCE = 2000, 200, 20
"""Passes of one separation: at most, and without gain; so few when it begins to force items in, more and more as that
fails."""
LESS_PATIENCE, MORE_PATIENCE = 0.6, 1.15
"""Factors of that patience after an item was forced in, and after it could not be."""
PASSES_A_GO = 10
"""After so many the search looks whether it is to end."""
FORCE, SWAP, REGROUP, REBUILD = 0.95, 0.7, 0.2, 0.3
"""Odds of the steps, see ``Search._step``."""
START_STEPS, TRADE_STEPS = 30, 10
"""Items forced into each layout begun in rows or with a trade, before the best one is gone on with."""
STALLED, TRADE = 4, 0.3
"""Failures to force an item in after which trades are tried, and their odds."""


@dataclass
class Squeeze:
    """How far the squeezing of one container has come."""

    step: float = COMPRESS
    exploring: bool = False
    fresh: bool = False
    failures: int = 0
    pool: list = field(default_factory=list)
    items: tuple = ()

    def of(self, items: np.ndarray) -> None:
        """Forget what was tried with other items than these."""
        if self.items != tuple(items):
            self.items, self.pool, self.exploring, self.step = tuple(items), [], False, COMPRESS


class Search:
    """A search over layouts of one problem; ``run`` may be called again to go on from the best so far.

    Parameters
    ----------
    problem : Problem
    seed : int
        The same problem, seed and number of iterations give the same layout.
    start : Solution, optional
        A layout to go on from.
    pinned : iterable of int
        Items of ``start`` whose poses are kept.
    progress : callable, optional
        Called with a Progress whenever a better layout was found, after other iterations about ten times a second at
        most, and at the end.
    starts : slice, optional
        Which of the layouts begun in rows this search tries; all of them by default, none when it goes on from a
        layout.
    """

    def __init__(
        self,
        problem: Problem,
        seed: int = 0,
        start: Solution | None = None,
        pinned=(),
        progress: Callable[[Progress], None] | None = None,
        starts: slice | None = None,
    ):
        self.problem, self._teller = problem, Teller(progress)
        self.random = np.random.default_rng(seed)
        pressed = can_be_pressed(problem)
        self.world, self.centres, outlines = build_world(problem, SLACK if pressed else 0.0)
        self.parts = [convex_parts(outline) for outline in outlines] if pressed else None
        self.ranks = np.array([item.rank for item in problem.items], int)
        self.sizes = self.world.area[self.world.item_shape] if len(problem.items) else np.zeros(0)
        self.pinned = np.zeros(len(problem.items), bool)
        self.pinned[list(pinned)] = True
        self.profiles = [profile(c.region, tuple(away)) for c, away in zip(problem.containers, self.world.away)]
        self.squeezes = [Squeeze() for _ in problem.containers]
        orders = site_orders(self.world)
        self.order, self.orders = orders[0], [] if start else orders
        self.starts = RowStarts(self.world, outlines, self.ranks, self.random, starts or slice(0, 0 if start else None))
        self.aside, self.aside_steps = None, 0
        self.patience, self.failures = float(LEAST_PATIENCE), 0
        self.iterations, self.seconds, self.interrupted = 0, 0.0, False
        self.over: Callable[[], bool] = lambda: False
        self.best_state = state_of(problem, self.world, self.centres, start) if start else None
        self.best = self._solution(self.best_state) if start else None

    def run(self, stop: Stop, whole: Stop | None = None) -> Solution:
        """Search until ``stop`` says so and give the best layout found; Ctrl-C ends it the same way.

        Parameters
        ----------
        stop : Stop
        whole : Stop, optional
            Of the search that this run is a part of: a step is broken off, and progress measured, by it.

        Raises
        ------
        KeyboardInterrupt
            Only when interrupted before there is a first layout.
        """
        self._began, self.interrupted = time.monotonic() - self.seconds, False
        self.over = lambda: self._reached(whole or stop)
        try:
            while not self._reached(stop):
                state = self._step()
                if state is not None and self.parts:
                    pressed = self._press(state)
                    # a first layout is sound as it is, should the linear program fail on it
                    state = state if pressed is None and self.best is None else pressed
                self.iterations += 1
                self.seconds = time.monotonic() - self._began
                solution = None if state is None else self._solution(state)
                better = solution is not None and (self.best is None or solution.score < self.best.score)
                if better:
                    self._take(solution, state)
                self.tell(whole or stop, better)
            if whole is None:
                self.tell(stop)
        except KeyboardInterrupt:
            if self.best is None:
                raise
            self.interrupted = True
        self.seconds = time.monotonic() - self._began
        return self.ended(stop)

    def adopt(self, solution: Solution, stop: Stop | None = None) -> None:
        """Take over a layout found elsewhere when it is better than the best of this search, which tells of it by its
        stop."""
        if self.best is None or solution.score < self.best.score:
            self._take(solution, state_of(self.problem, self.world, self.centres, solution))
            self.tell(stop or Stop())

    def tell(self, stop: Stop, always: bool = True) -> None:
        """Tell of the best layout, and how far the search is by its stop; unless ``always``, perhaps not."""
        self._teller.tell(stop, self.best, self.seconds, self.iterations, always)

    def ended(self, stop: Stop) -> Solution:
        """The best layout found, with what finding it took."""
        self.interrupted |= stop.cancelled
        self.best = replace(self.best, iterations=self.iterations, seconds=self.seconds, interrupted=self.interrupted)
        return self.best

    def _reached(self, stop: Stop) -> bool:
        """Whether this search must end; never before it has a first layout."""
        return self.best is not None and stop.reached(time.monotonic() - self._began, self.iterations, self.best)

    def _take(self, solution: Solution, state: np.ndarray) -> None:
        self.best, self.best_state = solution, state
        for squeeze in self.squeezes:
            squeeze.fresh = True

    def _step(self) -> np.ndarray | None:
        """One iteration: a layout to compare with the best, or None when it came to nothing."""
        if self.best_state is None or self.orders:
            state = np.full((len(self.problem.items), 5), -1.0)
            order, self.orders = self.orders[0], self.orders[1:]
            self._insert(state, 0.0, order=order)
            if self.best is None or self._solution(state).score < self.best.score:
                self.order = order
            return state
        state = self._work_aside()
        if state is not None:
            return state
        used = np.unique(self.best_state[self.best_state[:, 0] >= 0, 0]).astype(int)
        if len(used) == 0:
            return None
        several = len(self.problem.containers) > 1
        out = np.nonzero(self.best_state[:, 0] < 0)[0]
        grouped = out[self.world.item_group[out] >= 0]
        if several and len(grouped) and self.random.random() < REGROUP:
            return self._regroup(self.random.choice(grouped))
        if len(out) and self.random.random() < FORCE:
            if self.failures >= STALLED and self.random.random() < TRADE:
                self.aside = self._trade(out)
                self.aside_steps = TRADE_STEPS if self.aside is not None else 0
                return self.aside
            state = self._force(out, self.best_state)
            self.failures = self.failures + 1 if state is None else 0
            return state
        if several and self.random.random() < REBUILD:
            return self._vacate() if self.random.random() < 0.5 else self._rebuild()
        return self._squeeze(int(self.random.choice(used)), several)

    def _work_aside(self) -> np.ndarray | None:
        """Force one more item into a layout other than the best, or begin another in rows; None when all are begun."""
        if self.aside_steps > 0:
            self.aside_steps -= 1
            out = np.nonzero(self.aside[:, 0] < 0)[0]
            moved = self._force(out, self.aside) if len(out) else None
            if moved is not None and self._solution(moved).score < self._solution(self.aside).score:
                self.aside = moved
            self.aside_steps = self.aside_steps if len(out) else 0
            return self.aside
        self.aside = self.starts.next(self.order, self.random, self.over)
        if self.aside is not None:
            self._insert(self.aside, 0.0)
            self.aside_steps = START_STEPS
        return self.aside

    def _squeeze(self, c: int, several: bool) -> np.ndarray | None:
        """Shorten what container ``c`` uses, separate its items, and place again what was left out."""
        squeeze, here = self.squeezes[c], np.nonzero(self.best_state[:, 0] == c)[0]
        squeeze.of(here)
        start = self.world.span[c, 0]
        front = front_of(self.world, self.best_state, c)
        limit = front - (EXPLORE if squeeze.exploring else squeeze.step) * (front - start)
        if squeeze.exploring and squeeze.pool:
            pick = min(int(abs(self.random.normal(0, POOL_SPREAD * len(squeeze.pool)))), len(squeeze.pool) - 1)
            trial = self._disturb(squeeze.pool[pick][1], here)
        else:
            trial = self.best_state[here]
            if squeeze.exploring:
                trial = self._disturb(trial, here)
        pull_in(self.world, trial, here, c, limit, self.pinned)
        overlap = self._separate(trial, here, c, limit, PATIENCE)
        if overlap > 0.0:
            if squeeze.exploring:
                others = [entry for entry in squeeze.pool if abs(entry[0] - overlap) > ALIKE * overlap]
                squeeze.pool = sorted([*others, (overlap, trial)], key=lambda entry: entry[0])[:POOL]
                squeeze.failures += 1
                if squeeze.fresh and squeeze.failures > TRIES:
                    squeeze.exploring, squeeze.step, squeeze.fresh = False, COMPRESS, False
            else:
                squeeze.step *= 0.5
                if squeeze.step < LEAST_SQUEEZE:
                    squeeze.exploring, squeeze.failures = True, 0
            if not self.parts:
                return None
            # a near miss may well be pressed into a layout that is shorter than the best, if not as short as asked for
            state = self.best_state.copy()
            state[here] = trial
            return state
        if squeeze.exploring:
            squeeze.pool, squeeze.failures, squeeze.fresh = [], 0, True
        else:
            squeeze.step = min(1.5 * squeeze.step, MOST_SQUEEZE)
        state = self.best_state.copy()
        state[here] = trial
        self._insert(state, 0.2, c if several else None)
        return state

    def _force(self, out: np.ndarray, present: np.ndarray, avoid: int = -1) -> np.ndarray | None:
        """Put an item where it overlaps least, not in container ``avoid``, and let the others make room for it."""
        urgent = out[self.ranks[out] == self.ranks[out].min()] if self.random.random() < 0.7 else out
        shapes = self.world.item_shape[urgent]
        options = [urgent[shapes == shape][0] for shape in self.random.permutation(np.unique(shapes))[:4]]
        best = None
        for item in options:
            c = self._home(item, present, avoid)
            if c < 0:
                continue
            here = np.nonzero(present[:, 0] == c)[0]
            if avoid < 0 and self.random.random() < SWAP:
                here = here[here != self._smaller(here, item)]
            here, trial, overlap = self._add(present, here, item, c)
            cost = overlap / self.sizes[item] * math.exp(0.3 * self.random.standard_normal())
            if best is None or cost < best[0]:
                best = cost, trial, here, c
        return self._make_room(present, *best[1:]) if best else None

    def _trade(self, out: np.ndarray) -> np.ndarray | None:
        """Put an item where about as much of other shapes lay, which makes voids of another size: several small items
        for a big one, or the other way round."""
        present, item = self.best_state, int(self.random.choice(out))
        c = self._home(item, present)
        if c < 0:
            return None
        here = np.nonzero(present[:, 0] == c)[0]
        others = self.world.item_shape[here] != self.world.item_shape[item]
        weaker = here[others & ~self.pinned[here] & (self.ranks[here] >= self.ranks[item])]
        if len(weaker) == 0:
            return None
        near = weaker[np.argsort(np.hypot(*(present[weaker, 1:3] - present[self.random.choice(weaker), 1:3]).T))]
        gone = near[: np.searchsorted(np.cumsum(self.sizes[near]), self.sizes[item]) + 1]
        here, trial, _ = self._add(present, np.setdiff1d(here, gone), item, c)
        return self._make_room(present, trial, here, c)

    def _home(self, item: int, present: np.ndarray, avoid: int = -1) -> int:
        """A random container that an item may join, those with more room more often; -1 when there is none but
        ``avoid``."""
        homes = np.nonzero(
            self.world.item_open[item] & self._same_site(item, present) & (self.world.room > self.sizes[item])
        )[0]
        homes = homes[homes != avoid]
        room = self.world.room[homes]
        return int(self.random.choice(homes, p=room / room.sum())) if len(homes) else -1

    def _add(self, present: np.ndarray, here: np.ndarray, item: int, c: int) -> tuple[np.ndarray, np.ndarray, float]:
        """Put an item to those of a container, where it overlaps least: all of them, their poses, that overlap."""
        here = np.append(here, item)
        trial = present[here]
        row = self.world.angle_off[self.world.item_shape[item]]
        middle = self.problem.containers[c].region.representative_point()
        trial[-1] = c, middle.x, middle.y, self.world.axis[c] + self.world.angles[row, 0], row
        return here, trial, self._drop(trial, here, c)

    def _make_room(self, present: np.ndarray, trial: np.ndarray, here: np.ndarray, c: int) -> np.ndarray | None:
        """The layout with these items alone in a container, when they can be separated there."""
        overlap = self._separate(trial, here, c, np.inf, int(self.patience))
        self.patience = (
            min(MORE_PATIENCE * self.patience, PATIENCE)
            if overlap > 0.0
            else max(LESS_PATIENCE * self.patience, LEAST_PATIENCE)
        )
        if overlap > 0.0:
            return None
        state = present.copy()
        state[state[:, 0] == c] = -1.0
        state[here] = trial
        return state

    def _smaller(self, here: np.ndarray, item: int) -> int:
        """One of the placed items that may make way for a bigger or more urgent one; -1 when there is none."""
        weaker = (self.ranks[here] > self.ranks[item]) | (
            (self.ranks[here] == self.ranks[item]) & (self.sizes[here] < self.sizes[item])
        )
        weaker &= ~self.pinned[here]
        return int(self.random.choice(here[weaker])) if weaker.any() else -1

    def _same_site(self, item: int, state: np.ndarray) -> np.ndarray:
        """Containers in which an item may join what is placed of its group."""
        group = self.world.item_group[item]
        mates = (self.world.item_group == group) & (state[:, 0] >= 0)
        if group < 0 or not mates.any():
            return np.ones(len(self.problem.containers), bool)
        return self.world.site == self.world.site[int(state[mates][0, 0])]

    def _insert(
        self, state: np.ndarray, blur: float, after: int | None = None, order: np.ndarray | None = None
    ) -> None:
        """Place what has no place, biggest of the most urgent first.

        With ``after`` the items of the last used container beyond that one may come forward.
        """
        order = self.order if order is None else order
        if after is not None:
            last = self._later(state, after)
            if len(last):
                state[(state[:, 0] == last[-1]) & ~self.pinned] = -1.0
        if (state[:, 0] >= 0).all():
            return
        keys = self.sizes * np.exp(blur * self.random.standard_normal(len(self.sizes)))
        items = np.lexsort((-keys, self.ranks))
        construct(self.world, items, order, state, SAMPLES, int(self.random.integers(2**31)))

    def _later(self, state: np.ndarray, c: int) -> np.ndarray:
        """Used containers that come after ``c`` in the order of filling."""
        after = self.order[int(np.nonzero(self.order == c)[0][0]) + 1 :]
        return after[np.isin(after, state[:, 0])]

    def _alone(self, here: np.ndarray, c: int) -> World:
        """The world of some items that all stay in one container."""
        only = np.zeros((len(here), len(self.problem.containers)), np.bool_)
        only[:, c] = True
        return self.world._replace(
            item_shape=self.world.item_shape[here], item_group=np.full(len(here), -1), item_open=only
        )

    def _separate(self, trial: np.ndarray, here: np.ndarray, c: int, limit: float, patience: int) -> float:
        """Separate the items of one container within a limit; ``trial`` ends as the least overlapping poses seen.

        Their overlap is given back; it counts for nothing when the search was to end before the separation did.
        """
        limits, world, course = np.full(len(self.problem.containers), limit), self._alone(here, c), begin(trial)
        seeds = self.random.integers(2**31, size=-(-PASSES // PASSES_A_GO))
        for seed in seeds:
            separate(
                world, limits, trial, self.pinned[here], course, PASSES_A_GO, patience, MOVE_NODES, CLOSE, int(seed)
            )
            if course.ended[0] or self.over():
                break
        trial[:] = course.best
        return float(course.count[0])

    def _drop(self, trial: np.ndarray, here: np.ndarray, c: int) -> float:
        """Move the last item of ``trial`` to where it overlaps least; give that overlap back."""
        limits = np.full(len(self.problem.containers), np.inf)
        return drop(self._alone(here, c), limits, trial, DROP_NODES, int(self.random.integers(2**31)))

    def _disturb(self, trial: np.ndarray, here: np.ndarray) -> np.ndarray:
        """Let two items of different shape change places."""
        trial = trial.copy()
        free = np.nonzero(~self.pinned[here])[0]
        if len(free) == 0:
            return trial
        for _ in range(1 + int(self.random.integers(SWAPS))):
            a = self.random.choice(free)
            unlike = free[trial[free, 4] != trial[a, 4]]
            if len(unlike) == 0:
                break
            b = self.random.choice(unlike)
            trial[[a, b], 1:3] = trial[[b, a], 1:3]
        return trial

    def _vacate(self) -> np.ndarray:
        """Move what lies in the last used container, as much as will go, into the others."""
        state = self.best_state.copy()
        last = int(next(c for c in self.order[::-1] if (state[:, 0] == c).any()))
        gone = np.nonzero((state[:, 0] == last) & ~self.pinned)[0]
        state[gone] = -1.0
        self._insert(state, 0.2, order=self.order[self.order != last])
        for _ in range(len(gone)):
            out = gone[state[gone, 0] < 0]
            if len(out) == 0:
                break
            moved = self._force(out, state, avoid=last)
            state = state if moved is None else moved
        self._insert(state, 0.0)
        return state

    def _rebuild(self) -> np.ndarray:
        """Take away what lies farthest from a packed end, or around a random item, with all later containers; place it
        anew."""
        state = self.best_state.copy()
        placed = np.nonzero((state[:, 0] >= 0) & ~self.pinned)[0]
        if len(placed) == 0:
            return state
        container = state[self.random.choice(placed), 0]
        here = placed[state[placed, 0] == container]
        if self.random.random() < 0.5:
            far = state[here, 1:3] @ self.world.away[int(container)]
            gone = here[far >= np.quantile(far, 1 - self.random.uniform(0.1, 0.6))]
        else:
            distance = np.hypot(*(state[here, 1:3] - state[self.random.choice(here), 1:3]).T)
            gone = here[distance <= np.quantile(distance, self.random.uniform(0.1, 0.5))]
        state[np.union1d(gone, placed[np.isin(state[placed, 0], self._later(state, int(container)))])] = -1.0
        self._insert(state, self.random.choice([0.05, 0.2, 0.5]))
        return state

    def _regroup(self, item: int) -> np.ndarray:
        """Take a whole group away when one of it found no place, and look for a site with room for all of it."""
        state = self.best_state.copy()
        state[(self.world.item_group == self.world.item_group[item]) & ~self.pinned] = -1.0
        orders = site_orders(self.world)
        self._insert(state, 0.2, order=orders[self.random.integers(len(orders))])
        return state

    def _press(self, state: np.ndarray) -> np.ndarray | None:
        """Take the small overlaps out that the search allows and press each container's items together; None when that
        fails."""
        for c in np.unique(state[state[:, 0] >= 0, 0]).astype(int):
            state = press(self.world, self.parts, state, np.nonzero(state[:, 0] == c)[0], c, self.pinned)
            if state is None:
                return None
        return state

    def _solution(self, state: np.ndarray) -> Solution:
        out = state[:, 0] < 0
        left = np.bincount(self.ranks[out], weights=self.sizes[out], minlength=self.ranks.max(initial=0) + 1)
        used = np.unique(state[~out, 0]).astype(int)
        consumed = float(sum(np.interp(front_of(self.world, state, c), *self.profiles[c]) for c in used))
        poses = poses_of(self.problem, self.centres, state)
        return Solution(poses, tuple(float(v) for v in left), consumed, self.iterations, self.seconds)
