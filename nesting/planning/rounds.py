"""Rounds of search over a few panels at a time, which fill them better and empty the poorest."""

from __future__ import annotations

import numpy as np

from .. import engine
from ..workers import Crew
from .cutting import NEED, consumed, on_piece
from .packing import Answer, Lies, Packing, Piece

ITERATIONS = 12
SECONDS, ROUNDS = 1.5, 20
"""A round takes so long at least, and about so many make up the time of a whole run."""
FEW = 12
"""Up to so many panels are all packed together."""
TOGETHER = 2
"""Of more panels, so many are packed together in one task of a round."""
GUESTS = 10
"""Parts, at least, that are tried elsewhere to empty the poorest panels."""
REGROUP = 0.5
"""How often parts that match one left out are all taken up, to go to another hide together."""
LEAST_SLACK = 0.02
"""A panel filled without any gap still has this much of a chance to be chosen, as a share of its area."""


def improve(packing: Packing, pieces: tuple[Piece, ...], lies: Lies, clock, crew: Crew, seed: int, told) -> Lies:
    """Better places for the wishes on the same pieces, found until the clock is over.

    A few panels are packed anew all together. Of many, some are in each round, with what has no place yet, or, when
    everything has one, with the parts of the panels that hold least. A panel left empty need not be cut off.

    Parameters
    ----------
    packing : Packing
    pieces : tuple of Piece
    lies : Lies
    clock : Clock
    crew : Crew
        Shares ``packing``; each of its processes works on panels of its own.
    seed : int
    told : callable
        Called with better Lies.

    Returns
    -------
    Lies
    """
    random = np.random.default_rng(seed)
    while lies and not clock.over:
        # an empty piece is of use only to what has no place yet
        all_placed = len(lies) == len(packing.wishes)
        on = {
            number: on_piece(lies, number)
            for number in ({lie.piece for lie in lies.values()} if all_placed else range(len(pieces)))
        }
        if len(pieces) <= FEW:
            better = _all_together(packing, pieces, lies, clock, crew.workers, random)
        else:
            better = _some(packing, pieces, on, lies, clock, crew, random)
        if better is not lies:
            lies = better
            told(lies)
    return lies


def _all_together(packing: Packing, pieces, lies: Lies, clock, workers: int, random) -> Lies:
    most = max(len(item.settings) for item in packing.hides.values())
    bands = {i: lies[i].band if i in lies else int(random.integers(max(most, 1))) for i in range(len(packing.wishes))}
    # with several settings, what is left out is tried with another each time
    stop = clock.slice(1.0 - clock.share if most < 2 else min(0.1, 1.0 - clock.share))
    answer = packing.solve(list(pieces), bands, stop, int(random.integers(2**31)), start=lies, progress=clock.tell, workers=workers)
    clock.count(answer)
    every = set(range(len(pieces)))
    return (
        answer.lies
        if _score(packing, pieces, answer.lies, every, set()) < _score(packing, pieces, lies, every, set())
        else lies
    )


