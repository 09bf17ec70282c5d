"""Knife lines, panels and parts chosen together.

When a hide is bigger than the bed, parts are first shared out over the hides by area. Then several ways to cut a hide up
are tried, each panel after panel: as much leather as the bed holds is packed towards its far
end, and the knife goes down behind the last part, so that what a panel does not use is the next one's. The best way is
packed again with more patience; what time remains goes into rounds that empty the poorest panel into the others.
"""

from __future__ import annotations

import itertools
import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from .. import engine
from ..leather.knife import bed_angle, cut_up, same_leather, ways
from ..model import Cut
from ..workers import Crew
from .cutting import Filled, consumed, fill, on_piece
from .packing import Lies, Packing, Piece
from .rounds import FEW, ITERATIONS, improve
from .shares import allot

WHOLE, FILL, FILL_FEW = 0.7, 0.6, 0.25
"""Shares of the time by which hides that fit the bed have been packed with one setting; by which others are cut up; and by
which they are when they make few panels only, which are then packed better all together."""
TRY, PATIENT = 0.35, 2.0
"""Share of a hide's own time in which ways to cut it up are tried, and how much longer than a try filling it again has to be
to be worth it."""
MOST_WAYS = 16
LEAST_CREW_S = 15.0
"""Below this other processes would take too much of the time to start."""


@dataclass(frozen=True)
class Arrangement:
    """Pieces of hides, the knife lines that make them, and where the wishes lie on them."""

    pieces: tuple[Piece, ...] = ()
    cuts: tuple[Cut, ...] = ()
    lies: Lies = field(default_factory=dict)
    iterations: int = 0
    seconds: float = 0.0


class Clock:
    """What is left of the time or the iterations that a stopping rule gives; tells how they pass, if anyone wants to know.

    Parameters
    ----------
    stop : engine.Stop
    progress : callable, optional
        Called with an engine.Progress.
    best : engine.Progress, optional
        The layout there is to begin with; of it only the figures of the layout count.
    """

    def __init__(
        self,
        stop: engine.Stop,
        progress: Callable[[engine.Progress], None] | None = None,
        best: engine.Progress | None = None,
    ):
        self.stop, self.began, self.iterations, self.interrupted = stop, time.monotonic(), 0, False
        self.progress, self.best = progress, best

    @property
    def seconds(self) -> float:
        """Wall time since the start."""
        return time.monotonic() - self.began

    @property
    def share(self) -> float:
        """How much of the time or of the iterations is gone, from 0 to 1."""
        return self.stop.share(self.seconds, self.iterations)

    @property
    def over(self) -> bool:
        """Whether the search is to end; a target is looked at within each search only."""
        return self.interrupted or self.share >= 1 or self.stop.cancelled

    def slice(self, share: float) -> engine.Stop:
        """A stopping rule for a share of the whole."""
        seconds = None if self.stop.seconds is None else share * self.stop.seconds
        steps = None if self.stop.iterations is None else max(1, round(share * self.stop.iterations))
        return replace(self.stop, seconds=seconds, iterations=ITERATIONS if seconds is steps is None else steps)

    def tell(self, best: engine.Progress) -> None:
        """Tell of the best layout of a search that is part of the whole."""
        self.best, iterations = best, self.iterations + best.iterations
        if self.progress is not None:
            share = self.stop.share(self.seconds, iterations)
            self.progress(replace(best, seconds=self.seconds, iterations=iterations, share=share))

    def waits(self) -> bool:
        """Tell how the time passes while others work; gives whether it is over."""
        if self.best is not None:
            self.tell(replace(self.best, iterations=0))
        return self.over

    def count(self, answer) -> None:
        """Take note of what a search cost."""
        self.iterations += answer.iterations
        self.interrupted |= answer.interrupted

    def count_all(self, answers, crew: Crew) -> None:
        """Take note of searches made side by side."""
        self.iterations += max((answer.iterations for answer in answers), default=0)
        self.interrupted |= crew.interrupted or any(answer.interrupted for answer in answers)


def arrange(
    packing: Packing,
    bed: tuple[float, float],
    stop: engine.Stop,
    seed: int = 0,
    *,
    more: Packing | None = None,
    progress: Callable[[engine.Progress], None] | None = None,
    workers: int = 1,
) -> Arrangement:
    """Choose knife lines, panels and the places of the parts.

    Parameters
    ----------
    packing : Packing
    bed : (width, height)
        Usable bed, mm; infinite along a direction leather is fed through in.
    stop : engine.Stop
    seed : int
        The same seed, iterations and workers give the same arrangement.
    more : Packing, optional
        The same with further settings, taken when ordered parts that are no fillers would be left out without them.
    progress : callable, optional
        Called with an engine.Progress of the whole: whenever a better layout was found, and else now and then.
    workers : int
        Processes to search with.

    Returns
    -------
    Arrangement
        Hides that fit the bed are pieces as they are.
    """
    clock = Clock(stop, progress, _told(packing, Arrangement()))
    whole = tuple(Piece(item.hide.id, item.hide.outline) for item in packing.hides.values())
    every = dict.fromkeys(range(len(packing.wishes)), 0)
    if stop.seconds is not None and stop.seconds < LEAST_CREW_S:
        workers = 1

    def search(share: float, start: Lies | None = None) -> Lies:
        answer = packing.solve(whole, every, clock.slice(share), seed, start=start, progress=clock.tell, workers=workers)
        clock.count(answer)
        return answer.lies

    def left_out(lies) -> bool:
        return any(not wish.product.filler for index, wish in enumerate(packing.wishes) if index not in lies)

    if all(bed_angle(piece.polygon, *bed) is not None for piece in whole):
        several = more is not None or any(len(item.settings) > 1 for item in packing.hides.values())
        lies = search(WHOLE if several else 1.0)
        if several and not left_out(lies) and not clock.over:
            lies = search(1.0 - clock.share, lies)
        best = Arrangement(whole, (), lies)
    else:
        own = allot(packing)
        if more is not None and left_out(set().union(*own.values())):
            wider = allot(more)
            if more.unplaced(set().union(*wider.values())) < packing.unplaced(set().union(*own.values())):
                packing, own = more, wider
        with Crew(packing, workers, stop.cancel) as crew:
            best = _cut_all(packing, bed, own, clock, crew, seed)
        if left_out(best.lies):
            best = replace(best, pieces=(*best.pieces, *spare(packing, bed, best)))
    if more is not None and left_out(best.lies):
        packing = more

    def told(lies: Lies) -> None:
        clock.tell(_told(packing, replace(best, lies=lies)))

    with Crew(packing, workers, stop.cancel) as crew:
        lies = improve(packing, best.pieces, best.lies, clock, crew, seed, told)
    return replace(best, lies=lies, iterations=clock.iterations, seconds=clock.seconds)


