"""Knife lines, panels and parts chosen together.

A hide bigger than the bed is first packed as if there were no bed: that tells which parts belong on which hide. Then, for
several ways to cut it up, panels are taken off one after another: as much leather as the bed holds is packed towards its
far end, and the knife goes down behind the last part, so that what a panel does not use is the next one's. The best way
is packed again with more patience; what time remains goes into rounds that empty the poorest panel into the others.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from . import engine
from .laser.panels import Way, bed_angle, cut_across, part, reach, ways
from .model import Cut, Hide
from .packing import Lie, Lies, Packing, Piece

WHOLE, TRY, FILL = 0.15, 0.4, 0.75
"""Shares of the time by which the hides have been packed whole, ways to cut them tried, and the best filled."""
MOST_WAYS, ROUND_ITERATIONS, ROUND_S = 12, 12, 1.0
MOST_TOGETHER = 3
"""Panels packed together in one round."""
LINE_MM = 2.0
"""A knife line is moved back to the parts when that gives the next panel more than this."""
PANEL_SHARE = 0.02
"""What one panel more may cost in leather, as a share of the bed: loading it takes time."""


@dataclass(frozen=True)
class Arrangement:
    """Pieces of hides that hold parts, the knife lines that make them, and where the wishes lie on them."""

    pieces: tuple[Piece, ...] = ()
    cuts: tuple[Cut, ...] = ()
    lies: Lies = field(default_factory=dict)
    iterations: int = 0
    seconds: float = 0.0


class Clock:
    """What is left of the time or the iterations a stopping rule gives, in shares."""

    def __init__(self, stop: engine.Stop):
        self.stop, self.began, self.iterations = stop, time.monotonic(), 0
        self.interrupted = False

    @property
    def seconds(self) -> float:
        return time.monotonic() - self.began

    @property
    def share(self) -> float:
        """How much of the time or of the iterations is gone, 0 to 1."""
        gone = [0.0]
        if self.stop.seconds is not None:
            gone.append(self.seconds / max(self.stop.seconds, 1e-9))
        if self.stop.iterations is not None:
            gone.append(self.iterations / self.stop.iterations)
        return max(gone)

    @property
    def over(self) -> bool:
        """Whether the search is to end (a target is looked at inside each search only)."""
        return self.interrupted or self.share >= 1 or (self.stop.when is not None and self.stop.when())

    def slice(self, share: float, least: int = 1) -> engine.Stop:
        """A stopping rule for a share of the whole."""
        seconds = None if self.stop.seconds is None else share * self.stop.seconds
        iterations = None if self.stop.iterations is None else max(least, round(share * self.stop.iterations))
        if seconds is None and iterations is None:
            iterations = ROUND_ITERATIONS
        return replace(self.stop, seconds=seconds, iterations=iterations)

    def run(self, packing: Packing, pieces, bands, stop: engine.Stop, seed: int, **more) -> Lies:
        """One search, its iterations counted."""
        began = time.monotonic()
        lies, solution = packing.solve(pieces, bands, stop, seed, **more)
        if solution is not None:
            self.iterations += solution.iterations
            self.interrupted |= not stop.reached(began, solution.iterations, solution)
        return lies


def arrange(
    packing: Packing, bed: tuple[float, float], stop: engine.Stop, seed: int = 0, *, more: Packing | None = None,
    progress: Callable[[engine.Solution], None] | None = None, workers: int = 1,
) -> Arrangement:
    """Choose knife lines, panels and the places of the parts.

    Parameters
    ----------
    packing : Packing
    bed : (width, height)
        Usable bed, mm; infinite along a direction leather is fed through in.
    stop : engine.Stop
    seed : int
    more : Packing, optional
        The same with further settings, for the end of the search when ordered parts that are no fillers are left out.
    progress : callable, optional
        Called with every better engine.Solution.
    workers : int
        Processes to search with while hides are packed whole.

    Returns
    -------
    Arrangement
        Hides that fit the bed are pieces as they are.
    """
    clock = Clock(stop)
    whole = [Piece(item.hide.id, item.hide.outline) for item in packing.hides.values()]
    large = [piece for piece in whole if bed_angle(piece.polygon, *bed) is None]
    every = {index: 0 for index in range(len(packing.wishes))}
    if not large:
        share = 1.0 if more is None and _most_bands(packing) == 1 else FILL
        lies = clock.run(packing, whole, every, clock.slice(share), seed, progress=progress, workers=workers)
        best = Arrangement(tuple(whole), (), lies)
    else:
        first = clock.run(packing, whole, every, clock.slice(WHOLE), seed, workers=workers)
        best = _cut_all(packing, bed, whole, first, clock, seed, progress)
    if more is not None and any(not wish.product.filler for i, wish in enumerate(packing.wishes) if i not in best.lies):
        packing = more
    elif not large and not clock.over:
        rest = clock.slice(1.0 - clock.share)
        best = replace(best, lies=clock.run(packing, whole, every, rest, seed + 1, start=best.lies, progress=progress, workers=workers))
    best = improve(packing, best, clock, seed, progress)
    return replace(best, iterations=clock.iterations, seconds=clock.seconds)


def _most_bands(packing: Packing) -> int:
    return max([len(item.settings) for item in packing.hides.values()], default=1)


def _cut_all(packing, bed, whole, first: Lies, clock: Clock, seed: int, progress) -> Arrangement:
    """Cut the hides up one after another, the fullest first, so that what finds no place can go to the others."""
    own = {piece.hide: [index for index, lie in first.items() if lie.piece == number] for number, piece in enumerate(whole)}
    fullness = {piece.hide: sum(packing.sizes[i] for i in own[piece.hide]) / piece.polygon.area for piece in whole}
    order = sorted((piece.hide for piece in whole), key=lambda hide: (-fullness[hide], hide))
    home = {packing.wishes[i].match: hide for hide, indices in own.items() for i in indices if packing.wishes[i].match}
    total = sum(min(fullness[hide], 1.0) * packing.hides[hide].hide.outline.area for hide in order) or 1.0
    done, left, share, after = Arrangement(), [], TRY - WHOLE, FILL - TRY
    for hide in order:
        outline = packing.hides[hide].hide.outline
        weight = fullness[hide] * outline.area / total
        placed = set(done.lies)
        later = {i for other in order[order.index(hide) + 1 :] for i in own[other]}
        free = [i for i in range(len(packing.wishes)) if i not in placed and home.get(packing.wishes[i].match, hide) == hide]
        # the parts that later hides have room for are guests: they fill gaps and are worth no cut of their own
        ranks = {i: 2 * packing.wishes[i].rank + (i in later) for i in free}
        pool = sorted(ranks, key=lambda i: (ranks[i], i))

        def fill(way: Way, effort: float, own=set(free) - later) -> _Fill:
            made = _Fill(packing, bed, hide, way, pool, ranks, own, clock, effort, seed)
            made.all()
            return made

        best, ends = None, clock.share + share * weight
        for number, way in enumerate(ways(packing.hides[hide].hide, bed)):
            if best is not None and (number >= MOST_WAYS or clock.share >= ends or clock.over):
                break
            tried = fill(way, 0.0)
            best = tried if best is None or tried.score < best.score else best
        if not clock.over:
            patient = fill(best.way, after * weight)
            best = patient if patient.score <= best.score else best
        offset = len(done.pieces)
        lies = {i: lie._replace(piece=lie.piece + offset) for i, lie in best.lies.items()}
        done = Arrangement((*done.pieces, *best.pieces), (*done.cuts, *best.cuts), done.lies | lies)
        _tell(packing, done, clock, progress)
    return done


class _Fill:
    """One hide cut up one way, panel after panel, with as many of a pool of wishes as will go."""

    def __init__(self, packing: Packing, bed, hide: str, way: Way, pool, ranks, own, clock: Clock, effort: float, seed: int):
        self.packing, self.bed, self.hide, self.way = packing, bed, packing.hides[hide].hide, way
        self.pool, self.ranks, self.own, self.clock, self.seed = list(pool), ranks, own, clock, seed
        # what is wanted on this hide needs about so much of its leather
        wanted = 1.3 * sum(packing.sizes[i] for i in own)
        self.effort, self.wanted = effort, max(min(wanted, self.hide.outline.area), 1.0)
        self.pieces: list[Piece] = []
        self.cuts: tuple[Cut, ...] = ()
        self.lies: Lies = {}

    @property
    def score(self) -> tuple:
        """Smaller is better: what of the hide's own is left out, most urgent first, then leather and loads."""
        left = {}
        for index in self.own:
            rank = self.packing.wishes[index].rank
            left[rank] = left.get(rank, 0.0) + (index not in self.lies) * self.packing.sizes[index]
        guests = sum(self.packing.sizes[i] for i in self.lies if i not in self.own)
        area = math.prod(self.bed) if math.isfinite(math.prod(self.bed)) else min(self.bed) ** 2
        used = sum(consumed(self.packing, piece, self._on(number)) for number, piece in enumerate(self.pieces))
        return (*(left[rank] for rank in sorted(left)), used - guests + PANEL_SHARE * area * len(self.pieces))

    def all(self) -> None:
        """Cut the whole hide up."""
        self.cuts = tuple(self._strips(self.hide.outline))

    def _on(self, number: int) -> Lies:
        return {index: lie for index, lie in self.lies.items() if lie.piece == number}

    def _wanted(self) -> bool:
        """Whether any of the hide's own wishes is still without a place; guests alone are not worth a cut."""
        return any(index in self.own for index in self.pool)

    def _strips(self, piece) -> list[Cut]:
        """Take strips off a piece; gives the lines that are needed, those of a strip after the one that frees it."""
        if not self._wanted():
            return []
        if bed_angle(piece, *self.bed) is not None:
            self._fill(piece)
            return []
        low, high = reach(piece, self.way.off_deg)
        if high - low <= self.way.wide_mm + 1e-6:
            return self._panels(piece)
        place = low + self.way.wide_mm
        strips, rest = part(piece, self.way.off_deg, place)
        before = len(self.lies)
        cuts = [cut for strip in strips for cut in self._panels(strip)]
        cuts += [cut for bit in rest for cut in self._strips(bit)]
        return [cut_across(self.hide.id, piece, self.way.off_deg, place), *cuts] if len(self.lies) > before else []

    def _panels(self, strip) -> list[Cut]:
        """Take panels off a strip, each cut off behind its parts."""
        if not self._wanted():
            return []
        if bed_angle(strip, *self.bed) is not None:
            self._fill(strip)
            return []
        low, _ = reach(strip, self.way.along_deg)
        place, before = low + self.way.long_mm, len(self.lies)
        held, _ = part(strip, self.way.along_deg, place)
        found: Lies = {}
        for bit in held:
            found |= self._packed(bit)
        if found:
            front = max(reach(self.packing.outline(i, lie), self.way.along_deg)[1] for i, lie in found.items())
            behind = front + max(self.packing.margins.edge_mm, self.packing.half) + 1e-3
            place = behind if behind < place - LINE_MM else place
        else:
            place = low + 0.5 * self.way.long_mm
        held, rest = part(strip, self.way.along_deg, place)
        self._keep(held, found)
        cuts = [cut for bit in rest for cut in self._panels(bit)]
        needed = found or len(self.lies) > before
        return [cut_across(self.hide.id, strip, self.way.along_deg, place), *cuts] if needed else []

    def _fill(self, polygon) -> None:
        self._keep([polygon], self._packed(polygon))

    def _packed(self, polygon) -> Lies:
        """Pack a piece with what is left of the pool, the main setting first, and take that out of the pool."""
        piece = Piece(self.hide.id, polygon, self.way.along_deg + 180.0)
        lies: Lies = {}
        for band in range(max(len(self.packing.hides[self.hide.id].settings), 1)):
            bands = dict.fromkeys(self.packing.shortlist(self.pool, polygon.area), band) | {i: lie.band for i, lie in lies.items()}
            # the least there is: a first layout without any search
            stop = engine.Stop(iterations=1)
            if self.effort:
                stop = self.clock.slice(self.effort * min(polygon.area / self.wanted, 1.0) / (1 + band))
            held = {self.packing.wishes[i].match: self.hide.id for i in self.lies if self.packing.wishes[i].match}
            lies = self.clock.run(self.packing, [piece], bands, stop, self.seed, start=lies, ranks=self.ranks, held=held)
            self.pool = [index for index in self.pool if index not in lies]
        return lies

    def _keep(self, polygons, lies: Lies) -> None:
        """Make panels of the pieces that hold parts."""
        for polygon in polygons:
            here = {i: lie for i, lie in lies.items() if polygon.contains(self.packing.outline(i, lie).representative_point())}
            if here:
                number = len(self.pieces)
                self.pieces.append(Piece(self.hide.id, polygon, self.way.along_deg + 180.0))
                self.lies |= {i: lie._replace(piece=number) for i, lie in here.items()}


