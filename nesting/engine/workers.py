"""One search spread over processes: independent seeds, the best layout shared after every round."""

from __future__ import annotations

import multiprocessing
import signal
import time
from collections.abc import Callable, Iterable
from dataclasses import replace

from .problem import Problem, Solution
from .search import Search
from .stop import Stop

ROUND_ITERATIONS = 20
FIRST_ROUND_S, LONGEST_ROUND_S = 2.0, 10.0


def solve(
    problem: Problem, stop: Stop, seed: int = 0, *, start: Solution | None = None, pinned: Iterable[int] = (),
    progress: Callable[[Solution], None] | None = None, workers: int = 1,
) -> Solution:
    """Pack a problem and give the best layout found when ``stop`` ends the search; Ctrl-C ends it the same way.

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
        Called with every better Solution.
    workers : int
        Processes, this one included.

    Returns
    -------
    Solution
    """
    pinned = tuple(pinned)
    search = Search(problem, seed, start, pinned, progress, None if start else slice(0, None, max(workers, 1)))
    if workers <= 1 or not problem.items:
        return search.run(stop)
    # the first layout, and the compiled kernels on disk, before anyone else starts
    search.run(replace(stop, iterations=1))
    if search.interrupted:
        return search.best
    context = multiprocessing.get_context("spawn")
    helpers = []
    try:
        for number in range(1, workers):
            here, there = context.Pipe()
            starts = slice(0, 0) if start else slice(number, None, workers)
            process = context.Process(target=_serve, args=(there, problem, seed + number, search.best, pinned, starts), daemon=True)
            process.start()
            there.close()
            helpers.append((process, here))
        _rounds(search, helpers, stop)
    except KeyboardInterrupt:
        pass
    finally:
        for process, pipe in helpers:
            pipe.close()
            process.terminate()
    return search.best


def _rounds(search: Search, helpers: list, stop: Stop) -> None:
    began, length = time.monotonic() - search.seconds, FIRST_ROUND_S
    while not search.interrupted and not stop.reached(began, search.iterations, search.best):
        search.seconds = time.monotonic() - began
        if stop.iterations is not None:
            part = replace(stop, iterations=min(stop.iterations, search.iterations + ROUND_ITERATIONS))
        else:
            part = replace(stop, seconds=min(stop.seconds or float("inf"), search.seconds + length))
            length = min(1.5 * length, LONGEST_ROUND_S)
        ends = None if part.seconds is None else time.time() + part.seconds - search.seconds
        for _, pipe in helpers:
            pipe.send((search.best, part.iterations, ends))
        search.run(part)
        for _, pipe in helpers if not search.interrupted else ():
            search.adopt(pipe.recv())


def _serve(pipe, problem: Problem, seed: int, start: Solution, pinned: tuple, starts: slice) -> None:
    """Search for one round at a time, until the pipe closes."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    search = Search(problem, seed, start, pinned, starts=starts)
    search.iterations = 1
    try:
        while True:
            best, iterations, ends = pipe.recv()
            search.adopt(best)
            search.seconds = 0.0
            seconds = None if ends is None else max(0.0, ends - time.time())
            pipe.send(search.run(Stop(seconds=seconds, iterations=iterations)))
    except (EOFError, BrokenPipeError, OSError):
        return
