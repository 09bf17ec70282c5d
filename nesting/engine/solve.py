"""One search spread over processes: independent seeds, the best layout shared after every round."""

from __future__ import annotations

import math
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
LAST_WORD_S = 0.2
"""How long the others are waited for at the end."""


def solve(
    problem: Problem,
    stop: Stop,
    seed: int = 0,
    *,
    start: Solution | None = None,
    pinned: Iterable[int] = (),
    progress: Callable[[Solution], None] | None = None,
    workers: int = 1,
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
            work = _serve_rounds if stop.iterations is not None else _serve_on
            process = context.Process(
                target=work, args=(there, problem, seed + number, search.best, pinned, starts), daemon=True
            )
            process.start()
            there.close()
            helpers.append((process, here))
        pipes = [pipe for _, pipe in helpers]
        if stop.iterations is not None:
            _rounds(search, pipes, stop)
        else:
            _run_on(search, pipes, stop)
    except KeyboardInterrupt:
        pass
    finally:
        for process, pipe in helpers:
            pipe.close()
            process.terminate()
    return search.best


def _rounds(search: Search, pipes: list, stop: Stop) -> None:
    """Search in rounds of so many iterations, all waiting for each other at the end of each, so that it can be repeated."""
    began = time.monotonic() - search.seconds
    while not search.interrupted and not stop.reached(began, search.iterations, search.best):
        search.seconds = time.monotonic() - began
        part = replace(stop, iterations=min(stop.iterations, search.iterations + ROUND_ITERATIONS))
        ends = None if stop.seconds is None else time.time() + stop.seconds - search.seconds
        for pipe in pipes:
            pipe.send((search.best, part.iterations, ends))
        search.run(part)
        for pipe in pipes if not search.interrupted else ():
            search.adopt(pipe.recv())


def _serve_rounds(pipe, problem: Problem, seed: int, start: Solution, pinned: tuple, starts: slice) -> None:
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


def _run_on(search: Search, pipes: list, stop: Stop) -> None:
    """Search until ``stop`` says so; nobody waits, but all hear of a better layout at the end of each one's own round."""
    began, length, ends = time.monotonic() - search.seconds, FIRST_ROUND_S, None
    if stop.seconds is not None:
        ends = time.time() + stop.seconds - (time.monotonic() - began)
    for pipe in pipes:
        pipe.send(ends)
    while not search.interrupted and not stop.reached(began, search.iterations, search.best):
        search.seconds, before = time.monotonic() - began, search.best
        search.run(replace(stop, seconds=min(stop.seconds or math.inf, search.seconds + length)), stop)
        length = min(1.5 * length, LONGEST_ROUND_S)
        for pipe in pipes:
            while pipe.poll():
                search.adopt(pipe.recv())
        for pipe in pipes if search.best.score < before.score else ():
            pipe.send(search.best)
    for pipe in pipes if not search.interrupted else ():
        while pipe.poll(LAST_WORD_S):
            search.adopt(pipe.recv())


def _serve_on(pipe, problem: Problem, seed: int, start: Solution, pinned: tuple, starts: slice) -> None:
    """Search until the pipe closes, and tell of every round that made it better."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    search, length = Search(problem, seed, start, pinned, starts=starts), FIRST_ROUND_S
    try:
        ends = pipe.recv()
        told = search.best
        while True:
            left = math.inf if ends is None else ends - time.time()
            if left > 0.0:
                search.seconds = 0.0
                search.run(Stop(seconds=min(length, left)), Stop(seconds=left))
                length = min(1.5 * length, LONGEST_ROUND_S)
            if search.best.score < told.score:
                told = search.best
                pipe.send(told)
            while left <= 0.0 or pipe.poll():
                search.adopt(pipe.recv())
            told = min(told, search.best, key=lambda solution: solution.score)
    except (EOFError, BrokenPipeError, OSError):
        return