def improve(packing: Packing, start: Arrangement, clock: Clock, seed: int, progress=None) -> Arrangement:
    """Rounds of search over a few panels at a time, until time is up.

    In each, some panels are packed together with what has no place yet, or, when everything has one, with the parts of
    the panel that holds least; a panel left empty is not cut off.
    """
    random, best = np.random.default_rng(seed), start
    pieces, lies = best.pieces, best.lies
    while pieces and not clock.over:
        on = {number: {i: lie for i, lie in lies.items() if lie.piece == number} for number in range(len(pieces))}
        filled = {n: sum(packing.sizes[i] for i in here) / pieces[n].polygon.area for n, here in on.items() if here}
        if not filled:
            break
        out = [i for i in range(len(packing.wishes)) if i not in lies]
        poorest = min(filled, key=lambda n: (filled[n] * pieces[n].polygon.area, n))
        odds = np.array([max(1.0 - filled[n], 0.02) for n in filled])
        count = min(MOST_TOGETHER - (not out), len(filled))
        chosen = random.choice(list(filled), min(count, len(filled)), replace=False, p=odds / odds.sum()).tolist()
        if not out and poorest not in chosen:
            chosen.append(poorest)
        before = {i: lie for n in chosen for i, lie in on[n].items()}
        ranks = {i: 2 * packing.wishes[i].rank + 1 for i in (*out, *before)}
        gone = [] if out or len(chosen) < 2 else list(on[poorest])
        after = _round(packing, pieces, chosen, before, out, gone, poorest, ranks, lies, clock, random)
        if after is None:
            continue
        trial = {i: lie for i, lie in lies.items() if i not in before} | after
        if _score(packing, pieces, trial, set(chosen)) < _score(packing, pieces, lies, set(chosen)):
            lies = trial
            _tell(packing, Arrangement(pieces, start.cuts, lies), clock, progress)
    return replace(start, lies=lies)


