"""Compile the kernels before anyone waits for a search."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import shapely

from ..workers import Crew, cores
from .fixed import relocate_fixed
from .given import Given
from .insert import Insertion
from .limits import LIMITS
from .moves import relocate_turned
from .problem import FREE, Container, Item, Problem, Shape, Solution
from .search import Search
from .states import reach_of
from .stop import Stop
from .survey import scratch_room


def warm_up() -> None:
    """Compile the kernels, which takes half a minute the first time ever, or load them from the cache in about 1 s."""
    if not any((Path(__file__).parent / "__pycache__").glob("construct.construct-*.nbi")):
        # two halves of about the same length, each with a core of its own; what they have done is loaded from the cache
        with Crew(None, cores()) as crew:
            crew.each(_compile_half, [(True,), (False,)])
    _compile_construct()
    _compile_separate()


def _problem(angles: tuple[tuple[float, float], ...] = FREE) -> Problem:
    strip = Container(shapely.box(0, 0, 50, 30))
    return Problem((strip,), (Shape(shapely.box(0, 0, 20, 20), angles=angles),), (Item(0),) * 4)


def _compile_half(_: None, turned: bool) -> None:
    if turned:
        _compile_move(relocate_turned, LIMITS.moved_nodes, LIMITS.close_poses)
        _compile_separate()
    else:
        _compile_move(relocate_fixed, LIMITS.close_poses)
        _compile_construct()


def _compile_move(relocate: Callable[..., float], *how: int) -> None:
    given = Given(_problem(((0.0, 0.0),)))
    given.make_tables()
    world = given.world
    state, trig = np.zeros((2, 5)), np.ones((2, 3))
    state[:, 1:3] = [[15.0, 15.0], [20.0, 15.0]]
    relocate(world, np.full(1, np.inf), state, trig, np.ones((2, 2)), 1.0, 0, *how, False, scratch_room(2))


def _compile_construct() -> None:
    search = Search(_problem())
    search.run(Stop(iterations=1))
    search.aside.starts.next(search.placer.order, search.random, lambda: False)
    state = np.full((4, 5), -1.0)
    state[:2] = [[0, 10.0, 15.0, 0.0, 0.0], [0, 32.0, 15.0, 0.0, 0.0]]
    Given(_problem(((0.0, 0.0),))).press(state)
    problem = _problem()
    Insertion(problem, Solution((None,) * len(problem.items), (), 0.0)).insert(0)


def _compile_separate() -> None:
    here, trial = np.arange(2), np.array([[0, 10.0, 15.0, 0.0, 0.0], [0, 12.0, 15.0, 0.0, 0.0]])
    placer = Search(_problem()).placer
    placer.drop(trial, here, 0)
    placer.part(trial, here, 0, np.inf, 1)
    reach_of(placer.given.world, 0, 0, trial[0])
