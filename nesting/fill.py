"""One hide cut up one way, panel after panel, with as many of the wanted parts as will go."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass, replace

from shapely.geometry import Polygon

from . import engine
from .laser.panels import Way, bed_angle, cut_across, part, reach
from .model import Cut
from .packing import Lies, Packing, Piece

LINE_MM = 2.0
"""A knife line is moved back to the parts when that gives the next panel more than this."""
PANEL_SHARE = 0.02
"""What one panel more may cost in leather, as a share of the bed: loading it takes time (working assumption)."""
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
    packing: Packing, bed: tuple[float, float], hide: str, way: Way, ranks: dict[int, int], own: frozenset[int],
    effort: engine.Stop | None, seed: int,
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
    effort : Stop or None
        For the whole hide, shared out over its panels; None makes first layouts only.
    seed : int

    Returns
    -------
    Filled
    """
    filling = _Filling(packing, bed, hide, way, ranks, own, effort, seed)
    cuts = filling.strips(filling.hide.outline)
    return Filled(way, tuple(filling.pieces), tuple(cuts), filling.lies, filling.score, filling.iterations, filling.interrupted)


def consumed(packing: Packing, piece: Piece, lies: Lies) -> float:
    """Leather of a piece from its packed end to the farthest part, mm2."""
    if not lies:
        return 0.0
    away = piece.towards_deg + 180.0
    front = max(reach(packing.outline(index, lie), away)[1] for index, lie in lies.items())
    return float(sum(bit.area for bit in part(piece.polygon, away, front)[0]))


def on_piece(lies: Lies, number: int) -> Lies:
    """The lies on one piece."""
    return {index: lie for index, lie in lies.items() if lie.piece == number}


class _Filling:
    def __init__(self, packing: Packing, bed, hide: str, way: Way, ranks, own, effort, seed: int):
        self.packing, self.bed, self.item, self.way = packing, bed, packing.hides[hide], way
        self.hide, self.ranks, self.own, self.effort, self.seed = self.item.hide, ranks, own, effort, seed
        self.pool = sorted(ranks, key=lambda index: (ranks[index], index))
        self.pieces: list[Piece] = []
        self.lies: Lies = {}
        self.iterations, self.interrupted, self.began = 0, False, time.monotonic()

    @property
    def score(self) -> tuple:
        left = {}
        for index in self.own:
            rank = self.packing.wishes[index].rank
            left[rank] = left.get(rank, 0.0) + (index not in self.lies) * self.packing.sizes[index]
        guests = sum(self.packing.sizes[index] for index in self.lies if index not in self.own)
        bed = math.prod(self.bed) if math.isfinite(math.prod(self.bed)) else min(self.bed) ** 2
        used = sum(consumed(self.packing, piece, on_piece(self.lies, n)) for n, piece in enumerate(self.pieces))
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
        strips, rest = part(piece, self.way.off_deg, place)
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
        for bit in part(strip, self.way.along_deg, place)[0]:
            found |= self._packed(bit)
        if found:
            front = max(reach(self.packing.outline(i, lie), self.way.along_deg)[1] for i, lie in found.items())
            behind = front + max(self.packing.margins.edge_mm, self.packing.half) + 1e-3
            place = max(behind, least) if behind < place - LINE_MM else place
        else:
            # a part may lie across the end of what was tried
            place = low + 0.5 * self.way.long_mm
        held, rest = part(strip, self.way.along_deg, place)
        self._keep(held, found)
        cuts = [cut for bit in rest for cut in self.panels(bit)]
        return [cut_across(self.hide.id, strip, self.way.along_deg, place), *cuts] if len(self.lies) > before else []

    def _goes_on(self) -> bool:
        return any(index in self.own for index in self.pool)

    def _packed(self, polygon: Polygon) -> Lies:
        """Pack a piece with what is left of the pool, the main setting first, and take that out of the pool."""
        piece, lies = Piece(self.hide.id, polygon, self.way.along_deg + 180.0), {}
        held = {self.packing.wishes[i].match: self.hide.id for i in self.lies if self.packing.wishes[i].match}
        for band in range(max(len(self.item.settings), 1)):
            bands = dict.fromkeys(self.packing.shortlist(self.pool, polygon.area), band) | {i: lie.band for i, lie in lies.items()}
            answer = self.packing.solve(
                [piece], bands, self._stop(polygon.area / (1 + band)), self.seed, start=lies, ranks=self.ranks, held=held
            )
            lies = answer.lies
            self.iterations += answer.iterations
            self.interrupted |= answer.interrupted
            self.pool = [index for index in self.pool if index not in lies]
        return lies

    def _stop(self, area_mm2: float) -> engine.Stop:
        if self.effort is None or self.interrupted:
            return engine.Stop(iterations=1)
        need = NEED * sum(self.packing.sizes[index] for index in self.pool if index in self.own)
        share, effort = min(area_mm2 / max(need, 1.0), 1.0), self.effort
        seconds = effort.seconds and share * max(effort.seconds - (time.monotonic() - self.began), 0.0)
        iterations = effort.iterations and max(1, round(share * (effort.iterations - self.iterations)))
        return replace(effort, seconds=seconds, iterations=iterations)

    def _keep(self, polygons: list[Polygon], lies: Lies) -> None:
        """Make panels of the pieces that hold parts."""
        for polygon in polygons:
            here = {i: lie for i, lie in lies.items() if polygon.contains(self.packing.outline(i, lie).representative_point())}
            if here:
                self.lies |= {i: lie._replace(piece=len(self.pieces)) for i, lie in here.items()}
                self.pieces.append(Piece(self.hide.id, polygon, self.way.along_deg + 180.0))
