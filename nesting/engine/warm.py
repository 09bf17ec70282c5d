"""Compile the kernels before anyone waits for a search."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import shapely

from ..workers import Cancel, Channel, Helpers, cores
from .compiled import CACHE
from .given import Given
from .insert import Insertion
from .problem import FREE, Container, Item, Problem, Shape, Solution
from .search import Search
from .separate import is_clear


def _problem(angles: tuple[tuple[float, float], ...] = FREE) -> Problem:
    strip = Container(shapely.box(0, 0, 50, 30))
    return Problem((strip,), (Shape(shapely.box(0, 0, 20, 20), angles=angles),), (Item(0),) * 4)


_SIDE_BY_SIDE = np.array([[0, 10.0, 15.0, 0.0, 0.0], [0, 32.0, 15.0, 0.0, 0.0]])


def _lay_out() -> None:
    Given(_problem())


def _prove() -> None:
    given = Given(_problem(((0.0, 0.0),)))
    state = np.full((4, 5), -1.0)
    state[:2] = _SIDE_BY_SIDE
    given.press(state)
    is_clear(given.world, state, state)
    given.solution(state)


def _insert() -> None:
    problem = _problem()
    Insertion(problem, Solution((None,) * len(problem.items), (), 0.0)).insert(0)


def _construct() -> None:
    search = Search(_problem())
    search.placer.fill(np.full((4, 5), -1.0), 0.0)


def _separate() -> None:
    search, here = Search(_problem()), np.arange(2)
    search.placer.part(_SIDE_BY_SIDE.copy(), here, 0, np.inf, 1)


def _lay_rows() -> None:
    search = Search(_problem())
    search.aside.starts.next(search.placer.order, search.random, lambda: False)


_HALVES: tuple[tuple[tuple[Callable[[], None], ...], tuple[Callable[[], None], ...]], ...] = (
    ((_construct,), (_lay_rows,)),
    ((_lay_out, _prove, _insert), (_separate,)),
)
"""What each of two processes compiles: first what a first layout asks for, then the rest. They take about as long."""
_LAST = "construct.construct", "openings.settle", "laying.lay_rows", "separate.separate"
"""What is compiled last in each of these."""


class _Warmth:
    """How far this process has come: compiled is what a first layout asks for after one stage, all after two."""

    def __init__(self) -> None:
        self.stages = 0
        self.aside = Helpers()


_warmth = _Warmth()


def begin_warming() -> None:
    """Begin to compile what is not in the cache, in two processes beside this one; ``warm_up`` waits for them."""
    if cores() > 1 and not _warmth.aside.channels and not _all_kept():
        for half in range(len(_HALVES)):
            _warmth.aside.start(_compile_aside, half)


def warm_up(first: bool = False, cancel: Cancel | None = None) -> None:
    """Compile the kernels, which takes some twenty seconds of processor time the first time ever, or load them from
    the cache in about 1 s.

    Parameters
    ----------
    first : bool
        Only those that a first layout asks for, unless all are in the cache.
    cancel : Cancel, optional
        Ends the wait for other processes when it is cancelled.
    """
    begin_warming()
    stages = 1 if first and not _all_kept() else 2
    while _warmth.stages < stages and not (cancel is not None and cancel.cancelled):
        # what others have done is loaded from the cache
        for _ in _warmth.aside.hear_each(cancel):
            pass
        for half in _HALVES:
            for step in half[_warmth.stages]:
                step()
        _warmth.stages += 1
    if _warmth.stages == 2:
        _warmth.aside.end(*_warmth.aside.channels)


def half_warm() -> bool:
    """Whether only what a first layout asks for is compiled so far, and ``warm_up`` is to wait for the rest."""
    return _warmth.stages == 1


def _all_kept() -> bool:
    return all(any(CACHE.glob(f"{name}-*.nbi")) for name in _LAST)


def _compile_aside(channel: Channel, half: int) -> None:
    for stage in _HALVES[half]:
        for step in stage:
            step()
        channel.send(None)
