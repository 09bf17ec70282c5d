"""One hide cut up one way, panel after panel, with as many of the wanted parts as will go."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry import Polygon

from .. import engine
from ..geometry import wide_enough
from ..leather.knife import Way, bed_angle, cut_across, cut_up, divide, reach
from ..model import Cut
from .packing import Lies, Packing, Piece

LINE_MM = 2.0
"""A knife line is moved back to the parts when that gives the next panel more than this."""
PANEL_SHARE = 0.02
"""What one panel more may cost in leather, as a share of the bed: loading it takes time (working assumption)."""
START_ITERATIONS = 6
SQUEEZING, LEAST_SQUEEZING = 0.3, 6
"""Time or iterations to squeeze the fullest layout of a panel, as a share of what it took to find it; iterations at least."""
MIXED, OFFERED = 0.8, 1.15
"""How often a search is offered a mixture of parts only, and how much more of them than a piece has area."""
NEED = 1.3
"""Parts take about so many times their own area of leather."""


@dataclass(frozen=True)
class Filled:
    """A hide cut up: pieces that hold parts, the lines that free them, where parts lie, and how good that is (smaller is
    better): what of the hide's own parts is left out, most urgent first, then leather and loads."""

    way: Way
    pieces: tuple[Piece, ...]
    cuts: tuple[Cut, ...]
    lies: Lies
    score: tuple
    iterations: int
    interrupted: bool


def fill(
    packing: Packing,
    bed: tuple[float, float],
    hide: str,
    way: Way,
    ranks: dict[int, int],
    own: frozenset[int],
    effort: engine.Stop,
    patient: bool,
    seed: int,
) -> Filled:
    """Cut a hide up one way and place wishes on it.

    Parameters
    ----------
    packing : Packing
    bed : (width, height)
        Usable bed, mm.
    hide : str
    way : Way
    ranks : dict
        The wishes that may be placed (by index), and which come first.
    own : set of int
        The wishes this hide is cut up for; others fill gaps, and are worth no cut of their own.
    effort : Stop
        For the whole hide; its time and iterations are shared out over the panels.
    patient : bool
        Whether each panel is packed by as many searches as the effort allows, or by one short one that takes no longer.
    seed : int

    Returns
    -------
    Filled
    """
    filling = _Filling(packing, bed, hide, way, ranks, own, effort, patient, seed)
    cuts = filling.strips(filling.hide.outline)
    return Filled(
        way,
        tuple(filling.pieces),
        tuple(cuts),
        filling.lies,
        filling.score(cuts),
        filling.iterations,
        filling.interrupted,
    )


def consumed(packing: Packing, piece: Piece, lies: Lies) -> float:
    """Leather of a piece from its packed end to the farthest part, mm2."""
    if not lies:
        return 0.0
    away = piece.towards_deg + 180.0
    front = max(reach(packing.outline(index, lie), away)[1] for index, lie in lies.items())
    return float(sum(bit.area for bit in divide(piece.polygon, away, front)[0]))


def used_up(packing: Packing, polygon: Polygon, lies: Lies) -> float:
    """Leather of a piece that is not left in offcuts worth keeping, mm2."""
    parts = shapely.union_all(
        [packing.outline(index, lie).buffer(packing.margins.kerf_mm) for index, lie in lies.items()]
    )
    kept = wide_enough(polygon.difference(parts), packing.smallest_offcut_mm)
    return polygon.area - sum(bit.area for bit in kept)


def on_piece(lies: Lies, number: int) -> Lies:
    """The lies on one piece."""
    return {index: lie for index, lie in lies.items() if lie.piece == number}