def _round(packing, pieces, chosen, before: Lies, out, gone, poorest, ranks, lies, clock: Clock, random) -> Lies | None:
    area = sum(pieces[n].polygon.area for n in chosen)
    bands = {i: lie.band for i, lie in before.items()}
    most = max(len(packing.hides[pieces[n].hide].settings) for n in chosen)
    for index in packing.shortlist(out, 0.25 * area):
        bands[index] = int(random.integers(max(most, 1)))
    held = {packing.wishes[i].match: pieces[lie.piece].hide for i, lie in lies.items() if packing.wishes[i].match and i not in before}
    stop = replace(clock.stop, seconds=ROUND_S if clock.stop.seconds else None, iterations=None if clock.stop.seconds else ROUND_ITERATIONS)
    if clock.stop.seconds:
        stop = replace(stop, seconds=max(min(ROUND_S, clock.stop.seconds - clock.seconds), 0.0))
    targets, start = chosen, before
    if gone:
        # the poorest panel is closed: its parts are tried on the others, and what finds no room stays where it was
        targets = [n for n in chosen if n != poorest]
        start = {i: lie for i, lie in before.items() if lie.piece != poorest}
        bands |= {i: int(random.integers(max(most, 1))) for i in gone}
        ranks = ranks | {i: 2 * packing.wishes[i].rank for i in start}
    local = {n: k for k, n in enumerate(targets)}
    begin = {i: lie._replace(piece=local[lie.piece]) for i, lie in start.items()}
    found = clock.run(
        packing, [pieces[n] for n in targets], bands, stop, int(random.integers(2**31)), start=begin, ranks=ranks, held=held
    )
    found = {i: lie._replace(piece=targets[lie.piece]) for i, lie in found.items()}
    stay = {i: before[i] for i in gone if i not in found}
    if any(i not in found for i in start) and gone:
        return None
    return found | stay