def _some(packing: Packing, pieces, on: dict[int, Lies], lies: Lies, clock, crew: Crew, random) -> Lies:
    kept = lies
    out = [index for index in range(len(packing.wishes)) if index not in lies]
    split = {packing.wishes[index].match for index in out} - {""}
    if split and random.random() < REGROUP:
        # what matches a part left out may all go to another hide together
        lies = {i: lie for i, lie in lies.items() if packing.wishes[i].match not in split}
        out = [index for index in range(len(packing.wishes)) if index not in lies]
        on = {number: on_piece(lies, number) for number in on}
    held = {number: sum(packing.sizes[i] for i in here) for number, here in on.items()}
    poor: list[int] = []
    for number in sorted(held, key=lambda n: (held[n], n)) if not out else ():
        if sum(len(on[n]) for n in poor) < GUESTS and 3 * len(poor) < len(on):
            poor.append(number)
    guests = _bundles(packing, out or [index for number in poor for index in on[number]])
    groups = _choose(
        packing, pieces, [number for number in sorted(on) if number not in poor], held, crew.workers, random
    )
    tasks = [
        _task(packing, pieces, group, on, sum(guests[n :: len(groups)], []), lies, clock, random)
        for n, group in enumerate(groups)
    ]
    answers = crew.each(_work, tasks, clock.waits)
    clock.count_all(answers, crew)
    for group, answer in zip(groups, answers):
        before = {i: lie for n in group for i, lie in on[n].items()}
        after = {i: lie._replace(piece=group[lie.piece]) for i, lie in answer.lies.items()}
        if poor and not before.keys() <= after.keys():
            continue
        trial = {i: lie for i, lie in lies.items() if i not in before} | after
        touched = {*group, *poor}
        if _score(packing, pieces, trial, touched, set(poor)) < _score(packing, pieces, lies, touched, set(poor)):
            lies = trial
    every = set(on)
    return (
        lies
        if _score(packing, pieces, lies, every, set(poor)) < _score(packing, pieces, kept, every, set(poor))
        else kept
    )


def _bundles(packing: Packing, indices: list[int]) -> list[list[int]]:
    """Wishes that match together, every other alone."""
    bundles: dict[object, list[int]] = {}
    for index in indices:
        bundles.setdefault(packing.wishes[index].match or index, []).append(index)
    return list(bundles.values())


def _choose(packing: Packing, pieces, numbers: list[int], held, workers: int, random) -> list[list[int]]:
    """Panels for each of the tasks, those with more room more often, none of them twice."""
    slack = np.array(
        [max(pieces[n].polygon.area - NEED * held[n], LEAST_SLACK * pieces[n].polygon.area) for n in numbers]
    )
    tasks = max(1, min(workers, len(numbers) // TOGETHER))
    count = min(TOGETHER * tasks, len(numbers)) if tasks > 1 else min(TOGETHER + 1, len(numbers))
    chosen = random.choice(numbers, count, replace=False, p=slack / slack.sum()).tolist()
    return [chosen[n::tasks] for n in range(tasks)]


def _task(packing: Packing, pieces, group, on, guests, lies: Lies, clock, random) -> tuple:
    before = {i: lie._replace(piece=group.index(n)) for n in group for i, lie in on[n].items()}
    most = max(max(len(packing.hides[pieces[n].hide].settings), 1) for n in group)
    room = sum(pieces[n].polygon.area for n in group)
    bands = {i: int(random.integers(most)) for i in packing.shortlist(guests, room)} | {
        i: lie.band for i, lie in before.items()
    }
    # what is there keeps its place before guests of the same rank
    ranks = {i: 2 * packing.wishes[i].rank + (i not in before) for i in bands}
    held = {
        packing.wishes[i].match: pieces[lie.piece].hide
        for i, lie in lies.items()
        if packing.wishes[i].match and i not in bands
    }
    left = None if clock.stop.seconds is None else max(clock.stop.seconds - clock.seconds, 0.0)
    seconds = None if left is None else min(max(SECONDS, clock.stop.seconds / ROUNDS), left)
    stop = engine.Stop(seconds=seconds, iterations=ITERATIONS if seconds is None else None, cancel=clock.stop.cancel)
    return [pieces[n] for n in group], bands, stop, int(random.integers(2**31)), before, ranks, held


def _work(packing: Packing, pieces, bands, stop: engine.Stop, seed: int, start: Lies, ranks, held) -> Answer:
    return packing.solve(pieces, bands, stop, seed, start=start, ranks=ranks, held=held)


def _score(packing: Packing, pieces, lies: Lies, touched: set[int], poor: set[int]) -> tuple:
    """Smaller is better: what is left out, then leather; in the poorest panels what their parts need, for they are to go."""
    used = sum(consumed(packing, pieces[n], on_piece(lies, n)) for n in sorted(touched - poor))
    return (*packing.unplaced(lies), used + 2 * sum(packing.sizes[i] for n in sorted(poor) for i in on_piece(lies, n)))
