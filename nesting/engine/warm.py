"""Compile the kernels before anyone waits for a search."""

from __future__ import annotations

import multiprocessing
from pathlib import Path

import numpy as np
import shapely

from .problem import FREE, Container, Item, Problem, Shape
from .search import Search
from .stop import Stop


def warm_up() -> None:
    """Compile the kernels, which takes most of a minute the first time ever, or load them from the cache in less than 1 s."""
    if not any((Path(__file__).parent / "__pycache__").glob("construct.construct-*.nbi")):
        # two halves of about the same length, each with a core of its own
        other = multiprocessing.get_context("spawn").Process(target=_compile_construct, daemon=True)
        other.start()
        _compile_separate()
        other.join()
    _compile_construct()
    _compile_separate()


def _search(angles=FREE) -> Search:
    strip = Container(shapely.box(0, 0, 50, 30))
    return Search(Problem((strip,), (Shape(shapely.box(0, 0, 20, 20), angles=angles),), (Item(0),) * 4))


def _compile_construct() -> None:
    search = _search()
    search.run(Stop(iterations=1))
    search.starts.next(search.order, search.random, lambda: False)
    state = np.full((4, 5), -1.0)
    state[:2] = [[0, 10.0, 15.0, 0.0, 0.0], [0, 32.0, 15.0, 0.0, 0.0]]
    _search(((0.0, 0.0),))._press(state)


def _compile_separate() -> None:
    here, trial = np.arange(2), np.array([[0, 10.0, 15.0, 0.0, 0.0], [0, 12.0, 15.0, 0.0, 0.0]])
    search = _search()
    search._drop(trial, here, 0)
    search._separate(trial, here, 0, np.inf, 1)
    search._reach(0, 0, trial[0])