def _score(packing: Packing, pieces, lies: Lies, chosen: set[int]) -> tuple:
    used = 0.0
    for number in chosen:
        here = {i: lie for i, lie in lies.items() if lie.piece == number}
        used += consumed(packing, pieces[number], here)
    return (*packing.unplaced(lies), used)


def consumed(packing: Packing, piece: Piece, lies: Lies) -> float:
    """Leather of a piece from its packed end to the farthest part, mm2."""
    if not lies:
        return 0.0
    away = piece.towards_deg + 180.0
    front = max(reach(packing.outline(index, lie), away)[1] for index, lie in lies.items())
    return float(sum(bit.area for bit in part(piece.polygon, away, front)[0]))


def _tell(packing: Packing, made: Arrangement, clock: Clock, progress) -> None:
    if progress is None:
        return
    poses = [made.lies.get(index) for index in range(len(packing.wishes))]
    used = sum(
        consumed(packing, piece, {i: lie for i, lie in made.lies.items() if lie.piece == number})
        for number, piece in enumerate(made.pieces)
    )
    poses = tuple(lie and engine.Pose(lie.piece, lie.x, lie.y, lie.angle_deg) for lie in poses)
    progress(engine.Solution(poses, packing.unplaced(made.lies), used, clock.iterations, clock.seconds))