class _Filling:
    def __init__(self, packing: Packing, bed, hide: str, way: Way, ranks, own, effort, patient: bool, seed: int):
        self.packing, self.bed, self.item, self.way = packing, bed, packing.hides[hide], way
        self.hide, self.ranks, self.own, self.effort, self.patient = self.item.hide, ranks, own, effort, patient
        self.pool = sorted(ranks, key=lambda index: (ranks[index], index))
        self.pieces: list[Piece] = []
        self.lies: Lies = {}
        self.iterations, self.interrupted, self.began = 0, False, time.monotonic()
        self.random = np.random.default_rng(seed)

    def score(self, cuts: list[Cut]) -> tuple:
        """See ``Filled``; leather used is the hide less what is left of it in pieces worth keeping."""
        left = {}
        for index in self.own:
            rank = self.packing.wishes[index].rank
            left[rank] = left.get(rank, 0.0) + (index not in self.lies) * self.packing.sizes[index]
        guests = sum(self.packing.sizes[index] for index in self.lies if index not in self.own)
        bed = math.prod(self.bed) if math.isfinite(math.prod(self.bed)) else min(self.bed) ** 2
        used = sum(used_up(self.packing, piece, self.lies) for piece in cut_up(self.hide, tuple(cuts)))
        return (*(left[rank] for rank in sorted(left)), used - NEED * guests + PANEL_SHARE * bed * len(self.pieces))

    def strips(self, piece: Polygon) -> list[Cut]:
        """Take strips off a piece; gives the lines that are needed, those of a strip after the one that frees it."""
        if not self._goes_on():
            return []
        if bed_angle(piece, *self.bed) is not None:
            self._keep([piece], self._packed(piece))
            return []
        low, high = reach(piece, self.way.off_deg)
        if high - low <= self.way.wide_mm + 1e-6:
            return self.panels(piece)
        place, before = low + self.way.wide_mm, len(self.lies)
        strips, rest = divide(piece, self.way.off_deg, place)
        cuts = [cut for strip in strips for cut in self.panels(strip)]
        cuts += [cut for bit in rest for cut in self.strips(bit)]
        return [cut_across(self.hide.id, piece, self.way.off_deg, place), *cuts] if len(self.lies) > before else []

    def panels(self, strip: Polygon) -> list[Cut]:
        """Take panels off a strip, the knife going down behind the last part of each."""
        if not self._goes_on():
            return []
        if bed_angle(strip, *self.bed) is not None:
            self._keep([strip], self._packed(strip))
            return []
        low, high = reach(strip, self.way.along_deg)
        place, before = low + self.way.long_mm, len(self.lies)
        # moved back no further than leaves the rest for as many panels as before
        least = high - self.way.long_mm * math.ceil((high - place) / self.way.long_mm)
        found: Lies = {}
        for bit in divide(strip, self.way.along_deg, place)[0]:
            found |= self._packed(bit)
        if found:
            front = max(reach(self.packing.outline(i, lie), self.way.along_deg)[1] for i, lie in found.items())
            behind = front + max(self.packing.margins.edge_mm, self.packing.half) + 1e-3
            place = max(behind, least) if behind < place - LINE_MM else place
        else:
            # a part may lie across the end of what was tried
            place = low + 0.5 * self.way.long_mm
        held, rest = divide(strip, self.way.along_deg, place)
        self._keep(held, found)
        cuts = [cut for bit in rest for cut in self.panels(bit)]
        return [cut_across(self.hide.id, strip, self.way.along_deg, place), *cuts] if len(self.lies) > before else []

    def _goes_on(self) -> bool:
        return any(index in self.own for index in self.pool)

    def _packed(self, polygon: Polygon) -> Lies:
        """Pack a piece with what is left of the pool, the main setting first, and take that out of the pool."""
        lies: Lies = {}
        for band in range(max(len(self.item.settings), 1)):
            lies = self._best_start(Piece(self.hide.id, polygon, self.way.along_deg + 180.0), lies, band)
            self.pool = [index for index in self.pool if index not in lies]
        return lies

    def _best_start(self, piece: Piece, lies: Lies, band: int) -> Lies:
        """The fullest of many short searches, each offered another mixture of parts: a search that is offered everything
        takes the biggest, and soon comes to no more."""
        held = {self.packing.wishes[i].match: self.hide.id for i in self.lies if self.packing.wishes[i].match}
        stop, began, used, best = self._slice(piece.polygon.area / (1 + band)), time.monotonic(), 0, None
        while best is None or self._time_for_more(stop, began, used):
            offered = (
                self._mixture(piece.polygon.area)
                if self.random.random() < MIXED
                else self.packing.shortlist(self.pool, piece.polygon.area)
            )
            bands = dict.fromkeys(offered, band) | {i: lie.band for i, lie in lies.items()}
            if len(bands) == len(lies):
                break
            answer = self.packing.solve(
                [piece],
                bands,
                replace(stop, iterations=START_ITERATIONS, enough_mm2=None),
                int(self.random.integers(2**31)),
                start=lies,
                ranks=self.ranks,
                held=held,
            )
            used += answer.iterations
            self.interrupted |= answer.interrupted
            if best is None or self._worth(piece, answer.lies) > self._worth(piece, best):
                best = answer.lies
            if len(best) == len(self.pool) + len(lies):
                break
        self.iterations += used
        seconds = time.monotonic() - began if self.patient else stop.seconds
        return self._squeezed(piece, best, used, seconds) if best else lies

    def _squeezed(self, piece: Piece, lies: Lies, iterations: int, seconds: float | None) -> Lies:
        """The same parts closer to the packed end: while others are offered, a search only tries to get more in."""
        if self.interrupted:
            return lies
        stop = engine.Stop(iterations=max(LEAST_SQUEEZING, round(SQUEEZING * iterations)), cancel=self.effort.cancel)
        if self.effort.seconds is not None:
            stop = replace(stop, iterations=None if self.patient else stop.iterations, seconds=SQUEEZING * seconds)
        bands = {index: lie.band for index, lie in lies.items()}
        answer = self.packing.solve(
            [piece], bands, stop, int(self.random.integers(2**31)), start=lies, ranks=self.ranks
        )
        self.iterations += answer.iterations
        self.interrupted |= answer.interrupted
        return answer.lies if len(answer.lies) == len(lies) else lies

    def _mixture(self, area_mm2: float) -> list[int]:
        """Wishes for a little more than an area, drawn at random, the most urgent first."""
        order = self.random.permutation(len(self.pool))
        urgent, taken, mixture = sorted(order, key=lambda n: self.ranks[self.pool[n]]), 0.0, []
        for number in urgent:
            if taken > OFFERED * area_mm2:
                break
            mixture.append(self.pool[number])
            taken += self.packing.sizes[self.pool[number]]
        return mixture

    def _worth(self, piece: Piece, lies: Lies) -> tuple:
        """Area placed by rank, most urgent first, less what the leather it takes is worth."""
        areas = dict.fromkeys(sorted(set(self.ranks.values())), 0.0)
        for index in lies:
            areas[self.ranks[index]] += self.packing.sizes[index]
        *urgent, last = areas.values()
        return *urgent, last - consumed(self.packing, piece, lies) / NEED

    def _slice(self, area_mm2: float) -> engine.Stop:
        need = NEED * sum(self.packing.sizes[index] for index in self.pool if index in self.own)
        share, effort = min(area_mm2 / max(need, 1.0), 1.0), self.effort
        seconds = effort.seconds and share * max(effort.seconds - (time.monotonic() - self.began), 0.0)
        iterations = effort.iterations and max(1, round(share * (effort.iterations - self.iterations)))
        return replace(effort, seconds=seconds, iterations=iterations)

    def _time_for_more(self, stop: engine.Stop, began: float, used: int) -> bool:
        return self.patient and not self.interrupted and not stop.reached(time.monotonic() - began, used)

    def _keep(self, polygons: list[Polygon], lies: Lies) -> None:
        """Make panels of the pieces that hold parts."""
        for polygon in polygons:
            here = {
                i: lie
                for i, lie in lies.items()
                if polygon.contains(self.packing.outline(i, lie).representative_point())
            }
            if here:
                self.lies |= {i: lie._replace(piece=len(self.pieces)) for i, lie in here.items()}
                self.pieces.append(Piece(self.hide.id, polygon, self.way.along_deg + 180.0))