def _cut_all(packing: Packing, bed, own: dict[str, set[int]], clock: Clock, crew: Crew, seed: int) -> Arrangement:
    """Cut the hides up one after another, the fullest first, so that what finds no place can go to the others."""
    used = {hide: sum(packing.sizes[index] for index in own[hide]) for hide in own}
    order = sorted(own, key=lambda hide: -used[hide] / packing.hides[hide].hide.outline.area)
    home = {packing.wishes[index].match: hide for hide in own for index in own[hide]}
    done, last = Arrangement(), 1 + max((wish.rank for wish in packing.wishes), default=0)
    for number, hide in enumerate(order):
        # the parts that later hides have room for are guests here, and come after all others
        later = set().union(*(own[other] for other in order[number + 1 :]))
        free = [
            index
            for index, wish in enumerate(packing.wishes)
            if index not in done.lies
            and hide in packing.homes[index]
            and (not wish.match or home.get(wish.match, hide) == hide)
        ]
        ranks = {index: packing.wishes[index].rank + (index in later) * last for index in free}
        weight = used[hide] / (sum(used[other] for other in order[number:]) or 1.0)
        best = _best_way(packing, bed, hide, ranks, frozenset(free) - later, weight, clock, crew, seed)
        # what matches a part placed here has to come from here too
        home |= {packing.wishes[index].match: hide for index in best.lies}
        lies = {index: lie._replace(piece=lie.piece + len(done.pieces)) for index, lie in best.lies.items()}
        done = Arrangement((*done.pieces, *best.pieces), (*done.cuts, *best.cuts), done.lies | lies)
        clock.tell(_told(packing, done))
    return done


def spare(packing: Packing, bed, made: Arrangement) -> list[Piece]:
    """Pieces that the knife lines leave beside the panels, fit the bed and may hold a part: what is left out can go there."""
    panels, least = [piece.polygon for piece in made.pieces], min(packing.sizes)
    pieces = [(hide, bit) for hide, item in packing.hides.items() for bit in cut_up(item.hide, made.cuts)]
    return [
        Piece(hide, bit)
        for hide, bit in pieces
        if bit.area > least
        and bed_angle(bit, *bed) is not None
        and not any(same_leather(bit, panel) for panel in panels)
    ]


def _best_way(packing, bed, hide: str, ranks, own, weight: float, clock: Clock, crew: Crew, seed: int) -> Filled:
    """Try ways to cut a hide up in a hurry, then the best of them with patience."""
    # a share of what is left until the hides are to be filled, whatever came before
    bed_mm2 = math.prod(side for side in bed if math.isfinite(side)) if all(map(math.isfinite, bed)) else min(bed) ** 2
    few = sum(piece.hide.outline.area for piece in packing.hides.values()) < FEW * bed_mm2
    span = weight * max((FILL_FEW if few else FILL) - clock.share, 0.0)
    begun, tried = clock.share, []

    # a try takes no longer than all of the hide's time, however many iterations that is
    hurry = replace(clock.slice(span), iterations=None)
    # first those whose panels are long enough, the way they lie, for all of the hide's own parts
    every = sorted(ways(packing.hides[hide].hide, bed), key=lambda way: packing.too_long_for(way, hide, own))
    every = iter(every[:MOST_WAYS])
    while batch := list(itertools.islice(every, crew.workers)):
        before = clock.share
        found = crew.each(fill, [(bed, hide, way, ranks, own, hurry, False, seed) for way in batch], clock.waits)
        tried += found or [fill(packing, bed, hide, batch[0], ranks, own, hurry, False, seed)]
        clock.count_all(found, crew)
        took = clock.share - before
        if clock.share + took > begun + TRY * span or clock.over:
            break
    tried.sort(key=lambda filled: filled.score)
    left = begun + span - clock.share
    if left > PATIENT * took and not clock.over:
        effort = clock.slice(left)
        # as many of the best ways as there are processes
        best = [filled.way for filled in tried[: crew.workers]]
        found = crew.each(fill, [(bed, hide, way, ranks, own, effort, True, seed) for way in best], clock.waits)
        clock.count_all(found, crew)
        tried += found
    return min(tried, key=lambda filled: filled.score)


def _told(packing: Packing, made: Arrangement) -> engine.Progress:
    """An arrangement in figures."""
    used = sum(consumed(packing, piece, on_piece(made.lies, number)) for number, piece in enumerate(made.pieces))
    return engine.Progress(0.0, 0, 0.0, len(made.lies), len(packing.wishes), packing.unplaced(made.lies), used)
