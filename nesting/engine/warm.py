"""Compile the kernels before anyone waits for a search."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from ..workers import Channel, Helpers, cores
from .compiled import CACHE
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

HALVES = "moves", "layouts"
LAST = "separate.separate", "openings.settle"
"""What each half compiles last."""
_aside = Helpers()
"""Processes that compile while this one does something else."""


def begin_warming() -> None:
    """Begin to compile what is not in the cache, in two processes beside this one; ``warm_up`` waits for them."""
    if cores() > 1 and not _aside.channels and not all(any(CACHE.glob(f"{name}-*.nbi")) for name in LAST):
        for half in HALVES:
            _aside.start(_compile_aside, half)


def warm_up() -> None:
    """Compile the kernels, which takes up to half a minute the first time ever, or load them from the cache in about
    1 s."""
    begin_warming()
    with _aside:
        for _ in _aside.hear_each():
            pass
    # what they have done is loaded from the cache
    for half in HALVES:
        _compile(half)


def _compile_aside(channel: Channel, half: str) -> None:
    _compile(half)
    channel.send(None)


def _compile(half: str) -> None:
    """Compile one half; both take about as long."""
    if half == "moves":
        _compile_move(relocate_turned, LIMITS.moved_nodes, LIMITS.close_poses)
        _compile_move(relocate_fixed, LIMITS.close_poses)
        _compile_separate()
    else:
        _compile_layouts()


def _problem(angles: tuple[tuple[float, float], ...] = FREE) -> Problem:
    strip = Container(shapely.box(0, 0, 50, 30))
    return Problem((strip,), (Shape(shapely.box(0, 0, 20, 20), angles=angles),), (Item(0),) * 4)


def _compile_move(relocate: Callable[..., float], *how: int) -> None:
    given = Given(_problem(((0.0, 0.0),)))
    given.make_tables()
    world = given.world
    state, trig = np.zeros((2, 5)), np.ones((2, 3))
    state[:, 1:3] = [[15.0, 15.0], [20.0, 15.0]]
    relocate(world, np.full(1, np.inf), state, trig, np.ones((2, 2)), 1.0, 0, *how, False, scratch_room(2))


def _compile_layouts() -> None:
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
