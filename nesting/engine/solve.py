"""One search spread over processes or machines: independent seeds, the best layout shared after every round."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Iterable
from dataclasses import replace

from ..workers import Channel, Cluster, Helpers, Lost, count
from .limits import LIMITS, SearchLimits
from .problem import Problem, Solution
from .progress import Progress
from .search import Search
from .stop import Stop
from .warm import half_warm, warm_up


def solve(
    problem: Problem,
    stop: Stop,
    seed: int = 0,
    *,
    start: Solution | None = None,
    pinned: Iterable[int] = (),
    progress: Callable[[Progress], None] | None = None,
    workers: int | Cluster = 1,
    limits: SearchLimits = LIMITS,
) -> Solution:
    """Pack a problem and give the best layout found when ``stop`` ends the search; Ctrl-C ends it the same way.

    While kernels that only a first layout does without are being compiled (``warm_up(first=True)``), it waits for them
    after that, which counts for no time.

    Parameters
    ----------
    problem : Problem
    stop : Stop
        Iterations count for each worker. The same seed, iterations and number of workers give the same layout.
    seed : int
        Worker n searches with seed + n.
    start : Solution, optional
        A layout to go on from.
    pinned : iterable of int
        Items of ``start`` whose poses are kept.
    progress : callable, optional
        Called with a Progress whenever a better layout was found, after other iterations about ten times a second at
        most, and at the end.
    workers : int or Cluster
        Processes, this one included; ``workers.cores()`` tells how many cores there are. One that is killed takes with
        it what it found since it last told the others. Or machines of a cluster, where nothing is lost: with as many
        workers they come to the same after the same iterations.
    limits : SearchLimits

    Returns
    -------
    Solution
    """
    pinned = tuple(pinned)
    number = count(workers)
    first = None if start else slice(0, None, number)
    search = Search(problem, seed, start, pinned, progress, first, limits)
    if half_warm():
        if start is None:
            search.run(replace(stop, iterations=1), stop)
        try:
            if not (search.interrupted or stop.reached(search.seconds, search.iterations, search.best)):
                warm_up(cancel=stop.cancel)
        except KeyboardInterrupt:
            search.interrupted = True
        if search.interrupted:
            return search.ended(stop)
    if (isinstance(workers, int) and number == 1) or not problem.items:
        return search.run(stop)
    # the first layout, and the compiled kernels on disk, before anyone else starts
    search.run(replace(stop, iterations=1), stop)
    if not isinstance(workers, int):
        rows = [first, *(slice(0, 0) if start else slice(n, None, number) for n in range(1, number))]
        own = [(seed + n, search.best if n else start, some, n == 0) for n, some in enumerate(rows)]
        _rounds_elsewhere(search, workers, stop, (problem, pinned, limits), own)
        return search.ended(stop)
    work, talk = (_serve_rounds, _rounds) if stop.iterations is not None else (_serve_on, _run_on)
    try:
        with Helpers() as helpers:
            for n in range(1, 1 if search.interrupted else number):
                starts = slice(0, 0) if start else slice(n, None, number)
                helpers.start(work, problem, seed + n, search.best, pinned, starts, limits)
            talk(search, helpers, stop)
        search.tell(stop)
    except KeyboardInterrupt:
        search.interrupted = True
    return search.ended(stop)


def _rounds(search: Search, helpers: Helpers, stop: Stop) -> None:
    """Search in rounds of so many iterations, all waiting for each other at the end of each, so that it can be
    repeated."""
    assert stop.iterations is not None
    began = time.monotonic() - search.seconds
    while not search.interrupted and not stop.reached(time.monotonic() - began, search.iterations, search.best):
        search.seconds = time.monotonic() - began
        part = replace(stop, iterations=min(stop.iterations, search.iterations + search.given.limits.round_iterations))
        ends = None if stop.seconds is None else time.time() + stop.seconds - search.seconds
        helpers.tell((search.best, part.iterations, ends))
        search.run(part, stop)
        for solution in helpers.hear_each(stop.cancel) if not search.interrupted else ():
            search.adopt(solution, stop)


def _serve_rounds(
    channel: Channel,
    problem: Problem,
    seed: int,
    start: Solution,
    pinned: tuple[int, ...],
    starts: slice,
    limits: SearchLimits,
) -> None:
    """Search for one round at a time, until the channel closes."""
    search = Search(problem, seed, start, pinned, starts=starts, limits=limits)
    search.iterations = 1
    while True:
        best, iterations, ends = channel.receive()
        seconds = None if ends is None else max(0.0, ends - time.time())
        channel.send(_round(search, best, Stop(seconds=seconds, iterations=iterations)))


def _round(search: Search, best: Solution, stop: Stop) -> Solution:
    search.adopt(best)
    search.seconds = 0.0
    return search.run(stop)


def _rounds_elsewhere(
    search: Search,
    cluster: Cluster,
    stop: Stop,
    shared: tuple[Problem, tuple[int, ...], SearchLimits],
    own: list[tuple[int, Solution | None, slice | None, bool]],
) -> None:
    """Search in rounds on a cluster, all waiting for each other at the end of each; this process only tells of it.

    Rounds are of as many iterations as with processes; where only time is limited, each is longer than the one before.
    When the cluster is lost, this process searches on alone.
    """
    limits = search.given.limits
    began, length = time.monotonic() - search.seconds, limits.first_round_s

    def passes() -> bool:
        search.seconds = time.monotonic() - began
        search.tell(stop, always=False)
        return stop.cancelled

    cluster.watch(stop.cancel)
    try:
        seats = cluster.seats(_Seat, shared, own)
        while not stop.reached(time.monotonic() - began, search.iterations, search.best):
            left = None if stop.seconds is None else max(stop.seconds - (time.monotonic() - began), 0.0)
            if stop.iterations is None:
                part = replace(stop, seconds=length if left is None else min(length, left))
                length = min(limits.round_growth * length, limits.longest_round_s)
            else:
                iterations = min(stop.iterations, search.iterations + limits.round_iterations)
                part = replace(stop, iterations=iterations, seconds=left)
            found = seats.ask((search.best, part), passes)
            if stop.cancel is not None and stop.cancelled:
                return cluster.end(stop.cancel)
            search.iterations = max(solution.iterations for solution in found)
            search.seconds = time.monotonic() - began
            for solution in found:
                search.adopt(solution, stop)
            search.tell(stop)
    except Lost:
        search.seconds = time.monotonic() - began
        search.run(stop)


class _Seat:
    """A search at a worker of a cluster, asked for one round after another."""

    def __init__(
        self,
        shared: tuple[Problem, tuple[int, ...], SearchLimits],
        seed: int,
        start: Solution | None,
        starts: slice | None,
        first: bool,
    ) -> None:
        problem, pinned, limits = shared
        self.search, self.first = Search(problem, seed, start, pinned, starts=starts, limits=limits), first
        if first:
            self.search.run(Stop(iterations=1))
        else:
            self.search.iterations = 1

    def __call__(self, best: Solution, stop: Stop) -> Solution:
        return _round(self.search, best, stop if self.first else replace(stop, enough_mm2=None))


def _run_on(search: Search, helpers: Helpers, stop: Stop) -> None:
    """Search until ``stop`` says so; nobody waits, but all hear of a better layout at the end of each one's own
    round."""
    limits, ends = search.given.limits, None
    began, length = time.monotonic() - search.seconds, limits.first_round_s
    if stop.seconds is not None:
        ends = time.time() + stop.seconds - (time.monotonic() - began)
    helpers.tell(ends)
    while not search.interrupted and not stop.reached(time.monotonic() - began, search.iterations, search.best):
        search.seconds, before = time.monotonic() - began, search.best
        until = search.seconds + length
        search.run(replace(stop, seconds=until if stop.seconds is None else min(stop.seconds, until)), stop)
        length = min(limits.round_growth * length, limits.longest_round_s)
        for solution in helpers.hear():
            search.adopt(solution, stop)
        if search.best.score < before.score:
            helpers.tell(search.best)
    for solution in helpers.hear(limits.last_word_s) if not search.interrupted else ():
        search.adopt(solution, stop)


def _serve_on(
    channel: Channel,
    problem: Problem,
    seed: int,
    start: Solution,
    pinned: tuple[int, ...],
    starts: slice,
    limits: SearchLimits,
) -> None:
    """Search until the channel closes, and tell of every round that made it better."""
    search = Search(problem, seed, start, pinned, starts=starts, limits=limits)
    length = limits.first_round_s
    ends = channel.receive()
    told = search.best
    while True:
        left = math.inf if ends is None else ends - time.time()
        if left > 0.0:
            search.seconds = 0.0
            search.run(Stop(seconds=min(length, left)), Stop(seconds=left))
            length = min(limits.round_growth * length, limits.longest_round_s)
        if search.best.score < told.score:
            told = search.best
            channel.send(told)
        while left <= 0.0 or channel.waiting():
            search.adopt(channel.receive())
        told = min(told, search.best, key=lambda solution: solution.score)
