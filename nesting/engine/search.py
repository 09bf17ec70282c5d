"""The search: a first layout, then squeezing, refilling and rebuilding for as long as the stopping rule lets it."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import replace

import numpy as np

from .arrays import State
from .aside import Aside
from .forcer import Forcer
from .given import Given
from .limits import LIMITS, SearchLimits
from .placer import Placer
from .problem import Problem, Solution
from .progress import Progress, Teller
from .rebuild import rebuilt, regrouped, vacated
from .rows import RowStarts
from .separate import is_clear
from .squeezer import Squeezer
from .stop import Halting, Stop
from .world import site_orders


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
    limits : SearchLimits

    Attributes
    ----------
    best : Solution
        The best layout so far; there is none before ``run`` unless the search goes on from one.
    iterations : int
    seconds : float
        Time spent in ``run``; whoever calls that again may count more.
    interrupted : bool
        Whether the last run was broken off.
    """

    def __init__(
        self,
        problem: Problem,
        seed: int = 0,
        start: Solution | None = None,
        pinned: Iterable[int] = (),
        progress: Callable[[Progress], None] | None = None,
        starts: slice | None = None,
        limits: SearchLimits = LIMITS,
    ) -> None:
        self.random = np.random.default_rng(seed)
        self.given = Given(problem, pinned, limits)
        orders = site_orders(self.given.world, limits)
        self.placer = Placer(self.given, self.random, orders[0])
        self.squeezer, self.forcer = Squeezer(self.placer), Forcer(self.placer)
        which = starts or slice(0, 0 if start else None)
        self.aside = Aside(self.forcer, RowStarts(self.given, self.random, which))
        self.iterations, self.seconds, self.interrupted = 0, 0.0, False
        self._orders = [] if start else orders
        self._teller, self._began = Teller(progress, limits.between_progress_s), time.monotonic()
        self._best: tuple[Solution, State] | None = None
        if start is not None:
            state = self.given.state_of(start)
            self._best = self.given.solution(state), state

    @property
    def best(self) -> Solution:
        """The best layout so far, as poses."""
        return self._found[0]

    @property
    def best_state(self) -> State:
        """The same as the kernels see it."""
        return self._found[1]

    @property
    def _found(self) -> tuple[Solution, State]:
        if self._best is None:
            raise ValueError("the search has no layout yet: run it first")
        return self._best

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
        self.placer.over = lambda: self._reached(whole or stop)
        halting = Halting(self.placer.halt, self.placer.over, self.given.limits.longest_stop_s)
        try:
            while not self._reached(stop):
                state = self._sound(self._step())
                self.iterations += 1
                self.seconds = time.monotonic() - self._began
                self.tell(whole or stop, always=state is not None and self._proved(state))
            if whole is None:
                self.tell(stop)
        except KeyboardInterrupt:
            if self._best is None:
                raise
            self.interrupted = True
        finally:
            halting.end()
        self.seconds = time.monotonic() - self._began
        return self.ended(stop)

    def adopt(self, solution: Solution, stop: Stop | None = None) -> None:
        """Take over a layout found elsewhere when it is better than the best of this search; ``stop`` is to measure the
        progress by."""
        if self._better(solution):
            self._take(solution, self.given.state_of(solution))
            self.tell(stop or Stop())

    def tell(self, stop: Stop, always: bool = True) -> None:
        """Tell of the best layout, and how far the search is by its stop; unless ``always``, perhaps not."""
        self._teller.tell(stop, self.best, self.seconds, self.iterations, always)

    def ended(self, stop: Stop) -> Solution:
        """The best layout found, with what finding it took."""
        self.interrupted |= stop.cancelled
        best, state = self._found
        best = replace(best, iterations=self.iterations, seconds=self.seconds, interrupted=self.interrupted)
        self._best = best, state
        return best

    def _reached(self, stop: Stop) -> bool:
        """Whether this search must end; never before it has a first layout."""
        spent = time.monotonic() - self._began
        return self._best is not None and stop.reached(spent, self.iterations, self._best[0])

    def _better(self, solution: Solution) -> bool:
        return self._best is None or solution.score < self._best[0].score

    def _proved(self, state: State) -> bool:
        """Go on from a layout when it is better than the best and no items touch; gives whether it is."""
        solution = self.given.solution(state)
        known = np.full_like(state, np.nan) if self._best is None else self._best[1]
        clear = self.given.pressed or not self._better(solution) or is_clear(self.given.world, state, known)
        return clear and self._take(solution, state)

    def _take(self, solution: Solution, state: State) -> bool:
        """Go on from a layout when it is better than the best; gives whether it is."""
        if not self._better(solution):
            return False
        solution = replace(solution, iterations=self.iterations, seconds=self.seconds, interrupted=False)
        self._best = solution, state
        self.squeezer.found_better()
        return True

    def _sound(self, state: State | None) -> State | None:
        """The layout that a step came to, without the overlap that steps allow where layouts are pressed."""
        if state is None or not self.given.pressed:
            return state
        pressed = self.given.press(state, self.placer.over)
        # a first layout is sound as it is, should the linear program fail on it
        return state if pressed is None and self._best is None else pressed

    def _step(self) -> State | None:
        """One iteration: a layout to compare with the best, or None when it came to nothing."""
        if self._best is None or self._orders:
            return self._first()
        if not self.given.tabled:
            self.given.make_tables(self.placer.over)
        state = self.aside.next()
        if state is not None:
            return state
        best, given, random, limits = self.best_state, self.given, self.random, self.given.limits
        used = np.unique(best[best[:, 0] >= 0, 0]).astype(int)
        if len(used) == 0:
            return None
        out = np.nonzero(best[:, 0] < 0)[0]
        grouped = out[given.world.item_group[out] >= 0]
        if given.several and len(grouped) and random.random() < limits.regroup_odds:
            return regrouped(self.placer, best, int(random.choice(grouped)))
        if len(out) and random.random() < limits.force_odds:
            if self.forcer.stalled and random.random() < limits.trade_odds:
                return self.aside.trade(out, best)
            state = self.forcer.force(out, best)
            self.forcer.failures = self.forcer.failures + 1 if state is None else 0
            return state
        if given.several and random.random() < limits.rebuild_odds:
            if random.random() < limits.vacate_odds:
                return vacated(self.placer, self.forcer, best)
            return rebuilt(self.placer, best)
        return self.squeezer.squeeze(best, int(random.choice(used)))

    def _first(self) -> State:
        """A layout made from nothing, with the containers filled in another order each time; the best of the orders is
        kept."""
        state = np.full((len(self.given.problem.items), 5), -1.0)
        order, self._orders = self._orders[0], self._orders[1:]
        self.placer.fill(state, 0.0, order=order)
        if self._better(self.given.solution(state)):
            self.placer.order = order
        return state
